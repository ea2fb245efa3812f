//! Records by the names that people have for them, where their code is not what stands in a file.

use crate::error::AppError;
use std::collections::HashMap;
use traybook_domain::kinds::{gives_milk, lays_eggs};
use traybook_domain::{FieldError, FieldSpec, Kind, Value};
use traybook_sheets::words::normal;
use traybook_storage::Conn;
use traybook_storage::records::{self, Record};
use uuid::Uuid;

/// A record with the class of its animals, where it has one.
type Named = (Uuid, String);

/// What a name leads to.
pub(super) enum Found {
    One(Uuid),
    Many(usize),
    None,
}

/// Kinds whose records have names besides their codes, or are so few that their codes are known in
/// any letter case.
const NAMED: [Kind; 12] = [
    Kind::Area,
    Kind::ChecklistItem,
    Kind::Feed,
    Kind::Supplier,
    Kind::Member,
    Kind::Person,
    Kind::Farm,
    Kind::Shed,
    Kind::AnimalGroup,
    Kind::SeedLot,
    Kind::Training,
    Kind::StartPlan,
];

/// Names of the kinds that were asked for; read once a file.
#[derive(Clone, Default)]
pub(super) struct Names {
    /// Codes before other names: what is somebody's code is not looked for among names.
    codes: HashMap<(Kind, String), Vec<Named>>,
    names: HashMap<(Kind, String), Vec<Named>>,
    known: Vec<Kind>,
    /// Names of each farm.
    farms: HashMap<Uuid, Vec<String>>,
}

impl Names {
    /// The record that a text names, for a column of a file of this kind.
    pub fn find(
        &mut self,
        conn: &mut Conn,
        coop: i64,
        of: Kind,
        target: Kind,
        text: &str,
    ) -> Result<Found, AppError> {
        if !NAMED.contains(&target) {
            return Ok(Found::None);
        }
        self.read(conn, coop, target)?;
        let key = (target, normal(text));
        let fits = |(_, class): &&Named| match of {
            Kind::MilkRecord => gives_milk(class),
            Kind::EggRecord => lays_eggs(class),
            _ => true,
        };
        for all in [&self.codes, &self.names] {
            let found: Vec<&Named> = all.get(&key).into_iter().flatten().filter(fits).collect();
            match found.as_slice() {
                [] => {}
                [(id, _)] => return Ok(Found::One(*id)),
                many => return Ok(Found::Many(many.len())),
            }
        }
        Ok(Found::None)
    }

    fn read(&mut self, conn: &mut Conn, coop: i64, kind: Kind) -> Result<(), AppError> {
        if self.known.contains(&kind) {
            return Ok(());
        }
        self.known.push(kind);
        // A farm is known by its member, a shed and a group by their farm.
        let mut members: HashMap<Uuid, Vec<String>> = HashMap::new();
        match kind {
            Kind::Farm => records::for_each(conn, coop, Kind::Member, |_, member| {
                members.insert(member.id, texts(Kind::Member, &member, &["number", "name"]));
                Ok::<(), AppError>(())
            })?,
            Kind::Shed | Kind::AnimalGroup => self.read(conn, coop, Kind::Farm)?,
            _ => {}
        }
        records::for_each(conn, coop, kind, |_, record| {
            self.add(kind, &record, &members);
            Ok::<(), AppError>(())
        })
    }

    fn add(&mut self, kind: Kind, record: &Record, members: &HashMap<Uuid, Vec<String>>) {
        let spec = kind.spec();
        let id_of = |field: &str| spec.get(&record.values, field).as_id().unwrap_or_default();
        let code: Vec<String> = spec.code.map(|c| texts(kind, record, &[c])).unwrap_or_default();
        let names = match kind {
            Kind::Member => texts(kind, record, &["name"]),
            Kind::Person => texts(kind, record, &["name", "email", "phone"]),
            Kind::Farm => members.get(&id_of("member_id")).cloned().unwrap_or_default(),
            Kind::Shed | Kind::AnimalGroup => {
                self.farms.get(&id_of("farm_id")).cloned().unwrap_or_default()
            }
            _ => Vec::new(),
        };
        if kind == Kind::Farm {
            self.farms.insert(record.id, code.iter().chain(&names).cloned().collect());
        }
        let class = spec.get(&record.values, "animal_class").as_text().unwrap_or_default();
        let named = || (record.id, class.to_owned());
        for name in code {
            self.codes.entry((kind, name)).or_default().push(named());
        }
        for name in names {
            self.names.entry((kind, name)).or_default().push(named());
        }
    }
}

fn texts(kind: Kind, record: &Record, fields: &[&str]) -> Vec<String> {
    let text = |field: &&str| kind.spec().get(&record.values, field).as_text().map(normal);
    let mut all: Vec<String> = fields.iter().filter_map(text).filter(|t| !t.is_empty()).collect();
    all.dedup();
    all
}

/// Where a row that was refused stands: the file's position in the import, and the line.
pub(super) type Origin = (usize, u64);

/// Names of the rows that were refused, so that what refers to them is said once.
#[derive(Default)]
pub(super) struct Refused(HashMap<(Kind, String), Origin>);

impl Refused {
    /// Notes the names of a row that was refused.
    pub fn note(&mut self, kind: Kind, names: impl Iterator<Item = String>, origin: Origin) {
        for name in names.filter(|name| !name.is_empty()) {
            self.0.entry((kind, name)).or_insert(origin);
        }
    }

    /// Where the row stands that a text names, if it was refused.
    pub fn find(&self, kind: Kind, text: &str) -> Option<Origin> {
        if self.0.is_empty() { None } else { self.0.get(&(kind, normal(text))).copied() }
    }
}

/// Nothing is called so.
pub(super) fn unknown(field: &FieldSpec, target: Kind, text: &str) -> FieldError {
    let detail = format!("no record of {} is called {text}", target.spec().path);
    FieldError::new(field.name, "unknown_reference", detail)
}

/// More than one thing is called so.
pub(super) fn several(field: &FieldSpec, target: Kind, text: &str, count: usize) -> FieldError {
    let path = target.spec().path;
    let detail = format!("{count} records of {path} are called {text}: write the code");
    FieldError::new(field.name, "several_of_name", detail).naming("count", count)
}

/// Names by which other rows may call a record that a row would have made.
pub(super) fn names_of_row(kind: Kind, text_of: impl Fn(&str) -> String) -> Vec<String> {
    let spec = kind.spec();
    let more: &[&str] = match kind {
        Kind::Member => &["name"],
        Kind::Farm => &["member_id"],
        _ => &[],
    };
    spec.code.iter().chain(more).map(|field| normal(&text_of(field))).collect()
}

/// The code of a record, as a preview shows it.
pub(super) fn code_of(record: &Record, kind: Kind) -> Option<String> {
    let code = kind.spec().code?;
    match kind.spec().get(&record.values, code) {
        Value::Text(text) => Some(text.clone()),
        _ => None,
    }
}
