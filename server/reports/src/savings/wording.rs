//! Words and numbers that the printed reports share.

use crate::charts::{Interval, Intervals, Words, number};
use chrono::{Datelike as _, NaiveDate};
use traybook_answers::Decimal;
use traybook_answers::savings::{
    FarmLine, Interval as Between, Money, Note, OutputChange, SavingsReport, Status, Wait, What,
};
use traybook_speech::Language;

/// Whole currency units, as people read money.
pub fn money(value: f64) -> String {
    number(value, 0)
}

/// Whole currency units, or a dash where it is not known.
pub fn money_or(value: Option<f64>) -> String {
    value.map_or("–".to_owned(), money)
}

/// The same of an amount of the report.
pub fn amount_or(value: Option<Decimal>) -> String {
    money_or(value.map(Decimal::real))
}

/// A number with so many digits, or a dash.
pub fn or_dash(value: Option<f64>, digits: usize, unit: &str) -> String {
    value.map_or("–".to_owned(), |v| format!("{}{unit}", number(v, digits)))
}

/// An interval of money.
pub fn between(language: Language, interval: Option<Between>) -> Option<String> {
    let (low, high) = interval?.ends();
    Some(language.say("doc-range", &[("low", money(low).into()), ("high", money(high).into())]))
}

pub fn month_name(language: Language, report: &SavingsReport) -> String {
    let first = report.month.0.first_day();
    language.month(first.year(), first.month())
}

/// Whether the interval leaves it open on which side of zero the saving lies.
pub fn is_open(money: &Money) -> bool {
    money.saving_interval.is_some_and(Between::holds_zero)
}

/// What the saving means, in a word or two.
pub fn verdict(language: Language, money: &Money) -> String {
    language.text(match money.saving {
        None => "doc-verdict-none",
        // How sure it is can not be said.
        Some(_) if money.saving_interval.is_none() => "doc-verdict-no-interval",
        Some(_) if is_open(money) => "doc-verdict-open",
        Some(s) if s.is_positive() => "doc-verdict-saves",
        Some(s) if s.is_negative() => "doc-verdict-loses",
        Some(_) => "doc-verdict-neither",
    })
}

/// Why a farm has no number.
pub fn reason(language: Language, farm: &FarmLine) -> String {
    let why = language.text(&format!("doc-reason-{}", farm.status.text()));
    if farm.waits.is_empty() || farm.status < Status::NoBaseline {
        return why;
    }
    let what: Vec<String> = farm.waits.iter().map(|w| w.said(language)).collect();
    let args = [("why", why.into()), ("what", what.join("; ").into())];
    language.say("doc-reason-waits", &args)
}

/// What a line lacks and what to keep in mind about it, one after the other.
pub fn remarks(language: Language, farm: &FarmLine) -> String {
    let waits = farm.waits.iter().map(|w| w.said(language));
    waits.chain(farm.notes.iter().map(|n| n.said(language))).collect::<Vec<_>>().join("; ")
}

/// What can be said in a language.
pub trait Said {
    /// Its words; the English ones are those of the report.
    fn said(&self, language: Language) -> String;
}

impl Said for Wait {
    fn said(&self, language: Language) -> String {
        let key = match self.what {
            What::HeadCount => "wait-head-count",
            What::Baseline => "wait-baseline",
            What::HeldPrice => "wait-held-price",
            What::HeldKg => "wait-held-kg",
            What::NextPurchase => "wait-next-purchase",
            What::Purchase if self.until.is_some() => "wait-purchase-days",
            What::Purchase => "wait-purchase",
            What::Animals => "wait-animals",
            What::SeedPrice => "wait-seed-price",
        };
        let day = |day: Option<NaiveDate>| day.map(|d| d.to_string()).unwrap_or_default();
        let feed = || self.feed.clone().unwrap_or_else(|| language.text("wait-feed"));
        let args = [
            ("feed", feed().into()),
            ("from", day(self.from).into()),
            ("until", day(self.until).into()),
        ];
        language.say(key, &args)
    }
}

impl Said for Note {
    fn said(&self, language: Language) -> String {
        language.text(match self {
            Self::NoOtherCosts => "note-no-other",
            Self::NoSoak => "note-no-soak",
            Self::FedUnweighed => "note-unweighed",
            Self::GroupLeftOut => "note-group-left-out",
            Self::SeasonNotRemoved => "note-season",
            Self::OutputAssociation => "note-association",
        })
    }
}

/// A text that the report carries in English: ours in a language where it is the one that we know.
pub fn own(language: Language, published: &str, known: &str, key: &str) -> String {
    if !language.is_source() && published == known {
        return language.text(key);
    }
    sentence(published)
}

/// A change in output as a sentence. English as it was published.
pub fn change(language: Language, output: &OutputChange) -> String {
    if language.is_source() {
        return sentence(&output.sentence);
    }
    let what = language.text(&format!("output-of-{}", output.enterprise.text()));
    let Some((percent, low, high)) = output.between() else {
        return language.with("doc-change-none", "what", what);
    };
    let key = match (low > 0.0, high < 0.0) {
        (true, _) => "doc-change-higher",
        (_, true) => "doc-change-lower",
        _ => "doc-change-open",
    };
    let args = [
        ("what", what.into()),
        ("percent", number(percent.abs(), 0).into()),
        ("low", number(low, 0).into()),
        ("high", number(high, 0).into()),
    ];
    language.say(key, &args)
}

/// Money with its currency.
pub fn amount(report: &SavingsReport, value: Decimal) -> String {
    format!("{} {}", report.currency, money(value.real().abs()))
}

/// A row of the chart of savings.
pub fn bar(language: Language, label: &str, money: &Money, without: &str) -> Interval {
    let text = match (money.saving, between(language, money.saving_interval)) {
        (Some(s), Some(range)) => {
            let saving = self::money(s.real());
            language.say("doc-bar", &[("saving", saving.into()), ("range", range.into())])
        }
        (Some(s), None) => language.with("doc-bar-no-interval", "saving", self::money(s.real())),
        (None, _) => without.to_owned(),
    };
    let number = money.saving_between();
    Interval { label: label.to_owned(), text, number }
}

/// A chart of savings.
pub fn bars(language: Language, title: &str, currency: &str, rows: Vec<Interval>) -> Intervals {
    let words = Words { title: title.to_owned(), ..Words::default() };
    Intervals { words, axis: language.with("doc-chart-axis", "currency", currency), rows }
}

/// A text as a sentence: a capital letter in front and a full stop behind.
#[must_use]
pub fn sentence(text: &str) -> String {
    let mut letters = text.trim().trim_end_matches('.').chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}.", letters.as_str())
}
