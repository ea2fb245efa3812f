//! The acceptance tests: one binary, one file a subject.

mod access;
mod contract;
mod documents;
mod estimates;
mod files;
mod floors;
mod kept;
mod pages;
mod pages_manager;
mod pages_officer;
mod pages_walk;
mod protocol;
mod rations;
mod records;
mod report;
mod review;
mod rules;
mod seed;
mod sessions;
mod storage;
mod sums;
mod sync;
mod work;
mod work_harvests;
mod work_records;
mod work_sheets;
