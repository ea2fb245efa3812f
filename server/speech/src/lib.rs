//! What pages and documents say: Fluent files, a folder a language under `locales/`.
//!
//! ```
//! use traybook_speech::Language;
//!
//! assert_eq!(Language::En.say("lasts-days", &[("days", 1_i64.into())]), "Seed on the farm lasts one day.");
//! assert_eq!(Language::parse("sw-TZ"), Some(Language::Sw));
//! ```

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource};
use std::sync::OnceLock;
use unic_langid::LanguageIdentifier;

/// A number with so many digits after the point; from five digits on thousands stand apart by a
/// narrow space that no line breaks (ISO 80000-1): never a point or a comma, which readers of other
/// countries take for each other.
#[must_use]
pub fn number(value: f64, digits: usize) -> String {
    let text = format!("{:.digits$}", value.abs());
    let (whole, rest) = text.split_once('.').unwrap_or((text.as_str(), ""));
    let mut out = String::new();
    let is_long = whole.len() > 4;
    for (at, digit) in whole.chars().enumerate() {
        if is_long && at > 0 && (whole.len() - at).is_multiple_of(3) {
            out.push('\u{202f}');
        }
        out.push(digit);
    }
    if !rest.is_empty() {
        out.push('.');
        out.push_str(rest);
    }
    let is_zero = !text.bytes().any(|b| b.is_ascii_digit() && b != b'0');
    if value < 0.0 && !is_zero { format!("\u{2212}{out}") } else { out }
}

/// Languages by variant and tag (BCP 47); the texts of each stand in the folder of its tag.
macro_rules! languages {
    ($($name:ident $tag:literal),+) => {
        /// A language of pages and documents.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Language {
            $(#[doc = concat!("Of the folder `locales/", $tag, "`.")] $name,)+
        }

        impl Language {
            pub const ALL: &[Self] = &[$(Self::$name),+];

            #[must_use]
            pub const fn tag(self) -> &'static str {
                match self {
                    $(Self::$name => $tag,)+
                }
            }

            /// The texts as they stand in the files: those of the pages, of the documents, of
            /// text messages.
            #[must_use]
            pub const fn files(self) -> [&'static str; 3] {
                match self {
                    $(Self::$name => [
                        include_str!(concat!("../locales/", $tag, "/pages.ftl")),
                        include_str!(concat!("../locales/", $tag, "/documents.ftl")),
                        include_str!(concat!("../locales/", $tag, "/texts.ftl")),
                    ],)+
                }
            }

            fn bundle(self) -> &'static FluentBundle<FluentResource> {
                match self {
                    $(Self::$name => {
                        static TEXTS: OnceLock<FluentBundle<FluentResource>> = OnceLock::new();
                        TEXTS.get_or_init(|| bundle(self))
                    })+
                }
            }
        }
    };
}

languages! { En "en", Sw "sw" }

impl Default for Language {
    fn default() -> Self {
        Self::SOURCE
    }
}

impl Language {
    /// The language in which rules and estimates word themselves.
    pub const SOURCE: Self = Self::En;

    /// Whether texts that the program words itself are of this language already.
    #[must_use]
    pub fn is_source(self) -> bool {
        self == Self::SOURCE
    }

    /// The language of a BCP 47 tag that we speak.
    #[must_use]
    pub fn parse(tag: &str) -> Option<Self> {
        Self::tagged(tag.split(['-', ';', ',']).next()?.trim())
    }

    /// The language of exactly this tag.
    #[must_use]
    pub fn tagged(tag: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|language| language.tag() == tag)
    }

    /// The tags in one line, for who gave another.
    #[must_use]
    pub fn tags() -> String {
        Self::ALL.iter().map(|language| language.tag()).collect::<Vec<_>>().join(" or ")
    }

    /// What it calls itself.
    #[must_use]
    pub fn own_name(self) -> String {
        self.text("language-own")
    }

    /// A text with its arguments. A key that is missing shows itself; a test finds it first.
    #[must_use]
    pub fn say(self, key: &str, args: &[(&'static str, Arg)]) -> String {
        self.known(key, args).unwrap_or_else(|| format!("[{key}]"))
    }

    /// A text without arguments.
    #[must_use]
    pub fn text(self, key: &str) -> String {
        self.say(key, &[])
    }

    /// A text with one argument.
    #[must_use]
    pub fn with(self, key: &str, name: &'static str, value: impl Into<Arg>) -> String {
        self.say(key, &[(name, value.into())])
    }

    /// A calendar month in words; months count from 1.
    #[must_use]
    pub fn month(self, year: i32, month: u32) -> String {
        let name = self.text(&format!("month-{month}"));
        let year = year.to_string();
        self.say("month-of-year", &[("month", name.into()), ("year", year.into())])
    }

    /// A text with its arguments, if there is one of this key.
    #[must_use]
    pub fn known(self, key: &str, args: &[(&'static str, Arg)]) -> Option<String> {
        let bundle = self.bundle();
        let pattern = bundle.get_message(key).and_then(|m| m.value())?;
        let mut given = FluentArgs::new();
        for (name, value) in args {
            match value {
                Arg::Text(text) => given.set(*name, text.as_str()),
                Arg::Count(count) => given.set(*name, *count),
            }
        }
        Some(bundle.format_pattern(pattern, Some(&given), &mut Vec::new()).into_owned())
    }
}

/// An argument of a text: text as it is, or a number that decides on singular and plural.
#[derive(Clone, Debug)]
pub enum Arg {
    Text(String),
    Count(i64),
}

impl From<&str> for Arg {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<String> for Arg {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<i64> for Arg {
    fn from(count: i64) -> Self {
        Self::Count(count)
    }
}

impl From<usize> for Arg {
    fn from(count: usize) -> Self {
        Self::Count(i64::try_from(count).unwrap_or(i64::MAX))
    }
}

fn bundle(language: Language) -> FluentBundle<FluentResource> {
    let id = language.tag().parse::<LanguageIdentifier>().unwrap_or_default();
    let mut bundle = FluentBundle::new_concurrent(vec![id]);
    // The pages hold no text of both directions: isolation marks would only be copied along.
    bundle.set_use_isolating(false);
    for text in language.files() {
        let resource = match FluentResource::try_new(text.to_owned()) {
            Ok(resource) | Err((resource, _)) => resource,
        };
        drop(bundle.add_resource(resource));
    }
    bundle
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_apart_by_narrow_spaces() {
        assert_eq!(number(1_234_567.891, 2), "1\u{202f}234\u{202f}567.89");
        assert_eq!(number(-38_000.0, 0), "\u{2212}38\u{202f}000");
        assert_eq!((number(1_234.5, 1), number(-0.4, 0)), ("1234.5".to_owned(), "0".to_owned()));
    }
    use std::collections::{BTreeMap, BTreeSet};

    /// Keys of a file with the arguments that each names.
    fn keys(text: &str) -> BTreeMap<String, BTreeSet<String>> {
        let mut all: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        let mut key = String::new();
        for line in text.lines().filter(|l| !l.starts_with('#')) {
            if let Some((name, _)) = line.split_once(" = ")
                && !line.starts_with(' ')
            {
                name.clone_into(&mut key);
                all.insert(key.clone(), BTreeSet::new());
            }
            for part in line.split('$').skip(1) {
                let end = part.find(|c: char| !c.is_ascii_alphanumeric()).unwrap_or(part.len());
                let name = part.get(..end).unwrap_or_default().to_owned();
                all.entry(key.clone()).or_default().insert(name);
            }
        }
        all
    }

    #[test]
    fn all_languages_have_the_same_texts_with_the_same_arguments() {
        let source = Language::SOURCE.files().map(keys);
        let mut all = BTreeSet::new();
        for key in source.iter().flat_map(BTreeMap::keys) {
            assert!(all.insert(key.clone()), "{key} stands in two files");
        }
        for language in Language::ALL {
            assert_eq!(Language::tagged(language.tag()), Some(*language));
            for (text, source) in language.files().into_iter().zip(&source) {
                assert!(source.len() > 60);
                assert_eq!(keys(text), *source, "{language:?}");
                assert!(FluentResource::try_new(text.to_owned()).is_ok(), "the file is sound");
            }
        }
    }

    /// One word for one thing: what `REVIEW.md` names beside each English term, not what stood
    /// here before.
    #[test]
    fn kiswahili_keeps_to_its_terms() {
        let given_up = [
            "lishe",
            "bendera",
            "stoo",
            "mata",
            "kikavu",
            "ingizo",
            "uharibifu",
            "haiwezi kusemwa",
            "mtama mchanga",
            "mifugo wako",
            "jumla yote",
            "kwa uhakika wa 95",
            "yako juu kwa",
            "yako chini kwa",
            "trei hasara",
        ];
        for text in Language::Sw.files() {
            for line in text.lines().filter_map(|l| l.split_once('=').map(|(_, said)| said)) {
                let said = line.to_lowercase();
                let words: Vec<&str> = said.split(|c: char| !c.is_alphanumeric()).collect();
                let words = format!(" {} ", words.join(" "));
                for word in given_up {
                    assert!(!words.contains(&format!(" {word} ")), "{word}: {line}");
                }
            }
        }
        let water = |number: i64| {
            let args =
                [("trays", 2_i64.into()), ("number", number.into()), ("times", 3_i64.into())];
            Language::Sw.say("task-water", &args)
        };
        assert_eq!(water(1), "Mwagilia trei 2, mara ya kwanza kati ya tatu");
        assert_eq!(water(3), "Mwagilia trei 2, mara ya tatu kati ya tatu");
    }

    #[test]
    fn numbers_decide_on_singular_and_plural() {
        let say = |l: Language, n: i64| l.say("lasts-days", &[("days", n.into())]);
        assert_eq!(say(Language::En, 1), "Seed on the farm lasts one day.");
        assert_eq!(say(Language::En, 12), "Seed on the farm lasts 12 days.");
        assert_eq!(say(Language::Sw, 1), "Mbegu iliyopo shambani inatosha siku moja.");
        assert_eq!(Language::En.say("no-such-text", &[]), "[no-such-text]");
    }
}
