//! Where each column of a file goes: guessed, for a person to change.

use super::{kind_name, waiting};
use crate::web::blocks::{Field, Form, Input, Leaf, Refusal};
use crate::web::forms::Options;
use crate::web::page::Page;
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use traybook_app::records::import::Source;
use traybook_domain::people::authz::Action;
use traybook_domain::{FieldError, FieldKind};
use traybook_sheets::columns::{KEPT_IN_SHEETS, Target, targets, word_set};
use traybook_sheets::days::DayOrder;
use traybook_sheets::layout::{Goes, Layout, target};
use traybook_sheets::words::label;
use uuid::Uuid;

/// A column that goes nowhere.
const NOWHERE: &str = "-";
/// Values of a column that are shown beside it, and characters of each.
const VALUES_SHOWN: usize = 3;
const VALUE_CHARS: usize = 24;

/// The page, from a link.
pub(crate) async fn show_columns(visit: Visit) -> Shown {
    match waiting(&visit).await? {
        Some((name, files)) => page(&visit, name, &files, None),
        None => Ok(go("/import")),
    }
}

pub(super) fn page(
    visit: &Visit,
    name: Uuid,
    files: &[Source],
    refusal: Option<&Refusal>,
) -> Shown {
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("import-columns"))
        .back("/import", page.say("import-title"));
    leaf.text("import-columns-intro").heading("import-files");
    let mut form = Form::new("/import/columns", "columns", page.say("import-look"))
        .hide("name", name.to_string());
    for (at, source) in files.iter().enumerate().filter(|(_, s)| s.unreadable.is_none()) {
        for field in fields(visit, &page, at, source)? {
            form = form.field(field);
        }
    }
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// The questions about one file.
fn fields(
    visit: &Visit,
    page: &Page,
    at: usize,
    source: &Source,
) -> Result<Vec<Field>, traybook_app::AppError> {
    let (actor, layout) = (visit.actor()?, &source.layout);
    let allowed = |kind: &&traybook_domain::Kind| actor.visible(Action::Create, **kind).is_ok();
    let mut kinds: Vec<_> = KEPT_IN_SHEETS.iter().filter(allowed).copied().collect();
    if !kinds.contains(&layout.kind) {
        kinds.push(layout.kind);
    }
    let option = |kind| (traybook_domain::Kind::spec(kind).one.to_owned(), kind_name(page, kind));
    let mut options: Options = kinds.into_iter().map(option).collect();
    options.push((NOWHERE.to_owned(), page.say("import-leave-file")));
    let line = source.grid.rows.get(layout.header).map_or(1, |row| row.line);
    let mut fields = vec![
        Field::new(format!("kind-{at}"), page.say("import-rows-are"), Input::Choice(options))
            .group(source.file.clone())
            .hint(page.with("import-header-line", "line", line.to_string()))
            .value(layout.kind.spec().one)
            .required(),
    ];
    let all = targets(layout.kind);
    let named = |t: &Target| (t.name().to_owned(), label(page.language, layout.kind, t));
    let mut places: Options = vec![(String::new(), String::new())];
    places.extend(all.iter().map(named));
    places.push((NOWHERE.to_owned(), page.say("import-leave-column")));
    for (position, place) in layout.columns.iter().enumerate() {
        if place.header.is_empty() {
            continue;
        }
        let goes = match place.goes {
            Goes::To(target, _) => target.name(),
            Goes::Nowhere => NOWHERE,
            Goes::Unknown => "",
        };
        let choice = Input::Choice(places.clone());
        let field = Field::new(format!("to-{at}-{position}"), place.header.clone(), choice);
        fields.push(field.value(goes).hint(examples(source, position)).required());
    }
    let missing = layout.missing().into_iter();
    for target in missing.chain(layout.fixed.iter().map(|(target, _)| *target)) {
        fields.push(fixed(page, at, layout, &target));
    }
    fields.extend(readings(page, at, source));
    Ok(fields)
}

/// The value that a field has in all rows, where no column gives it.
fn fixed(page: &Page, at: usize, layout: &Layout, target: &Target) -> Field {
    let input = match target.field().map(|f| f.kind) {
        Some(FieldKind::Choice(of)) => {
            let word = |value: &&str| {
                let known = word_set(of)
                    .and_then(|set| page.language.known(&format!("{set}-{value}"), &[]));
                ((*value).to_owned(), known.unwrap_or_else(|| value.replace('_', " ")))
            };
            let options = of.iter().map(word);
            Input::Choice(std::iter::once(Default::default()).chain(options).collect())
        }
        Some(FieldKind::Bool) => {
            let words = ["yes", "no"].map(|w| (w.to_owned(), page.say(&format!("answer-{w}"))));
            Input::Choice(std::iter::once(Default::default()).chain(words).collect())
        }
        Some(FieldKind::Date { .. }) => Input::Date,
        _ => Input::Text,
    };
    let name = label(page.language, layout.kind, target);
    let value = layout.fixed.iter().find(|(t, _)| t.name() == target.name());
    Field::new(
        format!("fixed-{at}-{}", target.name()),
        page.with("import-fixed", "field", name),
        input,
    )
    .hint(page.say("import-fixed-hint"))
    .value(value.map_or("", |(_, text)| text.as_str()))
}

/// Order of days and mark of decimals, where the file does not show them.
fn readings(page: &Page, at: usize, source: &Source) -> Vec<Field> {
    let layout = Layout { days: None, mark: None, ..source.layout.clone() };
    let mut shown = layout.clone();
    shown.look_at(&source.grid);
    let mut fields = Vec::new();
    if shown.days.is_none() && layout.days_are_open(&source.grid) {
        let options = [DayOrder::DayFirst, DayOrder::MonthFirst]
            .map(|o| (o.name().to_owned(), page.say(&format!("import-{}", o.name()))));
        let field =
            Field::new(format!("days-{at}"), page.say("import-days"), Input::Tap(options.to_vec()));
        fields.push(field.value(source.layout.days.map_or("", DayOrder::name)).required());
    }
    if shown.mark.is_none() && layout.mark_is_open(&source.grid) {
        let options = [(",", "import-mark-comma"), (".", "import-mark-point")]
            .map(|(mark, key)| (mark.to_owned(), page.say(key)));
        let field =
            Field::new(format!("mark-{at}"), page.say("import-mark"), Input::Tap(options.to_vec()));
        let mark = source.layout.mark.map(String::from).unwrap_or_default();
        fields.push(field.value(mark).required());
    }
    fields
}

/// The first values of a column.
fn examples(source: &Source, position: usize) -> String {
    let (rows, _) = source.layout.rows(&source.grid);
    let cells = rows.into_iter().filter_map(|row| row.cells.get(position));
    let texts = cells.map(|c| c.text.as_str()).filter(|t| !t.is_empty());
    let short = |text: &str| -> String {
        let kept: String = text.chars().take(VALUE_CHARS).collect();
        if kept.len() < text.len() { format!("{kept}…") } else { kept }
    };
    texts.take(VALUES_SHOWN).map(short).collect::<Vec<_>>().join(" · ")
}

/// Takes what was chosen, keeps it for next time, and looks the files through.
pub(crate) async fn choose(visit: Visit) -> Shown {
    let Some((name, files)) = waiting(&visit).await? else { return Ok(go("/import")) };
    let (mut chosen, mut errors, mut is_other_kind) = (Vec::new(), Vec::new(), false);
    for (at, mut source) in files.into_iter().enumerate() {
        if source.unreadable.is_some() {
            continue;
        }
        let kind = visit.field(&format!("kind-{at}")).unwrap_or_default();
        if kind == NOWHERE {
            continue;
        }
        match traybook_domain::Kind::from_one(kind) {
            Some(kind) if kind == source.layout.kind => {
                source.layout = read_layout(&visit, at, &source, &mut errors);
            }
            Some(kind) => {
                is_other_kind = true;
                source.layout = Layout::guess(&source.grid, &source.file, Some(kind));
            }
            None => {
                let field = format!("kind-{at}");
                errors.push(FieldError::new(&field, "required", "say what the rows are"));
            }
        }
        chosen.push(source);
    }
    if chosen.is_empty() && errors.is_empty() {
        return Ok(go("/import"));
    }
    visit.state.app.keep_choice(visit.actor()?, name, &chosen, &[]).await?;
    if is_other_kind {
        return page(&visit, name, &chosen, None);
    }
    if !errors.is_empty() {
        let refusal =
            Refusal { fields: errors, detail: None, status: 422, form: "columns".to_owned() };
        return page(&visit, name, &chosen, Some(&refusal));
    }
    visit.state.app.keep_layouts(visit.actor()?, &chosen).await?;
    chosen.sort_by_key(|source| source.layout.kind);
    super::show_preview(&visit, name, chosen).await
}

/// A file's layout as the form has it.
fn read_layout(visit: &Visit, at: usize, source: &Source, errors: &mut Vec<FieldError>) -> Layout {
    let mut layout = source.layout.clone();
    for position in 0..layout.columns.len() {
        let field = format!("to-{at}-{position}");
        let given = visit.field(&field).unwrap_or_default();
        let to = target(layout.kind, given);
        let is_taken = to.is_some_and(|to| {
            let mut before = layout.columns.iter().take(position);
            before.any(|p| matches!(p.goes, Goes::To(t, _) if t.name() == to.name()))
        });
        let Some(place) = layout.columns.get_mut(position).filter(|p| !p.header.is_empty()) else {
            continue;
        };
        place.goes = match to {
            Some(target) => Goes::To(target, u32::MAX),
            None if given == NOWHERE => Goes::Nowhere,
            None => Goes::Unknown,
        };
        if is_taken {
            let detail = "another column goes there: choose another field, or leave one out";
            errors.push(FieldError::new(&field, "column_twice", detail));
        } else if matches!(place.goes, Goes::Unknown) {
            let detail = "choose where it goes, or leave it out";
            errors.push(FieldError::new(&field, "column_open", detail));
        }
    }
    layout.fixed.clear();
    for target in layout.missing() {
        let field = format!("fixed-{at}-{}", target.name());
        match visit.field(&field) {
            Some(text) => layout.fixed.push((target, text.to_owned())),
            None => {
                let detail = "every row needs it: choose its column, or one value for all rows";
                errors.push(FieldError::new(&field, "column_missing", detail));
            }
        }
    }
    layout.look_at(&source.grid);
    let days = visit.field(&format!("days-{at}")).and_then(DayOrder::parse);
    let mark = visit.field(&format!("mark-{at}")).and_then(|m| m.chars().next());
    layout.days = layout.days.or(days);
    layout.mark = layout.mark.or(mark.filter(|m| matches!(m, ',' | '.')));
    if layout.days_are_open(&source.grid) {
        let detail = "say which comes first, day or month";
        errors.push(FieldError::new(&format!("days-{at}"), "days_open", detail));
    }
    if layout.mark_is_open(&source.grid) {
        let detail = "say what comma and point mean";
        errors.push(FieldError::new(&format!("mark-{at}"), "mark_open", detail));
    }
    layout
}
