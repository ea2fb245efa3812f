//! Co-operatives, people and how they sign in.

pub mod cooperatives;
pub mod invitations;
pub mod keys;
pub mod passwords;
pub mod session;
pub mod throttle;

pub use keys::KeyRing;
pub use passwords::Hasher;
pub(crate) use session::digest;
pub use throttle::Throttle;
