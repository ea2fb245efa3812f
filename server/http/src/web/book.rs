//! Lists and forms of the shelves: the book of a farm, its sheds, the store, the co-operative's
//! setup. The forms are made of the fields that the records have, so that a field that is added
//! to a record is asked for here as well; a test finds one without a label.

use super::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use super::echo::{saved, saved_record, taken};
use super::farms::{self, Names, all, one, text};
use super::forms::{
    Options, as_it_stood, choices, correct, is_taken_back, or_none, put, stands, take_back,
    version, why,
};
use super::nothing_bought;
use super::page::{NONE, Page, figure, shown};
use super::shelf::{Book, Shelf, exact, label, reads_alone, set};
use super::site::{Shown, go, query};
use super::visit::Visit;
use serde_json::{Map, Value as Json, json};
use std::collections::HashMap;
use traybook_answers::Decimal;
use traybook_answers::seed::LotOffer;
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::field::{FieldKind, FieldSpec};
use traybook_domain::people::authz::Action;

/// Lines of one kind beside the others: the newest.
const LINES: usize = 6;
/// Pages of a list that are looked through for lines of the store.
const PAGES_MAX: usize = 20;
/// Characters from which on a text may have several lines.
const LONG: usize = 300;
/// Lines of one kind on a page of its own.
const LINES_ALONE: usize = 50;

/// What records that these refer to are called, by kind.
struct Called(HashMap<Kind, Names>);

impl Called {
    async fn by(visit: &Visit, book: &Book, kinds: &[Kind]) -> Result<Self, AppError> {
        let mut names: HashMap<Kind, Names> = HashMap::new();
        let fields = kinds.iter().flat_map(|kind| book.fields(*kind));
        for field in fields {
            let FieldKind::Ref(kind) = field.kind else { continue };
            if names.contains_key(&kind) {
                continue;
            }
            let of_farm = matches!(kind, Kind::AnimalGroup | Kind::Shed);
            let farm = book.farm_id().filter(|_| of_farm).map(str::to_owned);
            let pairs: Vec<(&str, String)> = farm.map(|id| ("farm_id", id)).into_iter().collect();
            let code = kind.spec().code.unwrap_or("id");
            names.insert(kind, Names::of(visit, kind, code, &pairs).await?);
        }
        Ok(Self(names))
    }

    fn options(&self, kind: Kind) -> Options {
        self.0.get(&kind).map(Names::options).unwrap_or_default()
    }

    /// A value of a record as it reads.
    fn reads(&self, page: &Page, kind: Kind, field: &FieldSpec, record: &Json) -> String {
        match field.kind {
            FieldKind::Ref(of) if !record[field.name].is_null() => {
                self.0.get(&of).map(|n| n.of_member(record, field.name)).unwrap_or_default()
            }
            FieldKind::Money => record[field.name].as_f64().map_or_else(|| NONE.to_owned(), exact),
            _ => reads_alone(page, kind, field, record),
        }
    }
}

pub(super) async fn show_book(visit: Visit) -> Shown {
    let book = Book::of(&visit).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    // One kind alone goes back in time.
    let (only, alone) = (visit.field("kind"), visit.field("kind").is_some());
    let is_seen = |k: &Kind| {
        actor.visible(Action::Read, *k).is_ok() && only.is_none_or(|path| k.spec().path == path)
    };
    let seen: Vec<Kind> = book.shelf.kinds().iter().copied().filter(is_seen).collect();
    if alone && seen.is_empty() {
        return Err(AppError::NotFound);
    }
    if seen.is_empty() || !book.shelf.may_open(actor) {
        return Err(AppError::Forbidden);
    }
    let called = Called::by(&visit, &book, &seen).await?;
    let mut leaf = Leaf::new(page.clone(), book.title(&page));
    leaf = match (&book.farm, book.shelf) {
        (Some(farm), _) => leaf.back(format!("/farms/{}", text(farm, "id")), text(farm, "code")),
        (None, Shelf::Setup) => leaf.back("/first", page.say("first-title")),
        (None, _) => leaf.back("/seed", page.say("nav-seed")),
    };
    nothing_bought::echo(&visit, &mut leaf).await?;
    if let Some(farm) = book.farm_id().filter(|_| book.shelf == Shelf::Book) {
        leaf.text("book-about");
        let animals = Link::to(format!("/farms/{farm}/animals"), page.say("animals-title"));
        leaf.add(Block::Links(vec![animals]));
    }
    let mut unused = Vec::new();
    for kind in seen {
        let one = kind.spec().one.replace('_', "-");
        let (records, older) = newest(&visit, &book, kind, alone).await?;
        let mut links = Vec::new();
        if actor.visible(Action::Create, kind).is_ok() {
            let to = format!("{}/{}", book.path(), kind.spec().path);
            let add = page.with("book-add", "what", page.say(&format!("book-{one}")));
            links.push(Link::to(to, add));
            if let Some(farm) = book.farm_id().filter(|_| kind == Kind::FeedPurchase) {
                let to = nothing_bought::address(farm);
                links.push(Link::to(to, page.say("nothing-bought")));
            }
        }
        if records.is_empty() {
            unused.extend(links);
            continue;
        }
        if let Some(cursor) = older {
            let mut pairs = vec![("kind", kind.spec().path)];
            pairs.extend((!cursor.is_empty()).then_some(("after", cursor.as_str())));
            let to = format!("{}?{}", book.path(), query(&pairs));
            links.push(Link::to(to, page.say("older")));
        }
        leaf.add(Block::Heading(page.say(&format!("book-{one}")), one.clone()));
        leaf.add(Block::Links(links));
        let caption = if alone { format!("book-{one}") } else { "book-newest".to_owned() };
        let caption = page.with(&caption, "what", page.say(&format!("book-{one}")));
        leaf.add(Block::Table(table(&page, &book, kind, &called, &records, caption)));
    }
    if !unused.is_empty() {
        // Of what nothing is written yet, only the way to write it.
        leaf.heading("book-unused");
        leaf.add(Block::Links(unused));
    }
    leaf.show()
}

/// The newest records of a kind, and where older ones begin: an empty cursor leads to the page of
/// this kind alone.
async fn newest(
    visit: &Visit,
    book: &Book,
    kind: Kind,
    alone: bool,
) -> Result<(Vec<Json>, Option<String>), AppError> {
    let of_farm: Vec<(&str, String)> =
        book.farm_id().map(|id| ("farm_id", id.to_owned())).into_iter().collect();
    if kind.spec().date.is_none() {
        // What has no day is listed in the order in which it was made.
        let mut records = all(visit, kind, &of_farm).await?;
        records.reverse();
        let is_more = !alone && records.len() > LINES;
        records.truncate(if alone { usize::MAX } else { LINES });
        return Ok((records, is_more.then(String::new)));
    }
    let is_mixed = book.farm.is_none() && kind.spec().field("farm_id").is_some();
    let limit = if alone || is_mixed { LINES_ALONE } else { LINES };
    let mut asked = vec![("limit", limit.to_string())];
    asked.extend(of_farm);
    if let Some(cursor) = visit.field("after").filter(|_| alone) {
        asked.push(("cursor", cursor.to_owned()));
    }
    let (mut records, mut next) = farms::page(visit, visit.actor()?, kind, &asked).await?;
    if is_mixed {
        // What concerns a farm stands in its book.
        let of_store = |r: &Json| r["farm_id"].is_null();
        records.retain(of_store);
        for _ in 0..PAGES_MAX {
            let Some(cursor) = next.clone().filter(|_| records.len() < LINES) else { break };
            let asked = [("limit", limit.to_string()), ("cursor", cursor)];
            let (more, after) = farms::page(visit, visit.actor()?, kind, &asked).await?;
            records.extend(more.into_iter().filter(of_store));
            next = after;
        }
        let is_more = !alone && (next.is_some() || records.len() > LINES);
        records.truncate(if alone { usize::MAX } else { LINES });
        if !alone {
            return Ok((records, is_more.then(String::new)));
        }
    }
    Ok((records, next.map(|cursor| if alone { cursor } else { String::new() })))
}

/// The newest records of a kind; the first column leads to each.
fn table(
    page: &Page,
    book: &Book,
    kind: Kind,
    called: &Called,
    records: &[Json],
    caption: String,
) -> Table {
    let fields: Vec<&FieldSpec> = {
        // The day or the name that people know it by comes first.
        let first = kind.spec().date.or(kind.spec().code).unwrap_or_default();
        let (first, rest): (Vec<_>, Vec<_>) = book.fields(kind).partition(|f| f.name == first);
        let says = |f: &&FieldSpec| !matches!(f.name, "note" | "source");
        first.into_iter().chain(rest.into_iter().filter(says)).collect()
    };
    let is_number = |f: &FieldSpec| {
        matches!(f.kind, FieldKind::Money | FieldKind::Decimal { .. } | FieldKind::Int { .. })
    };
    let column = |f: &&FieldSpec| match is_number(f) {
        true => Column::number(label(page, kind, f)),
        false => Column::text(label(page, kind, f)),
    };
    let row = |record: &Json| -> Vec<Cell> {
        let mut cells: Vec<Cell> = Vec::new();
        for field in &fields {
            let reads = called.reads(page, kind, field, record);
            cells.push(match cells.is_empty() {
                true => {
                    let to = format!("/book/{}/{}", kind.spec().path, text(record, "id"));
                    Cell::link(reads, to)
                }
                // What was not filled in takes no line of a telephone.
                false if reads == NONE => String::new().into(),
                false => reads.into(),
            });
        }
        cells
    };
    Table {
        caption,
        columns: fields.iter().map(column).collect(),
        rows: records.iter().map(row).collect(),
        total: None,
    }
}

/// The form for a new record.
pub(super) async fn show_new(visit: Visit) -> Shown {
    new(&visit, None).await
}

async fn new(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let book = Book::of(visit).await?;
    let (page, kind) = (visit.page(), named(visit, book.shelf.kinds())?);
    visit.actor()?.visible(Action::Create, kind)?;
    let one = page.say(&format!("book-{}", kind.spec().one.replace('_', "-")));
    let mut leaf = Leaf::new(page.clone(), page.with("book-add", "what", one.as_str()))
        .back(book.path(), book.title(&page));
    leaf.saved(visit);
    about(&mut leaf, &page, kind);
    cautions(&mut leaf, &page, kind);
    let called = Called::by(visit, &book, &[kind]).await?;
    let kept_as = format!("{one} · {}", book.title(&page));
    let mut form =
        Form::new(format!("{}/{}", book.path(), kind.spec().path), "book", page.say("save"))
            .id("id", visit.state.app.new_id()?)
            .keep(kept_as);
    let today = visit.day("", visit.actor()?);
    for spec in book.fields(kind) {
        let mut field = field(&page, kind, spec, &called);
        if (kind, spec.name) == (Kind::SeedIssue, "seed_lot_id") {
            let offers = visit.state.app.lot_offers(visit.actor()?).await?;
            field.input =
                Input::Choice(or_none(offers.iter().map(|o| offered(&page, o)).collect()));
        }
        if spec.kind == (FieldKind::Date { future: false }) && spec.required {
            field = field.now(today.as_str().unwrap_or_default());
        }
        form = form.field(field);
    }
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// What is written there, and what for.
fn about(leaf: &mut Leaf, page: &Page, kind: Kind) {
    let key = format!("book-{}-about", kind.spec().one.replace('_', "-"));
    if let Some(about) = page.language.known(&key, &[]) {
        leaf.add(Block::Text(about));
    }
}

/// What to beware of where these are written down.
fn cautions(leaf: &mut Leaf, page: &Page, kind: Kind) {
    match kind {
        Kind::SeedPurchase | Kind::SeedLot | Kind::SeedIssue => {
            leaf.add(Block::Caution(page.say("treated-seed")));
        }
        Kind::BaselineRation | Kind::Feed => {
            leaf.add(Block::Caution(page.say("caution-rations")));
        }
        _ => {}
    }
}

fn field(page: &Page, kind: Kind, spec: &FieldSpec, called: &Called) -> Field {
    let input = match spec.kind {
        FieldKind::Ref(of) => Input::Choice(or_none(called.options(of))),
        FieldKind::Choice(words) => Input::Choice(or_none(choices(page, set(kind, spec), words))),
        FieldKind::Int { .. } => Input::Whole,
        FieldKind::Decimal { .. } | FieldKind::Money => Input::Decimal,
        FieldKind::Date { .. } => Input::Date,
        FieldKind::Bool if spec.required => Input::Tick,
        FieldKind::Bool => {
            let words = ["true", "false"].into_iter().zip(["yes", "no"]);
            let words = words.map(|(value, key)| (value.to_owned(), page.say(key)));
            Input::Choice(or_none(words.collect()))
        }
        FieldKind::Text { max } if max >= LONG => Input::Long,
        _ => Input::Text,
    };
    let mut field = Field::new(spec.name, label(page, kind, spec), input);
    let name = spec.name.replace('_', "-");
    let hint = format!("book-{}-{name}-hint", kind.spec().one.replace('_', "-"));
    if let Some(hint) = page.language.known(&hint, &[]) {
        field = field.hint(hint);
    }
    if spec.required && spec.kind != FieldKind::Bool { field.required() } else { field }
}

/// A lot as it is offered: what is in the store, and the price of a kg.
fn offered(page: &Page, offer: &LotOffer) -> (String, String) {
    let mut text = format!("{} · {}", offer.seed_lot, page.crop(&offer.crop));
    let stock = match offer.stock_kg.is_positive() {
        true => page.with("lot-in-store", "kg", figure(offer.stock_kg.real(), 0)),
        false => page.say("lot-none-in-store"),
    };
    text = format!("{text} · {stock}");
    if let Some(price) = offer.price_per_kg {
        text = format!("{text} · {}", page.with("lot-price-kg", "amount", page.money(&price)));
    }
    (offer.seed_lot_id.to_string(), text)
}

/// The price of seed handed out, where none is given: kg by the price that stands beside the lot.
async fn price_of_lot(visit: &Visit, body: &mut Map<String, Json>) -> Result<(), AppError> {
    let is_given = body.get("price").is_some_and(|price| !price.is_null());
    let lot = body.get("seed_lot_id").and_then(Json::as_str).unwrap_or_default();
    let kg = body.get("kg").and_then(|kg| serde_json::from_value::<Decimal>(kg.clone()).ok());
    let grams = kg.map(|kg| kg.units_of(3));
    let (Some(grams), false) = (grams, is_given) else { return Ok(()) };
    let offers = visit.state.app.lot_offers(visit.actor()?).await?;
    let offer = offers.iter().find(|o| o.seed_lot_id.to_string() == lot);
    if let Some(price) = offer.and_then(|o| o.price_of(grams)) {
        put(body, [("price", json!(price))]);
    }
    Ok(())
}

/// What a form says of a record: its fields of these kinds by name.
fn filled(visit: &Visit, kind: Kind, fields: &[&FieldSpec]) -> Map<String, Json> {
    let names = fields.iter().filter(|f| f.kind != FieldKind::Bool).map(|f| f.name);
    let mut body = visit.record(kind, &names.collect::<Vec<_>>());
    for field in fields.iter().filter(|f| f.kind == FieldKind::Bool) {
        let given = visit.field(field.name);
        // A tick that is not set says no; a question that is left open says nothing.
        if given.is_some() || field.required {
            body.insert(field.name.to_owned(), json!(given == Some("true")));
        }
    }
    body
}

/// Records what was filled in.
pub(super) async fn record(visit: Visit) -> Shown {
    let book = Book::of(&visit).await?;
    let (kind, actor) = (named(&visit, book.shelf.kinds())?, visit.actor()?);
    let fields: Vec<&FieldSpec> = book.fields(kind).collect();
    let mut body = filled(&visit, kind, &fields);
    put(&mut body, [("id", json!(visit.form_id("id")?))]);
    // Of what belongs to a group the farm follows from the group.
    let of_farm = kind.spec().fields.iter().any(|f| f.name == "farm_id" && !f.derived);
    if let Some(farm) = book.farm_id().filter(|_| of_farm) {
        put(&mut body, [("farm_id", json!(farm))]);
    }
    if kind == Kind::SeedIssue {
        price_of_lot(&visit, &mut body).await?;
    }
    match visit.state.app.create(actor, kind, body).await {
        Ok(done) => Ok(go(&format!("{}?{}", book.path(), saved_record(kind, &done.json)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "book", error)?;
            new(&visit, Some(&refusal)).await
        }
    }
}

/// The kind of record that the address names.
fn kind_of(visit: &Visit) -> Result<Kind, AppError> {
    let all = Shelf::ALL.iter().map(|shelf| named(visit, shelf.kinds()));
    all.flatten().next().ok_or(AppError::NotFound)
}

/// The one of these kinds that the address names.
fn named(visit: &Visit, kinds: &[Kind]) -> Result<Kind, AppError> {
    let path = visit.parts.get("kind").map(String::as_str).unwrap_or_default();
    let found = kinds.iter().find(|k| k.spec().path == path);
    found.copied().ok_or(AppError::NotFound)
}

/// A record, to be corrected.
pub(super) async fn show_record(visit: Visit) -> Shown {
    standing(&visit, None).await
}

async fn standing(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let kind = kind_of(visit)?;
    let record = one(visit, kind, visit.id("id")?).await?;
    let book = Book::with(visit, kind, &record).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let called = Called::by(visit, &book, &[kind]).await?;
    let title = page.say(&format!("book-{}", kind.spec().one.replace('_', "-")));
    let mut leaf = Leaf::new(page.clone(), &*title).back(book.path(), book.title(&page));
    cautions(&mut leaf, &page, kind);
    if is_taken_back(&record) {
        leaf.add(Block::Caution(page.say("taken-back")));
    }
    let may = actor.visible(Action::Correct, kind).is_ok() && !is_taken_back(&record);
    let (kept, open): (Vec<&FieldSpec>, Vec<&FieldSpec>) =
        book.fields(kind).partition(|f| f.fixed || !may);
    let fact = |f: &&FieldSpec| (label(&page, kind, f), called.reads(&page, kind, f, &record));
    leaf.add(Block::Facts(kept.iter().map(fact).collect()));
    let path = format!("/book/{}/{}", kind.spec().path, text(&record, "id"));
    if may {
        leaf.text("correction-about");
        let mut form = Form::new(&*path, "book", page.say("correct"))
            .hide("version", shown(&record["version"], 0))
            .keep(page.with("correct-of", "what", title.as_str()));
        for spec in open {
            let mut field = field(&page, kind, spec, &called);
            field.value = stands(&record[spec.name]);
            // What stands can be chosen, also where the list does not have it.
            if let Input::Choice(options) = &mut field.input
                && !options.iter().any(|(value, _)| *value == field.value)
            {
                let name = called.reads(&page, kind, spec, &record);
                options.push((field.value.clone(), name));
            }
            form = form.field(field);
        }
        form = form.field(Field::new("change_reason", page.say("why-corrected"), Input::Text));
        leaf.form(visit, refusal, form);
    }
    if actor.visible(Action::Withdraw, kind).is_ok() && !is_taken_back(&record) {
        leaf.heading("take-back");
        leaf.form(visit, refusal, take_back(&page, path, &record, &title));
    }
    leaf.answer(refusal)
}

/// Corrects a record; its earlier values stay in the history.
pub(super) async fn correct_record(visit: Visit) -> Shown {
    let kind = kind_of(&visit)?;
    let id = visit.id("id")?;
    let before = one(&visit, kind, id).await?;
    let book = Book::with(&visit, kind, &before).await?;
    let fields: Vec<&FieldSpec> = book.fields(kind).filter(|f| !f.fixed).collect();
    let mut patch = filled(&visit, kind, &fields);
    let names: Vec<&str> = fields.iter().map(|f| f.name).collect();
    as_it_stood(&visit, &mut patch, &before, &names);
    if let Some(why) = visit.field("change_reason") {
        put(&mut patch, [("change_reason", json!(why))]);
    }
    match correct(&visit, kind, id, patch).await {
        Ok(_) => Ok(go(&format!("{}?{}", book.path(), saved(kind, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "book", error)?;
            standing(&visit, Some(&refusal)).await
        }
    }
}

/// Takes a record back, with a reason; it stays in the history.
pub(super) async fn withdraw(visit: Visit) -> Shown {
    let (kind, id) = (kind_of(&visit)?, visit.id("id")?);
    let before = one(&visit, kind, id).await?;
    let book = Book::with(&visit, kind, &before).await?;
    let (app, actor) = (&visit.state.app, visit.actor()?);
    let done = match (why(&visit), version(&visit)?) {
        (Ok(why), version) => app.withdraw(actor, kind, id, version, Some(why)).await,
        (Err(missing), _) => Err(missing),
    };
    match done {
        Ok(()) => Ok(go(&format!("{}?{}", book.path(), taken(kind, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "withdraw", error)?;
            standing(&visit, Some(&refusal)).await
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use traybook_speech::Language;

    #[test]
    fn every_field_and_word_has_a_text() {
        let known = |key: &str| Language::ALL.iter().all(|l| l.known(key, &[]).is_some());
        for kind in Shelf::ALL.iter().flat_map(|shelf| shelf.kinds()) {
            let one = kind.spec().one.replace('_', "-");
            assert!(known(&format!("book-{one}")), "{one}");
            let fields = kind.spec().fields.iter();
            for field in fields.filter(|f| !f.derived && f.name != "farm_id") {
                let name = field.name.replace('_', "-");
                let is_known =
                    known(&format!("book-{one}-{name}")) || known(&format!("book-{name}"));
                assert!(is_known, "{one} {name}");
                if let FieldKind::Choice(words) = field.kind {
                    for word in words {
                        let key = format!("{}-{word}", set(*kind, field));
                        assert!(known(&key), "{key}");
                    }
                }
            }
        }
    }
}
