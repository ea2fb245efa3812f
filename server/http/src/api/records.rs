//! Records of any kind.

use crate::problem::Problem;
use crate::request::{Answer, Request, body_etag, etag, in_query, json};
use actix_web::HttpResponse;
use actix_web::http::header::{ETAG, LINK, LOCATION};
use serde_json::{Map, Value as Json, json as value};
use traybook_app::AppError;
use traybook_app::records::Shown;

const JSON: &[&str] = &["application/json"];

/// A page of records.
pub async fn list(r: Request) -> Answer {
    r.accepts(JSON)?;
    let (kind, query) = (r.kind()?, r.query()?);
    let kept: Vec<(String, String)> =
        query.pairs.iter().filter(|(n, _)| n != "cursor").cloned().collect();
    let page = r.app().list(r.actor()?, kind, query).await?;
    let path = r.http.path();
    let url = |cursor: Option<&str>| {
        let mut pairs = kept.clone();
        pairs.extend(cursor.map(|c| ("cursor".to_owned(), c.to_owned())));
        let query: Vec<String> =
            pairs.iter().map(|(n, v)| format!("{}={}", in_query(n), in_query(v))).collect();
        if query.is_empty() { path.to_owned() } else { format!("{path}?{}", query.join("&")) }
    };
    let next = page.next.as_deref().map(|c| url(Some(c)));
    // Put together by hand: `json!` would copy every record.
    let mut body = Map::new();
    body.insert("items".to_owned(), Json::Array(page.items));
    body.insert("next".to_owned(), value!(next));
    let body = Json::Object(body).to_string();
    let tag = body_etag(body.as_bytes());
    let mut response = json(body);
    let first = format!("<{}>; rel=\"first\"", url(None));
    let links = match &next {
        Some(next) => format!("{first}, <{next}>; rel=\"next\""),
        None => first,
    };
    if let Ok(links) = links.parse() {
        response.headers_mut().insert(LINK, links);
    }
    Ok(r.tagged(response, &tag))
}

fn shown(r: &Request, shown: &Shown) -> HttpResponse {
    let body = shown.json.to_string();
    let tag = etag(shown.version, &body);
    r.tagged(json(body), &tag)
}

pub async fn create(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let kind = r.kind()?;
    let made = r.app().create(r.actor()?, kind, r.object()?).await?;
    let body = made.json.to_string();
    let id = made.json.get("id").and_then(serde_json::Value::as_str).unwrap_or_default();
    let location = format!("/v1/{}/{id}", kind.spec().path);
    let mut response = if made.is_new { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(response
        .insert_header((LOCATION, location))
        .insert_header((ETAG, etag(made.version, &body)))
        .insert_header(("cache-control", "private, no-cache"))
        .content_type("application/json")
        .body(body))
}

pub async fn get(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let (kind, id) = (r.kind()?, r.id()?);
    let record = r.app().get(r.actor()?, kind, id).await?;
    Ok(shown(&r, &record))
}

/// Corrects a record.
pub async fn correct(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let (kind, id) = (r.kind()?, r.id()?);
    // Nobody learns from a missing header whether a record is there.
    r.app().get(r.actor()?, kind, id).await?;
    let version = r.if_match()?;
    let record = r.app().correct(r.actor()?, kind, id, version, r.object()?).await?;
    let body = record.json.to_string();
    let tag = etag(record.version, &body);
    let mut response = json(body);
    if let Ok(tag) = tag.parse() {
        response.headers_mut().insert(ETAG, tag);
    }
    Ok(response)
}

/// Withdraws a record.
pub async fn withdraw(r: Request) -> Answer {
    let [reason] = r.known_query(["reason"])?;
    let (kind, id) = (r.kind()?, r.id()?);
    r.app().get(r.actor()?, kind, id).await?;
    let version = r.if_match()?;
    let reason = match reason {
        None => None,
        Some(text) => Some(traybook_app::records::txn::clean_reason(&text).map_err(|mut e| {
            if let AppError::Invalid(errors) = &mut e {
                for error in errors {
                    "/reason".clone_into(&mut error.pointer);
                }
            }
            Problem::from(e)
        })?),
    };
    r.app().withdraw(r.actor()?, kind, id, version, reason).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// The versions of a record.
pub async fn history(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let (kind, id) = (r.kind()?, r.id()?);
    let versions = r.app().history(r.actor()?, kind, id).await?;
    let body = serde_json::to_string(&versions).map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(json(body))
}
