//! The bytes of photos, kept in the database beside their records so that one backup holds all.

use crate::columns::columns;
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::writing::Writing;
use uuid::Uuid;

/// A stored picture file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Content {
    /// `image/jpeg`, `image/png` or `image/webp`.
    pub media_type: String,
    /// SHA-256 of the bytes, hexadecimal.
    pub sha256: String,
    /// The file.
    pub bytes: Vec<u8>,
}

/// Keeps a photo's bytes; they are never replaced. False when there are some already.
pub fn store(
    writing: &mut Writing<'_>,
    photo: Uuid,
    content: &Content,
    now: i64,
) -> Result<bool, StoreError> {
    let coop = writing.coop();
    writing.insert(
        "INSERT INTO photo_contents (coop_id, photo_id, media_type, sha256, content, stored_at) \
         VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (coop_id, photo_id) DO NOTHING",
        &[
            Bind::int(coop),
            Bind::id(photo),
            Bind::text(&*content.media_type),
            Bind::text(&*content.sha256),
            Bind::bytes(content.bytes.clone()),
            Bind::instant(now),
        ],
    )
}

/// Deletes a photo's bytes; whether there were any.
pub fn forget(writing: &mut Writing<'_>, photo: Uuid) -> Result<bool, StoreError> {
    let binds = [Bind::int(writing.coop()), Bind::id(photo)];
    let sql = "DELETE FROM photo_contents WHERE coop_id = ? AND photo_id = ?";
    Ok(writing.moving().exec(sql, &binds)? > 0)
}

/// A photo's bytes.
pub fn find(conn: &mut Conn, coop: i64, photo: Uuid) -> Result<Option<Content>, StoreError> {
    let columns = columns!("photos::find" {
        media_type: String,
        sha256: String,
        bytes: Vec<u8> = "content",
    } => Content { media_type, sha256, bytes });
    let sql = format!("SELECT {columns} FROM photo_contents WHERE coop_id = ? AND photo_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(photo)])
}
