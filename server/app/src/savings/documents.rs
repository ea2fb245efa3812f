//! The savings report as a workbook and as PDF.
//!
//! Making a document takes a processor for up to seconds, so it is done off the threads that
//! answer, a few at a time.

use super::report::read_month;
use crate::error::AppError;
use crate::{Actor, App, costly};
use std::sync::{Arc, LazyLock};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use traybook_answers::savings::SavingsReport;
use traybook_domain::Month;
use traybook_domain::limits::{DOCUMENTS_AT_ONCE, WORKBOOK_MONTHS_MAX};
use traybook_domain::people::authz::Task;
use traybook_reports::savings::{board_paper_pdf, board_pdf, member_pdf, workbook};
use traybook_speech::Language;
use uuid::Uuid;

static TURN: LazyLock<Arc<Semaphore>> =
    LazyLock::new(|| Arc::new(Semaphore::new(DOCUMENTS_AT_ONCE)));

/// Waits for a turn: reports that wait to become documents would fill the memory.
async fn turn() -> Result<OwnedSemaphorePermit, AppError> {
    Arc::clone(&TURN).acquire_owned().await.map_err(|e| AppError::Internal(e.to_string()))
}

/// Makes a document off the threads that answer. The turn lasts as long as the work, also where
/// nobody waits for it any more.
async fn made<T: Send + 'static>(
    turn: OwnedSemaphorePermit,
    work: impl FnOnce() -> Result<T, String> + Send + 'static,
) -> Result<T, AppError> {
    let in_turn = move || {
        let made = work();
        drop(turn);
        made
    };
    let done = tokio::task::spawn_blocking(in_turn).await;
    done.map_err(|e| AppError::Internal(e.to_string()))?.map_err(AppError::Internal)
}

/// The months from one to another.
fn months(from: Month, to: Month) -> Result<Vec<Month>, AppError> {
    let count = to.number() - from.number() + 1;
    if !(1..=WORKBOOK_MONTHS_MAX).contains(&count) {
        let detail = format!("give from or a month up to {} later", WORKBOOK_MONTHS_MAX - 1);
        return Err(AppError::field("to", "range", detail));
    }
    Ok(from.to(to).collect())
}

impl App {
    /// The savings reports of one or more months as a workbook, within what the person may see.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for what are no months, and for too many.
    pub async fn savings_workbook(
        &self,
        actor: &Actor,
        from: &str,
        to: &str,
        language: Language,
    ) -> Result<Vec<u8>, AppError> {
        let read = |name, text: &str| {
            read_month(text, &actor.coop, self.now()).map_err(|e| e.of_field(name))
        };
        let months = months(read("from", from)?, read("to", to)?)?;
        actor.task(Task::SavingsReport)?;
        let _costly = costly::begin(actor)?;
        let turn = turn().await?;
        let reports = self.savings_reports(actor, months).await?;
        let reports: Vec<SavingsReport> = reports.into_iter().map(Arc::unwrap_or_clone).collect();
        made(turn, move || workbook(&reports, language)).await
    }

    /// The savings report of a month as a workbook.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid`.
    pub async fn month_workbook(
        &self,
        actor: &Actor,
        month: &str,
        language: Language,
    ) -> Result<Vec<u8>, AppError> {
        self.of_month(actor, month, move |report| workbook(&[report], language)).await
    }

    /// The savings report of a month as PDF for the board, within what the person may see.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid`.
    pub async fn savings_pdf(
        &self,
        actor: &Actor,
        month: &str,
        language: Language,
    ) -> Result<Vec<u8>, AppError> {
        self.of_month(actor, month, move |report| board_pdf(&report, language)).await
    }

    /// The paper of a month for a meeting, as PDF.
    pub async fn board_pdf(
        &self,
        actor: &Actor,
        month: &str,
        is_anonymous: bool,
        language: Language,
    ) -> Result<Vec<u8>, AppError> {
        actor.task(Task::CloseMonth)?;
        let turn = turn().await?;
        let paper = self.board_paper(actor, month, is_anonymous).await?;
        made(turn, move || board_paper_pdf(&paper, language)).await
    }

    /// A member's own page of the savings report as PDF, to be printed and handed over.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid`; `NotFound` for a farm that the person may not see or that is not in
    /// the month's report.
    pub async fn member_pdf(
        &self,
        actor: &Actor,
        farm: Uuid,
        month: &str,
        language: Language,
    ) -> Result<Vec<u8>, AppError> {
        let page = move |report: SavingsReport| member_pdf(&report, farm, language);
        self.of_month(actor, month, page).await?.ok_or(AppError::NotFound)
    }

    /// A document of one month's report. Who may not ask, or asks for no month, is told before
    /// anybody waits.
    async fn of_month<T: Send + 'static>(
        &self,
        actor: &Actor,
        month: &str,
        make: impl FnOnce(SavingsReport) -> Result<T, String> + Send + 'static,
    ) -> Result<T, AppError> {
        actor.task(Task::SavingsReport)?;
        let month = read_month(month, &actor.coop, self.now())?;
        let _costly = costly::begin(actor)?;
        let turn = turn().await?;
        let report = self.savings_report(actor, month).await?;
        made(turn, move || make(Arc::unwrap_or_clone(report))).await
    }
}
