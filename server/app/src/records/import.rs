//! Reading a folder of CSV files: all or nothing a file, every bad row reported.

use super::txn::{Txn, Written};
use crate::error::AppError;
use crate::records::csv_files::{
    Codes, Column, Sheet, column_name, columns, file_name, instant_text, sheet, shorthand_columns,
};
use crate::records::import_order::{Rows, parents_first};
use crate::{Actor, App, Coop};
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::path::Path;
use std::sync::Arc;
use traybook_domain::authz::{Action, Task};
use traybook_domain::field::{FieldKind, ReadCtx};
use traybook_domain::import_id::import_id;
use traybook_domain::time::start_of_day;
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind, Value, limits};
use traybook_reports::csv_text::unguard;
use traybook_storage::records;
use uuid::Uuid;

/// A file: what kind of record it holds, and its bytes.
pub type Source = (Kind, Arc<Vec<u8>>);

/// A row that can not be taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadRow {
    /// Line in the file, from 1.
    pub line: u64,
    /// Column, from 1; 0 for the row as a whole.
    pub column: usize,
    /// Name of the column.
    pub name: String,
    /// What is wrong, and what to do.
    pub error: FieldError,
}

/// What became of a file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FileReport {
    /// Its name.
    pub file: String,
    /// Rows read.
    pub rows: u64,
    /// Records made.
    pub made: u64,
    /// Records that were there already.
    pub before: u64,
    /// Rows that can not be taken, at most a thousand.
    pub bad: Vec<BadRow>,
    /// All rows that can not be taken.
    pub bad_count: u64,
}

impl FileReport {
    pub(super) fn fail(&mut self, line: u64, column: usize, name: &str, error: FieldError) {
        self.bad_count += 1;
        if self.bad.len() < limits::CSV_ERRORS_MAX {
            self.bad.push(BadRow { line, column, name: name.to_owned(), error });
        }
    }

    /// A row as a whole.
    fn fail_row(&mut self, line: u64, code: &'static str, reason: impl Into<String>) {
        self.fail(line, 0, "", FieldError::new("", code, reason));
    }
}

/// The kind of record that a file holds, by its name.
#[must_use]
pub fn kind_of_file(name: &str) -> Option<Kind> {
    let name = name.to_lowercase();
    let stem = name.strip_suffix(".csv")?.replace(['-', ' '], "_");
    let kind = Kind::ALL.iter().find(|k| k.spec().table() == stem).copied();
    kind.or(match stem.as_str() {
        "milk" => Some(Kind::MilkRecord),
        "eggs" => Some(Kind::EggRecord),
        _ => None,
    })
}

/// The files of a folder, by kind, in the order of dependence.
///
/// # Errors
/// What is wrong with the folder or a file, in plain words.
pub fn read_folder(folder: &Path) -> Result<Vec<Source>, String> {
    let shown = folder.display();
    let entries = std::fs::read_dir(folder).map_err(|e| format!("{shown}: {e}"))?;
    let mut found: HashMap<Kind, Arc<Vec<u8>>> = HashMap::new();
    for entry in entries {
        let path = entry.map_err(|e| format!("{shown}: {e}"))?.path();
        let name = path.file_name().map(|n| n.to_string_lossy().to_lowercase());
        let Some(name) = name.filter(|n| n.ends_with(".csv")) else { continue };
        let Some(kind) = kind_of_file(&name) else {
            let known: Vec<String> = Kind::ALL.iter().map(|k| file_name(*k)).collect();
            return Err(format!(
                "{}: no record kind has this name; known are {}",
                path.display(),
                known.join(", ")
            ));
        };
        let size = entry_size(&path)?;
        if size > limits::CSV_BYTES_MAX {
            return Err(format!(
                "{}: larger than {} bytes; cut it",
                path.display(),
                limits::CSV_BYTES_MAX
            ));
        }
        let bytes = std::fs::read(&path).map_err(|e| format!("{}: {e}", path.display()))?;
        if found.insert(kind, Arc::new(bytes)).is_some() {
            return Err(format!("{}: two files hold {}", path.display(), kind.spec().path));
        }
    }
    if found.is_empty() {
        return Err(format!("{shown}: there is no CSV file here"));
    }
    Ok(Kind::ALL.iter().filter_map(|k| found.remove(k).map(|b| (*k, b))).collect())
}

fn entry_size(path: &Path) -> Result<u64, String> {
    let data = std::fs::metadata(path).map_err(|e| format!("{}: {e}", path.display()))?;
    Ok(data.len())
}

/// A failure that undoes what was written, carrying what is to be said.
enum Stop {
    Undo(Vec<FileReport>),
    Failed(AppError),
}

impl From<traybook_storage::StoreError> for Stop {
    fn from(e: traybook_storage::StoreError) -> Self {
        Self::Failed(e.into())
    }
}

impl From<AppError> for Stop {
    fn from(e: AppError) -> Self {
        Self::Failed(e)
    }
}

impl traybook_storage::store::MaybeRetry for Stop {
    fn wants_retry(&self) -> bool {
        matches!(self, Self::Failed(e) if e.wants_retry())
    }
    fn lost_connection(&self) -> bool {
        matches!(self, Self::Failed(e) if e.lost_connection())
    }
}

impl App {
    /// Imports files. Without `dry_run` each file is one transaction: it is taken whole or not at
    /// all. With it nothing is kept, and files see the rows of those before them.
    ///
    /// # Errors
    /// `Forbidden`; those of the store.
    pub async fn import(
        &self,
        actor: &Actor,
        files: Vec<Source>,
        dry_run: bool,
    ) -> Result<Vec<FileReport>, AppError> {
        actor.task(Task::Import)?;
        for (kind, _) in files.iter().filter(|_| !actor.is_machine()) {
            actor.visible(Action::Create, *kind)?;
        }
        if dry_run {
            let (actor, now) = (actor.clone(), self.now());
            let outcome = self
                .store
                .change(actor.coop.number, move |writing| {
                    let mut txn = Txn::begin(writing, &actor, now)?;
                    let mut reports = Vec::new();
                    for (kind, bytes) in &files {
                        reports.push(one_file(&mut txn, &actor, *kind, bytes, now)?);
                    }
                    Err::<(), Stop>(Stop::Undo(reports))
                })
                .await;
            return match outcome {
                Err(Stop::Undo(reports)) => Ok(reports),
                Err(Stop::Failed(e)) => Err(e),
                Ok(()) => Ok(Vec::new()),
            };
        }
        let mut reports: Vec<FileReport> = Vec::new();
        let mut failed: Vec<Kind> = Vec::new();
        for (kind, bytes) in files {
            let missing = kind.spec().refs().find(|(_, _, to)| *to != kind && failed.contains(to));
            if let Some((_, _, parent)) = missing {
                let mut report = FileReport { file: file_name(kind), ..FileReport::default() };
                let reason = format!("not tried: put {} right first", file_name(parent));
                let error = FieldError::new("", "file_before", reason);
                report.fail(1, 0, "", error.naming("file", file_name(parent)));
                failed.push(kind);
                reports.push(report);
                continue;
            }
            let (actor, now) = (actor.clone(), self.now());
            let outcome = self
                .store
                .change(actor.coop.number, move |writing| {
                    let mut txn = Txn::begin(writing, &actor, now)?;
                    let report = one_file(&mut txn, &actor, kind, &bytes, now)?;
                    if report.bad_count > 0 {
                        return Err(Stop::Undo(vec![FileReport { made: 0, ..report }]));
                    }
                    txn.finish()?;
                    Ok(report)
                })
                .await;
            match outcome {
                Ok(report) => reports.push(report),
                Err(Stop::Undo(report)) => {
                    failed.push(kind);
                    reports.extend(report);
                }
                Err(Stop::Failed(e)) => return Err(e),
            }
        }
        Ok(reports)
    }
}

/// Where a file's columns go.
pub(super) struct Header {
    id: Option<usize>,
    fields: Vec<(usize, Column)>,
    pub(super) shorthand: HashMap<&'static str, usize>,
    width: usize,
}

fn header(kind: Kind, sheet: &Sheet, report: &mut FileReport) -> Option<Header> {
    let all = columns(kind);
    let mut h = Header {
        id: None,
        fields: Vec::new(),
        shorthand: HashMap::new(),
        width: sheet.header.len(),
    };
    for (at, raw) in sheet.header.iter().enumerate() {
        let name = raw.trim().to_lowercase().replace([' ', '-'], "_");
        let fits = |c: &&Column| column_name(c.field) == name || c.field.name == name;
        let short = shorthand_columns().find(|c| kind == Kind::Batch && *c == name);
        if name == "id" {
            h.id = Some(at);
        } else if let Some(column) = all.iter().find(fits) {
            if h.fields.iter().any(|(_, c)| c.index == column.index) {
                let reason = "this column stands twice; remove one";
                report.fail(1, at + 1, raw, FieldError::new(raw, "column_twice", reason));
            }
            h.fields.push((at, *column));
        } else if let Some(short) = short {
            h.shorthand.insert(short, at);
        } else {
            let known: Vec<&str> = all.iter().map(|c| column_name(c.field)).collect();
            let known = known.join(", ");
            let reason = format!("this column is not known; known are {known}");
            let error = FieldError::new(raw, "column_unknown", reason).naming("known", known);
            report.fail(1, at + 1, raw, error);
        }
    }
    for column in all.iter().filter(|c| c.field.required) {
        if !h.fields.iter().any(|(_, c)| c.index == column.index) {
            let name = column_name(column.field);
            let reason = format!("add the column {name}: every row needs it");
            report.fail(1, 0, name, FieldError::new(name, "column_missing", reason));
        }
    }
    (report.bad_count == 0).then_some(h)
}

fn one_file(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    kind: Kind,
    bytes: &[u8],
    now: Instant,
) -> Result<FileReport, AppError> {
    let mut report = FileReport { file: file_name(kind), ..FileReport::default() };
    let sheet = match sheet(bytes) {
        Ok(sheet) => sheet,
        Err((line, error)) => {
            report.fail(line, 0, "", error);
            return Ok(report);
        }
    };
    let Some(header) = header(kind, &sheet, &mut report) else { return Ok(report) };
    let coop = &actor.coop;
    let mut file = File {
        coop,
        is_machine: actor.is_machine(),
        kind,
        header,
        ctx: coop.read_ctx(now),
        codes: Codes::default(),
        seen: HashMap::new(),
    };
    for (line, cells) in in_order(kind, &file.header, sheet.rows) {
        report.rows += 1;
        file.row(txn, line, &cells, &mut report)?;
    }
    Ok(report)
}

/// Rows in an order in which each stands after the one it lies in.
fn in_order(kind: Kind, header: &Header, rows: Rows) -> Rows {
    let at =
        |name: &str| header.fields.iter().find(|(_, c)| c.field.name == name).map(|(at, _)| *at);
    match (kind, at("name"), at("parent_id")) {
        (Kind::Area, Some(name), Some(parent)) => parents_first(rows, name, parent),
        _ => rows,
    }
}

pub(super) struct File<'a> {
    pub(super) coop: &'a Coop,
    pub(super) kind: Kind,
    /// Whether the machine itself reads it in, rather than somebody signed in.
    pub(super) is_machine: bool,
    pub(super) header: Header,
    pub(super) ctx: ReadCtx,
    pub(super) codes: Codes,
    /// How often a row of the same content has stood in the file.
    pub(super) seen: HashMap<u64, u32>,
}

impl File<'_> {
    fn row(
        &mut self,
        txn: &mut Txn<'_, '_>,
        line: u64,
        cells: &[String],
        report: &mut FileReport,
    ) -> Result<(), AppError> {
        if cells.len() != self.header.width {
            let (got, want) = (cells.len(), self.header.width);
            let reason =
                format!("{got} cells where the header has {want}: the line may be cut off");
            let error = FieldError::new("", "cells", reason);
            report.fail(line, 0, "", error.naming("got", got).naming("want", want));
            return Ok(());
        }
        let before = report.bad_count;
        let values = self.values(txn, line, cells, report)?;
        let id = self.id(line, cells, &values, report);
        let (Some(id), true) = (id, report.bad_count == before) else { return Ok(()) };
        if self.kind == Kind::Cooperative {
            if id == self.coop.id {
                report.before += 1;
            } else {
                let reason = "these records are imported into another co-operative";
                report.fail_row(line, "other_cooperative", reason);
            }
            return Ok(());
        }
        // What the machine exported is put back as it was; a person's file keeps the rules.
        let is_restored = self.header.id.is_some() && self.is_machine;
        match txn.restore_values(self.kind, id, values, is_restored) {
            Ok(Written::Now(_)) => report.made += 1,
            Ok(Written::Before(_)) => report.before += 1,
            Err(error) => return self.refused(line, error, report),
        }
        if self.kind == Kind::Batch && !self.header.shorthand.is_empty() {
            self.events(txn, line, cells, id, report)?;
        }
        Ok(())
    }

    fn values(
        &mut self,
        txn: &mut Txn<'_, '_>,
        line: u64,
        cells: &[String],
        report: &mut FileReport,
    ) -> Result<Vec<Value>, AppError> {
        let mut values = vec![Value::Null; self.kind.spec().fields.len()];
        for position in 0..self.header.fields.len() {
            let Some((at, column)) = self.header.fields.get(position).copied() else { continue };
            let cell = unguard(cells.get(at).map_or("", String::as_str));
            let read = match column.field.kind {
                FieldKind::Ref(target) if !cell.is_empty() => {
                    self.reference(txn, target, cell, column)?
                }
                FieldKind::Instant => {
                    column.field.read_text(&instant_text(cell, self.coop), &self.ctx)
                }
                _ => column.field.read_text(cell, &self.ctx),
            };
            match read {
                Ok(value) => {
                    if let Some(slot) = values.get_mut(column.index) {
                        *slot = value;
                    }
                }
                Err(e) => report.fail(line, at + 1, column_name(column.field), e),
            }
        }
        Ok(values)
    }

    fn reference(
        &mut self,
        txn: &mut Txn<'_, '_>,
        target: Kind,
        cell: &str,
        column: Column,
    ) -> Result<Result<Value, FieldError>, AppError> {
        if cell.len() == 36
            && let Ok(id) = Uuid::try_parse(cell)
        {
            return Ok(Ok(Value::Id(id)));
        }
        let key = (target, cell.to_owned());
        let found = match self.codes.ids.get(&key) {
            Some(found) => *found,
            None => {
                let number = self.coop.number;
                let found = records::find_by_code(txn.conn(), number, target, cell)?.map(|r| r.id);
                self.codes.ids.insert(key, found);
                found
            }
        };
        let detail = || format!("no record of {} is called {cell}", target.spec().path);
        let missing = || FieldError::new(column.field.name, "unknown_reference", detail());
        Ok(found.map(Value::Id).ok_or_else(missing))
    }

    /// The id in the row, or one made from what identifies the record.
    fn id(
        &mut self,
        line: u64,
        cells: &[String],
        values: &[Value],
        report: &mut FileReport,
    ) -> Option<Uuid> {
        if let Some(at) = self.header.id {
            let cell = cells.get(at).map_or("", String::as_str);
            if !cell.is_empty() {
                let id = Uuid::try_parse(cell).ok();
                let id = id.filter(|id| traybook_domain::import_id::v7_millis(*id).is_some());
                if id.is_none() {
                    let reason = "give a UUID of version 7, or leave this empty";
                    report.fail(line, at + 1, "id", FieldError::new("id", "id_version", reason));
                }
                return id;
            }
        }
        let spec = self.kind.spec();
        let natural: &[&str] = match self.kind {
            Kind::MilkRecord => &["animal_group_id", "date", "session"],
            Kind::EggRecord => &["animal_group_id", "date"],
            Kind::HeadCount => &["animal_group_id", "date", "reason"],
            Kind::BaselineRation => &["animal_group_id", "feed_id", "recorded_on"],
            Kind::SeedPurchase => &["seed_lot_id", "date"],
            Kind::SeedIssue => &["seed_lot_id", "farm_id", "date"],
            Kind::SeedAdjustment => &["seed_lot_id", "farm_id", "date", "reason"],
            Kind::FeedPurchase | Kind::FeedCount => &["farm_id", "feed_id", "date"],
            Kind::OtherCost => &["farm_id", "date", "category"],
            Kind::Asset => &["farm_id", "name", "in_service_on"],
            _ => &[],
        };
        let code = spec.code.map(|c| spec.get(values, c)).filter(|c| !c.is_null());
        // What identifies a row besides its amounts, and how often it has stood in this file: a
        // row whose amount was changed is the same row, and is told from a new one.
        let key = if let Some(code) = code {
            format!("{code:?}")
        } else {
            let natural: String = if natural.is_empty() {
                format!("{values:?}")
            } else {
                natural.iter().map(|f| format!("{:?} ", spec.get(values, f))).collect()
            };
            let mut hash = DefaultHasher::new();
            natural.hash(&mut hash);
            let times = self.seen.entry(hash.finish()).or_insert(0);
            *times += 1;
            if *times == 1 { natural } else { format!("{natural} {times}") }
        };
        let at = spec.date.map(|d| spec.get(values, d)).and_then(|v| match v {
            Value::Date(day) => Some(start_of_day(*day, self.coop.zone).0.min(self.ctx.now.0)),
            Value::Instant(ms) => Some(*ms),
            _ => None,
        });
        let cooperative = self.coop.id.to_string();
        Some(import_id(&cooperative, spec.one, &key, at.unwrap_or(0)))
    }

    pub(super) fn refused(
        &self,
        line: u64,
        error: AppError,
        report: &mut FileReport,
    ) -> Result<(), AppError> {
        match error {
            AppError::Invalid(errors) => {
                for e in errors {
                    let at = self.header.fields.iter().find(|(_, c)| c.field.name == e.field());
                    let (column, name) = at.map_or_else(
                        || (0, e.field().to_owned()),
                        |(at, c)| (at + 1, column_name(c.field).to_owned()),
                    );
                    report.fail(line, column, &name, e);
                }
                Ok(())
            }
            AppError::Conflict { code: "id_taken", .. } => {
                let reason = "this record is there already with other values; correct it through \
                              the interface, so that its history stays";
                report.fail_row(line, "imported_before", reason);
                Ok(())
            }
            AppError::Conflict { code, detail } => {
                report.fail_row(line, code, detail);
                Ok(())
            }
            other => Err(other),
        }
    }
}
