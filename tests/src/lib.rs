//! Harness of the acceptance tests: a server on a fresh database, two co-operatives, a client.
//!
//! Every test of storage and interface runs on both databases: [`both!`] makes two tests of one
//! function. The PostgreSQL one fails when `TEST_POSTGRES_URL` is not set, so that a run without
//! PostgreSQL is never mistaken for a whole one; `tests/run` starts a private server and sets it.

pub mod attack;
pub mod bound;
pub mod browser;
pub mod client;
pub mod clusters;
pub mod farms;
pub mod farms_milk;
pub mod farms_served;
pub mod farms_store;
pub mod feeding;
pub mod growers;
pub mod herds;
pub mod herds_served;
pub mod passkey;
pub mod random;
pub mod samples;
pub mod world;

pub use client::{Answer, Client};
pub use world::{Db, World};

/// Makes `name::sqlite` and `name::postgres` of a function that takes a [`World`].
#[macro_export]
macro_rules! both {
    ($($name:ident),* $(,)?) => {$(
        mod $name {
            #[test]
            fn sqlite() {
                super::$name($crate::World::start($crate::Db::sqlite()));
            }
            #[test]
            fn postgres() {
                super::$name($crate::World::start($crate::Db::postgres()));
            }
        }
    )*};
}
