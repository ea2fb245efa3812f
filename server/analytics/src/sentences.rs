//! One plain English sentence for each answer, so that every door says the same.
//!
//! Wording only: nothing is estimated here. An interval across zero, and every lack of data,
//! begins with "cannot tell yet"; nothing is ever called "no effect". Numbers keep as many
//! decimals as it takes that none of them reads 0 without being 0. Minimum data are those of
//! the house rules ([`MemberRules::default`] and those beside each question).

use crate::lots::{LotAnswer, LotVerdict};
use crate::member_effect::{Evidence, MemberEffect, MemberRules, MemberStatus, Verdict};
use crate::programme::{Programme, programmes_disagree};
use crate::records::Output;
use crate::settled::DoseResponse;
use crate::spoilage::{
    BATCHES_MIN, FarmChart, FlagSource, QUIET_DAYS, RECENT_DAYS, RESET_DAYS, SpoilageStatus,
    TRAYS_MIN,
};
use crate::stats::{Interval, LogEstimate};

/// What a sentence about output speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Milk per cow-day.
    Milk,
    /// Eggs per hen-day.
    Eggs,
    /// Some other value of a ready panel.
    Value,
}

impl From<Output> for Measure {
    fn from(output: Output) -> Self {
        match output {
            Output::Milk => Self::Milk,
            Output::Eggs => Self::Eggs,
        }
    }
}

impl Measure {
    fn subject(self) -> &'static str {
        match self {
            Self::Milk => "Milk per cow-day",
            Self::Eggs => "Eggs per hen-day",
            Self::Value => "The value",
        }
    }

    /// Subject inside a sentence.
    fn inner(self) -> &'static str {
        match self {
            Self::Milk => "milk per cow-day",
            Self::Eggs => "eggs per hen-day",
            Self::Value => "the value",
        }
    }

    /// What the panel counts in: records are put into months, a ready panel may hold years.
    fn period(self) -> &'static str {
        if self == Self::Value { "period" } else { "month" }
    }

    fn is_plural(self) -> bool {
        self == Self::Eggs
    }

    fn is(self) -> &'static str {
        if self.is_plural() { "are" } else { "is" }
    }

    fn it(self) -> &'static str {
        if self.is_plural() { "they" } else { "it" }
    }
}

/// What is said of one member's output.
///
/// # Units
/// Per cent of what output per animal-day would have been, from the estimate that is published
/// ([`MemberEffect::published`]) with its 95 % interval.
pub fn output_change_sentence(member: &MemberEffect, measure: impl Into<Measure>) -> String {
    let (rules, measure) = (MemberRules::default(), measure.into());
    match member.status {
        MemberStatus::CheckLevel => format!(
            "held back: the level of {} jumps for good; correct the records, or accept the change \
             if it is true",
            measure.inner()
        ),
        MemberStatus::NotStarted => "not started yet: there is nothing to compare".to_owned(),
        MemberStatus::NoPreData => format!(
            "cannot tell yet: no records before the start, {} in {} {}s are needed",
            rules.records_pre_min,
            rules.months_pre_min,
            measure.period()
        ),
        MemberStatus::InsufficientPre if member.pre.months == 0 => format!(
            "cannot tell yet: none of the 12 {}s before the start has records beside those of {} \
             farms that had not started",
            measure.period(),
            rules.controls_min
        ),
        MemberStatus::InsufficientPre => {
            let (records, months) = (rules.records_pre_min, rules.months_pre_min);
            needed(member.pre, records, months, measure, "before the start")
        }
        MemberStatus::InsufficientPost => {
            let (records, months) = (rules.records_post_min, rules.months_post_min);
            let after = format!("after the {} of the start", measure.period());
            needed(member.post_any, records, months, measure, &after)
        }
        MemberStatus::NoControls => format!(
            "cannot tell yet: fewer than {} farms that had not started reported in the same {}s",
            rules.controls_min,
            measure.period()
        ),
        MemberStatus::Estimated => match member.published() {
            Some(estimate) => change(estimate, member.verdict, measure, ""),
            None => NO_NUMBER.to_owned(),
        },
    }
}

const NO_NUMBER: &str = "cannot tell yet: the records give no believable number";

fn needed(found: Evidence, records: f64, months: usize, measure: Measure, side: &str) -> String {
    if found.records < records {
        format!("cannot tell yet: {} of {records} records needed {side}", found.records)
    } else {
        let period = measure.period();
        format!("cannot tell yet: {} of {months} {period}s needed {side}", found.months)
    }
}

/// What is said of the whole programme's output; `None` when no member can be estimated.
///
/// # Units
/// As [`output_change_sentence`].
pub fn programme_sentence(programme: Option<&Programme>, measure: impl Into<Measure>) -> String {
    match programme {
        None => {
            "cannot tell yet: no farm has enough records on both sides of its start, and farms \
             that had not started beside them"
                .to_owned()
        }
        Some(p) => {
            let over = format!("Over {}, ", counted(p.farms, "farm"));
            change(&p.estimate, None, measure.into(), &over)
        }
    }
}

/// What is assumed where months are compared with those of settled farms.
pub const SETTLED_ASSUMPTION: &str = "assumed: what fodder does to a farm's output no longer changes \
     7 months after its start, so that such farms show what the months did";

/// The same sentence of a farm that is compared with settled farms: marked as the weaker answer.
pub fn by_settled(sentence: &str) -> String {
    format!(
        "{sentence} (weaker: compared with farms that started long before; {SETTLED_ASSUMPTION})"
    )
}

/// What is said of months with more fodder against months with less.
pub fn dose_sentence(answer: &DoseResponse, measure: impl Into<Measure>) -> String {
    let measure = measure.into();
    match answer {
        DoseResponse::InsufficientDoseData => "cannot tell yet: fewer than 30 months of farms in \
             which the fodder of an animal is known"
            .to_owned(),
        DoseResponse::NoDoseVariation { .. } => {
            "cannot tell: the farms feed nearly the same every month".to_owned()
        }
        DoseResponse::DoseFollowsOutput(_) => format!(
            "cannot tell: farms feed less after {} fell, so the feed follows the output",
            measure.inner()
        ),
        DoseResponse::Estimated(e) => {
            let said = change(&e.at_mean, None, measure, "");
            format!(
                "{said} (weaker: months with more fodder against months with less, over {}; right \
                 only if nobody fed less because of the output)",
                counted(e.farms, "farm")
            )
        }
    }
}

/// What is said of an estimate that stands alone, such as an average of group-time effects.
pub fn estimate_sentence(estimate: &LogEstimate, measure: impl Into<Measure>) -> String {
    change(estimate, None, measure.into(), "")
}

/// The warning beside the programme's headline when the cross-check contradicts it.
pub fn warning_sentence(headline: &LogEstimate, cross_check: &LogEstimate) -> Option<String> {
    if !programmes_disagree(headline, cross_check) {
        return None;
    }
    let (one, other) = (headline.percent()?.value, cross_check.percent()?.value);
    let decimals = decimals(&[one, other]);
    let side = |x: f64| side(x, decimals);
    Some(format!(
        "Careful: the second method says {}, the first {}: an assumption of one of them does not \
         hold, so use neither before the reason is known",
        side(other),
        side(one)
    ))
}

fn change(
    estimate: &LogEstimate,
    verdict: Option<Verdict>,
    measure: Measure,
    over: &str,
) -> String {
    let Some(percent) = estimate.percent() else { return NO_NUMBER.to_owned() };
    let Interval { lower, upper } = percent.interval;
    let decimals = decimals(&[percent.value, lower, upper]);
    let is_clear = match verdict {
        Some(verdict) => verdict != Verdict::Unclear,
        None => lower > 0.0 || upper < 0.0,
    };
    let (is, it) = (measure.is(), measure.it());
    if !is_clear {
        let place = if over.is_empty() { "" } else { over.trim_end_matches(", ") };
        let place =
            if place.is_empty() { String::new() } else { format!("{}, ", lower_first(place)) };
        return format!(
            "cannot tell yet: {place}{} may be anything from {} to {} than {it} would have been",
            measure.inner(),
            side(lower, decimals),
            side(upper, decimals)
        );
    }
    let subject = if over.is_empty() { measure.subject() } else { measure.inner() };
    let (near, far) = if percent.value < 0.0 { (-upper, -lower) } else { (lower, upper) };
    let kept = if near < 0.0 { " (said before, and kept: the range now touches 0)" } else { "" };
    format!(
        "{over}{subject} {is} {} than {it} would have been, between {near:.decimals$} % and \
         {far:.decimals$} %{kept}",
        side(percent.value, decimals)
    )
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |c| c.to_lowercase().chain(letters).collect())
}

/// "6 % higher", "6 % lower", "0 % higher".
fn side(percent: f64, decimals: usize) -> String {
    let word = if percent < 0.0 { "lower" } else { "higher" };
    format!("{:.decimals$} % {word}", percent.abs())
}

/// Fewest decimals, at most six, at which no number but 0 reads 0.
fn decimals(numbers: &[f64]) -> usize {
    let is_shown = |d: &usize| {
        let half_step = 0.5 * 0.1_f64.powi(i32::try_from(*d).unwrap_or(0));
        numbers.iter().all(|x| x.abs() <= 0.0 || x.abs() > half_step)
    };
    (0..6).find(is_shown).unwrap_or(6)
}

/// "1 farm", "3 farms".
fn counted(count: usize, noun: &str) -> String {
    // English of the nouns used here: batch takes "es".
    let end = match (count, noun.ends_with("ch")) {
        (1, _) => "",
        (_, true) => "es",
        (_, false) => "s",
    };
    format!("{count} {noun}{end}")
}

/// What is said of the spoilage of one farm or shed.
///
/// # Units
/// Chart values are logarithms of likelihood ratios.
pub fn spoilage_sentence(of: &FarmChart) -> String {
    let chart = of.shown();
    let raised = counted(chart.raised().map_or(0, |range| range.count()), "batch");
    match of.status {
        SpoilageStatus::Recurring => {
            let points = if of.source == Some(FlagSource::FarmOrLot) {
                "it may be the farm, or the one seed lot that carries it"
            } else {
                "look at the farm"
            };
            format!(
                "Batch after batch spoils: {raised} raised the flag, and it has not come down; {points}"
            )
        }
        SpoilageStatus::RecurringQuiet => format!(
            "Batch after batch spoiled: {raised} raised the flag, and no batch has ended for more \
             than {QUIET_DAYS} days"
        ),
        SpoilageStatus::RecurringLot => format!(
            "Batch after batch spoils, and its seed lots spoil on other farms too ({raised}): look \
             at the lot, not at the farm"
        ),
        SpoilageStatus::NothingCounted => {
            format!("cannot tell yet: no batch was counted in the last {RESET_DAYS} days")
        }
        SpoilageStatus::InsufficientData => {
            let (batches, trays) = chart.recent;
            format!(
                "cannot tell yet: {batches} of {BATCHES_MIN} batches and {trays} of {TRAYS_MIN} \
                 trays needed in {RECENT_DAYS} days"
            )
        }
        SpoilageStatus::OneBadBatch => "The last batch spoiled far more than a farm in order \
             would see; one batch alone does not raise the flag"
            .to_owned(),
        SpoilageStatus::Watch => format!(
            "More trays spoil than should: the chart stands at {:.1}, and {:.1} raises the flag",
            chart.value,
            chart.threshold.unwrap_or(0.0)
        ),
        SpoilageStatus::Ok => {
            format!("Nothing stands out in {}", counted(chart.batches_used, "batch"))
        }
    }
}

/// What is said of seed lots against farms; `name` gives the name of a lot by its id.
pub fn lots_sentence(answer: &LotAnswer, name: &dyn Fn(u32) -> String) -> String {
    let bad = answer.tests.as_ref().map_or(&[][..], |t| t.bad_lots.as_slice());
    let names = listed(&bad.iter().map(|lot| name(*lot)).collect::<Vec<_>>());
    let suspects = match bad.len() {
        0 => "no single lot can be named yet".to_owned(),
        1 => format!("lot {names} is suspect"),
        _ => format!("lots {names} are suspect"),
    };
    match answer.verdict {
        LotVerdict::SeedLot => {
            format!("It is the seed rather than the farm: seed lots differ, and {suspects}")
        }
        LotVerdict::Farm => "It is the farm rather than the seed: farms differ, and differences \
             between seed lots are within chance"
            .to_owned(),
        LotVerdict::Both => format!("Seed lots differ and so do farms: {suspects}"),
        LotVerdict::Neither => {
            "Differences between seed lots, and between farms, are within chance".to_owned()
        }
        LotVerdict::NotIdentifiable => "cannot tell yet: seed and farm cannot be told apart \
             before several lots were grown on several farms each"
            .to_owned(),
    }
}

/// "A", "A and B", "A, B and C".
fn listed(names: &[String]) -> String {
    match names.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
    }
}

/// What is said of a feed saving over months; none where there is no number.
///
/// # Units
/// `currency` as the amounts have it, such as "TZS".
pub fn saving_sentence(saving: Option<(f64, Interval)>, currency: &str, over: &str) -> String {
    let Some((value, Interval { lower, upper })) = saving else {
        return "cannot tell yet: there is no month with a number".to_owned();
    };
    // Nothing saved and nothing lost reads "0.00 less", as no change reads "0 % higher".
    let less = |x: f64| if x < 0.0 { "more" } else { "less" };
    if lower <= 0.0 && upper >= 0.0 {
        return format!(
            "cannot tell yet: {over}, feeding cost anything from {} {currency} more to {} \
             {currency} less than without fodder",
            money(lower.abs()),
            money(upper.abs())
        );
    }
    let (near, far) = if upper < 0.0 { (-upper, -lower) } else { (lower, upper) };
    format!(
        "Feeding cost {} {currency} {} than without fodder {over}, between {} and {} {currency}",
        money(value.abs()),
        less(value),
        money(near),
        money(far)
    )
}

/// An amount that is not negative: whole from what rounds to 100 on, else with cents; thousands
/// by commas.
fn money(amount: f64) -> String {
    if amount < 99.5 {
        return format!("{amount:.2}");
    }
    let digits = format!("{amount:.0}");
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (k, digit) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}
