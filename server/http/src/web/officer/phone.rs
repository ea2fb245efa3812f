//! What a phone keeps that the server does not have yet. The page itself is empty: its script
//! fills it from the phone, with or without signal.

use crate::web::farms::{list as list_of, rows, text};
use crate::web::page::Page;
use crate::web::site::{Shown, show};
use crate::web::visit::Visit;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use serde_json::json;
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::kinds::Training;
use traybook_domain::people::authz::Role;
use traybook_domain::time::minus_days;

/// Texts that the script needs, by name.
const TEXTS: &[&str] = &[
    "phone-on-this-phone",
    "phone-sending",
    "phone-sent",
    "phone-needs-you",
    "phone-of-other",
    "phone-nothing",
    "phone-kept-at",
    "phone-photos-left",
    "phone-put-right",
    "phone-try-again",
    "phone-throw-away",
    "phone-throw-sure",
    "phone-clock",
    "phone-yours",
    "phone-now",
    "phone-keep-theirs",
    "phone-send-mine",
    "phone-pages-kept",
];

#[derive(Template)]
#[template(path = "phone.html")]
struct PhonePage {
    page: Page,
    texts: Vec<(&'static str, String)>,
}

pub(crate) async fn show_phone(visit: Visit) -> Shown {
    visit.actor()?;
    let page = visit.page();
    let texts = TEXTS.iter().map(|key| (*key, page.say(key))).collect();
    show(&PhonePage { page, texts }, StatusCode::OK)
}

/// Who is signed in, a form token, and the server's clock: what a phone needs before it sends.
pub(crate) async fn token(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let life = visit.state.app.life(actor).await?;
    let answer = json!({
        "person": actor.person, "csrf": visit.page().csrf, "now": visit.state.app.now().0,
        "epoch": life.epoch, "restored_to": life.restored_to.map(|t| t.0.0),
    });
    Ok(HttpResponse::Ok().insert_header(("cache-control", "no-store")).json(answer))
}

/// Days for which the register of a training is taken along.
const TRAINING_DAYS: u64 = 7;

/// Farms that a phone takes along, the most pressing first.
const FARMS_ALONG: usize = 30;

/// The pages that a phone takes along, so that they open without signal.
pub(crate) async fn pages(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    if !visit.page().works_offline() {
        return Err(AppError::Forbidden);
    }
    let mut pages: Vec<String> = ["/phone", "/today"].map(str::to_owned).to_vec();
    if actor.role == Role::Officer {
        let own = ["/round", "/farms", "/farms/new", "/trainings", "/trainings/new"];
        pages.extend(own.map(str::to_owned));
        // A register is marked where people meet, often without signal.
        let today = actor.coop.today(visit.state.app.now());
        let around = [("from", minus_days(today, TRAINING_DAYS).to_string())];
        let trainings = rows::<Training>(&visit, &around).await?.items;
        pages.extend(trainings.iter().map(|t| format!("/trainings/{}", t.id)));
        let (list, _) = visit.state.app.first_visits(actor, FARMS_ALONG).await?;
        for farm in &list {
            let id = farm.farm_id;
            pages.push(format!("/farms/{id}"));
            pages.extend(["visit", "batch", "animals"].map(|page| format!("/farms/{id}/{page}")));
            pages.push(format!("/today?farm_id={id}"));
            let growing = [("farm_id", id.to_string()), ("limit", "12".to_owned())];
            let batches = list_of(&visit, Kind::Batch, &growing).await?;
            let open = batches.iter().filter(|b| text(b, "stage") != "finished");
            pages.extend(open.map(|b| format!("/batches/{}/events", text(b, "id"))));
        }
    } else {
        pages.extend(["/output", "/batches", "/ask"].map(str::to_owned));
    }
    Ok(HttpResponse::Ok()
        .insert_header(("cache-control", "no-store"))
        .json(json!({ "pages": pages })))
}
