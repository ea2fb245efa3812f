//! What goes with losses, in words: always with its interval, and never as a cause.

use traybook_answers::estimates::{
    Condition, ConditionKind, ConditionStatus, DEEP_TIMES, FarmCondition, GERMINATED_PERCENT,
    HOT_C, HUMID_PERCENT, Times,
};
use traybook_speech::{Arg, Language, number};

fn count(n: u64) -> Arg {
    Arg::Count(i64::try_from(n).unwrap_or(i64::MAX))
}

fn ratio(of: Option<Times>) -> Vec<(&'static str, Arg)> {
    let Some(t) = of else { return Vec::new() };
    let one = |value: f64| number(value, 1).into();
    vec![("times", one(t.times)), ("low", one(t.low)), ("high", one(t.high))]
}

/// The condition as a part of a sentence about batches.
#[must_use]
pub fn phrase(language: Language, of: &Condition) -> String {
    let value = of.value.as_deref().unwrap_or_default();
    let word = |set: &str, value: &str| {
        language.known(&format!("{set}-{value}"), &[]).unwrap_or_else(|| value.to_owned())
    };
    let whole = |n: i64| n.to_string();
    let args: Vec<(&'static str, Arg)> = match of.kind {
        ConditionKind::SoakedHot => vec![("degrees", whole(HOT_C).into())],
        ConditionKind::Humid => vec![("percent", whole(HUMID_PERCENT).into())],
        ConditionKind::WaterSource => vec![("value", word("source", value).into())],
        ConditionKind::Crop => vec![("value", word("crop", value).into())],
        ConditionKind::ChecklistNo => {
            vec![("question", of.question.as_deref().unwrap_or(value).into())]
        }
        ConditionKind::SeedDeep => vec![("times", number(DEEP_TIMES, 2).into())],
        ConditionKind::PoorGermination => vec![("percent", whole(GERMINATED_PERCENT).into())],
        ConditionKind::HarvestedLate | ConditionKind::WetSeason => Vec::new(),
    };
    language.say(&format!("condition-{}", of.kind.text().replace('_', "-")), &args)
}

/// What the others are, where that is not simply the opposite.
fn against(language: Language, of: &Condition) -> String {
    let mut text = String::new();
    if let Some(value) = &of.compared_with {
        let set = if of.kind == ConditionKind::Crop { "crop" } else { "source" };
        let word = language.known(&format!("{set}-{value}"), &[]);
        let word = word.unwrap_or_else(|| value.clone());
        text.push(' ');
        text.push_str(&language.with("condition-compared", "value", word));
    }
    if of.is_between_farms {
        text.push(' ');
        text.push_str(&language.text("condition-between-farms"));
    }
    text
}

/// What is said of a condition over all farms.
#[must_use]
pub fn sentence(language: Language, of: &Condition) -> String {
    let (fewer, needed) = (of.batches_with.min(of.batches_without), of.batches_needed);
    let mut args = ratio(of.ratio);
    args.push(("condition", phrase(language, of).into()));
    args.push(("with", number_of(of.batches_with).into()));
    args.push(("without", number_of(of.batches_without).into()));
    args.push(("needed", count(needed)));
    let key = match of.status {
        ConditionStatus::Linked => "condition-is-linked",
        ConditionStatus::NoDifference => "condition-no-difference",
        ConditionStatus::CannotTell => "condition-cannot-tell",
        ConditionStatus::TooFew if fewer >= needed => "condition-too-few-else",
        ConditionStatus::TooFew if of.batches_with <= of.batches_without => "condition-too-few",
        ConditionStatus::TooFew => "condition-too-few-without",
    };
    let mut text = language.say(key, &args);
    if of.status != ConditionStatus::TooFew {
        text.push_str(&against(language, of));
    }
    text
}

fn number_of(n: u64) -> String {
    number(f64::from(u32::try_from(n).unwrap_or(u32::MAX)), 0)
}

/// What is said of a farm whose losses are linked to a condition over all farms.
#[must_use]
pub fn own_sentence(language: Language, of: &FarmCondition, has_one_shed: bool) -> String {
    let Some(own) = of.own else {
        let args = [("condition", phrase(language, &of.of_all).into())];
        return language.say("condition-own-not-told", &args);
    };
    let mut args = ratio(Some(own));
    args.push(("condition", phrase(language, &of.of_all).into()));
    language.say(if has_one_shed { "condition-own-shed" } else { "condition-own-farm" }, &args)
}

/// What a ratio does not say.
#[must_use]
pub fn caution(language: Language) -> String {
    language.text("condition-caution")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn condition(kind: ConditionKind, status: ConditionStatus) -> Condition {
        Condition {
            kind,
            value: None,
            question: None,
            compared_with: None,
            status,
            batches_with: 502,
            batches_without: 730,
            batches_needed: 12,
            is_between_farms: false,
            ratio: Some(Times { times: 2.24, low: 1.91, high: 2.6 }),
            share_percent: None,
            sentence: String::new(),
        }
    }

    #[test]
    fn a_linked_condition_is_said_with_its_interval_and_counts() {
        let hot = condition(ConditionKind::SoakedHot, ConditionStatus::Linked);
        let text = "Batches soaked above 26 °C lost 2.2 times as many trays (1.9 to 2.6; 502 \
            against 730 batches).";
        assert_eq!(sentence(Language::En, &hot), text);
        let water = Condition {
            value: Some("river".to_owned()),
            compared_with: Some("piped".to_owned()),
            is_between_farms: true,
            ..condition(ConditionKind::WaterSource, ConditionStatus::Linked)
        };
        let text = sentence(Language::En, &water);
        assert!(
            text.contains("Compared with piped water") && text.contains("between farms"),
            "{text}"
        );
    }

    #[test]
    fn what_is_seen_too_rarely_says_what_is_needed() {
        let few = Condition {
            batches_with: 7,
            ratio: None,
            ..condition(ConditionKind::WetSeason, ConditionStatus::TooFew)
        };
        let text = sentence(Language::En, &few);
        assert!(text.contains("cannot tell yet: seen in 7 batches, 12 are needed"), "{text}");
    }

    /// Every kind and status has its words in both languages, and none says why.
    #[test]
    fn no_sentence_says_because() {
        for language in Language::ALL.iter().copied() {
            for kind in ConditionKind::ALL {
                for status in ConditionStatus::ALL {
                    let of = condition(*kind, *status);
                    let own = FarmCondition {
                        own: of.ratio,
                        of_all: of.clone(),
                        own_sentence: String::new(),
                    };
                    let unknown = FarmCondition { own: None, ..own.clone() };
                    let said = [
                        sentence(language, &of),
                        own_sentence(language, &own, true),
                        own_sentence(language, &own, false),
                        own_sentence(language, &unknown, true),
                        caution(language),
                    ];
                    for text in said {
                        assert!(!text.contains('[') && !text.contains('{'), "{text}");
                        let lower = text.to_lowercase();
                        for word in ["because", "kwa sababu", "due to", "kutokana na"] {
                            assert!(!lower.contains(word), "{text}");
                        }
                    }
                }
            }
        }
    }
}
