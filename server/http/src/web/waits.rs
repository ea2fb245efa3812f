//! What a number of the savings report waits for, in words, with a link that answers it.

use super::blocks::{Item, Link};
use super::nothing_bought;
use super::page::Page;
use super::site::query;
use chrono::NaiveDate;
use traybook_answers::savings::{FarmLine, SavingsReport, Wait, What};
use traybook_domain::Month;
use traybook_reports::savings::{Said as _, sentence};
use uuid::Uuid;

/// Farms that a page names.
pub(super) const FARMS_MAX: usize = 60;

/// The farms whose number waits for somebody to do something: not for time to pass.
pub(super) fn waiting(report: &SavingsReport) -> Vec<&FarmLine> {
    report.farms.iter().filter(|l| l.asks_for_records()).collect()
}

/// A farm with what it waits for, each with the place where it is answered; `back` is the page to
/// come back to.
pub(super) fn item(page: &Page, line: &FarmLine, month: Month, back: &str) -> Item {
    Item {
        title: format!("{} · {}", line.farm, line.member_name),
        href: Some(format!("/farms/{}/book", line.farm_id)),
        lines: said(page, &line.waits).iter().map(|text| sentence(text)).collect(),
        links: links(page, line.farm_id, &line.waits, month, back),
        ..Item::default()
    }
}

/// What is waited for, in words; what two classes of animals wait for is said once.
pub(super) fn said(page: &Page, waits: &[Wait]) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for text in waits.iter().map(|w| w.said(page.language)) {
        if !all.contains(&text) {
            all.push(text);
        }
    }
    all
}

/// Where each wait is answered: one link a place.
pub(super) fn links(
    page: &Page,
    farm: Uuid,
    waits: &[Wait],
    month: Month,
    back: &str,
) -> Vec<Link> {
    let mut links: Vec<(String, String)> = Vec::new();
    let mut put = |href: String, text: String| {
        if !links.iter().any(|(known, _)| *known == href) {
            links.push((href, text));
        }
    };
    let new = |kind: &str| format!("/farms/{farm}/book/{kind}");
    for wait in waits {
        let feed = wait.feed.clone().unwrap_or_default();
        match (wait.what, wait.purchase_id) {
            (What::HeldPrice | What::HeldKg, Some(purchase)) => {
                put(format!("/review?farm={farm}"), page.say("wait-look"));
                put(format!("/book/feed-purchases/{purchase}"), right(page, wait));
            }
            (What::Animals, Some(purchase)) => {
                put(format!("/book/feed-purchases/{purchase}"), right(page, wait));
            }
            (What::Purchase | What::NextPurchase, _) => {
                put(new("feed-purchases"), page.with("wait-write-down", "feed", feed.clone()));
                let last = wait.last_purchase_on.or_else(|| wait.from?.pred_opt());
                let days = last.zip(wait.until);
                match (wait.what, wait.feed_id, days.map(|days| whole_month(days, month))) {
                    // A month in which nothing can have been bought: the days hold no purchase.
                    (What::Purchase, Some(id), Some(Some(of))) => {
                        let (id, of) = (id.to_string(), of.to_string());
                        let asked = query(&[("feed", &id), ("month", &of), ("back", back)]);
                        let address = nothing_bought::address(&farm.to_string());
                        put(format!("{address}?{asked}"), page.with("wait-none", "feed", feed));
                    }
                    (What::Purchase, Some(_), _) => {
                        put(new("feed-counts"), page.with("wait-left", "feed", feed));
                    }
                    _ => {}
                }
            }
            (What::HeadCount, _) => put(format!("/farms/{farm}"), page.say("wait-count")),
            (What::Baseline, _) => put(new("baseline-rations"), page.say("wait-ration")),
            _ => put(format!("/farms/{farm}/book"), page.say("book-link")),
        }
    }
    links.into_iter().map(|(href, text)| Link::to(href, text)).collect()
}

/// The link to put a purchase right.
fn right(page: &Page, wait: &Wait) -> String {
    let args = [
        ("feed", wait.feed.clone().unwrap_or_default().into()),
        ("date", wait.from.map(|day| page.date(day)).unwrap_or_default().into()),
    ];
    page.tell("wait-put-right", &args)
}

/// A month without a purchase, between the last one and a day: the report's, else the first.
fn whole_month((last, until): (NaiveDate, NaiveDate), report: Month) -> Option<Month> {
    let is_whole = |m: &Month| m.first_day() > last && m.last_day() <= until;
    let mut months = Month::of(last).to(Month::of(until));
    Some(report).filter(is_whole).or_else(|| months.find(is_whole))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_month_is_offered_only_where_it_lies_within_the_days() {
        let day = |text: &str| text.parse::<NaiveDate>().expect("a day");
        let month = |text: &str| Month::parse(text).expect("a month");
        let of = |from, until| whole_month((day(from), day(until)), month("2026-02"));
        assert_eq!(of("2026-01-20", "2026-03-10"), Some(month("2026-02")));
        assert_eq!(of("2026-01-31", "2026-02-28"), Some(month("2026-02")));
        assert_eq!(of("2026-02-10", "2026-04-10"), Some(month("2026-03")));
        assert_eq!(of("2026-02-10", "2026-03-20"), None);
    }
}
