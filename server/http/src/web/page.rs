//! What every page has: language, who is signed in, the form token, where else to go.

use super::figures::{Dated, Figure};
use chrono::{Datelike as _, NaiveDate};
use chrono_tz::Tz;
use sha2::{Digest, Sha256};

use traybook_answers::estimates::AsOf;
use traybook_domain::Month;
use traybook_domain::people::authz::Role;
use traybook_domain::time::{local_date, to_utc};
use traybook_domain::value::Instant;
use traybook_speech::{Arg, Language};

/// The frame of a page.
#[derive(Clone)]
pub(super) struct Page {
    pub language: Language,
    /// Role of who is signed in.
    pub role: Option<Role>,
    /// Id of who is signed in.
    pub person: String,
    /// Token of its forms.
    pub csrf: String,
    /// Path and query.
    pub here: String,
    /// The server's clock, milliseconds.
    pub now: i64,
    /// Which life of the records it serves.
    pub epoch: String,
    /// ISO 4217 code of the co-operative.
    pub currency: String,
    pub zone: Option<Tz>,
    /// The day on which somebody else reset the sign-in of who is signed in, and who did.
    pub notice: Option<(NaiveDate, String)>,
}

/// A place in the navigation.
pub(super) struct Place {
    pub path: &'static str,
    pub text: String,
    /// Whether the page is this place or lies below it.
    pub is_here: bool,
}

/// Where each role can go from everywhere: address and text.
const fn places(role: Role) -> &'static [(&'static str, &'static str)] {
    match role {
        Role::Member => &[
            ("/today", "nav-today"),
            ("/output", "nav-milk"),
            ("/batches", "nav-batches"),
            ("/result", "nav-result"),
            ("/account", "nav-account"),
        ],
        Role::Officer => &[
            ("/round", "nav-round"),
            ("/today", "nav-today"),
            ("/farms", "nav-farms"),
            ("/trainings", "trainings-title"),
            ("/phone", "nav-phone"),
        ],
        Role::Manager => &[
            ("/month", "nav-month"),
            ("/spoilage", "nav-spoilage"),
            ("/seed", "nav-seed"),
            ("/farms", "nav-farms"),
            ("/office", "nav-office"),
        ],
        Role::Operator => {
            &[("/people", "nav-people"), ("/server", "server-title"), ("/security", "nav-security")]
        }
        Role::ProgrammeReader => &[("/totals", "nav-totals")],
    }
}

/// Where a role begins.
pub(super) fn start(role: Role) -> &'static str {
    places(role).first().map_or("/sign-in", |(path, _)| path)
}

impl Page {
    pub fn say(&self, key: &str) -> String {
        self.language.say(key, &[])
    }

    /// A text with arguments.
    pub fn tell(&self, key: &str, args: &[(&'static str, Arg)]) -> String {
        self.language.say(key, args)
    }

    /// A text with one argument.
    pub fn with(&self, key: &str, name: &'static str, value: impl Into<Arg>) -> String {
        self.language.say(key, &[(name, value.into())])
    }

    /// A word of a set that records know by its name on the wire.
    pub fn word(&self, set: &str, name: &str) -> String {
        self.say(&format!("{set}-{name}"))
    }

    /// A crop; seed where none is named yet.
    pub fn crop(&self, name: &str) -> String {
        if name.is_empty() { self.say("seed") } else { self.word("crop", name) }
    }

    /// Tag of the language.
    pub fn lang(&self) -> &'static str {
        self.language.tag()
    }

    /// The other languages, to choose from.
    pub fn others(&self) -> impl Iterator<Item = Language> {
        let own = self.language;
        Language::ALL.iter().copied().filter(move |language| *language != own)
    }

    /// Whether somebody is signed in.
    pub fn signed_in(&self) -> bool {
        self.role.is_some()
    }

    /// Whether the pages of this role are kept on the phone.
    pub fn works_offline(&self) -> bool {
        matches!(self.role, Some(Role::Officer | Role::Member))
    }

    /// The release of the files that a page loads.
    pub fn release(&self) -> &'static str {
        super::assets::release()
    }

    /// The navigation.
    pub fn places(&self) -> Vec<Place> {
        let path = self.here.split('?').next().unwrap_or_default();
        let all = self.role.map(places).unwrap_or_default();
        let below =
            |of: &str| path == of || path.strip_prefix(of).is_some_and(|r| r.starts_with('/'));
        all.iter()
            .map(|(to, key)| Place { path: to, text: self.say(key), is_here: below(to) })
            .collect()
    }

    /// What somebody else did to the sign-in of who is signed in.
    pub fn reset_by(&self) -> Option<String> {
        let (day, by) = self.notice.as_ref()?;
        let args = [("date", self.date(*day).into()), ("name", by.as_str().into())];
        Some(self.tell("reset-notice", &args))
    }

    /// A day, in words.
    pub fn date(&self, day: NaiveDate) -> String {
        let month = self.say(&format!("month-{}", day.month()));
        let (day, year) = (day.day().to_string(), day.year().to_string());
        self.tell("date", &[("day", day.into()), ("month", month.into()), ("year", year.into())])
    }

    /// A day with its weekday, without the year where that is this one; of an instant the day in
    /// the co-operative's zone.
    pub fn weekday(&self, value: &impl Dated) -> String {
        let Some(day) = value.local_day(self.zone) else { return NONE.to_owned() };
        let today = self.zone.map(|zone| local_date(Instant(self.now), zone));
        let date = match today.is_some_and(|today| today.year() == day.year()) {
            true => {
                let month = self.say(&format!("month-{}", day.month()));
                format!("{} {month}", day.day())
            }
            false => self.date(day),
        };
        let weekday = self.say(&format!("sheet-day-{}", day.weekday().number_from_monday()));
        format!("{weekday} {date}")
    }

    /// A day without its year, for charts.
    pub fn short_day(&self, value: &impl Dated) -> String {
        let Some(day) = value.local_day(None) else { return NONE.to_owned() };
        format!("{} {}", day.day(), self.say(&format!("month-short-{}", day.month())))
    }

    /// A day, in words; of an instant the day in the co-operative's zone. A dash where there is
    /// none.
    pub fn day(&self, value: &impl Dated) -> String {
        let day = value.local_day(self.zone);
        day.map_or_else(|| NONE.to_owned(), |day| self.date(day))
    }

    /// An instant: its day with the hour; empty where there is none.
    pub fn moment(&self, value: &impl Dated) -> String {
        let at = value.instant().zip(self.zone);
        let Some((at, zone)) = at else { return String::new() };
        let args =
            [("date", self.date(local_date(at, zone)).into()), ("time", clock(at, zone).into())];
        self.tell("moment", &args)
    }

    /// Of when the figures are that were made in the background.
    pub fn figures_of(&self, as_of: AsOf) -> String {
        let at = as_of.made_at.zip(self.zone);
        let Some((at, zone)) = at else { return self.say("figures-none") };
        let (day, time) = (self.date(local_date(at.0, zone)), clock(at.0, zone));
        self.tell("figures-of", &[("date", day.into()), ("time", time.into())])
    }

    /// A month, in words.
    pub fn month(&self, month: Month) -> String {
        let first = month.first_day();
        let name = self.say(&format!("month-{}", first.month()));
        let year = first.year().to_string();
        self.tell("month-of-year", &[("month", name.into()), ("year", year.into())])
    }

    /// The short name of a month, for charts.
    pub fn short_month(&self, month: Month) -> String {
        self.say(&format!("month-short-{}", month.first_day().month()))
    }

    /// Name of the zone (IANA).
    pub fn zone_name(&self) -> &'static str {
        self.zone.map_or("", Tz::name)
    }

    /// Money of the co-operative, in words; a dash where there is none.
    pub fn money(&self, amount: &impl Figure) -> String {
        match amount.number() {
            Some(amount) => format!("{} {}", self.currency, plain_money(amount)),
            None => NONE.to_owned(),
        }
    }
}

/// An instant by the clock of a zone, in a pattern of days and hours.
pub(super) fn local(at: Instant, zone: Tz, pattern: &str) -> String {
    to_utc(at).with_timezone(&zone).format(pattern).to_string()
}

/// The hour of an instant by the clock of a zone.
pub(super) fn clock(at: Instant, zone: Tz) -> String {
    local(at, zone, "%H:%M")
}

/// A text at the head of a line.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(letters).collect()
}

/// What stands where nothing is known.
pub(super) const NONE: &str = "–";

/// An amount as money is written: thousands apart; digits after the point only of small amounts
/// and only where they are not zero. The files carry every digit.
pub(super) fn plain_money(amount: f64) -> String {
    let whole = amount.abs() >= 1_000.0 || (amount - amount.round()).abs() < 0.005;
    figure(amount, if whole { 0 } else { 2 })
}

/// A number as pages write it.
pub(super) fn figure(value: f64, digits: usize) -> String {
    traybook_speech::number(value, digits)
}

/// A number as it is read, or a dash.
pub(super) fn shown(value: &impl Figure, digits: usize) -> String {
    match value.number() {
        Some(number) => {
            let text = figure(number, digits);
            match text.contains('.') {
                true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
                false => text,
            }
        }
        None => value.words().unwrap_or_else(|| NONE.to_owned()),
    }
}

/// A number for a text that has a singular and a plural.
pub(super) fn counted(value: &impl Figure, digits: usize) -> Arg {
    // The languages so far ask only whether it is one; other numbers are written as everywhere.
    if value.is_one() { Arg::Count(1) } else { Arg::Text(shown(value, digits)) }
}

/// The form token of a sign-in: nobody who does not have its secret can make it. Each page's
/// differs, so that a compressed page gives nothing away about it (BREACH, 2013).
pub(super) fn form_token(secret: &str, nonce: &str) -> String {
    let digest = Sha256::digest(format!("form token of {secret} with {nonce}"));
    let digest: String = digest.iter().take(16).map(|b| format!("{b:02x}")).collect();
    format!("{nonce}.{digest}")
}

/// Whether a token is one of this sign-in's.
pub(super) fn is_token(secret: &str, token: &str) -> bool {
    token.split_once('.').is_some_and(|(nonce, _)| form_token(secret, nonce) == token)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_of_a_thing_is_said_in_the_singular() {
        let say = |l: Language, key: &str, count: i64| {
            let args = [("date", "".into()), ("amount", counted(&count, 0))];
            l.say(key, &args)
        };
        let (one, many) = (1, 1_200);
        assert_eq!(say(Language::En, "eggs-recorded", one), ": 1 egg");
        assert_eq!(say(Language::En, "eggs-recorded", many), ": 1200 eggs");
        assert_eq!(say(Language::En, "milk-recorded", one), ": 1 litre");
        assert_eq!(say(Language::Sw, "eggs-recorded", one), ": yai 1");
        assert_eq!(say(Language::Sw, "eggs-recorded", many), ": mayai 1200");
    }

    #[test]
    fn tokens_hold_for_their_sign_in_alone() {
        let token = form_token("secret", "0123");
        assert!(is_token("secret", &token) && !is_token("other", &token));
        assert!(!is_token("secret", "") && !is_token("secret", "0123."));
        assert_ne!(token, form_token("secret", "4567"));
    }
}
