//! What is answered: in the number's language, in the alphabet of text messages, in one segment.

use crate::gsm::{SEGMENT, fit, plain, septets};
use crate::scene::{Caution, Farm, Line, Record, Scene, State, What, short};
use crate::words::{Animal, Opening, Session, Task, opening_word};
use chrono::{Datelike as _, NaiveDate};
use traybook_domain::savings::money::format_decimal;
use traybook_speech::Language;

/// A quantity in thousandths, without noughts at its end.
pub(crate) fn amount(thousandths: i64) -> String {
    let text = format_decimal(thousandths, 3);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// So many animals.
pub(crate) fn animals_word(language: Language, animal: Animal, n: i64) -> String {
    let key = match animal {
        Animal::Cows => "t-cows",
        Animal::Goats => "t-goats",
        Animal::Sheep => "t-sheep",
        Animal::Hens => "t-hens",
    };
    language.with(key, "n", n)
}

/// A day, as it is called today.
pub(crate) fn day(language: Language, today: NaiveDate, date: NaiveDate) -> String {
    match (today - date).num_days() {
        0 => language.text("t-today"),
        1 => language.text("t-yesterday"),
        _ => format!("{}/{}", date.day(), date.month()),
    }
}

/// A question with numbered choices.
pub(crate) fn choice(language: Language, ask: &str, labels: &[String]) -> String {
    let numbered = labels.iter().enumerate().map(|(at, label)| format!("{} {label}", at + 1));
    let options = numbered.collect::<Vec<_>>().join(" ");
    let text = language.say("t-choice", &[("ask", ask.into()), ("options", options.into())]);
    fit(&text, SEGMENT)
}

/// Joins parts while they fit: what must be said, the items, and what may be left out.
#[derive(Clone, Debug, Default)]
pub(crate) struct Parts {
    pub head: String,
    pub items: Vec<String>,
    /// Cautions: never left out.
    pub must: String,
    /// A hint: left out first.
    pub may: String,
}

impl Parts {
    pub(crate) fn join(&self) -> String {
        let whole = |count: usize, may: &str| {
            let shown = self.items.get(..count).unwrap_or_default();
            let mut items = shown.join("; ");
            if count < self.items.len() {
                items = format!("{items}; +{}", self.items.len() - count);
            }
            let parts = [format!("{}{items}.", self.head), self.must.clone(), may.to_owned()];
            let parts: Vec<String> = parts.into_iter().filter(|p| !p.is_empty()).collect();
            plain(&parts.join(" "))
        };
        let fits = |text: &String| septets(text).is_some_and(|n| n <= SEGMENT);
        let all = self.items.len();
        let tries = std::iter::once(whole(all, &self.may))
            .chain((1..=all).rev().map(|count| whole(count, "")));
        let short = tries.into_iter().find(fits);
        short.unwrap_or_else(|| {
            let head = fit(&whole(1, ""), SEGMENT);
            // A caution is worth more than the words before it.
            if self.must.is_empty() { head } else { fit(&self.must, SEGMENT) }
        })
    }
}

/// The echo of what was recorded.
#[must_use]
pub fn recorded(scene: &Scene, records: &[Record]) -> String {
    let language = scene.language;
    let farm = records.first().filter(|_| scene.names_farm()).map(|r| format!(" {}", r.farm));
    let head = language.with("t-recorded", "farm", farm.unwrap_or_default());
    let is_mouldy = records.iter().any(|r| match &r.what {
        What::Discard { cause, .. } => cause == "mould",
        What::Harvest { is_mouldy, .. } => *is_mouldy,
        _ => false,
    });
    Parts {
        head,
        items: records.iter().map(|r| item(scene, r)).collect(),
        must: if is_mouldy { language.text("t-mould") } else { String::new() },
        may: language.text("t-undo-hint"),
    }
    .join()
}

/// The echo of what was taken back.
#[must_use]
pub fn undone(scene: &Scene, records: &[Record]) -> String {
    let farm = records.first().filter(|_| scene.names_farm()).map(|r| format!(" {}", r.farm));
    let head = scene.language.with("t-undone", "farm", farm.unwrap_or_default());
    let items = records.iter().map(|r| item(scene, r)).collect();
    Parts { head, items, ..Parts::default() }.join()
}

/// What would be recorded or taken back, for a menu that asks whether it is right.
pub(crate) fn drafted(scene: &Scene, ask: &str, records: &[Record]) -> String {
    let farm = records.first().filter(|_| scene.names_farm()).map(|r| format!("{}: ", r.farm));
    let items = records.iter().map(|r| item(scene, r)).collect();
    Parts { head: format!("{ask} {}", farm.unwrap_or_default()), items, ..Parts::default() }.join()
}

/// A record in a few words.
fn item(scene: &Scene, record: &Record) -> String {
    let language = scene.language;
    let said = match record.date {
        date if date == scene.today => String::new(),
        date => format!("{} ", day(language, scene.today, date)),
    };
    format!("{said}{}", what(language, record))
}

fn what(language: Language, record: &Record) -> String {
    let batch = |code: &str| short(code, &record.farm);
    match &record.what {
        What::Milk { animal, ml, animals, session, .. } => {
            let session = match session {
                Session::Day => String::new(),
                other => format!(" {}", language.text(&format!("t-{}", other.text()))),
            };
            let args = [
                ("litres", amount(*ml).into()),
                ("session", session.into()),
                ("animals", animals_word(language, *animal, *animals).into()),
            ];
            language.say("t-milk", &args)
        }
        What::Eggs { eggs, animals, cracked, .. } => {
            let cracked = cracked.map(|n| language.with("t-and-cracked", "n", n));
            let args = [
                ("eggs", amount(*eggs).into()),
                ("cracked", cracked.unwrap_or_default().into()),
                ("animals", animals_word(language, Animal::Hens, *animals).into()),
            ];
            language.say("t-eggs", &args)
        }
        What::Harvest { batch: code, grams, trays, .. } => {
            let args =
                [("batch", batch(code).into()), ("much", much(language, *grams, *trays).into())];
            language.say("t-harvested", &args)
        }
        What::Discard { batch: code, grams, trays, cause, .. } => {
            let cause = language.text(&format!("t-why-{cause}"));
            let args = [
                ("batch", batch(code).into()),
                ("much", much(language, *grams, *trays).into()),
                ("cause", cause.into()),
            ];
            language.say("t-discarded", &args)
        }
        What::Work { task, n, grams, trays, .. } => {
            let number = n.map(|n| format!("{n} ")).unwrap_or_default();
            let much = match (grams, trays) {
                (None, None) => String::new(),
                _ => format!(" {}", much(language, *grams, *trays)),
            };
            let task = language.text(&format!("t-task-{}", task.text()));
            let args = [("number", number.into()), ("task", task.into()), ("much", much.into())];
            language.say("t-work-done", &args)
        }
    }
}

/// Kg and trays.
fn much(language: Language, grams: Option<i64>, trays: Option<i64>) -> String {
    let kg = grams.map(|g| language.with("t-kilo", "kg", amount(g)));
    let trays = trays.map(|n| language.with("t-trays", "n", n));
    kg.into_iter().chain(trays).collect::<Vec<_>>().join(", ")
}

/// A line of work in a few words.
pub(crate) fn line_label(language: Language, line: &Line, farm: &str) -> String {
    let mut parts = Vec::new();
    match (line.caution, line.task) {
        (Some(_), Task::Feed) => parts.push(language.text("t-not-feed")),
        (Some(Caution::Held), Task::Soak) => parts.push(language.text("t-not-soak")),
        (_, task) => parts.push(language.text(&format!("t-do-{}", task.text()))),
    }
    if let Some(batch) = &line.batch {
        parts.push(short(batch, farm));
    }
    let is_forbidden = line.caution.is_some() && line.task == Task::Feed;
    if !is_forbidden {
        let is_weighed = matches!(line.task, Task::Soak | Task::Feed);
        match line.grams.filter(|_| is_weighed) {
            Some(grams) => {
                parts.push(language.with("t-kilo-short", "kg", amount(grams)));
                let crop = line.crop.as_ref().filter(|_| line.task == Task::Soak);
                parts.extend(crop.map(|c| language.text(&format!("crop-{c}"))));
            }
            None => parts.extend(line.trays.map(|n| language.with("t-trays", "n", n))),
        }
        if let Some((number, of)) = line.watering {
            parts.push(format!("({number}/{of})"));
        }
    }
    if line.caution == Some(Caution::Mould) && line.task != Task::Feed {
        parts.push(language.text("t-with-mould"));
    }
    if line.state == State::Late {
        parts.push(language.text("t-late"));
    }
    parts.join(" ")
}

/// How pressing a line is; the least is left out first.
fn rank(line: &Line) -> usize {
    if line.caution.is_some() {
        return 0;
    }
    if line.state == State::Late {
        return 1;
    }
    let order = [
        Task::Discard,
        Task::Soak,
        Task::Harvest,
        Task::Spread,
        Task::Drain,
        Task::Feed,
        Task::Water,
        Task::Clean,
    ];
    2 + order.iter().position(|t| *t == line.task).unwrap_or(order.len())
}

/// A farm's open lines with the numbers of a new list: the most pressing first, of the waterings of
/// a shed the next one.
#[must_use]
pub fn numbered(lines: &[Line]) -> Vec<Line> {
    let mut open: Vec<Line> = Vec::new();
    for line in lines.iter().filter(|l| l.state != State::Done) {
        // A watering's name ends with its number.
        let shed = |l: &Line| l.line.rsplit_once('.').map(|(shed, _)| shed.to_owned());
        let is_later = line.task == Task::Water
            && open.iter().any(|o| o.task == Task::Water && shed(o) == shed(line));
        if !is_later {
            open.push(line.clone());
        }
    }
    open.sort_by_key(rank);
    for (at, line) in open.iter_mut().enumerate() {
        line.n = i64::try_from(at + 1).ok();
    }
    open
}

/// Today's list of a farm.
#[must_use]
pub fn work(scene: &Scene, farm: &Farm) -> String {
    let language = scene.language;
    let mut lines: Vec<&Line> =
        farm.lines.iter().filter(|l| l.state != State::Done && l.n.is_some()).collect();
    lines.sort_by_key(|l| l.n);
    let named = if scene.names_farm() { format!(" {}", farm.code) } else { String::new() };
    let date = format!("{}/{}", scene.today.day(), scene.today.month());
    if lines.is_empty() {
        let args = [("date", date.into()), ("farm", named.into())];
        return fit(&language.say("t-no-work", &args), SEGMENT);
    }
    let head = language.say("t-list", &[("date", date.into()), ("farm", named.into())]);
    let hint = lines.iter().find(|l| l.caution.is_none() && l.state != State::Late);
    let hint = hint.or(lines.first()).and_then(|l| l.n).unwrap_or(1);
    let may = language.with("t-list-hint", "n", hint);
    let mut shown = lines.clone();
    loop {
        let items: Vec<String> = shown
            .iter()
            .map(|l| format!("{} {}", l.n.unwrap_or(0), line_label(language, l, &farm.code)))
            .collect();
        let more = lines.len() - shown.len();
        let mut parts = Parts { head: head.clone(), items, ..Parts::default() };
        if more > 0 {
            parts.items.push(format!("+{more}"));
        }
        let text = |parts: &Parts| {
            let tail = if parts.may.is_empty() { String::new() } else { format!(" {}", parts.may) };
            plain(&format!("{}{}.{tail}", parts.head, parts.items.join("; ")))
        };
        let fits = |text: &str| septets(text).is_some_and(|n| n <= SEGMENT);
        let with = text(&Parts { may: may.clone(), ..parts.clone() });
        if fits(&with) {
            return with;
        }
        let without = text(&parts);
        if fits(&without) || shown.len() < 2 {
            return fit(&without, SEGMENT);
        }
        if let Some((at, _)) = shown.iter().enumerate().max_by_key(|(at, l)| (rank(l), *at)) {
            shown.remove(at);
        }
    }
}

/// The batches that stand, and the month so far.
#[must_use]
pub fn batches(scene: &Scene, farm: &Farm) -> String {
    let language = scene.language;
    let named = if scene.names_farm() { format!("{}: ", farm.code) } else { String::new() };
    let may = farm.month.filter(|m| m.trays > 0).map(|m| {
        let args = [
            ("kg", amount(m.grams).into()),
            ("lost", m.trays_lost.into()),
            ("trays", m.trays.into()),
        ];
        language.say("t-month-so-far", &args)
    });
    if farm.standing.is_empty() {
        let none = language.text("t-no-batches");
        return fit(&format!("{named}{none} {}", may.unwrap_or_default()), SEGMENT);
    }
    let items = farm.standing.iter().map(|s| {
        let when = s
            .harvest_on
            .map(|date| language.with("t-to-harvest", "day", day(language, scene.today, date)));
        let trays = language.with("t-trays", "n", s.trays);
        format!("{} {trays}{}", short(&s.batch, &farm.code), when.unwrap_or_default())
    });
    Parts { head: named, items: items.collect(), must: String::new(), may: may.unwrap_or_default() }
        .join()
}

/// The choice of what a lonely figure is.
pub(crate) fn of_what(language: Language, figures: &str) -> String {
    let options: Vec<String> = KINDS.map(|k| opening_word(k, language).to_uppercase()).to_vec();
    choice(language, &language.with("t-of-what", "figures", figures), &options)
}

/// What a lonely figure may be.
pub(crate) const KINDS: [Opening; 3] = [Opening::Milk, Opening::Eggs, Opening::Work(Task::Harvest)];
