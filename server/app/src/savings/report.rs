//! The savings report of a month: as it was closed, or as it was last made.

use super::reports::{KeptTotal, MonthTotal, Of, Reports};
use crate::error::AppError;
use crate::estimates::{Figures, as_of};
use crate::records::find_visible;
use crate::{Actor, App, Coop};
use std::sync::Arc;
use traybook_answers::savings::{FarmLine, SavingsReport, VERSION};
use traybook_domain::people::authz::Task;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_reports::savings;
use traybook_storage::Conn;
use traybook_storage::estimates::snapshots;
use traybook_storage::records::Visible;
use traybook_storage::records::{changes, farm_rows};
use traybook_storage::savings::months::{self, Close};
use uuid::Uuid;

/// A text that is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    Json,
    Csv,
}

/// Reads a month that reports are made of.
///
/// # Errors
/// `Invalid` for another form, a month before records and one that has not begun.
pub fn read_month(text: &str, coop: &Coop, now: Instant) -> Result<Month, AppError> {
    let month = Month::parse(text)
        .ok_or_else(|| AppError::field("month", "type", "give a month as YYYY-MM"))?;
    has_begun(month, coop, now)?;
    Ok(month)
}

/// Refuses a month that is still to come.
pub(crate) fn has_begun(month: Month, coop: &Coop, now: Instant) -> Result<(), AppError> {
    if month > Month::of(coop.today(now)) {
        return Err(AppError::field("month", "future", "give a month that has begun"));
    }
    Ok(())
}

impl App {
    /// The savings report of a month as text, within what the person may see: of a closed month the
    /// one that was frozen, to the byte, for who sees all of it.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for what is no month or has not begun.
    pub async fn savings_text(
        &self,
        actor: &Actor,
        month: &str,
        form: Form,
    ) -> Result<String, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let (month, now) = (read_month(month, &actor.coop, self.now())?, self.now());
        let (coop, kept) = (actor.coop.clone(), Arc::clone(&self.reports));
        self.store
            .read(move |conn| {
                if visible == Visible::All
                    && let Some(closed) = months::find(conn, coop.number, month)?
                {
                    return Ok(match form {
                        Form::Json => closed.report_json,
                        Form::Csv => closed.report_csv,
                    });
                }
                let report = Reader { coop: &coop, kept: &kept, visible: &visible, now };
                let report = report.read(conn, month)?;
                match form {
                    Form::Json => savings::json(&report).map_err(AppError::Internal),
                    Form::Csv => Ok(savings::csv(&report)),
                }
            })
            .await
    }

    /// The savings reports of months within what the person may see, all as of one moment.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a month that has not begun.
    pub async fn savings_reports(
        &self,
        actor: &Actor,
        months: Vec<Month>,
    ) -> Result<Vec<Arc<SavingsReport>>, AppError> {
        self.of_months(actor, months, |reader, conn, month| reader.read(conn, month)).await
    }

    /// The savings report of one month.
    pub async fn savings_report(
        &self,
        actor: &Actor,
        month: Month,
    ) -> Result<Arc<SavingsReport>, AppError> {
        let all = self.savings_reports(actor, vec![month]).await?;
        all.into_iter().next().ok_or(AppError::NotFound)
    }

    /// What months came to: a chart of a year needs no farm's line.
    pub async fn month_totals(
        &self,
        actor: &Actor,
        months: Vec<Month>,
    ) -> Result<Vec<MonthTotal>, AppError> {
        self.of_months(actor, months, |reader, conn, month| reader.total(conn, month)).await
    }

    /// Reads something of each month within what the person may see, all as of one moment.
    async fn of_months<T: Send + 'static>(
        &self,
        actor: &Actor,
        months: Vec<Month>,
        read: fn(&Reader<'_>, &mut Conn, Month) -> Result<T, AppError>,
    ) -> Result<Vec<T>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let (coop, kept, now) = (actor.coop.clone(), Arc::clone(&self.reports), self.now());
        for month in &months {
            has_begun(*month, &coop, now)?;
        }
        self.store
            .read(move |conn| {
                let reader = Reader { coop: &coop, kept: &kept, visible: &visible, now };
                months.into_iter().map(|month| read(&reader, conn, month)).collect()
            })
            .await
    }

    /// One farm's line of the savings report of a month; none where the report has none.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a month that has not begun; `NotFound` for a farm out of reach.
    pub async fn farm_saving(
        &self,
        actor: &Actor,
        farm: Uuid,
        month: Month,
    ) -> Result<Option<FarmLine>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let (actor, kept, now) = (actor.clone(), Arc::clone(&self.reports), self.now());
        has_begun(month, &actor.coop, now)?;
        self.store
            .read(move |conn| {
                let coop = &actor.coop;
                find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                let reader = Reader { coop, kept: &kept, visible: &Visible::All, now };
                if let Some(report) = reader.in_memory(conn, month)? {
                    return Ok(report.farms.iter().find(|line| line.farm_id == farm).cloned());
                }
                if let Some(Close { report_version, report_json, .. }) =
                    months::find(conn, coop.number, month)?
                {
                    return SavingsReport::read_farm(report_version, &report_json, farm)
                        .map_err(AppError::Internal);
                }
                let text = open_text(conn, coop, month, now)?;
                SavingsReport::read_farm(VERSION, &text, farm).map_err(AppError::Internal)
            })
            .await
    }
}

/// Whoever reads reports.
pub(super) struct Reader<'a> {
    pub coop: &'a Coop,
    pub kept: &'a Reports,
    pub visible: &'a Visible,
    pub now: Instant,
}

impl Reader<'_> {
    /// The report of a month within what the person may see.
    pub fn read(&self, conn: &mut Conn, month: Month) -> Result<Arc<SavingsReport>, AppError> {
        let number = self.coop.number;
        let is_whole = *self.visible == Visible::All;
        let report = match months::stamp(conn, number, month)? {
            Some(stamp) => self.read_closed(conn, month, stamp)?,
            None => self.read_open(conn, month)?,
        };
        if is_whole {
            return Ok(report);
        }
        let seen = farm_rows::seen_ids(conn, number, self.visible)?;
        Ok(Arc::new(report.narrowed(|farm| seen.contains(&farm))))
    }

    /// The whole report where somebody has read it since it was last made.
    fn in_memory(
        &self,
        conn: &mut Conn,
        month: Month,
    ) -> Result<Option<Arc<SavingsReport>>, AppError> {
        let number = self.coop.number;
        let key = match months::stamp(conn, number, month)? {
            Some(stamp) => (number, month, None, Of::Closed(stamp)),
            None => (number, month, snapshots::state(conn, number)?, self.of_open(conn, month)?),
        };
        Ok(self.kept.get(&key))
    }

    /// What a month came to.
    pub fn total(&self, conn: &mut Conn, month: Month) -> Result<MonthTotal, AppError> {
        if *self.visible != Visible::All {
            let report = self.read(conn, month)?;
            return Ok(MonthTotal { month, is_running: report.is_running, total: None });
        }
        let kept = snapshots::total_of_month(conn, self.coop.number, month)?;
        // One that another program wrote in another form is made from the report.
        let kept = kept.and_then(|text| serde_json::from_str(&text).ok());
        let KeptTotal { is_running, total } = match kept {
            Some(kept) => kept,
            None => {
                let report = self.read(conn, month)?;
                KeptTotal { is_running: report.is_running, total: report.total.clone() }
            }
        };
        Ok(MonthTotal { month, is_running, total })
    }

    /// Which report of an open month there is.
    fn of_open(&self, conn: &mut Conn, month: Month) -> Result<Of, AppError> {
        Ok(match snapshots::digest_of(conn, self.coop.number, month)? {
            Some(digest) => Of::Kept(digest),
            None => Of::Revision(changes::counters(conn, self.coop.number)?.revision),
        })
    }

    fn read_closed(
        &self,
        conn: &mut Conn,
        month: Month,
        stamp: (i64, i64),
    ) -> Result<Arc<SavingsReport>, AppError> {
        let key = (self.coop.number, month, None, Of::Closed(stamp));
        if let Some(report) = self.kept.get(&key) {
            return Ok(report);
        }
        let closed = months::find(conn, self.coop.number, month)?.ok_or(AppError::NotFound)?;
        let report = SavingsReport::read(closed.report_version, &closed.report_json);
        let report = Arc::new(report.map_err(AppError::Internal)?);
        self.kept.put(key, &report);
        Ok(report)
    }

    fn read_open(&self, conn: &mut Conn, month: Month) -> Result<Arc<SavingsReport>, AppError> {
        let number = self.coop.number;
        let state = snapshots::state(conn, number)?;
        let key = (number, month, state, self.of_open(conn, month)?);
        if let Some(report) = self.kept.get(&key) {
            return Ok(report);
        }
        let text = open_text(conn, self.coop, month, self.now)?;
        let report = SavingsReport::read(VERSION, &text);
        let mut report = report.map_err(AppError::Internal)?;
        report.as_of = as_of(state);
        report.data_version = state.map_or(0, |s| s.change_seq);
        let report = Arc::new(report);
        self.kept.put(key, &report);
        Ok(report)
    }
}

/// What a month came to, JSON.
pub(crate) fn total_of(
    conn: &mut Conn,
    coop: &Coop,
    kept: &Reports,
    (month, now): (Month, Instant),
) -> Result<String, AppError> {
    let report = Reader { coop, kept, visible: &Visible::All, now }.read(conn, month)?;
    KeptTotal::of(&report)
}

/// The report of an open month as it was last made; where none was, as the records stand.
fn open_text(conn: &mut Conn, coop: &Coop, month: Month, now: Instant) -> Result<String, AppError> {
    let kept = snapshots::body_of_month(conn, coop.number, month)?;
    if let Some(body) = kept.filter(|body| !body.is_empty()) {
        return Ok(body);
    }
    let figures = Figures::make(conn, coop, now)?;
    Ok(figures.month(conn, coop, month)?.0.body)
}
