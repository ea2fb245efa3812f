//! The life of a batch in one line of its file: each event becomes a record.

use super::FileReport;
use super::file::{File, instant_text};
use crate::error::AppError;
use crate::records::txn::{Txn, Written};
use traybook_domain::kinds::BatchEvent;
use traybook_domain::record::Record as _;
use traybook_domain::records::import_id::import_id;
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind, Value};
use traybook_sheets::columns::BATCH_SHORTHAND;
use traybook_storage::records::Visible;
use uuid::Uuid;

impl File<'_> {
    /// A field of an event that a batch's line holds; null where it holds none.
    fn event_value(&mut self, (name, field): (&str, &str), cells: &[String]) -> Value {
        let position = self.header.shorthand.get(name).copied();
        let cell = position.and_then(|p| cells.get(p)).map_or("", String::as_str);
        if cell.is_empty() {
            return Value::Null;
        }
        let text = if field == "at" { instant_text(cell, self.coop) } else { cell.to_owned() };
        match Kind::BatchEvent.spec().field(field).map(|f| f.read_text(&text, &self.ctx)) {
            Some(Ok(value)) => value,
            Some(Err(e)) => {
                self.bad(position, name, e);
                Value::Null
            }
            None => Value::Null,
        }
    }

    /// The events that stand in a batch's own line.
    pub(super) fn events(
        &mut self,
        txn: &mut Txn<'_, '_>,
        cells: &[String],
        batch: Uuid,
        report: &mut FileReport,
    ) -> Result<(), AppError> {
        let spec = Kind::BatchEvent.spec();
        for (event, at, trays, kg) in BATCH_SHORTHAND {
            let mut read = |name: &str, field: &str| self.event_value((name, field), cells);
            let (when, trays, kg) = (read(at, "at"), read(trays, "trays"), read(kg, "kg"));
            let cause =
                if *event == "discarded" { read("discard_cause", "cause") } else { Value::Null };
            let reason =
                if *event == "fed_out" { read("fed_reason", "reason") } else { Value::Null };
            let amounts =
                [&trays, &kg, &cause].iter().any(|v| !v.is_null() && **v != Value::Int(0));
            let Value::Instant(ms) = when else {
                if amounts {
                    let reason = format!("give {at} for what is recorded of it");
                    self.bad(None, at, FieldError::new(at, "event_time", reason));
                }
                continue;
            };
            if *event == "discarded" && !amounts {
                continue;
            }
            let record = BatchEvent {
                batch_id: batch,
                farm_id: Uuid::nil(),
                event: (*event).to_owned(),
                at: Instant(ms),
                trays: trays.as_int(),
                kg: kg.as_int(),
                cause: cause.as_text().map(str::to_owned),
                mould_seen: None,
                mould_trays: None,
                germinated_percent: None,
                animal_group_id: None,
                reason: reason.as_text().map(str::to_owned),
                note: None,
            };
            let cooperative = self.coop.id.to_string();
            let id = import_id(&cooperative, spec.one, &format!("{batch} {event}"), ms);
            let mut values = record.into_values();
            if let Some(slot) = spec.index("farm_id").and_then(|i| values.get_mut(i)) {
                *slot = Value::Null;
            }
            let written = txn.create_values(Kind::BatchEvent, id, values, &Visible::All);
            match written.and_then(|written| self.put_back(txn, Kind::BatchEvent, written)) {
                Ok(Written::Now(_)) => {
                    report.made += 1;
                    self.made.push((Kind::BatchEvent, id));
                }
                Ok(Written::Before(_)) => report.before += 1,
                Err(error) => self.refused(error)?,
            }
        }
        Ok(())
    }
}
