//! One file a command.

pub mod analyse;
pub mod carry;
pub mod check;
pub mod demo;
pub mod files;
pub mod found;
pub mod history;
pub mod keep;
pub mod manual;
pub mod openapi;
pub mod person;
pub mod programme;
pub mod ration;
pub mod report;
pub mod seed;
pub mod serve;
pub mod spread;
pub mod text;
pub mod trial;
pub mod work;
