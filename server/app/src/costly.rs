//! What costs much: one person has few of it under way, so that others have their turn.

use crate::Actor;
use crate::error::AppError;
use std::sync::LazyLock;
use traybook_domain::limits::COSTLY_AT_ONCE;
use traybook_storage::turns::{Turn, Turns};
use uuid::Uuid;

static TURNS: LazyLock<Turns<(Uuid, Uuid)>> = LazyLock::new(|| Turns::new(COSTLY_AT_ONCE));

/// Seconds after which to ask again.
const AGAIN_S: u32 = 5;

/// A turn for something costly; none is needed by the machine itself.
///
/// # Errors
/// `TooMany` when the person has enough of it under way.
pub(crate) fn begin(actor: &Actor) -> Result<Option<Turn>, AppError> {
    if actor.is_machine() {
        return Ok(None);
    }
    let turn = TURNS.now((actor.coop.id, actor.person));
    turn.map(Some).ok_or(AppError::TooMany { retry_after_s: AGAIN_S })
}
