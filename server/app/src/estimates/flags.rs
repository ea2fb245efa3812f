//! Raising and clearing flags, in the step that makes the figures.

use crate::Coop;
use crate::error::AppError;
use crate::records::Txn;
use chrono::NaiveDate;
use serde_json::{Map, json};
use traybook_answers::estimates::PointsAt;
use traybook_domain::kinds::Flag;
use traybook_domain::record::Record as _;
use traybook_domain::records::import_id::import_id;
use traybook_domain::time::start_of_day;
use traybook_domain::{Kind, Value};
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::Farms;
use traybook_storage::records::{self, Filter, Record, Visible};
use uuid::Uuid;

/// A farm's standing as its chart has it.
pub(crate) struct Standing {
    pub farm: Uuid,
    /// Batch that raised the flag that is up, and the day on which it ended.
    pub raised_by: Option<(Uuid, NaiveDate)>,
    pub points_at: Option<PointsAt>,
    /// The evidence in words.
    pub sentence: String,
}

/// The flags that are not cleared.
pub(super) fn open_flags(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Record, Flag)>, AppError> {
    let mut filter = Filter { unset: Kind::Flag.spec().index("cleared_on"), ..Filter::default() };
    if let (Some([farm]), Some(field)) = (of, Kind::Flag.spec().index("farm_id")) {
        filter.equals.push((field, Value::Id(*farm)));
    }
    let open = records::page(conn, coop, Kind::Flag, &Visible::All, &filter, None, 100_000)?;
    let read = |r: Record| Flag::from_values(&r.values).map(|flag| (r, flag));
    Ok(open.into_iter().filter_map(read).collect())
}

/// Flags to raise, and to clear with the version they had.
#[derive(Default)]
pub(crate) struct Asked {
    raise: Vec<(Uuid, Flag)>,
    clear: Vec<(Uuid, i64)>,
}

impl Asked {
    pub const fn is_empty(&self) -> bool {
        self.raise.is_empty() && self.clear.is_empty()
    }
}

/// What flags the charts ask for: one for every farm whose chart has one and that has none
/// standing; those are cleared whose chart has come back. One raised by hand is cleared by hand; one
/// closed by a person is not raised again before the chart has cleared.
pub(super) fn ask(
    conn: &mut Conn,
    coop: &Coop,
    standing: &[Standing],
    today: NaiveDate,
) -> Result<Asked, AppError> {
    let open = open_flags(conn, coop.number, None)?;
    let mut asked = Asked::default();
    for s in standing {
        let Some((batch, ended_on)) = s.raised_by else { continue };
        let is_open = open.iter().any(|(_, f)| f.farm_id == s.farm);
        if is_open || is_closed_by_hand(conn, coop.number, s.farm, ended_on)? {
            continue;
        }
        let key = format!("{} {batch} {today}", s.farm);
        let made = start_of_day(today, coop.zone).0;
        let id = import_id(&coop.id.to_string(), "flag", &key, made);
        if records::find(conn, coop.number, Kind::Flag, id)?.is_none() {
            asked.raise.push((id, flag(s, batch, today)));
        }
    }
    for (record, flag) in &open {
        let up = standing.iter().any(|s| s.farm == flag.farm_id && s.raised_by.is_some());
        if !up && flag.batch_id.is_some() {
            asked.clear.push((record.id, record.version));
        }
    }
    Ok(asked)
}

/// Whether a person closed a flag of the farm since its chart raised the one that is up.
fn is_closed_by_hand(
    conn: &mut Conn,
    coop: i64,
    farm: Uuid,
    raised: NaiveDate,
) -> Result<bool, AppError> {
    let field = Kind::Flag.spec().index("farm_id");
    let equals = field.map(|field| (field, Value::Id(farm))).into_iter().collect();
    let filter = Filter { equals, ..Filter::default() };
    let all = records::page(conn, coop, Kind::Flag, &Visible::All, &filter, None, FLAGS_MAX)?;
    let is_closed = |r: &Record| {
        let cleared = Flag::from_values(&r.values).and_then(|flag| flag.cleared_on);
        !r.changed_by.is_nil() && cleared.is_some_and(|day| day >= raised)
    };
    Ok(all.iter().any(is_closed))
}

/// Flags of a farm that are looked at, the newest.
const FLAGS_MAX: usize = 100;

/// Raises and clears. Repeating it changes nothing.
pub(super) fn carry_out(
    txn: &mut Txn<'_, '_>,
    asked: &Asked,
    today: NaiveDate,
) -> Result<(), AppError> {
    let number = txn.coop();
    for (id, flag) in &asked.raise {
        if records::find(txn.conn(), number, Kind::Flag, *id)?.is_none() {
            let values = flag.clone().into_values();
            txn.create_values(Kind::Flag, *id, values, &Visible::All)?;
        }
    }
    for (id, version) in &asked.clear {
        let patch = Map::from_iter([("cleared_on".to_owned(), json!(today))]);
        match txn.correct(Kind::Flag, *id, *version, &patch) {
            // An officer was quicker; the next making looks again.
            Ok(_) | Err(AppError::Stale { .. } | AppError::Invalid(_)) => {}
            Err(e) => return Err(e),
        }
    }
    Ok(())
}

fn flag(s: &Standing, batch: Uuid, today: NaiveDate) -> Flag {
    let points_at = s.points_at.map_or("not_known", PointsAt::text);
    Flag {
        farm_id: s.farm,
        batch_id: Some(batch),
        raised_on: today,
        points_at: points_at.to_owned(),
        evidence: s.sentence.chars().take(500).collect(),
        seen_on: None,
        cause: None,
        finding: None,
        cleared_on: None,
    }
}
