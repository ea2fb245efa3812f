//! Password hashes: Argon2id, 19 MiB, two passes (OWASP's minimum), a few at a time.

use crate::Random;
use crate::error::AppError;
use argon2::password_hash::phc::PasswordHash;
use argon2::{Algorithm, Argon2, Params, PasswordHasher, PasswordVerifier, Version};
use tokio::sync::Semaphore;
use traybook_domain::authz::Role;
use traybook_domain::limits::{
    PASSWORD_CHARS_MAX, PASSWORD_CHARS_MIN, PASSWORD_HASHES_AT_ONCE, PIN_DIGITS_MAX, PIN_DIGITS_MIN,
};

/// Hashes and checks passwords.
pub struct Hasher {
    turn: Semaphore,
    /// A hash to compare with where there is no account, so that both take as long.
    decoy: String,
}

/// What people choose first; refused whatever else they add in case and digits.
const COMMON: &[&str] = &[
    "password",
    "qwertyuiop",
    "1234567890",
    "0123456789",
    "0987654321",
    "123456789",
    "iloveyou",
    "administrator",
    "letmein",
    "welcome",
    "cooperative",
    "traybook",
    "asante",
    "karibu",
];

impl Hasher {
    /// Makes one.
    ///
    /// # Errors
    /// `Internal` when there is no randomness.
    pub fn new(random: &dyn Random) -> Result<Self, AppError> {
        let decoy = hash("no such account", random)?;
        Ok(Self { turn: Semaphore::new(PASSWORD_HASHES_AT_ONCE), decoy })
    }

    /// Whether the password fits; `None` as hash takes as long and never fits.
    ///
    /// # Errors
    /// `Internal` when the work could not be done.
    pub async fn fits(&self, password: String, hash: Option<String>) -> Result<bool, AppError> {
        let _turn = self.turn.acquire().await.map_err(|e| AppError::Internal(e.to_string()))?;
        let known = hash.is_some();
        let hash = hash.unwrap_or_else(|| self.decoy.clone());
        let work = move || {
            let parsed = PasswordHash::new(&hash);
            parsed.is_ok_and(|h| argon2().verify_password(password.as_bytes(), &h).is_ok())
        };
        let fits = tokio::task::spawn_blocking(work).await;
        Ok(fits.map_err(|e| AppError::Internal(e.to_string()))? && known)
    }

    /// Hashes a password.
    ///
    /// # Errors
    /// `Internal` when the work could not be done.
    pub async fn hash(
        &self,
        password: String,
        random: std::sync::Arc<dyn Random>,
    ) -> Result<String, AppError> {
        let _turn = self.turn.acquire().await.map_err(|e| AppError::Internal(e.to_string()))?;
        let hashed = tokio::task::spawn_blocking(move || hash(&password, &*random)).await;
        hashed.map_err(|e| AppError::Internal(e.to_string()))?
    }
}

fn argon2() -> Argon2<'static> {
    let params = Params::new(19 * 1024, 2, 1, None).unwrap_or(Params::DEFAULT);
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// Hashes a password into a PHC string.
///
/// # Errors
/// `Internal` when there is no randomness.
pub fn hash(password: &str, random: &dyn Random) -> Result<String, AppError> {
    let mut salt = [0_u8; 16];
    random.fill(&mut salt).map_err(AppError::Internal)?;
    let hashed = argon2().hash_password_with_salt(password.as_bytes(), &salt);
    hashed.map(|h| h.to_string()).map_err(|e| AppError::Internal(e.to_string()))
}

/// Refuses what a role may not sign in with: members may take a PIN, everybody else a password.
///
/// # Errors
/// `Invalid` with what to do.
pub fn check_for(role: Role, secret: &str) -> Result<(), AppError> {
    if role != Role::Member || !is_pin(secret) {
        return check(secret);
    }
    if secret.len() < PIN_DIGITS_MIN {
        let text = format!(
            "give {PIN_DIGITS_MIN} to {PIN_DIGITS_MAX} digits, or a password of at least \
             {PASSWORD_CHARS_MIN} characters"
        );
        return Err(AppError::field("password", "length", text));
    }
    if is_simple(secret.as_bytes()) {
        let text = "these digits are among the first that are guessed; take others";
        return Err(AppError::field("password", "common", text));
    }
    Ok(())
}

/// Whether this is a PIN rather than a password: few digits and nothing else.
#[must_use]
pub fn is_pin(secret: &str) -> bool {
    (1..=PIN_DIGITS_MAX).contains(&secret.len()) && secret.bytes().all(|b| b.is_ascii_digit())
}

/// Digits that follow a plain pattern: few different ones, counted up or down, a half twice.
fn is_simple(digits: &[u8]) -> bool {
    let mut different = digits.to_vec();
    different.sort_unstable();
    different.dedup();
    let counted = |by: i16| {
        digits.windows(2).all(|w| matches!(w, [a, b] if i16::from(*b) - i16::from(*a) == by))
    };
    let half = digits.split_at(digits.len() / 2);
    different.len() < 4 || counted(1) || counted(-1) || half.0 == half.1
}

/// Refuses passwords that are short, endless or common. Length counts, not kinds of characters
/// (NIST SP 800-63B-4).
///
/// # Errors
/// `Invalid` with what to do.
pub fn check(password: &str) -> Result<(), AppError> {
    let length = password.chars().count();
    if !(PASSWORD_CHARS_MIN..=PASSWORD_CHARS_MAX).contains(&length) {
        let text = format!("give {PASSWORD_CHARS_MIN} to {PASSWORD_CHARS_MAX} characters");
        return Err(AppError::field("password", "length", text));
    }
    let plain: String = password.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
    let core = plain.trim_matches(|c: char| c.is_ascii_digit());
    let mut different: Vec<char> = plain.chars().collect();
    different.sort_unstable();
    different.dedup();
    if COMMON.contains(&plain.as_str()) || COMMON.contains(&core) || different.len() < 4 {
        let text = "this is among the first that are guessed; take three words that do not belong \
                    together";
        return Err(AppError::field("password", "common", text));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn check_refuses_short_common_and_repeated() {
        for bad in ["short", "Password123", "aaaaaaaaaaaa", "1234567890", "KARIBU2026!"] {
            assert!(check(bad).is_err(), "{bad}");
        }
        assert!(check("maize lantern bicycle").is_ok());
        assert!(check_for(Role::Member, "maize lantern bicycle").is_ok());
        for good in ["840271", "50918273"] {
            assert!(check_for(Role::Member, good).is_ok(), "{good}");
            assert!(check_for(Role::Officer, good).is_err(), "a PIN is for members");
        }
        for bad in ["84027", "123456", "987654", "111222", "482482", "", "a84027"] {
            assert!(check_for(Role::Member, bad).is_err(), "{bad}");
        }
        assert!(check(&"long word ".repeat(13)).is_err());
    }
}
