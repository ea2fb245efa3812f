//! What the use cases need of the world.

use crate::copies::Keeping;
use crate::error::AppError;
use crate::people::{Hasher, KeyRing};
use crate::planning::Boards;
use crate::savings::Reports;
use crate::texts::Carriers;
use std::sync::Arc;
use traybook_domain::time::Clock;
use traybook_domain::value::Instant;
use traybook_storage::Store;
use uuid::Uuid;

/// What the use cases need of the world. Cheap to clone.
#[derive(Clone)]
pub struct App {
    pub store: Store,
    pub clock: Arc<dyn Clock>,
    /// New ids and secrets.
    pub random: Arc<dyn Random>,
    /// Keys of the access tokens.
    pub keys: Arc<KeyRing>,
    /// Password hashing, on threads of its own.
    pub hasher: Arc<Hasher>,
    /// Boards of today, bounded; may be thrown away at any moment.
    pub boards: Arc<Boards>,
    /// Reports of months, bounded; may be thrown away at any moment.
    pub reports: Arc<Reports>,
    /// The last backup, and what was found wrong with the database.
    pub keeping: Arc<Keeping>,
    /// Carriers of text messages.
    pub carriers: Arc<Carriers>,
}

/// Where randomness comes from.
pub trait Random: Send + Sync {
    /// Fills the bytes.
    ///
    /// # Errors
    /// When the system has none.
    fn fill(&self, bytes: &mut [u8]) -> Result<(), String>;
}

/// The operating system's randomness.
#[derive(Debug)]
pub struct SystemRandom;

impl Random for SystemRandom {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), String> {
        getrandom::fill(bytes).map_err(|e| e.to_string())
    }
}

impl App {
    #[must_use]
    pub fn now(&self) -> Instant {
        self.clock.now()
    }

    /// A new UUIDv7.
    ///
    /// # Errors
    /// `Internal` when there is no randomness.
    pub fn new_id(&self) -> Result<Uuid, AppError> {
        let mut random = [0_u8; 10];
        self.random.fill(&mut random).map_err(AppError::Internal)?;
        let millis = u64::try_from(self.now().0).unwrap_or(0);
        Ok(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
    }

    /// A secret of 32 random bytes as 64 hexadecimal digits.
    pub fn new_secret(&self) -> Result<String, AppError> {
        let mut random = [0_u8; 32];
        self.random.fill(&mut random).map_err(AppError::Internal)?;
        Ok(random.iter().map(|b| format!("{b:02x}")).collect())
    }
}
