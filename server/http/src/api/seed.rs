//! The seed chain: accounts, traces, suppliers.

use crate::request::{Answer, Request, varied};
use traybook_answers::Sheet;
use traybook_reports::sheet;

/// What a sheet is answered as, the first where the client takes any.
pub(super) const MEDIA: &[&str] = &["application/json", "text/csv"];

/// A sheet as JSON or CSV, whichever was agreed on.
pub(super) fn answer(r: &Request, media: &str, name: &str, answer: &impl Sheet) -> Answer {
    match media {
        "text/csv" => Ok(r.answer_csv(name, sheet::csv(answer))),
        _ => r.answer_json(answer).map(varied),
    }
}

/// Balances of all farms.
pub async fn accounts(r: Request) -> Answer {
    let media = r.accepts(MEDIA)?;
    r.known_query([])?;
    let sheet = r.app().seed_accounts(r.actor()?).await?;
    answer(&r, media, "seed-accounts", &sheet)
}

/// One farm's statement.
pub async fn account(r: Request) -> Answer {
    let media = r.accepts(MEDIA)?;
    let [from, to] = r.known_query(["from", "to"])?;
    let sheet = r.app().seed_account(r.actor()?, r.id()?, from, to).await?;
    answer(&r, media, "seed-account", &sheet)
}

pub async fn payment_run(r: Request) -> Answer {
    let media = r.accepts(MEDIA)?;
    let [from, to] = r.known_query(["from", "to"])?;
    let sheet = r.app().payment_run(r.actor()?, from, to).await?;
    answer(&r, media, "payment-run", &sheet)
}

/// A lot to the animals.
pub async fn lot_trace(r: Request) -> Answer {
    let media = r.accepts(MEDIA)?;
    r.known_query([])?;
    let sheet = r.app().lot_trace(r.actor()?, r.id()?).await?;
    answer(&r, media, "seed-lot-trace", &sheet)
}

/// A batch back to the purchase.
pub async fn batch_trace(r: Request) -> Answer {
    let media = r.accepts(MEDIA)?;
    r.known_query([])?;
    let sheet = r.app().batch_trace(r.actor()?, r.id()?).await?;
    answer(&r, media, "batch-trace", &sheet)
}

/// Suppliers compared.
pub async fn suppliers(r: Request) -> Answer {
    let media = r.accepts(MEDIA)?;
    let [from, to] = r.known_query(["from", "to"])?;
    let sheet = r.app().supplier_comparison(r.actor()?, from, to).await?;
    answer(&r, media, "supplier-comparison", &sheet)
}
