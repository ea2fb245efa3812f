//! Co-operatives, people and how they sign in.

pub mod cooperatives;
mod devices;
pub mod guessable;
pub mod invitations;
pub mod keys;
mod own;
pub mod passkeys;
pub mod passwords;
pub mod privacy;
pub mod second;
pub mod security;
pub mod session;
mod throttle;
mod totp;

pub use keys::KeyRing;
pub use passwords::Hasher;
pub(crate) use security::{NO_COOP, Note, add as add_security};
pub(crate) use session::{coop_in, digest, within};
