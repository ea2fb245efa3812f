//! Devices that have signed in before. Each keeps a token that names a login and nobody can make
//! up; nothing of it is stored. It opens nothing: it only keeps strangers' failures away from it.

use crate::App;
use crate::error::AppError;
use traybook_domain::limits::DEVICE_KNOWN_MS;

/// What a mark of a device is made for.
const WHAT: &str = "device";

impl App {
    /// A token of a device that may sign in by a login.
    ///
    /// # Errors
    /// `Internal` when there is no randomness.
    pub(crate) fn device_token(&self, login: &str) -> Result<String, AppError> {
        let secret = self.new_secret()?;
        let (nonce, made) = (secret.get(..16).unwrap_or_default(), self.now().0.to_string());
        let mark = self.keys.mark(&[WHAT, login, nonce, &made]).map_err(AppError::Internal)?;
        Ok(format!("{nonce}.{made}.{mark}"))
    }

    /// The device among these tokens that is known for a login: made after `since`, when the
    /// password was set, and not too long ago.
    pub(crate) fn known_device(
        &self,
        tokens: &[String],
        login: &str,
        since: i64,
    ) -> Option<String> {
        let now = self.now().0;
        tokens.iter().find_map(|token| {
            let mut parts = token.splitn(3, '.');
            let (nonce, made, mark) = (parts.next()?, parts.next()?, parts.next()?);
            let made_at: i64 = made.parse().ok()?;
            let holds = made_at >= since && now - made_at < DEVICE_KNOWN_MS;
            let is_ours = holds && self.keys.is_mark(mark, &[WHAT, login, nonce, made]);
            is_ours.then(|| nonce.to_owned())
        })
    }
}
