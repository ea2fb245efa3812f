//! Words and numbers that the printed reports share.

use super::{
    FarmLine, Figures, GROUP_LEFT_OUT, NO_FEED, NO_HEAD, NO_OTHER, NO_RATION, NO_SEED_PRICE,
    NO_SOAK, Output, Published, UNWEIGHED,
};
use crate::charts::{Interval, Intervals, Words, number};
use chrono::Datelike as _;
use traybook_speech::Language;

/// Whole currency units, as people read money.
pub fn money(value: f64) -> String {
    number(value, 0)
}

/// Whole currency units, or a dash where it is not known.
pub fn money_or(value: Option<f64>) -> String {
    value.map_or("–".to_owned(), money)
}

/// A number with so many digits, or a dash.
pub fn or_dash(value: Option<f64>, digits: usize, unit: &str) -> String {
    value.map_or("–".to_owned(), |v| format!("{}{unit}", number(v, digits)))
}

/// An interval of money.
pub fn between(language: Language, interval: Option<(f64, f64)>) -> Option<String> {
    let (low, high) = interval?;
    Some(language.say("doc-range", &[("low", money(low).into()), ("high", money(high).into())]))
}

/// Name of the month.
pub fn month_name(language: Language, report: &Published) -> String {
    let first = report.month.first_day();
    language.month(first.year(), first.month())
}

/// Whether the interval leaves it open on which side of zero the saving lies.
pub fn is_open(figures: &Figures) -> bool {
    figures.interval.is_some_and(|(low, high)| low <= 0.0 && high >= 0.0)
}

/// What the saving means, in a word or two.
pub fn verdict(language: Language, figures: &Figures) -> String {
    language.text(match figures.get("saving") {
        None => "doc-verdict-none",
        // How sure it is can not be said.
        Some(_) if figures.interval.is_none() => "doc-verdict-no-interval",
        Some(_) if is_open(figures) => "doc-verdict-open",
        Some(s) if s > 0.0 => "doc-verdict-saves",
        Some(s) if s < 0.0 => "doc-verdict-loses",
        Some(_) => "doc-verdict-neither",
    })
}

/// Why a farm has no number.
pub fn reason(language: Language, farm: &FarmLine) -> String {
    match farm.status.as_str() {
        "not_started" | "start_month" => language.text(&format!("doc-reason-{}", farm.status)),
        _ if farm.missing.is_empty() => language.text("doc-reason"),
        _ => language.with("doc-reason-missing", "what", said(language, &farm.missing)),
    }
}

/// Texts of a line, one after the other.
pub fn said<'a>(language: Language, texts: impl IntoIterator<Item = &'a String>) -> String {
    let texts: Vec<String> = texts.into_iter().map(|t| lacking(language, t)).collect();
    texts.join("; ")
}

/// What a line of the report lacks, or what to keep in mind about it, in a language. English as it
/// was published.
#[must_use]
pub fn lacking(language: Language, text: &str) -> String {
    if language == Language::En {
        return text.to_owned();
    }
    language.text(match text {
        NO_HEAD => "missing-heads",
        NO_FEED => "missing-feed",
        NO_SEED_PRICE => "missing-seed-price",
        NO_RATION => "missing-ration",
        NO_OTHER => "note-no-other",
        NO_SOAK => "note-no-soak",
        UNWEIGHED => "note-unweighed",
        GROUP_LEFT_OUT => "note-group-left-out",
        _ => {
            let feed = text.strip_prefix("price of ");
            let feed = feed.and_then(|t| t.strip_suffix(" within three months"));
            let told = feed.map(|f| language.with("missing-price", "feed", f));
            return told.unwrap_or_else(|| text.to_owned());
        }
    })
}

/// A text that the report carries in English: ours in a language where it is the one that we know.
pub fn own(language: Language, published: &str, known: &str, key: &str) -> String {
    if language != Language::En && published == known {
        return language.text(key);
    }
    sentence(published)
}

/// A change in output as a sentence. English as it was published.
pub fn change(language: Language, output: &Output) -> String {
    if language == Language::En {
        return sentence(&output.sentence);
    }
    let what = language.text(&format!("output-of-{}", output.enterprise));
    let Some((percent, low, high)) = output.percent else {
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
pub fn amount(report: &Published, value: f64) -> String {
    format!("{} {}", report.currency, money(value.abs()))
}

/// A row of the chart of savings.
pub fn bar(language: Language, label: &str, figures: &Figures, without: &str) -> Interval {
    let saving = figures.get("saving");
    let number = saving.zip(figures.interval).map(|(s, (low, high))| (s, low, high));
    let text = match (saving, between(language, figures.interval)) {
        (Some(s), Some(range)) => {
            language.say("doc-bar", &[("saving", money(s).into()), ("range", range.into())])
        }
        (Some(s), None) => language.with("doc-bar-no-interval", "saving", money(s)),
        (None, _) => without.to_owned(),
    };
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
