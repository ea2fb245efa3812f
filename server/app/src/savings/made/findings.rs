//! What the estimate asks somebody to look at, for the review list.

use super::Made;
use super::books::{evidence, finding};
use super::eaten::FeedFinding;
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use traybook_analytics::eaten::Rule;
use traybook_domain::Kind;
use traybook_domain::field::json_decimal;
use traybook_domain::review::Finding as Found;
use traybook_domain::savings::money::mul_div;
use traybook_reports::savings::whole;
use traybook_storage::records::farm_rows::FarmRow;
use uuid::Uuid;

impl Made {
    /// Prices, kg and counts to look at, whenever they were; gaps since a day.
    pub fn findings(&self, gaps_from: NaiveDate, digits: u8) -> Vec<Found> {
        let is_shown = |f: &&FeedFinding| f.rule != Rule::Gap || f.on >= gaps_from;
        let mut all = Vec::new();
        for (farm, of) in self.farms.iter().zip(&self.uses) {
            for f in of.findings.iter().filter(is_shown) {
                all.push(self.found(farm.farm, f, digits));
            }
        }
        for panel in &self.panels.all {
            for (row, i) in panel.farms.iter().enumerate() {
                let off = panel.savings.farms.get(row).and_then(|f| f.ration_finding);
                if let (Some(off), Some(farm)) = (off, self.farms.get(*i)) {
                    all.push(ration(farm, &panel.class, off));
                }
            }
        }
        all
    }

    fn found(&self, farm: Uuid, f: &FeedFinding, digits: u8) -> Found {
        let rule = match f.rule {
            Rule::Price => "feed_price",
            Rule::Kg => "feed_kg",
            Rule::Gap => "feed_gap",
            Rule::Stock => "feed_stock",
        };
        let name = self.feed_name(f.feed);
        let key = match &f.purchase {
            Some(p) if f.rule != Rule::Stock => finding(rule, p.id),
            _ => format!("{rule} {farm} {} {}", f.feed, f.on),
        };
        let mut figures = vec![("date", json!(f.on.to_string()))];
        figures.extend(figures_of(f, digits));
        if let Some((from, until)) = f.uncounted {
            figures.push(("uncounted_from", json!(from.to_string())));
            figures.push(("uncounted_until", json!(until.to_string())));
        }
        Found {
            rule,
            farm: Some(farm),
            finding: key,
            subject: Some(name.clone()),
            evidence: f.purchase.as_ref().map_or_else(|| f.on.to_string(), evidence),
            figures,
            records: f.purchase.iter().map(|p| (Kind::FeedPurchase, p.id)).collect(),
            problem: problem(f, &name),
            fix: fix(f.rule),
            since: f.on,
            weight: weight(f),
        }
    }
}

/// A ration that differs clearly from what the farm bought before its start.
fn ration(farm: &FarmRow, class: &str, off: f64) -> Found {
    let percent = whole(off * 100.0);
    let (more, by) = (if percent > 0 { "more" } else { "less" }, percent.abs());
    Found {
        rule: "ration_not_bought",
        farm: Some(farm.farm),
        finding: format!("ration_not_bought {} {class}", farm.farm),
        subject: Some(class.to_owned()),
        evidence: format!("{percent} %"),
        figures: vec![("percent", json!(percent))],
        records: Vec::new(),
        problem: format!("the ration stated for {class} is {by} % {more} than what was bought"),
        fix: "correct the ration or the purchases before the start; if own crops were fed, accept it and say so",
        since: farm.started_on.unwrap_or(farm.joined.0),
        weight: off.abs(),
    }
}

/// How far off it is: the logarithm of what was found over what is usual; 0 where nothing says it.
fn weight(f: &FeedFinding) -> f64 {
    let usual = f.lot.and_then(|lot| Some((lot, lot.usual?)));
    let price = f.purchase.map(|p| p.minor as f64 / (p.grams as f64 / 1000.0));
    let pair = match f.rule {
        Rule::Price => price.zip(f.median),
        Rule::Kg => usual.map(|(lot, usual)| (lot.rate, usual.1)),
        Rule::Gap => usual.map(|(lot, usual)| (lot.days, usual.0)),
        Rule::Stock => f.left.zip(f.most),
    };
    let far = pair.map(|(found, usual)| (found / usual).ln().abs());
    far.filter(|far| far.is_finite()).unwrap_or(0.0)
}

fn kg(grams: i64) -> Json {
    json_decimal(grams, 3)
}

fn figures_of(f: &FeedFinding, digits: u8) -> Vec<(&'static str, Json)> {
    let grams = f.purchase.map(|p| p.grams);
    let mut figures = Vec::new();
    match f.rule {
        Rule::Price => {
            figures.extend(grams.map(|g| ("kg", kg(g))));
            let p = f.purchase.filter(|p| p.grams > 0 && p.minor > 0);
            let price = p.and_then(|p| mul_div(p.minor, 1_000, p.grams));
            figures.extend(price.map(|minor| ("per_kg", json_decimal(minor, digits))));
            let median = f.median.map(whole);
            figures.extend(median.map(|minor| ("median_per_kg", json_decimal(minor, digits))));
        }
        Rule::Kg => {
            figures.extend(grams.map(|g| ("kg", kg(g))));
            if let Some((lot, usual)) = f.lot.and_then(|l| Some((l, l.usual?))) {
                figures.push(("kg_per_animal_day", kg(whole(lot.rate * 1000.0))));
                figures.push(("usual_kg_per_animal_day", kg(whole(usual.1 * 1000.0))));
            }
        }
        Rule::Gap => {
            if let Some((lot, usual)) = f.lot.and_then(|l| Some((l, l.usual?))) {
                figures.push(("days", json!(whole(lot.days))));
                figures.push(("usual_days", json!(whole(usual.0))));
            }
        }
        Rule::Stock => {
            figures.extend(f.left.map(|left| ("left_kg", kg(whole(left * 1000.0)))));
            figures.extend(f.most.map(|most| ("kg", kg(whole(most * 1000.0)))));
        }
    }
    figures
}

fn problem(f: &FeedFinding, feed: &str) -> String {
    match f.rule {
        Rule::Price => format!("the price of {feed} bought on {} is far from the others'", f.on),
        Rule::Kg => format!("the kg of {feed} bought on {} are far from the farm's others", f.on),
        Rule::Gap => {
            format!("{feed} bought on {} lasted longer than usual: one is not written down", f.on)
        }
        Rule::Stock => format!("more {feed} was left on {} than was bought last", f.on),
    }
}

const fn fix(rule: Rule) -> &'static str {
    match rule {
        Rule::Price => "correct the kg or what was paid for it, or say why the price was so",
        Rule::Kg => "correct the kg or the day, or say why so much or so little was eaten",
        Rule::Gap => {
            "add the purchase that is missing, or what was left in store; say so if nothing was bought"
        }
        Rule::Stock => "correct the feed left in store, or add the purchase that is missing",
    }
}
