//! Reports and the figures behind them.

use crate::problem::Problem;
use crate::request::{Answer, Request, body_etag, json, varied};
use actix_web::HttpResponse;
use serde::Deserialize;
use traybook_app::savings::Form;
use utoipa::ToSchema;

const JSON: &[&str] = &["application/json"];
const CSV: &str = "text/csv";
/// Media type of workbooks (IANA, from ISO/IEC 29500).
pub(crate) const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
/// Media type of PDF (RFC 8118).
pub(crate) const PDF: &str = "application/pdf";

/// The month to close.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CloseMonthRequest {
    /// Month, YYYY-MM.
    #[schema(example = "2026-01", pattern = r"^\d{4}-\d{2}$")]
    month: String,
}

pub(super) fn given(value: Option<String>, name: &str) -> Result<String, Problem> {
    value.ok_or_else(|| Problem::field(name, "required", format!("give {name}")))
}

/// The savings report.
pub async fn savings(r: Request) -> Answer {
    let media = r.accepts(&["application/json", CSV, XLSX, PDF])?;
    let [month, language] = r.known_query(["month", "language"])?;
    let (month, language) = (given(month, "month")?, r.language(language.as_deref())?);
    if media == XLSX {
        let body = r.app().month_workbook(r.actor()?, &month, language).await?;
        return Ok(r.answer_file(&format!("savings-{month}.xlsx"), XLSX, body));
    }
    if media == PDF {
        let body = r.app().savings_pdf(r.actor()?, &month, language).await?;
        return Ok(r.answer_file(&format!("savings-{month}.pdf"), PDF, body));
    }
    let form = if media == CSV { Form::Csv } else { Form::Json };
    let text = r.app().savings_text(r.actor()?, &month, form).await?;
    if media == CSV {
        return Ok(r.answer_csv(&format!("savings-{month}"), text));
    }
    let tag = body_etag(text.as_bytes());
    Ok(varied(r.tagged(json(text), &tag)))
}

/// The savings reports of several months as a workbook.
pub async fn savings_workbook(r: Request) -> Answer {
    r.accepts(&[XLSX])?;
    let [from, to, language] = r.known_query(["from", "to", "language"])?;
    let (from, to) = (given(from, "from")?, given(to, "to")?);
    let language = r.language(language.as_deref())?;
    let body = r.app().savings_workbook(r.actor()?, &from, &to, language).await?;
    Ok(r.answer_file(&format!("savings-{from}-{to}.xlsx"), XLSX, body))
}

/// The paper for a meeting.
pub async fn board_paper(r: Request) -> Answer {
    let media = r.accepts(&["application/json", PDF])?;
    let [month, anonymous, language] = r.known_query(["month", "anonymous", "language"])?;
    let (month, language) = (given(month, "month")?, r.language(language.as_deref())?);
    let is_anonymous = match anonymous.as_deref() {
        None | Some("false") => false,
        Some("true") => true,
        Some(_) => return Err(Problem::field("anonymous", "choice", "give true or false")),
    };
    if media == PDF {
        let body = r.app().board_pdf(r.actor()?, &month, is_anonymous, language).await?;
        return Ok(r.answer_file(&format!("board-{month}.pdf"), PDF, body));
    }
    let paper = r.app().board_paper(r.actor()?, &month, is_anonymous).await?;
    r.answer_json(&paper)
}

/// Closes a month.
pub async fn close_month(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: CloseMonthRequest = r.json()?;
    let closed = r.app().close_month(r.actor()?, &asked.month).await?;
    let location = format!("/v1/reports/savings?month={}", asked.month);
    Ok(HttpResponse::Created()
        .insert_header(("location", location))
        .insert_header(("cache-control", "private, no-cache"))
        .json(closed))
}

/// The closed months.
pub async fn month_closes(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let closed = r.app().closed_months(r.actor()?).await?;
    r.answer_json(&closed)
}

/// Totals over co-operatives.
pub async fn programme_totals(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [month, by] = r.known_query(["month", "by"])?;
    let (month, by) = (given(month, "month")?, given(by, "by")?);
    let totals = r.app().programme_totals(r.actor()?, &month, &by).await?;
    r.answer_json(&totals)
}

/// Indicators of a programme over some months.
pub async fn indicators(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [from, month] = r.known_query(["from", "month"])?;
    let (from, month) = (given(from, "from")?, given(month, "month")?);
    let indicators = r.app().indicators_between(r.actor()?, (&from, &month)).await?;
    r.answer_json(&indicators)
}

/// Sums over the co-operatives of a programme.
pub async fn programme_sum(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [month, by] = r.known_query(["month", "by"])?;
    let (month, by) = (given(month, "month")?, given(by, "by")?);
    let sum = r.app().programme_sum(r.actor()?, &month, &by).await?;
    r.answer_json(&sum)
}

/// Seed stock.
pub async fn seed_stock(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let stock = r.app().seed_stock(r.actor()?).await?;
    r.answer_json(&stock)
}

/// The ledger of seed.
pub async fn seed_movements(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [from, to] = r.known_query(["from", "to"])?;
    let (from, to) = (given(from, "from")?, given(to, "to")?);
    let movements = r.app().seed_movements(r.actor()?, &from, &to).await?;
    r.answer_json(&movements)
}

/// The growing guide.
pub async fn growing_guide(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [day] = r.known_query(["day"])?;
    let guide = r.app().growing_guide(r.actor()?, day).await?;
    r.answer_json(&guide)
}
