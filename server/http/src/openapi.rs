//! The OpenAPI document, from the table of operations.

use crate::api::reports;
use crate::ops::numbers::filled;
use crate::ops::{Body, Op, Reply, TAGS, all};
use crate::problem::{Code, ProblemDetails};
use crate::schema;
use crate::shape::{Schemas, Shape};
use serde_json::{Map, Value as Json, json};
use std::collections::BTreeMap;
use traybook_answers::planning::work::WorkTask;
use traybook_answers::savings::programme::Division;
use traybook_app::records::{LIST_PARAMETERS, filter_fields};
use traybook_domain::{Kind, limits};
use utoipa::openapi::OpenApi;

const PROBLEM: &str = "application/problem+json";

/// The document as text: canonical, sorted, with a newline at the end.
///
/// # Errors
/// When the document is not one that utoipa's types accept.
pub fn text() -> Result<String, String> {
    let document: OpenApi = serde_json::from_value(document()?).map_err(|e| e.to_string())?;
    let value = serde_json::to_value(&document).map_err(|e| e.to_string())?;
    let mut text = serde_json::to_string_pretty(&sorted(value)).map_err(|e| e.to_string())?;
    text.push('\n');
    Ok(text)
}

/// One line an operation: what a reviewer reads in a change.
#[must_use]
pub fn routes_text() -> String {
    let mut lines: Vec<String> = all()
        .iter()
        .map(|op| {
            let roles: Vec<&str> = op.roles.iter().map(|r| r.text()).collect();
            let who = if op.signed_in { roles.join(",") } else { "anyone".to_owned() };
            format!("{:<7}{} {} {who}", op.method.text(), op.path, op.id)
        })
        .collect();
    lines.sort_by(|a, b| {
        a.split_whitespace().nth(1).cmp(&b.split_whitespace().nth(1)).then(a.cmp(b))
    });
    lines.join("\n") + "\n"
}

fn sorted(value: Json) -> Json {
    match value {
        Json::Object(map) => {
            let sorted_map: BTreeMap<String, Json> =
                map.into_iter().map(|(k, v)| (k, sorted(v))).collect();
            Json::Object(sorted_map.into_iter().collect())
        }
        Json::Array(list) => Json::Array(list.into_iter().map(sorted).collect()),
        other => other,
    }
}

fn document() -> Result<Json, String> {
    let mut paths: Map<String, Json> = Map::new();
    for op in all() {
        let item = paths.entry(op.path.clone()).or_insert_with(|| json!({}));
        if let Json::Object(item) = item {
            item.insert(op.method.text().to_lowercase(), operation(&op));
        }
    }
    Ok(json!({
        "openapi": "3.1.0",
        "info": {
            "title": "traybook",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "Record server of livestock co-operatives whose members grow sprouted \
                grain as green feed.\n\nTimes are UTC with Z; days and months are those of the \
                co-operative's zone. kg, litres and currency units are decimal numbers; missing is \
                not zero. Every error is a problem (RFC 9457) with a stable code. Advice on rations \
                and disease defers to the local livestock service; mouldy or treated feed must not \
                be fed.",
            "license": { "name": "MIT OR Apache-2.0" },
        },
        "servers": [{ "url": "/" }],
        "tags": TAGS.iter().map(|t| json!({ "name": t })).collect::<Vec<_>>(),
        "security": [{ "token": [] }],
        "paths": paths,
        "components": {
            "securitySchemes": { "token": {
                "type": "http", "scheme": "bearer", "bearerFormat": "JWT",
                "description": filled(
                    "Access token from POST /v1/session; it holds {ACCESS_TOKEN_MINUTES} minutes.",
                ),
            } },
            "schemas": schemas()?,
        },
    }))
}

fn schemas() -> Result<Map<String, Json>, String> {
    let mut named: Map<String, Json> = Map::new();
    for kind in Kind::ALL {
        named.extend(schema::of(*kind));
        let name = kind.spec().name;
        named.insert(format!("{name}Page"), json!({
            "type": "object",
            "properties": {
                "items": { "type": "array", "items": reference(name) },
                "next": { "type": ["string", "null"], "description": "Address of the next page." },
            },
            "required": ["items", "next"],
        }));
    }
    let mut typed = Schemas::new();
    Shape::of::<ProblemDetails>().collect(&mut typed)?;
    for op in all() {
        for shape in [op.body.shape(), op.reply.shape()].into_iter().flatten() {
            shape.collect(&mut typed)?;
        }
    }
    for (name, schema) in typed {
        named.insert(name, serde_json::to_value(schema).map_err(|e| e.to_string())?);
    }
    Ok(named)
}

pub(crate) fn reference(name: &str) -> Json {
    json!({ "$ref": format!("#/components/schemas/{name}") })
}

fn operation(op: &Op) -> Json {
    let mut parameters: Vec<Json> = Vec::new();
    for part in op.path.split('{').skip(1).filter_map(|p| p.split('}').next()) {
        let schema = if part == "id" || part == "link_id" {
            json!({ "type": "string", "format": "uuid" })
        } else {
            json!({ "type": "string", "minLength": 1 })
        };
        parameters.push(json!({
            "name": part, "in": "path", "required": true, "schema": schema,
            "description": match part {
                "id" => "The record.",
                "link_id" => "The address.",
                "secret" => "The secret of the address.",
                _ => "The code.",
            },
        }));
    }
    if let (Reply::Page, Some(kind)) = (op.reply, op.kind) {
        parameters.extend(list_parameters(kind));
    }
    for (name, about, required) in &op.query {
        parameters.push(json!({
            "name": name, "in": "query", "required": required, "description": filled(about),
            "schema": query_schema(&op.id, name),
        }));
    }
    if op.if_match {
        parameters.push(json!({
            "name": "If-Match", "in": "header", "required": true,
            "description": "The ETag of the record that was read.",
            "schema": { "type": "string", "pattern": "^\"[1-9][0-9]{0,8}(-[0-9a-f]{1,24})?\"$", "example": "\"1-0a1b2c3d4e5f\"" },
        }));
    }
    let roles: Vec<&str> = op.roles.iter().map(|r| r.text()).collect();
    let about = if op.signed_in {
        format!("{}\n\nRoles: {}.", op.about, roles.join(", "))
    } else {
        op.about.clone()
    };
    let mut document = json!({
        "operationId": op.id, "summary": op.summary, "description": filled(about.trim()),
        "tags": [op.tag], "parameters": parameters, "responses": responses(op),
    });
    if let Json::Object(map) = &mut document {
        if !op.signed_in {
            map.insert("security".to_owned(), json!([]));
        }
        if let Some(body) = body(op) {
            map.insert("requestBody".to_owned(), body);
        }
    }
    document
}

fn query_schema(operation: &str, name: &str) -> Json {
    match name {
        "month" => json!({ "type": "string", "pattern": r"^\d{4}-\d{2}$", "example": "2026-01" }),
        "day" | "from" | "to" | "date" | "start" => json!({ "type": "string", "format": "date" }),
        "enterprise" => json!({ "type": "string", "enum": ["milk", "eggs"] }),
        "by" => json!({ "type": "string", "enum": Division::ALL }),
        "rule" => json!({ "type": "string", "enum": traybook_domain::kinds::REVIEW_RULES }),
        "accepted" => json!({ "type": "boolean" }),
        "limit" => json!({ "type": "integer", "minimum": 1, "maximum": limits::CHANGES_PAGE_MAX }),
        "farm_id" | "shed_id" | "area_id" => json!({ "type": "string", "format": "uuid" }),
        "task" => json!({ "type": "string", "enum": WorkTask::ALL }),
        "weeks" => {
            json!({ "type": "integer", "minimum": 1, "maximum": limits::FORECAST_WEEKS_MAX })
        }
        "days" => {
            let most = match operation {
                "get_farm_plan" => json!(limits::PLAN_DAYS_MAX),
                _ => json!(limits::SHEET_DAYS_MAX),
            };
            json!({ "type": "integer", "minimum": 1, "maximum": most })
        }
        "after" if operation == "list_work_changes" => {
            json!({ "type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}\.\d{1,15}\.\d{1,15}$" })
        }
        "after" => json!({ "type": "string", "pattern": r"^c\d{1,15}\.\d{1,15}$" }),
        _ => json!({ "type": "string", "minLength": 1, "maxLength": 500 }),
    }
}

fn list_parameters(kind: Kind) -> Vec<Json> {
    let spec = kind.spec();
    let mut all = Vec::new();
    for name in LIST_PARAMETERS {
        let (schema, about) = match *name {
            "limit" => (
                json!({ "type": "integer", "minimum": 1, "maximum": limits::PAGE_MAX }),
                "Records on a page; {PAGE_DEFAULT} where none is given.",
            ),
            "cursor" => (json!({ "type": "string" }), "Where the page begins; from `next`."),
            "withdrawn" => (json!({ "type": "boolean" }), "Withdrawn records too."),
            "from" | "to" if spec.date.is_none() => continue,
            "from" => (json!({ "type": "string", "format": "date" }), "First day."),
            "to" => (json!({ "type": "string", "format": "date" }), "Last day."),
            _ if spec.code.is_none() => continue,
            _ => (
                json!({ "type": "string", "minLength": 1, "maxLength": 100 }),
                "Part of the name or code.",
            ),
        };
        all.push(json!({
            "name": name, "in": "query", "required": false, "description": filled(about),
            "schema": schema,
        }));
    }
    for f in filter_fields(kind) {
        all.push(json!({
            "name": f.name, "in": "query", "required": false,
            "description": format!("Only these. {}", f.doc.trim()),
            "schema": schema::field(f, false),
        }));
    }
    all
}

fn body(op: &Op) -> Option<Json> {
    let content = |name: String, media: &[&str]| {
        let one = |m: &&str| ((*m).to_owned(), json!({ "schema": reference(&name) }));
        Json::Object(media.iter().map(one).collect())
    };
    let name = op.kind.map(|k| k.spec().name).unwrap_or_default();
    let content = match op.body {
        Body::None => return None,
        Body::Json(shape, _) => content(shape.name().into_owned(), &["application/json"]),
        Body::Record("New") => content(format!("New{name}"), &["application/json"]),
        Body::Record(_) => {
            content(format!("{name}Patch"), &["application/json", "application/merge-patch+json"])
        }
        Body::Picture => {
            let one = |m: &str| {
                (m.to_owned(), json!({ "schema": { "type": "string", "format": "binary" } }))
            };
            Json::Object(["image/jpeg", "image/png", "image/webp"].map(one).into_iter().collect())
        }
    };
    Some(json!({ "required": true, "content": content }))
}

fn responses(op: &Op) -> Json {
    let mut all: Map<String, Json> = Map::new();
    let name = op.kind.map(|k| k.spec().name).unwrap_or_default();
    let etag =
        json!({ "ETag": { "description": "Strong validator.", "schema": { "type": "string" } } });
    let of = |schema: Json, about: &str| json!({ "description": about, "content": { "application/json": { "schema": schema } } });
    let mut with_tag = |status: &str, mut response: Json| {
        if let Json::Object(map) = &mut response {
            map.insert("headers".to_owned(), etag.clone());
        }
        all.insert(status.to_owned(), response);
    };
    match op.reply {
        Reply::Json(schema) => with_tag("200", of(reference(&schema.name()), "Done.")),
        Reply::Record => with_tag("200", of(reference(name), "The record.")),
        Reply::Created => {
            let mut made = of(reference(name), "The new record.");
            if let (Json::Object(map), Some(kind)) = (&mut made, op.kind) {
                map.insert("links".to_owned(), links(kind));
            }
            with_tag("201", made);
            with_tag("200", of(reference(name), "The same record was there already."));
        }
        Reply::Page => with_tag("200", of(reference(&format!("{name}Page")), "A page.")),
        Reply::History => with_tag("200", of(reference("RecordHistory"), "The versions.")),
        Reply::CreatedJson(schema) => {
            all.insert("201".to_owned(), of(reference(&schema.name()), "Done."));
        }
        Reply::Made(schema) => {
            all.insert("201".to_owned(), of(reference(&schema.name()), "Done."));
            all.insert("200".to_owned(), of(reference(&schema.name()), "It was done before."));
        }
        Reply::Forms(media) => {
            let one = |m: &&str| ((*m).to_owned(), json!({ "schema": { "type": "string" } }));
            let content: Map<String, Json> = media.iter().map(one).collect();
            with_tag("200", json!({ "description": "The sheet.", "content": content }));
        }
        Reply::Calendar => with_tag(
            "200",
            json!({
                "description": "The calendar.",
                "content": { "text/calendar": { "schema": { "type": "string" } } },
            }),
        ),
        Reply::Nothing => {
            all.insert("204".to_owned(), json!({ "description": "Done." }));
        }
        Reply::Report => with_tag(
            "200",
            json!({
                "description": "The report.",
                "content": {
                    "application/json": { "schema": reference("SavingsReport") },
                    "text/csv": { "schema": { "type": "string" } },
                    (reports::XLSX): { "schema": { "type": "string", "format": "binary" } },
                    (reports::PDF): { "schema": { "type": "string", "format": "binary" } },
                },
            }),
        ),
        Reply::Paper(schema) => with_tag(
            "200",
            json!({
                "description": "The paper.",
                "content": {
                    "application/json": { "schema": reference(&schema.name()) },
                    (reports::PDF): { "schema": { "type": "string", "format": "binary" } },
                },
            }),
        ),
        Reply::Workbook => with_tag(
            "200",
            json!({
                "description": "The workbook.",
                "content": { (reports::XLSX): { "schema": { "type": "string", "format": "binary" } } },
            }),
        ),
        Reply::Table(schema) => with_tag(
            "200",
            json!({
                "description": "The answer; as CSV its list alone.",
                "content": {
                    "application/json": { "schema": reference(&schema.name()) },
                    "text/csv": { "schema": { "type": "string" } },
                },
            }),
        ),
        Reply::Picture => {
            let one = |m: &str| {
                (m.to_owned(), json!({ "schema": { "type": "string", "format": "binary" } }))
            };
            let media: Map<String, Json> =
                ["image/jpeg", "image/png", "image/webp"].map(one).into_iter().collect();
            with_tag("200", json!({ "description": "The picture.", "content": media }));
        }
        Reply::Stored => {
            all.insert("201".to_owned(), json!({ "description": "Kept." }));
            all.insert("204".to_owned(), json!({ "description": "It was there already." }));
        }
        Reply::Text => {
            all.insert("200".to_owned(), json!({
                "description": "Text.", "content": { "text/plain": { "schema": { "type": "string" } } },
            }));
        }
    }
    let mut statuses = op.statuses.clone();
    if matches!(
        op.reply,
        Reply::Page
            | Reply::Json(_)
            | Reply::Report
            | Reply::Paper(_)
            | Reply::Workbook
            | Reply::Table(_)
            | Reply::Forms(_)
            | Reply::Calendar
    ) {
        statuses.push(304);
    }
    // Every body is read within limits, even where none is wanted.
    statuses.extend([400, 405, 408, 413, 500, 503]);
    if op.signed_in {
        statuses.push(401);
    }
    statuses.sort_unstable();
    statuses.dedup();
    for status in statuses {
        all.insert(status.to_string(), problem(status));
    }
    Json::Object(all)
}

/// What can be done with a record that was just made.
fn links(kind: Kind) -> Json {
    let item = format!("/v1/{}/{{id}}", kind.spec().path);
    let mut links = Map::new();
    for op in all().iter().filter(|op| op.kind == Some(kind) && op.path.starts_with(&item)) {
        let mut parameters = json!({ "path.id": "$response.body#/id" });
        if let (Json::Object(map), true) = (&mut parameters, op.if_match) {
            map.insert("header.If-Match".to_owned(), json!("$response.header.ETag"));
        }
        links.insert(op.id.clone(), json!({ "operationId": op.id, "parameters": parameters }));
    }
    Json::Object(links)
}

fn problem(status: u16) -> Json {
    if status == 304 {
        return json!({ "description": "The client has it already." });
    }
    let titles: Vec<&str> =
        Code::ALL.iter().filter(|c| c.status() == status).map(|c| c.title()).collect();
    let mut response = json!({
        "description": titles.join("; or: "),
        "content": { PROBLEM: { "schema": reference("ProblemDetails") } },
    });
    if let (Json::Object(map), 429 | 503) = (&mut response, status) {
        map.insert("headers".to_owned(), json!({
            "Retry-After": { "description": "Seconds to wait.", "schema": { "type": "integer" } },
        }));
    }
    response
}
