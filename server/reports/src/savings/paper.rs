//! The paper for a meeting, at most four pages: what the month was, and what to decide.

use super::board::percent;
use super::publish::CAUTION;
use super::wording::{amount_or, between, money, own, sentence, verdict};
use crate::charts::number;
use crate::pdf::{About, Align, Paper, Row, Table};
use chrono::{Datelike as _, NaiveDate};
use traybook_answers::savings::Interval;
use traybook_answers::savings::board::{
    BoardArea, BoardDecision, BoardPaper, BoardPeriod, BoardQuestion, BoardSpan, BoardSpoiling,
};
use traybook_answers::{Decimal, wire};
use traybook_domain::limits::OWED_DAYS;
use traybook_domain::value::real;
use traybook_speech::Language;

/// Areas in the table: with all lists the paper stays within four pages.
const AREAS_MAX: usize = 10;
/// Letters of what was found at a farm: two lines of its cell.
const FINDING_MAX: usize = 80;
/// Lines on which the meeting writes what it decided beside the questions.
const FREE_LINES: usize = 3;
/// Height of the signatures with their heading, points.
const SIGNATURES: f64 = 130.0;
/// Room for what is written by hand, points.
const ROOM: f64 = 16.0;

/// The paper as PDF; the same bytes for the same paper.
pub fn board_paper_pdf(paper: &BoardPaper, l: Language) -> Result<Vec<u8>, String> {
    let month = month_of(l, paper.month);
    let heading = if paper.is_anonymous { "paper-heading-all" } else { "paper-heading" };
    let title = [
        ("cooperative", paper.cooperative.clone().into()),
        ("heading", l.with(heading, "month", month).into()),
    ];
    let mut out = Paper::new(About {
        title: l.say("paper-title", &title),
        author: paper.cooperative.clone(),
        language: l.tag().to_owned(),
        day: paper.day,
        page_of: l.say("doc-page", &[("page", "{page}".into()), ("pages", "{pages}".into())]),
    })?;
    let words = Words { paper, l };
    out.heading(1, &l.with(heading, "month", month_of(l, paper.month)));
    words.months(&mut out);
    words.areas(&mut out);
    words.feeds(&mut out);
    words.seed(&mut out);
    words.spoiling(&mut out);
    words.missing(&mut out);
    words.decisions(&mut out);
    words.signatures(&mut out);
    out.finish()
}

/// The questions of the paper, in words.
#[must_use]
pub fn asked(paper: &BoardPaper, l: Language) -> Vec<String> {
    let words = Words { paper, l };
    paper.decisions.iter().map(|decision| words.asked(decision)).collect()
}

fn month_of(l: Language, month: wire::Month) -> String {
    let first = month.0.first_day();
    l.month(first.year(), first.month())
}

/// Whether zero lies outside: only then "saved" or "lost" may be said.
fn is_clear(interval: Option<Interval>) -> bool {
    interval.is_some_and(|i| !i.holds_zero())
}

struct Words<'a> {
    paper: &'a BoardPaper,
    l: Language,
}

impl Words<'_> {
    fn currency(&self, key: &str) -> String {
        self.l.with(key, "currency", self.paper.currency.as_str())
    }

    fn amount(&self, value: Decimal) -> String {
        format!("{} {}", self.paper.currency, money(value.real()))
    }

    fn count(&self, key: &str, count: usize) -> String {
        self.l.with(key, "count", i64::try_from(count).unwrap_or(i64::MAX))
    }

    /// The sentence of the month, and the table of three columns.
    fn months(&self, out: &mut Paper) {
        let (p, l) = (self.paper, self.l);
        let state = l.text(if p.is_closed { "doc-closed" } else { "doc-open" });
        let args = [("cooperative", p.cooperative.clone().into()), ("state", state.into())];
        out.paragraph(&l.say("doc-state", &args));
        if let Some(month) = p.periods.iter().find(|c| c.span == BoardSpan::Month) {
            out.strong(&self.said(month));
        }
        if let Some(since) = p.since_start {
            let range = between(l, since.saving_interval).unwrap_or_default();
            let args = [("amount", self.amount(since.saving).into()), ("range", range.into())];
            let key = match (since.saving_interval, is_clear(since.saving_interval)) {
                (None, _) => "paper-since-none",
                (Some(_), true) => "paper-since",
                (Some(_), false) => "paper-since-open",
            };
            out.paragraph(&l.say(key, &args));
        }
        out.heading(2, &l.text("paper-months"));
        let names: Vec<String> = p.periods.iter().map(|c| self.span(c)).collect();
        let mut columns = vec![("", 218.0, Align::Left)];
        columns.extend(names.iter().map(|name| (name.as_str(), 97.0, Align::Right)));
        let mut table = Table::new(&columns);
        for (name, of) in self.facts() {
            let cells = p.periods.iter().map(|c| of(self, c));
            table.rows.push(Row::of(std::iter::once(name).chain(cells)));
        }
        out.table(&table);
        out.aside(&l.text("paper-months-about"));
    }

    /// What a month was, with its interval.
    fn said(&self, c: &BoardPeriod) -> String {
        let l = self.l;
        if self.paper.is_running {
            return l.text("doc-running");
        }
        let Some(saving) = c.money.saving else { return l.text("doc-nobody") };
        let key = match (c.money.saving_interval, is_clear(c.money.saving_interval)) {
            (None, _) => "paper-no-interval",
            (Some(_), false) => "paper-open",
            (Some(_), true) if saving.is_negative() => "paper-lost",
            (Some(_), true) => "paper-saved",
        };
        let farms = l.with("doc-farms", "count", c.farms_included);
        let range = between(l, c.money.saving_interval).unwrap_or_default();
        let amount = format!("{} {}", self.paper.currency, money(saving.real().abs()));
        l.say(key, &[("farms", farms.into()), ("amount", amount.into()), ("range", range.into())])
    }

    fn span(&self, c: &BoardPeriod) -> String {
        match c.span {
            BoardSpan::Month | BoardSpan::Before => month_of(self.l, c.from),
            BoardSpan::Year => {
                let (from, to) = (month_of(self.l, c.from), month_of(self.l, c.to));
                self.l.say("doc-span", &[("from", from.into()), ("to", to.into())])
            }
        }
    }

    /// Names of the rows, and what stands in their cells.
    #[expect(clippy::type_complexity, reason = "a name and how its cell is made")]
    fn facts(&self) -> Vec<(String, fn(&Self, &BoardPeriod) -> String)> {
        let (l, c) = (self.l, |key: &str| self.currency(key));
        let mut facts: Vec<(String, fn(&Self, &BoardPeriod) -> String)> = vec![
            (c("doc-fact-baseline"), |_, p| amount_or(p.money.baseline_cost)),
            (c("doc-fact-eaten"), |_, p| amount_or(p.money.eaten_cost)),
            (c("doc-fact-feed-saving"), |_, p| amount_or(p.money.feed_saving)),
            (c("paper-seed-cost"), |_, p| amount_or(p.money.seed_cost)),
            (c("paper-other-cost"), |_, p| amount_or(p.money.other_cost)),
            (c("paper-depreciation"), |_, p| amount_or(p.money.depreciation)),
            (c("doc-fact-saving"), |_, p| amount_or(p.money.saving)),
            (l.text("doc-fact-since-range"), |w, p| {
                between(w.l, p.money.saving_interval).unwrap_or_else(|| amount_or(None))
            }),
            (l.text("paper-means"), |w, p| verdict(w.l, &p.money)),
        ];
        if self.paper.periods.iter().any(|p| p.money.net.is_some()) {
            facts.push((c("doc-fact-net"), |_, p| amount_or(p.money.net)));
            facts.push((l.text("doc-fact-since-range"), |w, p| {
                between(w.l, p.money.net_interval).unwrap_or_else(|| amount_or(None))
            }));
        }
        facts.extend::<[(String, fn(&Self, &BoardPeriod) -> String); 5]>([
            (l.text("paper-farms"), |_, p| whole(p.farms_included)),
            (l.text("paper-farms-each"), |_, p| {
                [p.farms_saving, p.farms_losing, p.farms_unclear].map(whole).join(" / ")
            }),
            (l.text("paper-fodder"), |_, p| amount_or(p.fresh_fodder_fed_kg)),
            (l.text("doc-fact-trays"), |_, p| {
                p.trays_started.map_or_else(|| amount_or(None), whole)
            }),
            (l.text("doc-fact-lost"), |w, p| {
                let Some(lost) = p.trays_discarded else { return amount_or(None) };
                let share = percent(p.trays_discarded_percent);
                let args = [("trays", whole(lost).into()), ("percent", share.into())];
                w.l.say("doc-fact-lost-share", &args)
            }),
        ]);
        facts
    }

    fn areas(&self, out: &mut Paper) {
        let (l, areas) = (self.l, &self.paper.areas);
        if areas.is_empty() {
            return;
        }
        out.heading(2, &l.text("paper-areas"));
        let names = [
            ("sheet-area", 130.0, Align::Left),
            ("paper-area-farms", 80.0, Align::Right),
            ("doc-column-saving", 90.0, Align::Right),
            ("paper-range", 140.0, Align::Right),
            ("doc-column-lost", 70.0, Align::Right),
        ];
        let mut table = self.table(&names);
        let row = |a: &BoardArea| {
            let farms = [a.farms_included, a.farms_included + a.farms_left_out].map(whole);
            let args = [("months", farms[0].clone().into()), ("of", farms[1].clone().into())];
            Row::of([
                a.name.clone(),
                l.say("doc-x-of-y", &args),
                amount_or(a.saving),
                between(l, a.saving_interval.filter(|_| a.saving.is_some()))
                    .unwrap_or_else(|| amount_or(None)),
                percent(a.trays_discarded_percent),
            ])
        };
        table.rows.extend(areas.iter().take(AREAS_MAX).map(row));
        out.table(&table);
        if areas.len() > AREAS_MAX {
            out.aside(&self.count("paper-areas-more", areas.len() - AREAS_MAX));
        }
    }

    /// A table with headings of the texts.
    fn table(&self, columns: &[(&str, f64, Align)]) -> Table {
        let names: Vec<(String, f64, Align)> =
            columns.iter().map(|(key, width, side)| (self.l.text(key), *width, *side)).collect();
        let names: Vec<(&str, f64, Align)> =
            names.iter().map(|(name, width, side)| (name.as_str(), *width, *side)).collect();
        Table::new(&names)
    }

    fn feeds(&self, out: &mut Paper) {
        let (p, l) = (self.paper, self.l);
        out.heading(2, &l.text("paper-feeds"));
        let per_kg = |value: f64| format!("{} {}", p.currency, number(value, 0));
        match p.fodder_cost_per_kg_dry_matter {
            Some(cost) => {
                let args = [
                    ("amount", per_kg(cost.real()).into()),
                    ("farms", l.with("doc-farms", "count", p.fodder_farms).into()),
                ];
                out.paragraph(&l.say("paper-fodder-costs", &args));
            }
            None => out.paragraph(&l.text("paper-fodder-unknown")),
        }
        if p.feeds.is_empty() {
            out.paragraph(&l.text("paper-feeds-none"));
            return;
        }
        let mut table = self.table(&[
            ("paper-feed", 150.0, Align::Left),
            ("paper-feed-cost", 130.0, Align::Right),
            ("paper-feed-beside", 130.0, Align::Right),
            ("paper-feed-month", 100.0, Align::Left),
        ]);
        for feed in &p.feeds {
            let beside = p.fodder_cost_per_kg_dry_matter.map(|own| {
                let percent = 100.0 * (own.real() / feed.cost_per_kg_dry_matter - 1.0);
                let key = if percent > 0.0 { "paper-dearer" } else { "paper-cheaper" };
                l.with(key, "percent", number(percent.abs(), 0))
            });
            table.rows.push(Row::of([
                feed.feed.clone(),
                per_kg(feed.cost_per_kg_dry_matter),
                beside.unwrap_or_else(|| amount_or(None)),
                feed.price_month.map_or_else(|| amount_or(None), |m| month_of(l, m)),
            ]));
        }
        out.table(&table);
        out.aside(&l.text("paper-feeds-about"));
    }

    fn seed(&self, out: &mut Paper) {
        let (p, l) = (self.paper, self.l);
        let seed = &p.seed;
        out.heading(2, &l.text("paper-seed"));
        let day = p.day.to_string();
        let args = [
            ("day", day.into()),
            ("amount", self.amount(seed.owed).into()),
            ("members", i64::try_from(seed.members).unwrap_or(i64::MAX).into()),
        ];
        out.paragraph(&l.say("paper-seed-owed", &args));
        let mut table = Table::new(&[("", 290.0, Align::Left), ("", 150.0, Align::Right)]);
        let over = [seed.owed_over_30_days, seed.owed_over_90_days];
        for (days, value) in OWED_DAYS.iter().zip(over) {
            let name = l.with("paper-seed-over", "days", days.to_string());
            table.rows.push(Row::of([name, self.amount(value)]));
        }
        let check_off = self.amount(seed.paid_by_check_off);
        table.rows.push(Row::of([l.text("paper-seed-check-off"), check_off]));
        table.rows.push(Row::of([l.text("paper-seed-paid"), self.amount(seed.paid_otherwise)]));
        if let Some(limit) = seed.credit_limit {
            table.rows.push(Row::of([l.text("paper-seed-limit"), self.amount(limit)]));
            let over = number(real(i64::try_from(seed.over_limit).unwrap_or(i64::MAX)), 0);
            table.rows.push(Row::of([l.text("paper-seed-over-limit"), over]));
        }
        out.table(&table);
        if seed.most.is_empty() {
            return;
        }
        let days = OWED_DAYS.last().map(u64::to_string).unwrap_or_default();
        let (number, member) = (l.text("doc-column-number"), l.text("doc-column-member"));
        let (owes, old) = (l.text("paper-seed-balance"), l.with("paper-seed-old", "days", days));
        let mut table = Table::new(&[
            (&number, 70.0, Align::Left),
            (&member, 170.0, Align::Left),
            (&owes, 100.0, Align::Right),
            (&old, 120.0, Align::Right),
        ]);
        for debt in &seed.most {
            table.rows.push(Row::of([
                debt.member_number.clone(),
                debt.member_name.clone(),
                amount_or(Some(debt.balance)),
                amount_or(Some(debt.owed_over_90_days)),
            ]));
        }
        out.table(&table);
    }

    fn spoiling(&self, out: &mut Paper) {
        let (p, l) = (self.paper, self.l);
        out.heading(2, &l.text("paper-spoiling"));
        out.paragraph(&self.count("paper-spoiling-count", p.spoiling_count));
        if p.spoiling.is_empty() {
            return;
        }
        let mut table = self.table(&[
            (if p.is_anonymous { "sheet-area" } else { "doc-farm" }, 130.0, Align::Left),
            ("paper-spoiling-since", 68.0, Align::Left),
            ("paper-spoiling-points", 92.0, Align::Left),
            ("paper-spoiling-done", 220.0, Align::Left),
        ]);
        let none = || l.text("doc-no-area");
        for farm in &p.spoiling {
            let area = farm.area.clone().unwrap_or_else(none);
            let name = match (&farm.farm, &farm.member_name) {
                (Some(code), Some(name)) => format!("{code} · {name}"),
                _ => area,
            };
            table.rows.push(Row::of([
                name,
                farm.raised_on.to_string(),
                l.text(&format!("paper-points-{}", farm.points_at)),
                self.done(farm),
            ]));
        }
        out.table(&table);
        if p.spoiling_count > p.spoiling.len() {
            out.aside(&self.count("paper-spoiling-more", p.spoiling_count - p.spoiling.len()));
        }
        out.paragraph(&own(l, CAUTION, CAUTION, "doc-caution"));
    }

    /// What was done at a farm that keeps spoiling.
    fn done(&self, farm: &BoardSpoiling) -> String {
        let l = self.l;
        let day = |key: &str, day: NaiveDate| l.with(key, "day", day.to_string());
        let mut all = vec![match farm.seen_on {
            Some(seen) => day("paper-seen", seen),
            None => l.text("paper-not-seen"),
        }];
        if let Some(cause) = &farm.cause {
            let cause = l.text(&format!("paper-cause-{cause}"));
            all.push(l.with("paper-cause", "cause", cause));
        }
        if let Some(finding) = &farm.finding {
            let cut: String = finding.chars().take(FINDING_MAX).collect();
            let rest = if cut.len() < finding.len() { "…" } else { "" };
            all.push(format!("{}{rest}", sentence(&cut)));
        }
        if let Some(cleared) = farm.cleared_on {
            all.push(day("paper-cleared", cleared));
        }
        all.join(" ")
    }

    fn missing(&self, out: &mut Paper) {
        let (p, l) = (self.paper, self.l);
        out.heading(2, &l.text("paper-missing"));
        out.paragraph(&self.count("paper-missing-waiting", p.waiting));
        if !p.missing.is_empty() {
            let mut table = Table::new(&[("", 290.0, Align::Left), ("", 150.0, Align::Right)]);
            for (status, farms) in &p.missing {
                let name = l.text(&format!("doc-left-out-{}", status.text()));
                table.rows.push(Row::of([name, whole(*farms)]));
            }
            out.table(&table);
        }
        out.paragraph(&self.count("paper-missing-findings", p.findings));
    }

    /// The questions, each with its boxes, and room to write.
    fn decisions(&self, out: &mut Paper) {
        let l = self.l;
        out.heading(2, &l.text("paper-decisions"));
        out.paragraph(&l.text("paper-decisions-about"));
        let mut table = self.table(&[
            ("paper-question", 300.0, Align::Left),
            ("paper-answer", 105.0, Align::Left),
            ("paper-remarks", 105.0, Align::Left),
        ]);
        for decision in &self.paper.decisions {
            table.rows.push(Row::of([self.asked(decision), l.text("paper-boxes"), String::new()]));
        }
        for _ in 0..FREE_LINES {
            let row = Row::of([String::new(), l.text("paper-boxes"), String::new()]);
            table.rows.push(Row { room: ROOM, ..row });
        }
        out.table(&table);
    }

    fn asked(&self, decision: &BoardDecision) -> String {
        let key = match decision.question {
            BoardQuestion::CloseMonth => "paper-ask-close",
            BoardQuestion::Records => "paper-ask-records",
            BoardQuestion::VisitSpoiling => "paper-ask-spoiling",
            BoardQuestion::OldDebts => "paper-ask-debts",
            BoardQuestion::CreditLimit => "paper-ask-limit",
            BoardQuestion::Adjustments => "paper-ask-adjustments",
        };
        let count = decision.count.and_then(|c| i64::try_from(c).ok()).unwrap_or(0);
        let amount = decision.amount.map(|a| self.amount(a)).unwrap_or_default();
        let days = OWED_DAYS.last().map(u64::to_string).unwrap_or_default();
        self.l.say(
            key,
            &[
                ("count", count.into()),
                ("amount", amount.into()),
                ("days", days.into()),
                ("month", month_of(self.l, self.paper.month).into()),
            ],
        )
    }

    fn signatures(&self, out: &mut Paper) {
        let l = self.l;
        // Signatures are worth little on a page of their own: they stay together.
        out.need(SIGNATURES);
        out.heading(2, &l.text("paper-signatures"));
        let mut table = self.table(&[
            ("paper-office", 120.0, Align::Left),
            ("paper-name", 150.0, Align::Left),
            ("paper-signature", 150.0, Align::Left),
            ("paper-date", 90.0, Align::Left),
        ]);
        for office in ["paper-chair", "paper-secretary", "paper-treasurer"] {
            let row = Row::of([l.text(office), String::new(), String::new(), String::new()]);
            table.rows.push(Row { room: ROOM, ..row });
        }
        out.table(&table);
    }
}

fn whole(count: i64) -> String {
    number(real(count), 0)
}

#[cfg(test)]
mod tests;
