//! One file a command.

pub mod analyse;
pub mod carry;
pub mod check;
pub mod demo;
pub mod files;
pub mod found;
pub mod keep;
pub mod openapi;
pub mod person;
pub mod ration;
pub mod report;
pub mod seed;
pub mod serve;
pub mod text;
pub mod trial;
pub mod work;
