//! Filling up kept sums that an older program did not keep, a few farms at a time, so that others can
//! write in between. It may stop at any moment: what is filled twice is the same.

use crate::App;
use crate::error::AppError;
use chrono::NaiveDate;
use std::collections::BTreeMap;
use traybook_domain::Kind;
use traybook_domain::effects::{DayRecord, Effects, day_record};
use traybook_storage::Writing;
use traybook_storage::records::{self, Visible};
use traybook_storage::records::{farm_rows, sums};
use uuid::Uuid;

/// Farms that are filled up in one transaction: some tens of thousands of records.
const FARMS_AT_ONCE: usize = 8;

impl App {
    /// Fills up the sums of all co-operatives that have older ones. Gives their number.
    pub async fn fill_sums(&self) -> Result<usize, AppError> {
        let behind = self.store.read(sums::behind).await?;
        for number in &behind {
            self.fill_sums_of(*number).await?;
        }
        Ok(behind.len())
    }

    async fn fill_sums_of(&self, number: i64) -> Result<(), AppError> {
        let all = move |conn: &mut _| farm_rows::within(conn, number, &Visible::All);
        let mut farms: Vec<Uuid> = self.store.read(all).await?.into_iter().collect();
        farms.sort_unstable();
        for chunk in farms.chunks(FARMS_AT_ONCE) {
            let farms = chunk.to_vec();
            self.store.change(number, move |writing| fill_bins(writing, &farms)).await?;
        }
        self.store.change(number, |writing| Ok::<_, AppError>(sums::are_filled(writing)?)).await
    }
}

fn fill_bins(writing: &mut Writing<'_>, farms: &[Uuid]) -> Result<(), AppError> {
    let number = writing.coop();
    sums::clear_bins(writing, farms)?;
    let mut effects = Effects::default();
    for kind in [Kind::MilkRecord, Kind::EggRecord] {
        let mut days: BTreeMap<(Uuid, Uuid, NaiveDate), Vec<DayRecord>> = BTreeMap::new();
        for record in records::by_reference(writing, number, kind, "farm_id", farms)? {
            let cell = day_record(kind, &record.values, record.id, record.created_at);
            if let Some((group, farm, date, day)) = cell {
                days.entry((group, farm, date)).or_default().push(day);
            }
        }
        for ((_, farm, date), records) in days {
            effects.add_day(kind, farm, date, &records, 1);
        }
    }
    Ok(sums::add(writing, &Effects { bins: effects.bins, ..Effects::default() })?)
}
