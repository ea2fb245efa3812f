//! Numbers that members write from, texts that were not understood, and what texts cost.

use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Refusal, Table};
use crate::web::page::Page;
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use traybook_answers::texts::{TextNumber, TextNumberState, TextsUse};
use traybook_answers::wire::Time;
use traybook_app::AppError;
use traybook_app::texts::{NewLink, SILENT_DAYS, TEXTS_KEPT_DAYS, Unclear};
use traybook_domain::Kind;
use traybook_domain::people::authz::Role;
use traybook_domain::time::parse_date;
use traybook_speech::Language;
use uuid::Uuid;

/// Numbers that the page lists; all of them are in the interface.
const NUMBERS_MAX: usize = 200;

pub(crate) async fn show_texts(visit: Visit) -> Shown {
    show(&visit, None).await
}

async fn show(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let numbers = visit.state.app.text_numbers(actor).await?.items;
    let mut leaf = Leaf::new(page.clone(), page.say("texts-title"));
    leaf.add(Block::Text(page.with("texts-about", "days", SILENT_DAYS)));
    if actor.role == Role::Manager {
        let (used, unclear) = visit.state.app.texts_use(actor).await?;
        cost(&mut leaf, &page, &used);
        not_understood(&mut leaf, &page, &unclear);
    }
    leaf.heading("texts-numbers");
    if numbers.is_empty() {
        leaf.text("texts-none");
    } else {
        list(&mut leaf, &page, &numbers);
    }
    leaf.form(visit, refusal, link_form(&page));
    if numbers.iter().any(|n| n.state != TextNumberState::Ended) {
        leaf.form(visit, refusal, end_form(&page, &numbers));
    }
    leaf.answer(refusal)
}

fn cost(leaf: &mut Leaf, page: &Page, used: &TextsUse) {
    leaf.heading("texts-cost");
    let mut facts = vec![
        (page.say("texts-came"), used.came.to_string()),
        (page.say("texts-unclear"), used.unclear.to_string()),
        (page.say("texts-segments"), used.segments.to_string()),
    ];
    facts.extend(used.budget.map(|most| (page.say("texts-budget"), most.to_string())));
    facts.extend(used.heard_at.map(|at| (page.say("texts-carrier"), page.moment(&at))));
    facts.extend(used.oldest_waiting.map(|at| (page.say("texts-waiting"), page.moment(&at))));
    leaf.add(Block::Facts(facts));
    if used.budget.is_some_and(|most| used.segments * 5 >= most * 4) {
        leaf.add(Block::Caution(page.say("texts-budget-near")));
    }
    if used.purposes.is_empty() {
        return;
    }
    let row = |p: &traybook_answers::texts::TextsOfPurpose| -> Vec<Cell> {
        let count = |n: i64| n.to_string().into();
        vec![
            page.word("texts-purpose", &p.purpose).into(),
            count(p.texts),
            count(p.segments),
            count(p.given_up),
        ]
    };
    let number = |key: &str| Column::number(page.say(key));
    leaf.add(Block::Table(Table {
        caption: page.say("texts-by-purpose"),
        columns: vec![
            Column::text(page.say("texts-purpose")),
            number("texts-count"),
            number("texts-segments"),
            number("texts-given-up"),
        ],
        rows: used.purposes.iter().map(row).collect(),
        total: None,
    }));
}

fn not_understood(leaf: &mut Leaf, page: &Page, unclear: &[Unclear]) {
    if unclear.is_empty() {
        return;
    }
    leaf.add(Block::Table(Table {
        caption: page.with("texts-unclear-about", "days", TEXTS_KEPT_DAYS),
        columns: ["texts-at", "texts-number", "texts-text"]
            .map(|key| Column::text(page.say(key)))
            .into(),
        rows: unclear
            .iter()
            .map(|u| {
                let text = u.text.clone().unwrap_or_default();
                vec![page.moment(&Time(u.at)).into(), u.number.clone().into(), text.into()]
            })
            .collect(),
        total: None,
    }));
}

fn list(leaf: &mut Leaf, page: &Page, numbers: &[TextNumber]) {
    let row = |n: &TextNumber| -> Vec<Cell> {
        let told = [
            (n.reminders, "texts-reminders"),
            (n.cautions, "texts-cautions"),
            (n.money, "texts-money"),
        ];
        let told: Vec<String> =
            told.into_iter().filter(|(is, _)| *is).map(|(_, key)| page.say(key)).collect();
        vec![
            n.number.clone().into(),
            n.member_name.clone().into(),
            page.word("texts-state", n.state.text()).into(),
            told.join(", ").into(),
            n.heard_at.map(|at| page.moment(&at)).unwrap_or_default().into(),
        ]
    };
    leaf.add(Block::Table(Table {
        caption: page.say("texts-numbers-about"),
        columns: ["texts-number", "texts-member", "texts-state", "texts-hears", "texts-heard"]
            .map(|key| Column::text(page.say(key)))
            .into(),
        rows: numbers.iter().take(NUMBERS_MAX).map(row).collect(),
        total: None,
    }));
}

fn link_form(page: &Page) -> Form {
    let languages = Language::ALL.iter().map(|l| (l.tag().to_owned(), l.own_name())).collect();
    let tick = |name: &'static str, key: &str| Field::new(name, page.say(key), Input::Tick);
    Form::new("/texts", "link", page.say("texts-link-do"))
        .field(Field::new("number", page.say("texts-number"), Input::Phone).required())
        .field(Field::new("member", page.say("texts-member-number"), Input::Text).required())
        .field(Field::new("language", page.say("texts-language"), Input::Choice(languages)))
        .field(Field::new("consent_on", page.say("texts-consent"), Input::Date).required())
        .field(tick("reminders", "texts-reminders"))
        .field(tick("cautions", "texts-cautions"))
        .field(tick("money", "texts-money"))
}

fn end_form(page: &Page, numbers: &[TextNumber]) -> Form {
    let live = numbers.iter().filter(|n| n.state != TextNumberState::Ended);
    let options = live.map(|n| (n.id.to_string(), format!("{} · {}", n.number, n.member_name)));
    Form::new("/texts/end", "end", page.say("texts-end-do")).field(Field::new(
        "id",
        page.say("texts-number"),
        Input::Choice(options.collect()),
    ))
}

/// Links a number.
pub(crate) async fn link(visit: Visit) -> Shown {
    match linked(&visit).await {
        Ok(()) => Ok(go("/texts")),
        Err(error) => {
            let refusal = Refusal::of(&visit, "link", error)?;
            show(&visit, Some(&refusal)).await
        }
    }
}

async fn linked(visit: &Visit) -> Result<(), AppError> {
    let (actor, app) = (visit.actor()?, &visit.state.app);
    let need = |name: &str| {
        visit.field(name).ok_or_else(|| AppError::field(name, "required", "fill this in"))
    };
    let number = need("number")?.to_owned();
    let member = match app.find_code(actor, Kind::Member, need("member")?).await {
        Err(AppError::NotFound) => {
            let detail = "there is no member with this number";
            return Err(AppError::field("member", "unknown_reference", detail));
        }
        found => found?,
    };
    let consent_on = parse_date(need("consent_on")?)
        .ok_or_else(|| AppError::field("consent_on", "type", "give a day as YYYY-MM-DD"))?;
    let tick = |name: &str| visit.field(name).is_some();
    let new = NewLink {
        number,
        member,
        farm: None,
        language: visit.field("language").map(str::to_owned),
        consent_on,
        purposes: [tick("reminders"), tick("cautions"), tick("money")],
    };
    app.link_number(actor, new).await.map(drop)
}

/// Ends a link.
pub(crate) async fn end(visit: Visit) -> Shown {
    let id = visit.field("id").and_then(|id| Uuid::try_parse(id).ok()).ok_or(AppError::NotFound)?;
    visit.state.app.end_number(visit.actor()?, id).await?;
    Ok(go("/texts"))
}
