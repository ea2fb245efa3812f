//! People, how they sign in, and what is noted of it.

pub mod accounts;
pub mod failures;
pub mod logins;
pub mod passkeys;
pub mod security_log;
pub mod sign_ins;
