//! The picture files of photos.

use super::pictures::{self, Wrong};
use super::txn::find_visible;
use crate::error::AppError;
use crate::{Actor, App};
use sha2::{Digest, Sha256};
use traybook_domain::kinds::Photo;
use traybook_domain::people::authz::Action;
use traybook_domain::record::Record as _;
use traybook_domain::{Kind, limits};
use traybook_storage::records::photos::{self, Content};
use uuid::Uuid;

/// Whether a file can be kept as a photo.
///
/// # Errors
/// `TooLarge`; `MediaType` when it is no JPEG, PNG or WebP; `Invalid` when it has too many points.
pub fn check(bytes: &[u8]) -> Result<(), AppError> {
    small_enough(bytes)?;
    pictures::clean(bytes, false).map(drop).map_err(wrong)
}

fn small_enough(bytes: &[u8]) -> Result<(), AppError> {
    let bytes_max = limits::PHOTO_BYTES_MAX;
    if bytes.len() > bytes_max { Err(AppError::TooLarge { bytes_max }) } else { Ok(()) }
}

impl App {
    /// Keeps the bytes of a photo. Sending the same file again is harmless; true when it is new.
    ///
    /// # Errors
    /// `NotFound`, `TooLarge`, `MediaType` when it is no JPEG, PNG or WebP, `Invalid` when it has too
    /// many points, `Conflict` when the photo has another file.
    pub async fn store_photo(
        &self,
        actor: &Actor,
        id: Uuid,
        bytes: Vec<u8>,
    ) -> Result<bool, AppError> {
        let visible = actor.visible(Action::Create, Kind::Photo)?;
        small_enough(&bytes)?;
        let (who, now) = (actor.clone(), self.now().0);
        let seen = visible.clone();
        // The picture is looked through before the writer is asked for.
        let content = self
            .store
            .read(move |conn| {
                let record = find_visible(conn, &who, Kind::Photo, id, &seen)?;
                let photo = Photo::from_values(&record.values).ok_or(AppError::NotFound)?;
                kept(&bytes, photo.keep_location)
            })
            .await?;
        let actor = actor.clone();
        self.store
            .change(actor.coop.number, move |conn| {
                let record = find_visible(conn, &actor, Kind::Photo, id, &visible)?;
                if record.withdrawn_at.is_some() {
                    let detail = "this photo was withdrawn; make a new one";
                    return Err(AppError::conflict("withdrawn", detail));
                }
                let number = actor.coop.number;
                if photos::store(conn, id, &content, now)? {
                    return Ok(true);
                }
                let stored = photos::find(conn, number, id)?;
                if stored.is_some_and(|s| s.sha256 == content.sha256) {
                    return Ok(false);
                }
                let detail = "this photo has another file; make a new photo";
                Err(AppError::conflict("photo_stored", detail))
            })
            .await
    }

    /// The bytes of a photo.
    ///
    /// # Errors
    /// `NotFound` when there is no such photo for this person, or its file has not come yet.
    pub async fn photo(&self, actor: &Actor, id: Uuid) -> Result<Content, AppError> {
        let visible = actor.visible(Action::Read, Kind::Photo)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                find_visible(conn, &actor, Kind::Photo, id, &visible)?;
                photos::find(conn, actor.coop.number, id)?.ok_or(AppError::NotFound)
            })
            .await
    }
}

/// What is kept of a picture file: the picture alone, and where it was taken if that is wanted.
fn kept(bytes: &[u8], keep_location: bool) -> Result<Content, AppError> {
    let (kind, bytes) = pictures::clean(bytes, keep_location).map_err(wrong)?;
    let sha256 = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
    Ok(Content { media_type: kind.media_type().to_owned(), sha256, bytes })
}

fn wrong(why: Wrong) -> AppError {
    match why {
        Wrong::NoPicture => AppError::MediaType,
        Wrong::TooManyPoints(wide, high) => {
            let most = limits::PHOTO_PIXELS_MAX / 1_000_000;
            let detail = format!(
                "the picture has {wide} × {high} points; send one of at most {most} million"
            );
            AppError::field("photos", "points", detail)
        }
    }
}
