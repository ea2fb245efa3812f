//! The picture files of photos.

use super::txn::find_visible;
use crate::error::AppError;
use crate::{Actor, App};
use img_parts::{Bytes, DynImage, ImageEXIF};
use sha2::{Digest, Sha256};
use traybook_domain::authz::Action;
use traybook_domain::kinds::Photo;
use traybook_domain::record::Record as _;
use traybook_domain::{Kind, limits};
use traybook_storage::photos::{self, Content};
use uuid::Uuid;

/// Whether a file can be kept as a photo.
///
/// # Errors
/// `TooLarge`; `MediaType` when it is no JPEG, PNG or WebP.
pub fn check(bytes: &[u8]) -> Result<(), AppError> {
    small_enough(bytes)?;
    read(bytes).map(drop)
}

fn small_enough(bytes: &[u8]) -> Result<(), AppError> {
    let bytes_max = limits::PHOTO_BYTES_MAX;
    if bytes.len() > bytes_max { Err(AppError::TooLarge { bytes_max }) } else { Ok(()) }
}

fn read(bytes: &[u8]) -> Result<DynImage, AppError> {
    let image = DynImage::from_bytes(Bytes::copy_from_slice(bytes));
    image.ok().flatten().ok_or(AppError::MediaType)
}

impl App {
    /// Keeps the bytes of a photo. Sending the same file again is harmless; true when it is new.
    ///
    /// # Errors
    /// `NotFound`, `TooLarge`, `MediaType` when it is no JPEG, PNG or WebP, `Conflict` when the
    /// photo has another file.
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
                read(&bytes).map(|image| clean(image, photo.keep_location))
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

/// Takes the place and everything else that cameras write beside the picture out of it, unless the
/// place is wanted.
fn clean(image: DynImage, keep_location: bool) -> Content {
    let media_type = match &image {
        DynImage::Jpeg(_) => "image/jpeg",
        DynImage::Png(_) => "image/png",
        DynImage::WebP(_) => "image/webp",
    };
    let image = if keep_location { image } else { strip(image) };
    let bytes = image.encoder().bytes().to_vec();
    let sha256 = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
    Content { media_type: media_type.to_owned(), sha256, bytes }
}

fn strip(image: DynImage) -> DynImage {
    // Orientation is in the metadata too: phones that shrink a picture turn it upright first.
    match image {
        DynImage::Jpeg(mut jpeg) => {
            jpeg.set_exif(None);
            // APP1 also carries XMP, APP13 IPTC, and comments may carry anything.
            jpeg.segments_mut().retain(|s| !matches!(s.marker(), 0xE1 | 0xED | 0xFE));
            DynImage::Jpeg(jpeg)
        }
        DynImage::Png(mut png) => {
            png.chunks_mut()
                .retain(|c| !matches!(&c.kind(), b"eXIf" | b"tEXt" | b"zTXt" | b"iTXt" | b"tIME"));
            DynImage::Png(png)
        }
        DynImage::WebP(mut webp) => {
            webp.set_exif(None);
            webp.chunks_mut().retain(|c| c.id() != *b"XMP ");
            DynImage::WebP(webp)
        }
    }
}
