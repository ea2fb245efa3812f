//! The sentences: every status has one, numbers are right, and doubt is called doubt.

use traybook_analytics::lots::{LotBatch, LotRules, lot_or_farm};
use traybook_analytics::member_effect::{Evidence, MemberEffect, MemberStatus, Verdict};
use traybook_analytics::programme::Programme;
use traybook_analytics::records::Output;
use traybook_analytics::sentences::{
    Measure, estimate_sentence, lots_sentence, output_change_sentence, programme_sentence,
    saving_sentence, spoilage_sentence, warning_sentence,
};
use traybook_analytics::spoilage::{Batch, spoilage};
use traybook_analytics::stats::{Interval, LogEstimate};

/// An estimate from per cents.
fn percent(value: f64, lower: f64, upper: f64) -> LogEstimate {
    let log = |p: f64| (p / 100.0_f64).ln_1p();
    let interval = Interval { lower: log(lower), upper: log(upper) };
    LogEstimate { value: log(value), standard_error: 0.02, interval }
}

fn member(
    status: MemberStatus,
    own: Option<LogEstimate>,
    verdict: Option<Verdict>,
) -> MemberEffect {
    let some = |months, records| Evidence { months, records };
    MemberEffect {
        status,
        pre: some(2, 2.0),
        post: some(1, 5.0),
        post_any: some(1, 5.0),
        degrees_of_freedom: Some(10.0),
        own,
        shrunken: None,
        rank: None,
        p_lower: None,
        verdict,
    }
}

fn estimated(value: f64, lower: f64, upper: f64) -> MemberEffect {
    let verdict = match (lower > 0.0, upper < 0.0) {
        (true, _) => Verdict::Increase,
        (_, true) => Verdict::Decrease,
        _ => Verdict::Unclear,
    };
    member(MemberStatus::Estimated, Some(percent(value, lower, upper)), Some(verdict))
}

#[test]
fn clear_changes_say_how_much_and_how_sure() {
    let milk = |v, l, u| output_change_sentence(&estimated(v, l, u), Output::Milk);
    let text = "Milk per cow-day is 6 % higher than it would have been, between 1 % and 11 %";
    assert_eq!(milk(6.0, 1.0, 11.0), text);
    let text = "Milk per cow-day is 6 % lower than it would have been, between 1 % and 11 %";
    assert_eq!(milk(-6.0, -11.0, -1.0), text);
    let eggs = output_change_sentence(&estimated(6.0, 1.0, 11.0), Output::Eggs);
    let text = "Eggs per hen-day are 6 % higher than they would have been, between 1 % and 11 %";
    assert_eq!(eggs, text);
    let lower = estimate_sentence(&percent(-6.0, -11.0, -1.0), Measure::Milk);
    let text = "Milk per cow-day is 6 % lower than it would have been, between 1 % and 11 %";
    assert_eq!(lower, text);
    // A lower end of 0.04 % must not read "between 0 %".
    let text =
        "Milk per cow-day is 6.00 % higher than it would have been, between 0.04 % and 11.00 %";
    assert_eq!(milk(6.0, 0.04, 11.0), text);
}

/// Exactly half of a step is rounded to the even digit, which is 0: it needs one decimal more.
#[test]
fn half_a_per_cent_does_not_read_zero() {
    let near = 0.005_f64.ln_1p();
    let steps = (-8..=8).map(|k| near + f64::from(k) * near * f64::EPSILON / 4.0);
    let of = |value: f64| LogEstimate {
        value,
        standard_error: 0.01,
        interval: Interval { lower: value, upper: 0.11_f64.ln_1p() },
    };
    let is_half = |e: &LogEstimate| e.percent().unwrap().value.to_bits() == 0.5_f64.to_bits();
    let half = steps.map(of).find(is_half).unwrap();
    let text = "Milk per cow-day is 0.5 % higher than it would have been, between 0.5 % and 11.0 %";
    assert_eq!(estimate_sentence(&half, Measure::Milk), text);
}

#[test]
fn the_shrunken_estimate_is_the_one_that_is_said() {
    let mut shown = estimated(20.0, 5.0, 40.0);
    shown.shrunken = Some(percent(6.0, 1.0, 11.0));
    let text = "Milk per cow-day is 6 % higher than it would have been, between 1 % and 11 %";
    assert_eq!(output_change_sentence(&shown, Output::Milk), text);
}

#[test]
fn intervals_across_zero_cannot_tell_yet() {
    let text = output_change_sentence(&estimated(4.0, -3.0, 11.0), Output::Milk);
    let wanted = "cannot tell yet: milk per cow-day may be anything from 3 % lower to 11 % higher \
                  than it would have been";
    assert_eq!(text, wanted);
    let text = estimate_sentence(&percent(0.0, -3.0, 3.0), Measure::Value);
    let wanted = "cannot tell yet: the value may be anything from 3 % lower to 3 % higher than it \
                  would have been";
    assert_eq!(text, wanted);
    // An end at 0 exactly is not beyond it, on either side.
    for (value, lower, upper) in [(-3.0, -6.0, 0.0), (3.0, 0.0, 6.0)] {
        let text = estimate_sentence(&percent(value, lower, upper), Measure::Milk);
        assert!(text.starts_with("cannot tell yet: milk per cow-day may be anything"), "{text}");
    }
    let huge = LogEstimate {
        value: 900.0,
        standard_error: 1.0,
        interval: Interval { lower: 898.0, upper: 902.0 },
    };
    assert!(estimate_sentence(&huge, Measure::Value).starts_with("cannot tell yet"));
}

#[test]
fn every_lack_of_data_is_named_with_its_numbers() {
    let say = |m: &MemberEffect| output_change_sentence(m, Output::Milk);
    let of = |status| member(status, None, None);
    assert_eq!(say(&of(MemberStatus::NotStarted)), "not started yet: there is nothing to compare");
    let text = "cannot tell yet: no records before the start, 6 in 3 months are needed";
    assert_eq!(say(&of(MemberStatus::NoPreData)), text);
    let short = of(MemberStatus::InsufficientPre);
    assert_eq!(say(&short), "cannot tell yet: 2 of 6 records needed before the start");
    let few = MemberEffect { pre: Evidence { months: 2, records: 8.0 }, ..short.clone() };
    assert_eq!(say(&few), "cannot tell yet: 2 of 3 months needed before the start");
    // All the records that are needed, but in too few months: the months are what is missing.
    let enough = MemberEffect { pre: Evidence { months: 2, records: 6.0 }, ..short.clone() };
    assert_eq!(say(&enough), "cannot tell yet: 2 of 3 months needed before the start");
    let none = MemberEffect { pre: Evidence { months: 0, records: 0.0 }, ..short };
    assert!(say(&none).contains("5 farms that had not started"), "{}", say(&none));
    let after = of(MemberStatus::InsufficientPost);
    let text = "cannot tell yet: 1 of 2 months needed after the month of the start";
    assert_eq!(say(&after), text);
    let after = MemberEffect { post_any: Evidence { months: 1, records: 2.0 }, ..after };
    let text = "cannot tell yet: 2 of 4 records needed after the month of the start";
    assert_eq!(say(&after), text);
    let text = "cannot tell yet: 2 of 4 records needed after the period of the start";
    assert_eq!(output_change_sentence(&after, Measure::Value), text);
    assert!(
        say(&of(MemberStatus::CheckLevel)).starts_with("held back: the level of milk per cow-day")
    );
    assert!(say(&of(MemberStatus::NoControls)).starts_with("cannot tell yet: fewer than 5 farms"));
    assert!(say(&of(MemberStatus::Estimated)).starts_with("cannot tell yet"));
}

#[test]
fn the_programme_has_its_sentence_and_its_warning() {
    let effect = |estimate, farms| Programme {
        estimate,
        farms,
        cells: 40,
        degrees_of_freedom: 30.0,
        area_variance: 0.0,
        area_share: 0.0,
    };
    let say = |p: &Programme| programme_sentence(Some(p), Output::Eggs);
    let text = "Over 37 farms, eggs per hen-day are 6 % higher than they would have been, between \
                1 % and 11 %";
    assert_eq!(say(&effect(percent(6.0, 1.0, 11.0), 37)), text);
    let text = "cannot tell yet: over 1 farm, eggs per hen-day may be anything from 1 % lower to \
                11 % higher than they would have been";
    assert_eq!(say(&effect(percent(6.0, -1.0, 11.0), 1)), text);
    assert!(programme_sentence(None, Output::Milk).starts_with("cannot tell yet"));
    // Errors are 0.02 on the log scale: 4 % apart is the limit.
    let one = percent(6.0, 1.0, 11.0);
    assert_eq!(warning_sentence(&one, &percent(8.0, 1.0, 11.0)), None);
    let warning = warning_sentence(&one, &percent(-1.0, -5.0, 4.0)).unwrap();
    assert!(warning.contains("1 % lower, the first 6 % higher"), "{warning}");
}

/// A batch a week, and the sentence some days after the last.
fn say(batches: &[(u32, u32)], days_after: i32) -> String {
    let batch = |(day, (started, discarded)): (i32, &(u32, u32))| Batch {
        day,
        started: *started,
        discarded: *discarded,
        lot: Some(u32::try_from(day).unwrap_or(0)),
        temperature_class: None,
    };
    let batches: Vec<Batch> = (0..).step_by(7).zip(batches).map(batch).collect();
    let today = batches.last().map_or(0, |b| b.day) + days_after;
    spoilage_sentence(&spoilage(&[batches], today).farms[0])
}

#[test]
fn spoilage_is_said_by_status() {
    let few = "cannot tell yet: 3 of 5 batches and 60 of 8 trays needed in 180 days";
    assert_eq!(say(&[(20, 0); 3], 0), few);
    let none = "cannot tell yet: no batch was counted in the last 90 days";
    assert_eq!(say(&[], 0), none);
    assert_eq!(say(&[(20, 0); 12], 91), none);
    assert_eq!(say(&[(20, 0); 12], 0), "Nothing stands out in 12 batches");
    let mut bad = vec![(20, 0); 5];
    bad.push((20, 18));
    assert!(say(&bad, 0).starts_with("The last batch spoiled"), "{}", say(&bad, 0));
    bad.extend([(20, 15); 1]);
    bad.push((20, 2));
    assert!(say(&bad, 0).starts_with("More trays spoil than should: the chart stands at "));
    bad.extend([(20, 15); 2]);
    // Five batches in order end at 0; the flag goes up with the fourth of the bad ones.
    let text = "Batch after batch spoils: 4 batches raised the flag, and it has not come down; \
        look at the farm";
    assert_eq!(say(&bad, 0), text);
    let quiet = "Batch after batch spoiled: 4 batches raised the flag, and no batch has ended for \
        more than 28 days";
    assert_eq!(say(&bad, 29), quiet);
}

/// Four farms grow each of the lots; discards of 40 trays by lot and farm.
fn lots(of: impl Fn(u32, u32) -> u32) -> String {
    lots_by(of, &LotRules::default())
}

fn lots_by(of: impl Fn(u32, u32) -> u32, rules: &LotRules) -> String {
    let mut batches = Vec::new();
    for farm in 0..4 {
        for lot in 0..4 {
            for again in 0..2 {
                let discarded = of(lot, farm) + (farm + lot + again) % 2;
                batches.push(LotBatch { farm, lot, started: 40, discarded });
            }
        }
    }
    lots_sentence(&lot_or_farm(&batches, rules), &|lot| format!("L{lot}"))
}

#[test]
fn lots_are_said_by_verdict() {
    let text = "It is the seed rather than the farm: seed lots differ, and lot L2 is suspect";
    assert_eq!(lots(|lot, _| if lot == 2 { 20 } else { 1 }), text);
    let text =
        "It is the seed rather than the farm: seed lots differ, and lots L2 and L3 are suspect";
    assert_eq!(lots(|lot, _| if lot > 1 { 20 } else { 1 }), text);
    let rules = LotRules { batches_min: 9, ..LotRules::default() };
    let text = "It is the seed rather than the farm: seed lots differ, and no single lot can be \
                named yet";
    assert_eq!(lots_by(|lot, _| if lot == 2 { 20 } else { 1 }, &rules), text);
    assert!(lots(|_, farm| if farm == 2 { 20 } else { 1 }).starts_with("It is the farm"));
    let both = |lot, farm| if lot == 2 || farm == 2 { 20 } else { 1 };
    assert!(lots(both).starts_with("Seed lots differ and so do farms"));
    assert!(lots(|_, _| 1).starts_with("Differences between seed lots"));
    let none = lot_or_farm(&[], &LotRules::default());
    assert!(lots_sentence(&none, &|_| String::new()).starts_with("cannot tell yet"));
}

#[test]
fn savings_and_losses_are_said_alike() {
    let said = |value, lower, upper| {
        saving_sentence(Some((value, Interval { lower, upper })), "TZS", "over 3 months")
    };
    assert_eq!(
        said(4500.0, 4000.0, 5000.0),
        "Feeding cost 4\u{202f}500 TZS less than without fodder over 3 months, between 4\u{202f}000 and 5\u{202f}000 TZS"
    );
    assert_eq!(
        said(-4500.0, -5000.0, -4000.0),
        "Feeding cost 4\u{202f}500 TZS more than without fodder over 3 months, between 4\u{202f}000 and 5\u{202f}000 TZS"
    );
    assert_eq!(
        said(20.5, -10.0, 50.0),
        "cannot tell yet: over 3 months, feeding cost anything from 10.00 TZS more to 50.00 TZS \
         less than without fodder"
    );
    assert!(saving_sentence(None, "TZS", "").starts_with("cannot tell yet"));
}
