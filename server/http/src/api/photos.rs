//! Picture files.

use crate::problem::{Code, Problem};
use crate::request::{Answer, Request, body_etag};
use actix_web::HttpResponse;

/// The picture file of a photo.
pub async fn get(r: Request) -> Answer {
    r.accepts(&["image/jpeg", "image/png", "image/webp"])?;
    r.known_query([])?;
    let content = r.app().photo(r.actor()?, r.id()?).await?;
    let response = HttpResponse::Ok()
        .content_type(content.media_type)
        .insert_header(("cache-control", "private, no-cache"))
        .insert_header(("content-disposition", "inline"))
        .body(content.bytes);
    Ok(r.tagged(response, &body_etag(content.sha256.as_bytes())))
}

/// Keeps the picture file of a photo.
pub async fn store(r: Request) -> Answer {
    r.known_query([])?;
    if r.body.is_empty() {
        return Err(Problem::new(Code::Malformed, "send the picture file as the body"));
    }
    let is_new = r.app().store_photo(r.actor()?, r.id()?, r.body.clone()).await?;
    Ok(if is_new { HttpResponse::Created().finish() } else { HttpResponse::NoContent().finish() })
}
