//! Closing months.

use super::report::read_month;
use super::reports::KeptTotal;
use crate::error::AppError;
use crate::estimates::Figures;
use crate::{Actor, App};
use traybook_answers::savings::{MonthClose, MonthCloses, VERSION};
use traybook_answers::wire;
use traybook_domain::Month;
use traybook_domain::people::authz::Task;
use traybook_domain::value::Instant;
use traybook_reports::savings;
use traybook_storage::estimates::snapshots::{self, MonthSnapshot};
use traybook_storage::savings::months::{self, Close};
use traybook_storage::savings::programme_rows;
use uuid::Uuid;

impl App {
    /// Closes a month that has ended: its report is frozen to the byte; later corrections show as
    /// adjustments in the next open month.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a month that has not ended; `Conflict` when it is closed, or when
    /// an earlier month with a closed one before it is still open.
    pub async fn close_month(&self, actor: &Actor, month: &str) -> Result<MonthClose, AppError> {
        actor.task(Task::CloseMonth)?;
        actor.prove()?;
        let now = self.now();
        let month = read_month(month, &actor.coop, now)?;
        if month >= Month::of(actor.coop.today(now)) {
            let detail = "give a month that has ended; this one is still running";
            return Err(AppError::field("month", "running", detail));
        }
        let actor = actor.clone();
        // The figures of this moment are made while others write.
        let coop = actor.coop.clone();
        let made = self.store.read(move |conn| Figures::make(conn, &coop, now)).await?;
        self.store
            .change(actor.coop.number, move |conn| {
                let coop = &actor.coop;
                let closed = months::list(conn, coop.number)?;
                if closed.iter().any(|(m, ..)| *m == month) {
                    let detail = format!("{month} is closed; read its report as it was sent");
                    return Err(AppError::conflict("month_closed", detail));
                }
                if let Some((last, ..)) = closed.last()
                    && month != last.plus(1)
                {
                    let next = last.plus(1);
                    let detail = format!("months close in order; the next one is {next}");
                    return Err(AppError::conflict("month_order", detail));
                }
                let anew;
                let figures = if conn.revision() == made.state.revision {
                    &made
                } else {
                    anew = Figures::make(conn, coop, now)?;
                    &anew
                };
                let report = figures.report(conn, coop, month)?.publish(true);
                let close = Close {
                    month,
                    closed_at: now.0,
                    closed_by: actor.person,
                    report_json: savings::json(&report).map_err(AppError::Internal)?,
                    report_csv: savings::csv(&report),
                    report_version: VERSION,
                };
                let closing = figures.savings.closing(month)?;
                let (made, cells) = figures.month(conn, coop, month)?;
                months::close(conn, &close)?;
                months::keep_reported(conn, &closing.reported)?;
                months::freeze(conn, month, &closing.month, &closing.baselines)?;
                // What was adjusted is reported now: reports of open months are made anew. What is kept
                // of closed ones stays.
                for (kept, _) in snapshots::months(conn, coop.number)? {
                    if !closed.iter().any(|(month, ..)| *month == kept) {
                        snapshots::drop_month(conn, coop.number, kept)?;
                    }
                }
                let (body, total) = (String::new(), KeptTotal::of(&report)?);
                let kept = MonthSnapshot { body, total, divisions: made.divisions };
                snapshots::keep_month(conn, coop.number, month, 0, &kept)?;
                programme_rows::keep(conn, (coop.number, month), &coop.currency, &cells)?;
                Ok(shown(month, now.0, actor.person, false))
            })
            .await
    }

    /// The closed months, in order.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn closed_months(&self, actor: &Actor) -> Result<MonthCloses, AppError> {
        actor.task(Task::SavingsReport)?;
        let number = actor.coop.number;
        self.store
            .read(move |conn| {
                let all = months::list(conn, number)?;
                let item = |(month, at, by, touched)| shown(month, at, by, touched);
                Ok(MonthCloses { items: all.into_iter().map(item).collect() })
            })
            .await
    }
}

fn shown(month: Month, at: i64, by: Uuid, has_changed_since: bool) -> MonthClose {
    MonthClose {
        month: wire::Month(month),
        closed_at: wire::Time(Instant(at)),
        closed_by: by,
        has_changed_since,
    }
}
