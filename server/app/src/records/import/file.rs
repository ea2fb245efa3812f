//! One file of an import, row by row.

use super::names::{Found, Names, code_of, names_of_row, several, unknown};
use super::order::parents_first;
use super::{FileReport, Run, SampleRow, Source};
use crate::error::AppError;
use crate::records::txn::{Txn, Written};
use crate::{Actor, Coop};
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use traybook_domain::field::{FieldKind, ReadCtx};
use traybook_domain::records::import_id::{import_id, v7_millis};
use traybook_domain::time::{at_local, format_instant, parse_date, start_of_day};
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind, Value};
use traybook_reports::csv_text::unguard;
use traybook_sheets::Row;
use traybook_sheets::columns::{Column, Target, column_name, columns};
use traybook_sheets::layout::{Goes, Layout, habits};
use traybook_sheets::values::Habits;
use traybook_storage::Store;
use traybook_storage::records::import_runs;
use traybook_storage::records::{self, Record, Visible};
use uuid::Uuid;

/// Rows of a file that are shown as what they become.
const SAMPLE_ROWS: usize = 3;

/// Where a file's columns stand.
pub(super) struct Header {
    id: Option<usize>,
    fields: Vec<(usize, Column)>,
    pub(super) shorthand: HashMap<&'static str, usize>,
}

fn header(layout: &Layout, line: u64, report: &mut FileReport) -> Option<Header> {
    let mut h = Header { id: None, fields: Vec::new(), shorthand: HashMap::new() };
    let given = layout.columns.iter().map(|p| (p.header.as_str(), p.goes));
    let fixed = layout.fixed.iter().map(|(target, _)| (target.name(), Goes::To(*target, u32::MAX)));
    for (at, (name, goes)) in given.chain(fixed).enumerate() {
        match goes {
            Goes::To(Target::Id, _) => h.id = Some(at),
            Goes::To(Target::Field(column), _) => {
                if h.fields.iter().any(|(_, c)| c.index == column.index) {
                    let reason = "this column stands twice; remove one";
                    report.fail(line, at + 1, name, FieldError::new(name, "column_twice", reason));
                }
                h.fields.push((at, column));
            }
            Goes::To(Target::Event(name, _), _) => {
                h.shorthand.insert(name, at);
            }
            Goes::Unknown if !name.is_empty() => {
                let all = columns(layout.kind);
                let known: Vec<&str> = all.iter().map(|c| column_name(c.field)).collect();
                let known = known.join(", ");
                let reason = format!("this column is not known; known are {known}");
                let error = FieldError::new(name, "column_unknown", reason).naming("known", known);
                report.fail(line, at + 1, name, error);
            }
            Goes::Unknown | Goes::Nowhere => {}
        }
    }
    for target in layout.missing() {
        let name = target.name();
        let reason = format!("add the column {name}: every row needs it");
        report.fail(line, 0, name, FieldError::new(name, "column_missing", reason));
    }
    (report.bad_count == 0).then_some(h)
}

pub(super) fn one_file(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    (at, source): (usize, &Source),
    now: Instant,
    run: &mut Run,
) -> Result<FileReport, AppError> {
    let mut report = FileReport::new(source);
    if let Some((line, error)) = &source.unreadable {
        report.fail(*line, 0, "", error.clone());
        return Ok(report);
    }
    let opened = File::open(actor, (at, source), now, &mut report);
    let Some(mut file) = opened else { return Ok(report) };
    let (rows, left_out) = source.layout.rows(&source.grid);
    report.left_out = u64::try_from(left_out).unwrap_or(0);
    for row in file.in_order(rows) {
        file.counted_row(txn, source, row, &mut report, run)?;
    }
    Ok(report)
}

/// What a slice of a file takes over from those before it.
#[derive(Clone, Default)]
pub(super) struct Carried {
    ids: HashMap<(Kind, String), Option<Uuid>>,
    names: Names,
    /// How often a row of the same content has stood in the file, up to here; and in this slice.
    seen: Arc<HashMap<u64, u32>>,
    seen_now: HashMap<u64, u32>,
}

impl Carried {
    /// Goes on with what a slice that is written knows.
    pub(super) fn take(&mut self, next: Self) {
        let Self { ids, names, seen, seen_now } = next;
        drop(seen);
        Arc::make_mut(&mut self.seen).extend(seen_now);
        // Looking records up again is cheaper than handing very many on.
        self.ids = if ids.len() <= IDS_CARRIED_MAX { ids } else { HashMap::new() };
        self.names = names;
    }
}

/// Records by their codes that are handed on from slice to slice.
const IDS_CARRIED_MAX: usize = 20_000;

/// A part of a file, in the order in which rows are written.
pub(super) struct Slice {
    pub(super) source: Arc<Source>,
    pub(super) order: Arc<Vec<usize>>,
    pub(super) from: usize,
    pub(super) carried: Carried,
    pub(super) report: FileReport,
}

/// Positions of a file's rows in the order in which they are written.
pub(super) fn order_of(source: &Source, actor: &Actor) -> Vec<usize> {
    let places: HashMap<*const Row, usize> = source
        .grid
        .rows
        .iter()
        .enumerate()
        .map(|(at, row)| (std::ptr::from_ref(row), at))
        .collect();
    let (rows, _) = source.layout.rows(&source.grid);
    let mut report = FileReport::new(source);
    let file = File::open(actor, (0, source), Instant(0), &mut report);
    let rows = file.map_or(Vec::new(), |file| file.in_order(rows));
    rows.into_iter().filter_map(|row| places.get(&std::ptr::from_ref(row)).copied()).collect()
}

/// What became of a slice.
pub(super) struct SliceDone {
    /// What the next slice takes over.
    pub(super) carried: Carried,
    /// The report so far.
    pub(super) report: FileReport,
    /// The records that were made.
    pub(super) made: Vec<(Kind, Uuid)>,
    /// Rows that were read.
    pub(super) rows: usize,
}

/// Reads a slice and writes its records.
pub(super) fn one_slice(
    (txn, store): (&mut Txn<'_, '_>, &Store),
    actor: &Actor,
    slice: &Slice,
    now: Instant,
    run: &mut Run,
) -> Result<SliceDone, AppError> {
    let mut report = slice.report.clone();
    let source = &slice.source;
    let carried = slice.carried.clone();
    let mut rows = 0;
    let Some(file) = File::open(actor, (0, source), now, &mut report) else {
        return Ok(SliceDone { carried, report, made: Vec::new(), rows });
    };
    let mut file = File { carried, ..file };
    for at in slice.order.iter().skip(slice.from) {
        if let Some(row) = source.grid.rows.get(*at) {
            file.counted_row(txn, source, row, &mut report, run)?;
        }
        rows += 1;
        if txn.is_over(rows, store) {
            break;
        }
    }
    Ok(SliceDone { carried: file.carried, report, made: file.made, rows })
}

impl<'a> File<'a> {
    /// A file before its first row; none where its header is wrong, which the report says.
    fn open(
        actor: &'a Actor,
        (at, source): (usize, &'a Source),
        now: Instant,
        report: &mut FileReport,
    ) -> Option<Self> {
        let layout = &source.layout;
        let line = source.grid.rows.get(layout.header).map_or(1, |row| row.line);
        let header = header(layout, line, report)?;
        let coop = &actor.coop;
        let ctx = coop.read_ctx(now);
        let year = chrono::Datelike::year(&ctx.today);
        Some(Self {
            coop,
            is_machine: actor.is_machine(),
            at,
            kind: layout.kind,
            layout,
            habits: habits(layout, &coop.currency, coop.digits, year),
            header,
            ctx,
            carried: Carried::default(),
            made: Vec::new(),
            wrong: Vec::new(),
            waits_for: None,
        })
    }

    fn counted_row(
        &mut self,
        txn: &mut Txn<'_, '_>,
        source: &Source,
        row: &Row,
        report: &mut FileReport,
        run: &mut Run,
    ) -> Result<(), AppError> {
        report.rows += 1;
        source.progress.store(report.rows, Ordering::Relaxed);
        if source.without.contains(&row.line) {
            return Ok(());
        }
        self.row(txn, row, report, run)
    }
}

/// A file while it is read.
pub(super) struct File<'a> {
    pub(super) coop: &'a Coop,
    pub(super) kind: Kind,
    /// Whether the machine itself reads it in, rather than somebody signed in.
    is_machine: bool,
    /// Its position in the import.
    at: usize,
    layout: &'a Layout,
    habits: Habits,
    pub(super) header: Header,
    pub(super) ctx: ReadCtx,
    carried: Carried,
    /// Records that were made.
    pub(super) made: Vec<(Kind, Uuid)>,
    /// What is wrong with the row: position of the column or none, name, and what.
    wrong: Vec<(Option<usize>, String, FieldError)>,
    /// The refused row that this one refers to.
    waits_for: Option<super::names::Origin>,
}

impl File<'_> {
    /// Rows in an order in which each stands after the one it lies in.
    fn in_order<'g>(&self, rows: Vec<&'g Row>) -> Vec<&'g Row> {
        let at = |name: &str| {
            self.header.fields.iter().find(|(_, c)| c.field.name == name).map(|(at, _)| *at)
        };
        match (self.kind, at("name"), at("parent_id")) {
            (Kind::Area, Some(name), Some(parent)) => parents_first(rows, name, parent),
            _ => rows,
        }
    }

    /// Something is wrong with the row.
    pub(super) fn bad(&mut self, position: Option<usize>, name: &str, error: FieldError) {
        self.wrong.push((position, name.to_owned(), error));
    }

    fn row(
        &mut self,
        txn: &mut Txn<'_, '_>,
        row: &Row,
        report: &mut FileReport,
        run: &mut Run,
    ) -> Result<(), AppError> {
        self.wrong.clear();
        self.waits_for = None;
        let cells = self.read_row(txn, row, report, run)?;
        if self.wrong.is_empty() && self.waits_for.is_none() {
            return Ok(());
        }
        let origin = match self.waits_for.filter(|_| self.wrong.is_empty()) {
            // Said beside the row that it waits for.
            Some(origin) => {
                report.refuse(row.line);
                report.waiting += 1;
                *run.behind.entry(origin).or_insert(0) += 1;
                origin
            }
            None => (self.at, row.line),
        };
        for (position, name, error) in std::mem::take(&mut self.wrong) {
            let header = position.and_then(|at| self.layout.columns.get(at));
            let name = header.map_or(name, |place| place.header.clone());
            let column = header.and(position).map_or(0, |at| at + 1);
            report.fail(row.line, column, &name, error);
        }
        let text_of = |field: &str| {
            let at = self.header.fields.iter().find(|(_, c)| c.field.name == field);
            at.and_then(|(at, _)| cells.get(*at)).cloned().unwrap_or_default()
        };
        run.refused.note(self.kind, names_of_row(self.kind, text_of).into_iter(), origin);
        Ok(())
    }

    /// Reads a row and writes its records; gives its cells as they were read.
    fn read_row(
        &mut self,
        txn: &mut Txn<'_, '_>,
        row: &Row,
        report: &mut FileReport,
        run: &Run,
    ) -> Result<Vec<String>, AppError> {
        let read = self.layout.canonical(row, &self.habits);
        let cells = read.cells;
        if let Some((got, want)) = self.layout.is_cut(row) {
            let reason =
                format!("{got} cells where the header has {want}: the line may be cut off");
            let error = FieldError::new("", "cells", reason);
            self.bad(None, "", error.naming("got", got).naming("want", want));
            return Ok(cells);
        }
        for (at, error) in read.wrong {
            let name = error.field().to_owned();
            self.bad(Some(at), &name, error);
        }
        let values = self.values(txn, &cells, run)?;
        let id = self.id(&cells, &values);
        let (Some(id), true) = (id, self.wrong.is_empty() && self.waits_for.is_none()) else {
            return Ok(cells);
        };
        if self.kind == Kind::Cooperative {
            if id == self.coop.id {
                report.before += 1;
            } else {
                let reason = "these records are imported into another co-operative";
                self.bad(None, "", FieldError::new("", "other_cooperative", reason));
            }
            return Ok(cells);
        }
        // What the machine exported is put back as it was; a person's file keeps the rules.
        let is_restored = self.header.id.is_some() && self.is_machine;
        let written = txn.restore_values(self.kind, id, values, is_restored);
        let written = written.and_then(|written| self.put_back(txn, self.kind, written));
        match &written {
            Ok(Written::Now(_)) => {
                report.made += 1;
                self.made.push((self.kind, id));
            }
            Ok(Written::Before(_)) => report.before += 1,
            Err(_) => {}
        }
        let record = match written {
            Ok(written) => written.record(),
            Err(error) => {
                self.refused(error)?;
                return Ok(cells);
            }
        };
        if report.sample.len() < SAMPLE_ROWS {
            let cells = self.sample(txn, &record)?;
            report.sample.push(SampleRow { line: row.line, cells });
        }
        if self.kind == Kind::Batch && !self.header.shorthand.is_empty() {
            self.events(txn, &cells, id, report)?;
        }
        Ok(cells)
    }

    /// A record that was withdrawn when its file broke off comes back when the file comes again.
    pub(super) fn put_back(
        &self,
        txn: &mut Txn<'_, '_>,
        kind: Kind,
        written: Written,
    ) -> Result<Written, AppError> {
        let Written::Before(record) = written else { return Ok(written) };
        let (coop, id) = (self.coop.number, record.id);
        if record.withdrawn_at.is_none() || !import_runs::was_undone(txn.conn(), coop, kind, id)? {
            return Ok(Written::Before(record));
        }
        if !txn.is_kept() {
            return Ok(Written::Now(record));
        }
        import_runs::forget(txn.conn(), coop, kind, id)?;
        txn.put_back(kind, id, record.version, &Visible::All)
    }

    /// What a row becomes: its filled fields, records by their codes.
    fn sample(
        &self,
        txn: &mut Txn<'_, '_>,
        record: &Record,
    ) -> Result<Vec<(&'static str, String)>, AppError> {
        let mut cells = Vec::new();
        for column in columns(self.kind) {
            let value = record.values.get(column.index).unwrap_or(&Value::Null);
            let text = match (column.field.kind, value) {
                (_, Value::Null) => continue,
                (FieldKind::Ref(target), Value::Id(id)) => {
                    let found = records::find(txn.conn(), self.coop.number, target, *id)?;
                    let code = found.and_then(|r| code_of(&r, target));
                    code.unwrap_or_else(|| id.to_string())
                }
                (_, value) => column.field.write_text(value, self.coop.digits),
            };
            cells.push((column_name(column.field), text));
        }
        Ok(cells)
    }

    fn values(
        &mut self,
        txn: &mut Txn<'_, '_>,
        cells: &[String],
        run: &Run,
    ) -> Result<Vec<Value>, AppError> {
        let mut values = vec![Value::Null; self.kind.spec().fields.len()];
        for position in 0..self.header.fields.len() {
            let Some((at, column)) = self.header.fields.get(position).copied() else { continue };
            if self.wrong.iter().any(|(wrong, ..)| *wrong == Some(at)) {
                continue;
            }
            let cell = unguard(cells.get(at).map_or("", String::as_str));
            let cell = &*cell;
            let read = match column.field.kind {
                FieldKind::Ref(target) if !cell.is_empty() => {
                    if let Some(origin) = run.refused.find(target, cell) {
                        self.waits_for = self.waits_for.or(Some(origin));
                        continue;
                    }
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
                Err(e) => self.bad(Some(at), column_name(column.field), e),
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
        let number = self.coop.number;
        let key = (target, cell.to_owned());
        let found = match self.carried.ids.get(&key) {
            Some(found) => *found,
            None => {
                let found = records::find_by_code(txn.conn(), number, target, cell)?.map(|r| r.id);
                self.carried.ids.insert(key, found);
                found
            }
        };
        if let Some(id) = found {
            return Ok(Ok(Value::Id(id)));
        }
        Ok(match self.carried.names.find(txn.conn(), number, self.kind, target, cell)? {
            Found::One(id) => Ok(Value::Id(id)),
            Found::Many(count) => Err(several(column.field, target, cell, count)),
            Found::None => Err(unknown(column.field, target, cell)),
        })
    }

    /// The id in the row, or one made from what identifies the record.
    fn id(&mut self, cells: &[String], values: &[Value]) -> Option<Uuid> {
        if let Some(at) = self.header.id {
            let cell = cells.get(at).map_or("", String::as_str);
            if !cell.is_empty() {
                let id = Uuid::try_parse(cell).ok();
                let id = id.filter(|id| v7_millis(*id).is_some());
                if id.is_none() {
                    let reason = "give a UUID of version 7, or leave this empty";
                    self.bad(Some(at), "id", FieldError::new("id", "id_version", reason));
                }
                return id;
            }
        }
        let spec = self.kind.spec();
        let natural = identity(self.kind);
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
            let (hash, before) = (hash.finish(), &self.carried.seen);
            let times = self.carried.seen_now.entry(hash);
            let times = times.or_insert_with(|| before.get(&hash).copied().unwrap_or(0));
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

    /// A record that the rules refuse.
    pub(super) fn refused(&mut self, error: AppError) -> Result<(), AppError> {
        match error {
            AppError::Invalid(errors) => {
                for e in errors {
                    let mut fields = self.header.fields.iter();
                    let at = fields.find(|(_, c)| c.field.name == e.field()).map(|(at, _)| *at);
                    let name = e.field().to_owned();
                    self.bad(at, &name, e);
                }
                Ok(())
            }
            AppError::Conflict { code: "id_taken", .. } => {
                let reason = "this record is there already with other values; correct it through \
                              the interface, so that its history stays";
                self.bad(None, "", FieldError::new("", "imported_before", reason));
                Ok(())
            }
            AppError::Conflict { code, detail } => {
                self.bad(None, "", FieldError::new("", code, detail));
                Ok(())
            }
            other => Err(other),
        }
    }
}

/// Fields that identify a row which has no code, besides its amounts.
fn identity(kind: Kind) -> &'static [&'static str] {
    match kind {
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
    }
}

/// An instant as spreadsheets write it (`2026-01-31 06:30` or a day, both in the co-operative's
/// zone) as RFC 3339; other text as it came.
pub(super) fn instant_text(text: &str, coop: &Coop) -> String {
    let (day, clock) = text.split_once([' ', 'T']).unwrap_or((text, "12:00"));
    let minutes = clock.split_once(':').and_then(|(h, m)| {
        let two = |t: &str| (t.len() <= 2).then(|| t.parse::<u32>().ok()).flatten();
        let m = m.strip_suffix(":00").unwrap_or(m);
        Some((two(h)?, two(m)?)).filter(|(h, m)| *h < 24 && *m < 60)
    });
    match (parse_date(day), minutes) {
        (Some(date), Some((h, m))) => format_instant(at_local(date, h * 60 + m, coop.zone)),
        _ => text.to_owned(),
    }
}
