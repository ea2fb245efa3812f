//! Milk and eggs: one form a group. A farm that milks twice has both milkings on one screen; which
//! way it was last is how it is asked next.

use super::blocks::{Block, Field, Form, Input, Item, Leaf, Link, Refusal};
use super::called::Called;
use super::echo::{facts, saved, taken};
use super::farms::{by_text, one, rows};
use super::forms::{choices, or_none, version};
use super::page::{Page, counted, shown};
use super::site::{Shown, go};
use super::visit::Visit;
use chrono::NaiveDate;
use serde_json::json;
use traybook_answers::Decimal;
use traybook_app::AppError;
use traybook_app::records::collected::{AGAIN, Answers, SURE};
use traybook_app::records::rows::Row;
use traybook_app::records::together::{Piece, following};
use traybook_domain::effects::{DayRecord, counting};
use traybook_domain::kinds::{AnimalGroup, EggRecord, MilkRecord};
use traybook_domain::records::collected::Again;
use traybook_domain::records::written::clear;
use traybook_domain::savings::money::format_decimal;
use traybook_domain::{FieldError, Kind};
use traybook_speech::Arg;
use uuid::Uuid;

/// Records of a group that the page lists.
const RECENT: usize = 6;
/// Records of a group that are read, to find its habits and the stage that was given last.
const READ: &str = "50";
/// Days after which a stage is asked anew without a guess.
const STAGE_DAYS_MAX: i64 = 120;
/// The milkings of a farm that milks twice.
const TWICE: [&str; 2] = ["morning", "evening"];
/// Milkings that one form asks for.
const SESSIONS: [&str; 3] = ["day", "morning", "evening"];

/// A record of milk or eggs, as the page needs it.
struct Line {
    id: Uuid,
    date: NaiveDate,
    session: String,
    /// Litres or eggs.
    amount: Decimal,
    animals: i64,
    stage: Option<i64>,
    is_sold: bool,
    price: Option<i64>,
    /// Whether it counts of its day.
    counts: bool,
    /// As the day is counted.
    day: DayRecord,
}

/// A group with its last records, the newest first.
struct Group {
    row: Row<AnimalGroup>,
    kind: Kind,
    lines: Vec<Line>,
}

impl Group {
    fn is_milk(&self) -> bool {
        self.kind == Kind::MilkRecord
    }

    /// The word of its texts.
    fn word(&self) -> &'static str {
        if self.is_milk() { "milk" } else { "eggs" }
    }

    fn stage_member(&self) -> &'static str {
        if self.is_milk() { "mean_days_in_milk" } else { "flock_age_weeks" }
    }

    fn animals_member(&self) -> &'static str {
        if self.is_milk() { "animals_in_milk" } else { "hens_present" }
    }

    fn amount_member(&self) -> &'static str {
        if self.is_milk() { "litres" } else { "eggs" }
    }

    /// What was sold of it, and at which price.
    fn sold_members(&self) -> [&'static str; 2] {
        if self.is_milk() {
            ["sold_litres", "price_per_litre"]
        } else {
            ["sold_eggs", "price_per_egg"]
        }
    }

    /// Whether two milkings stand on the form.
    fn is_twice(&self, visit: &Visit) -> bool {
        let habit = || self.lines.first().is_some_and(|l| l.session != "day");
        self.is_milk() && visit.field("milkings").map_or_else(habit, |m| m == "2")
    }

    /// Whether what is sold is asked.
    fn asks_sold(&self, visit: &Visit) -> bool {
        visit.field("sold").is_some() || self.lines.iter().any(|l| l.is_sold)
    }

    fn form_id(&self) -> String {
        format!("milk-{}", self.row.id)
    }
}

pub(super) async fn show_output(visit: Visit) -> Shown {
    page(&visit, None).await
}

/// Records a group's milk or eggs of a day.
pub(super) async fn record(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let id = visit.field("group").and_then(|t| Uuid::try_parse(t).ok());
    let group = groups(&visit).await?.into_iter().find(|g| Some(g.row.id) == id);
    let group = group.ok_or(AppError::NotFound)?;
    let first = visit.form_id("id")?;
    let mut pieces = Vec::new();
    let mut names = vec![group.animals_member(), group.stage_member()];
    names.extend(group.sold_members());
    let mut common = visit.record(group.kind, &names);
    let [sold, price] = group.sold_members();
    if !common.contains_key(sold) {
        // The price stands on the form from the last sale.
        common.remove(price);
    }
    let common = |session: Option<&str>| {
        let mut body = common.clone();
        body.insert("animal_group_id".to_owned(), json!(group.row.id));
        body.insert("date".to_owned(), visit.day("date", actor));
        body.extend(session.map(|s| ("session".to_owned(), json!(s))));
        body
    };
    for session in TWICE {
        let prefix = format!("{session}-");
        let amount = visit.part(&prefix, group.kind, &[group.amount_member()]);
        if !amount.is_empty() && group.is_milk() {
            let mut body = common(Some(session));
            body.extend(amount);
            let id = following(actor, first, group.kind, session);
            pieces.push(Piece::new(group.kind, id, body).within(prefix));
        }
    }
    if pieces.is_empty() {
        let mut body = common(group.is_milk().then(|| visit.field("session").unwrap_or("day")));
        body.extend(visit.record(group.kind, &[group.amount_member()]));
        pieces.push(Piece::new(group.kind, first, body));
    }
    share_sold(&group, &mut pieces);
    let last = pieces.last().map_or(first, |p| p.id);
    let answers = Answers {
        again: visit.field(AGAIN).and_then(Again::parse),
        is_sure: visit.field(SURE).is_some(),
    };
    match visit.state.app.collect(actor, pieces, answers).await {
        Ok(()) => Ok(go(&format!("/output?{}", saved(group.kind, last)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, &group.form_id(), on_the_form(error))?;
            page(&visit, Some(&refusal)).await
        }
    }
}

/// What was sold of two milkings is of the later one, as far as that goes.
fn share_sold(group: &Group, pieces: &mut [Piece]) {
    let [sold, _] = group.sold_members();
    let [first, second] = pieces else { return };
    let of = |piece: &Piece, name: &str| piece.body.get(name).and_then(serde_json::Value::as_f64);
    let (Some(all), Some(evening)) = (of(second, sold), of(second, group.amount_member())) else {
        return;
    };
    let millis = |litres: f64| (litres * 1_000.0).round() / 1_000.0;
    let later = all.min(evening);
    second.body.insert(sold.to_owned(), json!(millis(later)));
    first.body.insert(sold.to_owned(), json!(millis(all - later)));
}

/// Errors of fields that both milkings share stand at the shared field, once.
fn on_the_form(error: AppError) -> AppError {
    let AppError::Invalid(errors) = error else { return error };
    let mut all: Vec<FieldError> = Vec::new();
    for error in errors {
        let shared = error.field().split_once('-').filter(|(_, field)| *field != "litres");
        let name = shared.map(|(_, field)| field.to_owned());
        let error = name.map_or_else(|| error.clone(), |name| error.clone().renamed(&name));
        if !all.iter().any(|e| e.pointer == error.pointer && e.code == error.code) {
            all.push(error);
        }
    }
    AppError::Invalid(all)
}

/// The groups that give milk or eggs, of the person's own farms, with their last records.
async fn groups(visit: &Visit) -> Result<Vec<Group>, AppError> {
    let limit = [("limit", READ.to_owned())];
    let found = rows::<AnimalGroup>(visit, &limit).await?.items;
    let mut groups = Vec::new();
    for row in found {
        let of = [("animal_group_id", row.id.to_string()), ("limit", READ.to_owned())];
        let (kind, lines) = if row.value.gives_milk() {
            let found = rows::<MilkRecord>(visit, &of).await?.items;
            (Kind::MilkRecord, found.into_iter().map(milk_line).collect())
        } else if row.value.lays_eggs() {
            let found = rows::<EggRecord>(visit, &of).await?.items;
            (Kind::EggRecord, found.into_iter().map(egg_line).collect())
        } else {
            continue;
        };
        groups.push(Group { row, kind, lines: counted_lines(lines) });
    }
    Ok(groups)
}

fn milk_line(row: Row<MilkRecord>) -> Line {
    let (id, r) = (row.id, row.value);
    let (amount, animals, stage) = (r.litres, r.animals_in_milk, r.mean_days_in_milk);
    let session = r.session.clone();
    Line {
        id,
        date: r.date,
        session: session.clone(),
        amount: Decimal::new(amount, 3),
        animals,
        stage,
        is_sold: r.sold_litres.is_some_and(|sold| sold > 0),
        price: r.price_per_litre,
        counts: false,
        day: DayRecord { id, entered: row.created_at, session, amount, animals, cracked: 0, stage },
    }
}

fn egg_line(row: Row<EggRecord>) -> Line {
    let (id, r) = (row.id, row.value);
    let (amount, animals, stage) = (r.eggs, r.hens_present, r.flock_age_weeks);
    let session = "day".to_owned();
    Line {
        id,
        date: r.date,
        session: session.clone(),
        amount: Decimal::new(amount, 0),
        animals,
        stage,
        is_sold: r.sold_eggs.is_some_and(|sold| sold > 0),
        price: r.price_per_egg,
        counts: false,
        day: DayRecord { id, entered: row.created_at, session, amount, animals, cracked: 0, stage },
    }
}

/// Lines with what counts of each day.
fn counted_lines(mut lines: Vec<Line>) -> Vec<Line> {
    let days: Vec<NaiveDate> = lines.iter().map(|l| l.date).collect();
    for date in days {
        let of_day = lines.iter().filter(|l| l.date == date);
        let day: Vec<DayRecord> = of_day.map(|l| l.day.clone()).collect();
        let ids = counting(&day);
        for line in lines.iter_mut().filter(|l| l.date == date) {
            line.counts = ids.contains(&line.id);
        }
    }
    lines
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let page = visit.page();
    let today = visit.actor()?.coop.today(visit.state.app.now());
    let mut leaf = Leaf::new(page.clone(), page.say("milk-title"));
    leaf.saved(visit);
    let groups = groups(visit).await?;
    if groups.is_empty() {
        leaf.text("no-milk-or-eggs");
    }
    let called = Called::of(visit, &[]).await?;
    for group in &groups {
        let name = called.groups.get(&group.row.id.to_string());
        let title = page.with(&format!("{}-of", group.word()), "group", name);
        leaf.add(Block::Heading(title.clone(), format!("of-{}", group.row.id)));
        leaf.form(visit, refusal, form(visit, &page, group, today, &title)?);
        let mut links = Vec::new();
        if group.is_milk() {
            let (key, milkings) = match group.is_twice(visit) {
                true => ("milk-once", "1"),
                false => ("milk-twice", "2"),
            };
            links.push(Link::to(format!("/output?milkings={milkings}"), page.say(key)));
        }
        if !group.asks_sold(visit) {
            links.push(Link::to("/output?sold=1", page.say("sold-too")));
        }
        leaf.add(Block::Links(links));
        let lines = group.lines.iter().take(RECENT);
        if !group.lines.is_empty() {
            leaf.text("written-last");
        }
        let ids = lines.clone().map(|l| l.id).collect();
        let app = &visit.state.app;
        let by_text = app.came_by_text(visit.actor()?, group.kind, ids).await?;
        let item = |l: &Line| item(&page, group, l, by_text.contains(&l.id));
        leaf.add(Block::List(lines.map(item).collect()));
    }
    leaf.answer(refusal)
}

fn form(
    visit: &Visit,
    page: &Page,
    group: &Group,
    today: NaiveDate,
    title: &str,
) -> Result<Form, AppError> {
    let mut form = Form::new("/output", group.form_id(), page.say("save"))
        .hide("group", group.row.id.to_string())
        // The same form sent twice is one record.
        .id("id", visit.state.app.new_id()?)
        .keep(title);
    let amount = group.amount_member();
    if group.is_twice(visit) {
        form = form.hide("milkings", "2");
        for session in TWICE {
            let label = page.word("litres", session);
            let mut field = Field::new(format!("{session}-{amount}"), label, Input::Decimal);
            let is_written = |l: &&Line| l.date == today && l.session == session && l.counts;
            if let Some(line) = group.lines.iter().find(is_written) {
                field = field.hint(page.tell("written-already", &[("amount", line_amount(line))]));
            }
            form = form.field(field);
        }
    } else {
        if group.is_milk() {
            let words = Input::Tap(choices(page, "session", &SESSIONS));
            let field = Field::new("session", page.say("which-milking"), words);
            form = form.field(field.value("day").required());
        }
        let input = if group.is_milk() { Input::Decimal } else { Input::Whole };
        let label = page.say(&format!("{}-amount", group.word()));
        form = form.field(Field::new(amount, label, input).required());
    }
    let last = group.lines.first();
    let animals = last.map(|l| l.animals.to_string()).unwrap_or_default();
    let label = page.say(&format!("{}-animals", group.word()));
    form = form
        .field(Field::new(group.animals_member(), label, Input::Whole).value(animals).required());
    if let Some(stage) = stage(page, group, today) {
        form = form.field(stage);
    }
    if group.asks_sold(visit) {
        let [sold, price] = group.sold_members();
        let input = if group.is_milk() { Input::Decimal } else { Input::Whole };
        let known = group.lines.iter().find_map(|l| l.price);
        let digits = visit.actor()?.coop.digits;
        let known = known.map(|p| clear(&format_decimal(p, digits)));
        let price_label =
            format!("{}, {}", page.say(&format!("{}-price", group.word())), page.currency);
        form = form
            .hide("sold", "1")
            .field(Field::new(sold, page.say(&format!("{}-sold", group.word())), input))
            .field(Field::new(price, price_label, Input::Decimal).value(known.unwrap_or_default()));
    }
    let day = Field::new("date", page.say("day"), Input::Date).now(today.to_string()).required();
    let again = ["add", "instead"].map(|a| (a.to_owned(), page.word("again", a)));
    Ok(form
        .field(day)
        .field(Field::new(AGAIN, page.say("again"), Input::Choice(or_none(again.into()))).asked())
        .field(Field::new(SURE, page.say("sure"), Input::Tick).asked()))
}

/// The stage of a group, unless it was given this month. What was given last has grown since.
fn stage(page: &Page, group: &Group, today: NaiveDate) -> Option<Field> {
    use chrono::Datelike as _;
    let known = group.lines.iter().find_map(|l| Some((l.date, l.stage?)));
    let month = |d: NaiveDate| (d.year(), d.month());
    if known.is_some_and(|(date, _)| month(date) == month(today)) {
        return None;
    }
    let grown = known.and_then(|(date, was)| {
        let days = (today - date).num_days();
        let a_step = if group.is_milk() { 1 } else { 7 };
        (0..=STAGE_DAYS_MAX).contains(&days).then(|| (was + days / a_step).to_string())
    });
    let (name, word) = (group.stage_member(), group.word());
    let field = Field::new(name, page.word("stage", word), Input::Whole);
    Some(field.hint(page.word("stage-hint", word)).value(grown.unwrap_or_default()))
}

fn line_amount(line: &Line) -> Arg {
    counted(&line.amount, 3)
}

/// A line of what was recorded.
fn item(page: &Page, group: &Group, line: &Line, is_text: bool) -> Item {
    let key = format!("{}-recorded", group.word());
    let day = page.date(line.date);
    let when = match group.is_milk() && line.session != "day" {
        true => format!("{day}, {}", page.word("session", &line.session)),
        false => day,
    };
    let title = page.tell(&key, &[("date", when.into()), ("amount", line_amount(line))]);
    let path = format!("/output/{}/back?kind={}", line.id, group.kind.spec().path);
    Item {
        title,
        href: Some(path),
        mark: match (line.counts, is_text) {
            (false, _) => Some(page.say("counts-not")),
            (true, true) => Some(page.say("by-text")),
            (true, false) => None,
        },
        lines: (is_text && !line.counts).then(|| page.say("by-text")).into_iter().collect(),
        ..Item::default()
    }
}

/// The kind that the address or the form names.
fn kind_named(visit: &Visit) -> Result<Kind, AppError> {
    let named = visit.field("kind").unwrap_or_default();
    let kinds = [Kind::MilkRecord, Kind::EggRecord];
    kinds.into_iter().find(|k| k.spec().path == named).ok_or(AppError::NotFound)
}

/// Asks before a record is taken back.
pub(super) async fn show_back(visit: Visit) -> Shown {
    back(&visit, None).await
}

async fn back(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, kind, id) = (visit.page(), kind_named(visit)?, visit.id("id")?);
    let record = one(visit, kind, id).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("take-back-question"))
        .back("/output", page.say("milk-title"));
    leaf.add(Block::Text(facts(&page, kind, &record)));
    if !by_text(visit, kind, std::slice::from_ref(&record)).await?.is_empty() {
        leaf.text("by-text");
    }
    leaf.text("take-back-after");
    let form = Form::new(format!("/output/{id}/back"), "withdraw", page.say("take-back-yes"))
        .hide("kind", kind.spec().path)
        .hide("version", shown(&record["version"], 0));
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Takes a record of milk or eggs back; it stays in the history.
pub(super) async fn take_back(visit: Visit) -> Shown {
    let (actor, id, kind) = (visit.actor()?, visit.id("id")?, kind_named(&visit)?);
    let reason = visit.page().say("take-back");
    match visit.state.app.withdraw(actor, kind, id, version(&visit)?, Some(reason)).await {
        Ok(()) => Ok(go(&format!("/output?{}", taken(kind, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "withdraw", error)?;
            back(&visit, Some(&refusal)).await
        }
    }
}
