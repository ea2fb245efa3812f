//! Building the kept sums anew from the records, to see that they agree.

use crate::error::AppError;
use crate::{App, Coop};
use std::collections::{BTreeMap, BTreeSet};
use traybook_domain::effects::{DayRecord, Effects, day_record};
use traybook_domain::kinds::Batch;
use traybook_domain::record::Record as _;
use traybook_domain::{Kind, Value};
use traybook_storage::{Writing, planning::batch_trays, records, records::sums};
use uuid::Uuid;

/// The kept sums as they stood, and as the records give them; one line a sum, sorted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sums {
    /// As they stood.
    pub kept: Vec<String>,
    /// As the records give them.
    pub rebuilt: Vec<String>,
}

impl App {
    /// Builds all kept sums of a co-operative anew; they are the rebuilt ones afterwards.
    pub async fn rebuild_sums(&self, coop: &Coop) -> Result<Sums, AppError> {
        self.fill_sums().await?;
        let coop = coop.clone();
        self.store
            .change(coop.number, move |writing| {
                let kept = sums::dump(writing, coop.number)?;
                sums::clear(writing)?;
                rebuild(writing, &coop)?;
                let rebuilt = sums::dump(writing, coop.number)?;
                Ok(Sums { kept, rebuilt })
            })
            .await
    }
}

fn rebuild(writing: &mut Writing<'_>, coop: &Coop) -> Result<(), AppError> {
    let number = coop.number;
    let mut effects = Effects::default();
    for kind in [
        Kind::FeedPurchase,
        Kind::OtherCost,
        Kind::SeedIssue,
        Kind::SeedPayment,
        Kind::SeedPurchase,
    ] {
        records::for_each(writing, number, kind, |_, record| {
            effects.add(kind, &record.values, None, coop.zone, 1);
            Ok::<(), AppError>(())
        })?;
    }
    records::for_each(writing, number, Kind::BatchEvent, |conn, record| {
        let kind = Kind::BatchEvent;
        let batch = kind.spec().get(&record.values, "batch_id").as_id().unwrap_or_default();
        let batch = records::find(conn, number, Kind::Batch, batch)?;
        let batch = batch.and_then(|b| Batch::from_values(&b.values));
        effects.add(kind, &record.values, batch.as_ref(), coop.zone, 1);
        Ok::<(), AppError>(())
    })?;
    for kind in [Kind::MilkRecord, Kind::EggRecord] {
        let mut days: BTreeMap<(Uuid, Uuid, chrono::NaiveDate), Vec<DayRecord>> = BTreeMap::new();
        records::for_each(writing, number, kind, |_, record| {
            effects.add(kind, &record.values, None, coop.zone, 1);
            let cell = day_record(kind, &record.values, record.id, record.created_at);
            if let Some((group, farm, date, day)) = cell {
                days.entry((group, farm, date)).or_default().push(day);
            }
            Ok::<(), AppError>(())
        })?;
        for ((_, farm, date), records) in days {
            effects.add_day(kind, farm, date, &records, 1);
        }
    }
    let mut groups = BTreeSet::new();
    records::for_each(writing, number, Kind::HeadCount, |_, record| {
        let group = Kind::HeadCount.spec().get(&record.values, "animal_group_id");
        if let Value::Id(group) = group {
            groups.insert(*group);
        }
        Ok::<(), AppError>(())
    })?;
    sums::add(writing, &effects)?;
    for group in groups {
        sums::recount_herd(writing, group)?;
    }
    batch_trays::recount_all(writing)?;
    sums::are_filled(writing)?;
    Ok(())
}
