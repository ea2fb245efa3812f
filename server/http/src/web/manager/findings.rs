//! A finding of the review list in the reader's language: sentences made anew of its rule, figures
//! and records. The interface has those of the domain.

use crate::web::page::{NONE, Page, shown};
use chrono::{Days, NaiveDate};
use traybook_answers::review::{Finding, ReviewRule};
use traybook_domain::Kind;
use traybook_domain::review::batches::MIDDLE;
use traybook_speech::Arg;

type Args = Vec<(&'static str, Arg)>;

pub(super) fn problem(page: &Page, finding: &Finding) -> String {
    let rule = finding.rule;
    let mut args = match rule {
        ReviewRule::SilentFarm
        | ReviewRule::RepeatedValues
        | ReviewRule::RoundedValues
        | ReviewRule::OutputJump => of_records(page, finding, rule),
        ReviewRule::FeedPrice
        | ReviewRule::FeedKg
        | ReviewRule::FeedGap
        | ReviewRule::FeedStock => of_feed(page, finding, rule),
        ReviewRule::PriceOutlier
        | ReviewRule::AmountOutlier
        | ReviewRule::RationTooMuch
        | ReviewRule::RationCost
        | ReviewRule::UnitSlip
        | ReviewRule::LevelShift
        | ReviewRule::HerdImplied
        | ReviewRule::CheckLevel
        | ReviewRule::GuideDryMatter => of_ratio(page, finding),
        _ => of_counts(page, finding, rule),
    };
    let what = match (&finding.subject, rule) {
        (
            code,
            ReviewRule::HeadJump
            | ReviewRule::SilentFarm
            | ReviewRule::FarmStockBelowZero
            | ReviewRule::StoreStockBelowZero
            | ReviewRule::FeedPrice
            | ReviewRule::FeedKg
            | ReviewRule::FeedGap
            | ReviewRule::FeedStock
            | ReviewRule::PriceOutlier
            | ReviewRule::AmountOutlier
            | ReviewRule::RationTooMuch
            | ReviewRule::RationCost
            | ReviewRule::TextsUndone,
        ) => code.clone().unwrap_or_else(|| NONE.to_owned()),
        (Some(class), ReviewRule::RationNotBought) => page.word("class", class),
        (None, _) => page.say("finding-batch-unnamed"),
        (Some(code), _) => page.with("finding-batch", "code", code.as_str()),
    };
    args.push(("what", what.into()));
    let problem = page.tell(&format!("problem-{}{}", rule.text(), variant(finding, rule)), &args);
    let problem = match finding.word("unit") {
        "" => problem,
        unit => format!("{problem} {}", page.say(unit_key(unit))),
    };
    match finding.day("uncounted_from").zip(finding.day("uncounted_until")) {
        Some((from, until)) => {
            let days = [("from", page.date(from).into()), ("until", page.date(until).into())];
            format!("{problem} {}", page.tell("finding-uncounted", &days))
        }
        None => problem,
    }
}

/// The cases of a rule on a farm in a quarter, where there are several.
pub(super) fn cases(page: &Page, finding: &Finding) -> Option<String> {
    let args = [
        ("cases", Arg::Count(finding.cases)),
        ("first", page.date(finding.first_on).into()),
        ("last", page.date(finding.last_on).into()),
    ];
    let key =
        if finding.first_on == finding.last_on { "finding-cases-day" } else { "finding-cases" };
    (finding.cases > 1).then(|| page.tell(key, &args))
}

/// The figures that leave it out, and those that count it as it stands.
pub(super) fn bearing(page: &Page, finding: &Finding) -> Option<String> {
    let of = |is_held: bool| -> Vec<String> {
        let those = finding.bears_on.iter().filter(|b| b.is_held_back == is_held);
        those.map(|b| page.word("bears-on", b.figure.text())).collect()
    };
    let say = |key: &str, of: Vec<String>| {
        (!of.is_empty()).then(|| page.with(key, "figures", of.join(", ")))
    };
    let both = [say("finding-holds-back", of(true)), say("finding-counts-in", of(false))];
    let said: Vec<String> = both.into_iter().flatten().collect();
    (!said.is_empty()).then(|| said.join(" "))
}

/// The likely slip, by the unit that would explain it.
fn unit_key(unit: &str) -> &'static str {
    match unit {
        "x30" | "d30" => "unit-slip-trays",
        "x50" | "d50" => "unit-slip-bags",
        "x1000" | "d1000" => "unit-slip-grams",
        _ => "unit-slip-digit",
    }
}

/// What most likely puts it right.
pub(super) fn fix(page: &Page, finding: &Finding) -> String {
    page.word("fix", finding.rule.text())
}

fn number(finding: &Finding, name: &str, digits: usize) -> String {
    shown(&finding.amount(name), digits)
}

fn day_of(page: &Page, finding: &Finding, name: &str) -> String {
    finding.day(name).map_or_else(|| NONE.to_owned(), |day| page.date(day))
}

/// Figures of a batch, a shed, a herd, a place of seed.
fn of_counts(page: &Page, finding: &Finding, rule: ReviewRule) -> Args {
    let whole = |name: &str| finding.count(name);
    let count = |name: &str| Arg::Count(whole(name));
    let kg = |name: &str| Arg::Text(number(finding, name, 3));
    let day = |name: &str| Arg::Text(day_of(page, finding, name));
    match rule {
        ReviewRule::MoreTraysOutThanSpread => {
            let out = whole("trays_harvested") + whole("trays_discarded");
            vec![("out", Arg::Count(out)), ("spread", count("trays_spread"))]
        }
        ReviewRule::MoreFedThanHarvested => {
            vec![("fed", kg("fed_kg")), ("harvested", kg("harvested_kg"))]
        }
        ReviewRule::YieldImpossible => {
            vec![("harvested", kg("harvested_kg")), ("seed", kg("seed_kg"))]
        }
        ReviewRule::YieldUnlikely => vec![("yield", kg("fresh_kg_per_kg_seed"))],
        ReviewRule::EventsOutOfOrder => {
            let step = |name: &str| Arg::Text(page.word("step", finding.word(name)));
            vec![("event", step("event")), ("before", step("must_follow"))]
        }
        ReviewRule::FedOverAge => vec![("due", day("due_on")), ("fed", day("last_fed_on"))],
        ReviewRule::FedWithMould => {
            vec![("seen", day("mould_seen_on")), ("fed", day("last_fed_on"))]
        }
        ReviewRule::ThrownWithoutWeight => vec![("kg", kg("thrown_kg"))],
        ReviewRule::HeldLotSoaked => vec![("held", day("held_from")), ("soaked", day("soaked_on"))],
        ReviewRule::ShedOverFull => {
            vec![("day", day("day")), ("trays", count("trays")), ("places", count("tray_places"))]
        }
        ReviewRule::RationNotBought => {
            vec![("percent", number(finding, "percent", 0).trim_start_matches('−').into())]
        }
        ReviewRule::TextsUndone => vec![("texts", count("texts")), ("day", day("day"))],
        ReviewRule::TextAgainstVisit => vec![
            ("visit", day("visit_on")),
            ("text", day("text_on")),
            ("wrote", kg("text_kg")),
            ("weighed", kg("visit_kg")),
        ],
        ReviewRule::HeadJump => vec![
            ("counted", count("counted")),
            ("expected", count("expected")),
            ("date", page.date(finding.since).into()),
        ],
        _ => vec![("kg", kg("lowest_kg")), ("date", day("lowest_on"))],
    }
}

/// Figures of a farm's milk, eggs or silence.
fn of_records(page: &Page, finding: &Finding, rule: ReviewRule) -> Args {
    let count = |name: &str| Arg::Count(finding.count(name));
    match rule {
        ReviewRule::SilentFarm => {
            let last = last_day(finding).map_or_else(|| NONE.to_owned(), |day| page.date(day));
            vec![("days", count("days")), ("last", last.into())]
        }
        ReviewRule::RepeatedValues => vec![
            ("amount", amount(page, finding, "amount").into()),
            ("records", count("records")),
            ("odds", number(finding, "one_in", 0).into()),
        ],
        ReviewRule::RoundedValues => {
            vec![("records", count("records")), ("step", amount(page, finding, "step").into())]
        }
        _ => vec![
            ("each", number(finding, "per_animal", 2).into()),
            ("around", number(finding, "median_around", 2).into()),
            ("date", day_of(page, finding, "date").into()),
        ],
    }
}

/// Figures of something that is so many times what is usual.
fn of_ratio(page: &Page, finding: &Finding) -> Args {
    let amount = |name: &str, digits: usize| Arg::Text(number(finding, name, digits));
    vec![
        ("date", page.date(finding.since).into()),
        ("ratio", amount("ratio", 2)),
        ("kg", amount("kg", 3)),
        ("dry", amount("dry_matter_kg", 2)),
        ("price", amount("per_kg", 2)),
        ("currency", page.currency.as_str().into()),
        ("each", amount("per_animal", 2)),
        ("animals", Arg::Count(finding.count("animals"))),
        ("fit", Arg::Count(finding.count("animals_that_fit"))),
        ("percent", amount("percent", 0)),
    ]
}

/// Figures of a purchase of feed, or of what was left of it; the subject is the feed.
fn of_feed(page: &Page, finding: &Finding, rule: ReviewRule) -> Args {
    let count = |name: &str| Arg::Count(finding.count(name));
    let amount = |name: &str, digits: usize| Arg::Text(number(finding, name, digits));
    let mut args = vec![("date", day_of(page, finding, "date").into())];
    args.extend(match rule {
        ReviewRule::FeedPrice => vec![
            ("kg", amount("kg", 3)),
            ("price", amount("per_kg", 2)),
            ("median", amount("median_per_kg", 2)),
            ("currency", page.currency.as_str().into()),
        ],
        ReviewRule::FeedKg => vec![
            ("kg", amount("kg", 3)),
            ("rate", amount("kg_per_animal_day", 2)),
            ("usual", amount("usual_kg_per_animal_day", 2)),
        ],
        ReviewRule::FeedGap => vec![("days", count("days")), ("usual", count("usual_days"))],
        _ => vec![("left", amount("left_kg", 3)), ("kg", amount("kg", 3))],
    });
    args
}

/// Which of a rule's sentences, where it has several.
fn variant(finding: &Finding, rule: ReviewRule) -> &'static str {
    match rule {
        ReviewRule::YieldUnlikely => {
            let is_low = finding.amount("fresh_kg_per_kg_seed").is_some_and(|kg| kg < MIDDLE);
            if is_low { "-little" } else { "-much" }
        }
        ReviewRule::EventsOutOfOrder if !finding.figures.contains_key("follows_on") => "-missing",
        ReviewRule::EventsOutOfOrder => "-order",
        ReviewRule::SilentFarm => {
            let recorded = finding.day("last_record_on");
            if recorded.is_some() && recorded == last_day(finding) { "-last" } else { "-none" }
        }
        ReviewRule::OutputJump | ReviewRule::UnitSlip if is_eggs(finding) => "-eggs",
        ReviewRule::UnitSlip => "-milk",
        ReviewRule::OutputJump => "-milk",
        ReviewRule::RationNotBought if finding.count("percent") > 0 => "-more",
        ReviewRule::RationNotBought => "-less",
        ReviewRule::FeedPrice if finding.figures.contains_key("per_kg") => "-far",
        ReviewRule::FeedPrice => "-none",
        ReviewRule::TextAgainstVisit => match finding.word("case") {
            "thrown" => "-thrown",
            "whole" => "-whole",
            _ => "-tray",
        },
        _ => "",
    }
}

/// The day from which a farm's silence counts: it is listed so many days later.
fn last_day(finding: &Finding) -> Option<NaiveDate> {
    let days = finding.figures.contains_key("silent_days").then(|| finding.count("silent_days"))?;
    finding.since.checked_sub_days(Days::new(u64::try_from(days).ok()?))
}

/// Whether the case that is described is of eggs: its records come first, then those of others of
/// the quarter, which may be of milk.
fn is_eggs(finding: &Finding) -> bool {
    let (milk, eggs) = (Kind::MilkRecord.spec().one, Kind::EggRecord.spec().one);
    let mut kinds = finding.records.iter().map(|r| r.kind.as_str());
    kinds.find(|kind| *kind == milk || *kind == eggs) == Some(eggs)
}

/// Litres or eggs, of a figure that has its unit in English.
fn amount(page: &Page, finding: &Finding, name: &str) -> String {
    let number = finding.word(name).split(' ').next().unwrap_or_default();
    let arg = number.parse::<i64>().map_or_else(|_| Arg::from(number), Arg::Count);
    let key = if is_eggs(finding) { "finding-eggs" } else { "finding-litres" };
    page.tell(key, &[("amount", arg)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;
    use traybook_domain::kinds::REVIEW_RULES;
    use traybook_speech::Language;

    /// What the page of a language says of a finding about mash.
    fn said(language: Language, rule: &str, figures: serde_json::Value) -> String {
        let page = Page {
            language,
            role: None,
            person: String::new(),
            csrf: String::new(),
            here: String::new(),
            now: 0,
            epoch: String::new(),
            currency: "TZS".to_owned(),
            zone: None,
            notice: None,
        };
        let finding = json!({
            "rule": rule, "farm_id": null, "farm": null, "member_name": null, "finding": rule,
            "subject": "Layer mash", "evidence": "", "figures": figures, "records": [],
            "problem": "", "fix": "", "since": "2026-10-05", "cases": 1, "others": [], "first_on": "2026-10-05",
            "last_on": "2026-10-05", "bears_on": [], "acceptance_id": null,
            "accepted_on": null, "accepted_because": null,
        });
        problem(&page, &serde_json::from_value(finding).expect("a finding"))
    }

    #[test]
    fn findings_about_feed_say_their_figures() {
        let day = "2026-10-05";
        let cases = [
            (
                "feed_price",
                json!({ "date": day, "kg": 70, "per_kg": 9_500, "median_per_kg": 950.5 }),
                "Layer mash: the 70 kg bought on 5 October 2026 cost 9500 TZS a kg, where the \
                 co-operative’s median is 950.5 TZS.",
            ),
            (
                "feed_price",
                json!({ "date": day, "kg": 70 }),
                "Layer mash: the 70 kg bought on 5 October 2026 have no price.",
            ),
            (
                "feed_kg",
                json!({ "date": day, "kg": 700.5, "kg_per_animal_day": 1.2,
                    "usual_kg_per_animal_day": 0.12 }),
                "Layer mash: the 700.5 kg bought on 5 October 2026 would be 1.2 kg an animal and \
                 day, where this farm’s usual is 0.12 kg.",
            ),
            (
                "feed_gap",
                json!({ "date": day, "days": 61, "usual_days": 1, "uncounted_from": "2026-10-06",
                    "uncounted_until": "2026-10-20" }),
                "Layer mash: what was bought on 5 October 2026 would have lasted 61 days, where \
                 it usually lasts 1 day: a purchase after it seems not to be written down. Until \
                 this is answered, the feed eaten from 6 October 2026 to 20 October 2026 is not \
                 counted, and the figures that need these days wait.",
            ),
            (
                "price_outlier",
                json!({ "date": day, "kg": 1, "per_kg": 4_500, "ratio": 50.12, "unit": "x50" }),
                "Layer mash: the 1 kg bought on 5 October 2026 cost 4500 TZS a kg, 50.12 times \
                 what other farms paid. Bags instead of kg, or the other way round?",
            ),
            (
                "check_level",
                json!({ "ratio": 0.49, "month": "2026-10" }),
                "From 5 October 2026 on milk or eggs are 0.49 times what they were before, and \
                 stay so.",
            ),
            (
                "feed_stock",
                json!({ "date": day, "left_kg": 80, "kg": 70 }),
                "Layer mash: 80 kg were left on 5 October 2026, but by the records there were at \
                 most 70 kg.",
            ),
        ];
        for (rule, figures, english) in cases {
            assert_eq!(said(Language::En, rule, figures.clone()), english);
            let other = said(Language::Sw, rule, figures);
            assert!(!other.contains("{$") && !other.contains('['), "{other}");
            assert!(!other.contains(NONE) && other.contains("Oktoba 2026"), "{other}");
        }
    }

    #[test]
    fn every_rule_has_its_sentences() {
        for language in Language::ALL.iter().copied() {
            for rule in REVIEW_RULES {
                let variants: &[&str] = match *rule {
                    "yield_unlikely" => &["-little", "-much"],
                    "events_out_of_order" => &["-missing", "-order"],
                    "silent_farm" => &["-last", "-none"],
                    "output_jump" | "unit_slip" => &["-eggs", "-milk"],
                    "feed_price" => &["-far", "-none"],
                    "ration_not_bought" => &["-more", "-less"],
                    "text_against_visit" => &["-thrown", "-tray", "-whole"],
                    _ => &[""],
                };
                let problems = variants.iter().map(|v| format!("problem-{rule}{v}"));
                for key in problems.chain([format!("fix-{rule}"), format!("rule-{rule}")]) {
                    assert!(language.known(&key, &[]).is_some(), "{key} is missing");
                }
            }
        }
    }

    /// String literals of a source in which a word follows a word.
    fn sentences(source: &str) -> Vec<String> {
        let source = source.split("#[cfg(test)]").next().unwrap_or_default();
        let code = source.lines().filter(|l| !l.trim_start().starts_with("//"));
        let text: String = code.collect::<Vec<_>>().join("\n");
        let literals = text.split('"').skip(1).step_by(2);
        let words = |t: &str| {
            let plain: String =
                t.split('{').map(|part| part.split_once('}').map_or(part, |p| p.1)).collect();
            plain.split_whitespace().filter(|w| w.chars().any(char::is_alphabetic)).count()
        };
        literals.filter(|t| words(t) > 1).map(str::to_owned).collect()
    }

    #[test]
    fn the_review_pages_say_nothing_by_themselves() {
        for source in [include_str!("findings.rs"), include_str!("review.rs")] {
            assert_eq!(sentences(source), Vec::<String>::new(), "hard-coded");
        }
        assert_eq!(sentences("say(\"{n} trays stood\")").len(), 1, "it would be found");
    }
}
