//! What people call columns and values: names of fields, labels of the pages in every language,
//! and common words. The common words are common practice, no source.

use crate::columns::{Target, targets, word_set};
use std::collections::HashMap;
use std::sync::OnceLock;
use traybook_domain::Kind;
use traybook_speech::Language;

/// How sure a word is of its column: it is the column's name or label.
pub const NAMED: u32 = 100;
/// It is a common word for it.
pub const COMMON: u32 = 80;
/// It stands among other words.
pub const AMONG: u32 = 40;

/// Common words of a column, by kind where others have other words: kind or nothing, column, words.
/// Words of a kind hold before the others.
const WORDS: &[(&str, &str, &[&str])] = &[
    ("area", "name", &["area", "village", "ward", "eneo", "kijiji", "kata"]),
    ("area", "parent", &["lies in", "district", "wilaya", "within"]),
    ("feed", "name", &["feed", "feed name", "chakula", "jina la chakula"]),
    ("supplier", "name", &["supplier", "seller", "muuzaji"]),
    (
        "member",
        "name",
        &[
            "member",
            "farmer",
            "full name",
            "names",
            "member name",
            "farmers name",
            "members name",
            "farmer name",
            "mwanachama",
            "mkulima",
            "jina kamili",
            "jina la mwanachama",
            "jina la mkulima",
        ],
    ),
    (
        "member",
        "number",
        &[
            "member no",
            "member number",
            "membership no",
            "membership number",
            "no",
            "code",
            "member code",
            "namba",
            "na",
            "namba ya mwanachama",
        ],
    ),
    ("person", "code", &["short name", "login"]),
    (
        "farm",
        "code",
        &[
            "farm",
            "farm code",
            "farm no",
            "farm number",
            "farm name",
            "shamba",
            "namba ya shamba",
            "jina la shamba",
        ],
    ),
    ("shed", "code", &["shed", "shed code", "shed no", "shed name", "banda", "namba ya banda"]),
    ("shed", "tray_places", &["trays", "places", "capacity", "trei", "nafasi"]),
    ("animal_group", "code", &["group", "group code", "group name", "kundi", "namba ya kundi"]),
    ("animal_group", "animal_class", &["animals", "animal", "class", "type", "aina", "mifugo"]),
    (
        "head_count",
        "head",
        &["animals", "number", "count", "number of animals", "idadi", "idadi ya mifugo"],
    ),
    ("seed_lot", "code", &["lot", "lot code", "lot no", "lot number", "fungu", "namba ya fungu"]),
    (
        "batch",
        "code",
        &["batch", "batch code", "batch no", "batch number", "mkupuo", "namba ya mkupuo"],
    ),
    ("training", "topic", &["training", "subject", "mada", "mafunzo"]),
    ("milk_record", "litres", &["milk", "quantity", "amount", "maziwa", "kiasi"]),
    (
        "milk_record",
        "animals_in_milk",
        &["cows", "animals", "cows milked", "cows in milk", "ngombe", "idadi ya ngombe", "wanyama"],
    ),
    (
        "milk_record",
        "animal_group",
        &["farm", "farmer", "member", "farm code", "shamba", "mkulima", "mwanachama"],
    ),
    (
        "egg_record",
        "animal_group",
        &["farm", "farmer", "member", "flock", "farm code", "shamba", "mkulima", "mwanachama"],
    ),
    ("head_count", "animal_group", &["animals of"]),
    ("baseline_ration", "kg_per_animal_day", &["kg", "kg a day", "kg per animal", "kilo"]),
    ("baseline_ration", "recorded_on", &["date", "day", "tarehe", "siku"]),
    ("asset", "cost", &["price", "amount", "bei", "kiasi"]),
    ("asset", "in_service_on", &["date", "bought on", "tarehe"]),
    ("seed_issue", "price", &["amount", "cost", "value", "kiasi cha fedha", "gharama"]),
    ("seed_purchase", "price", &["amount", "cost", "total", "gharama", "jumla"]),
    ("other_cost", "category", &["what for", "type", "kind", "aina", "matumizi"]),
    ("", "id", &["record id"]),
    (
        "",
        "farm",
        &[
            "farm code",
            "farm no",
            "farm name",
            "farmer",
            "member",
            "member no",
            "mkulima",
            "mwanachama",
            "jina la shamba",
        ],
    ),
    (
        "",
        "member",
        &[
            "farmer",
            "owner",
            "member no",
            "member number",
            "member name",
            "mkulima",
            "mmiliki",
            "namba ya mwanachama",
        ],
    ),
    ("", "animal_group", &["group", "animals", "herd", "flock", "kundi", "mifugo"]),
    ("", "shed", &["shed code", "shed no", "shed name", "banda la chipukizi"]),
    ("", "area", &["village", "ward", "location", "home area", "kijiji", "kata", "mtaa"]),
    (
        "",
        "phone",
        &[
            "telephone",
            "tel",
            "mobile",
            "phone no",
            "phone number",
            "telephone number",
            "cell",
            "contact",
            "namba ya simu",
            "nambari ya simu",
        ],
    ),
    ("", "sex", &["gender", "jinsi", "m f", "f m", "me ke", "ke me"]),
    ("", "birth_year", &["year of birth", "born", "yob", "mwaka wa kuzaliwa"]),
    ("", "language", &["lang"]),
    ("", "consent", &["agreed", "consented", "agreement", "amekubali", "idhini"]),
    (
        "",
        "joined_on",
        &[
            "joined",
            "date joined",
            "joining date",
            "member since",
            "date of joining",
            "alijiunga",
            "tarehe ya kujiunga",
        ],
    ),
    ("", "left_on", &["left", "date left", "ameondoka"]),
    (
        "",
        "fodder_started_on",
        &[
            "fodder started",
            "first soak",
            "fodder since",
            "start date",
            "alianza",
            "tarehe ya kuanza",
        ],
    ),
    ("", "water_source", &["water", "maji"]),
    ("", "place", &["how to find it", "directions", "location", "mahali"]),
    ("", "latitude", &["lat", "gps lat"]),
    ("", "longitude", &["lon", "long", "lng", "gps lon"]),
    ("", "date", &["day", "on", "tarehe", "date bought", "date of purchase"]),
    ("", "session", &["milking", "time", "when", "wakati", "muda"]),
    (
        "",
        "kg",
        &[
            "quantity",
            "weight",
            "amount kg",
            "kilos",
            "kgs",
            "kilogram",
            "kilograms",
            "uzito",
            "kiasi",
        ],
    ),
    ("", "cost", &["amount", "price", "paid", "total", "total cost", "bei", "malipo", "jumla"]),
    ("", "amount", &["cost", "price", "paid", "total", "gharama", "bei"]),
    ("", "price", &["price of all", "total price", "bei ya jumla"]),
    ("", "price_per_litre", &["price", "price a litre", "bei"]),
    ("", "price_per_egg", &["price", "price an egg", "bei"]),
    ("", "sold_litres", &["sold", "milk sold", "yaliyouzwa"]),
    ("", "sold_eggs", &["sold", "eggs sold", "yaliyouzwa"]),
    ("", "home_litres", &["home", "home use", "nyumbani"]),
    ("", "calf_litres", &["calves", "calf", "ndama"]),
    ("", "eggs", &["eggs collected", "number of eggs", "idadi ya mayai"]),
    ("", "cracked", &["broken", "yaliyovunjika"]),
    ("", "hens_present", &["hens", "birds", "layers", "kuku", "idadi ya kuku"]),
    ("", "feed", &["feed name", "feed type", "type of feed", "aina ya chakula", "lishe"]),
    ("", "supplier", &["seller", "vendor", "bought from"]),
    ("", "crop", &["grain", "seed", "seed type", "nafaka", "mbegu"]),
    ("", "seed_lot", &["lot", "lot no", "lot number", "fungu"]),
    (
        "",
        "soaked_at",
        &["soaked", "soaked on", "soak date", "date soaked", "imelowekwa", "tarehe ya kuloweka"],
    ),
    ("", "seed_kg", &["seed", "kg seed", "seed weight", "mbegu"]),
    (
        "",
        "spread_at",
        &["spread", "spread on", "spread date", "imetandazwa", "tarehe ya kutandaza"],
    ),
    (
        "",
        "harvested_at",
        &["harvested", "harvested on", "harvest date", "imevunwa", "tarehe ya kuvuna"],
    ),
    ("", "harvested_kg", &["harvest", "harvest kg", "kg harvested", "fodder kg", "mavuno"]),
    ("", "trays_spread", &["trays", "trei"]),
    ("", "discarded_at", &["discarded on", "thrown away on", "spoiled on"]),
    (
        "",
        "trays_discarded",
        &["spoiled", "trays spoiled", "trays lost", "zilizoharibika", "trei zilizoharibika"],
    ),
    ("", "reason", &["why", "kwa nini"]),
    ("", "note", &["notes", "remarks", "remark", "comment", "comments", "maoni"]),
    ("", "animal_class", &["class", "type of animal", "species", "livestock", "aina ya mnyama"]),
];

/// Common words of values: the value, and its words.
const VALUES: &[(&str, &[&str])] = &[
    ("female", &["f", "fem", "woman", "w", "ke", "mke", "mwanamke", "k", "wanawake"]),
    ("male", &["m", "man", "me", "mume", "mwanaume", "mwanamume", "wanaume"]),
    ("not_stated", &["unknown", "not known", "prefer not to say", "hajulikani"]),
    ("en", &["english", "eng", "kiingereza"]),
    ("sw", &["swahili", "kiswahili", "swa", "kisw"]),
    ("day", &["whole day", "all day", "total", "daily", "siku nzima", "siku"]),
    ("morning", &["am", "a m", "asubuhi", "morn"]),
    ("midday", &["noon", "mchana", "lunch"]),
    ("evening", &["pm", "p m", "jioni", "eve", "afternoon"]),
    (
        "dairy_cows",
        &["cow", "cows", "dairy cow", "dairy", "dairy cattle", "ngombe", "ngombe wa maziwa"],
    ),
    ("other_cattle", &["cattle", "beef", "bulls", "heifers"]),
    ("goats", &["goat", "dairy goats"]),
    ("pigs", &["pig"]),
    ("rabbits", &["rabbit"]),
    ("layers", &["layer", "hens", "laying hens", "kuku wa mayai"]),
    ("broilers", &["broiler"]),
    ("indigenous_chickens", &["chickens", "local chickens", "kienyeji", "kuku wa kienyeji"]),
    ("maize", &["corn"]),
    ("mould", &["mold", "mouldy", "moldy"]),
    ("piped", &["tap", "piped water"]),
    ("paid", &["cash", "taslimu"]),
    ("credit", &["loan", "on credit", "mkopo"]),
    ("mobile_money", &["mobile", "phone", "simu"]),
    ("counted", &["count", "idadi"]),
    ("labour", &["labor", "wages", "vibarua"]),
];

/// Text as it is compared: lower case, letters and digits only, one space between words.
#[must_use]
pub fn normal(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut is_gap = false;
    for c in text.chars().filter(|c| !matches!(c, '\'' | '’' | '`' | '´')) {
        if c.is_alphanumeric() {
            if is_gap && !out.is_empty() {
                out.push(' ');
            }
            is_gap = false;
            out.extend(c.to_lowercase());
        } else {
            is_gap = true;
        }
    }
    out
}

/// A word of a column: position among the kind's targets, and how sure it is.
#[derive(Clone, Copy, Debug)]
pub struct Meant {
    /// Position among [`targets`].
    pub target: usize,
    /// How sure.
    pub sure: u32,
}

/// All words of a kind's columns.
#[must_use]
pub fn of_kind(kind: Kind) -> &'static HashMap<String, Vec<Meant>> {
    static ALL: OnceLock<Vec<HashMap<String, Vec<Meant>>>> = OnceLock::new();
    let all = ALL.get_or_init(|| Kind::ALL.iter().map(|k| words_of(*k)).collect());
    &all[kind as usize]
}

fn words_of(kind: Kind) -> HashMap<String, Vec<Meant>> {
    let one = kind.spec().one;
    let mut all: HashMap<String, Vec<Meant>> = HashMap::new();
    for (target, to) in targets(kind).iter().enumerate() {
        let mut add = |word: &str, sure: u32| {
            let meant = all.entry(normal(word)).or_default();
            if !meant.iter().any(|m| m.target == target) {
                meant.push(Meant { target, sure });
            }
        };
        add(to.name(), NAMED);
        add(to.field().map_or("id", |f| f.name), NAMED);
        for language in Language::ALL {
            add(&label(*language, kind, to), NAMED);
        }
        let own = WORDS.iter().filter(|(of, name, _)| *of == one && *name == to.name());
        own.flat_map(|(.., words)| *words).for_each(|word| add(word, COMMON + 5));
        let common = WORDS.iter().filter(|(of, name, _)| of.is_empty() && *name == to.name());
        common.flat_map(|(.., words)| *words).for_each(|word| add(word, COMMON));
    }
    all
}

/// What a column is called on the pages.
#[must_use]
pub fn label(language: Language, kind: Kind, target: &Target) -> String {
    let name = target.name();
    let own = language.known(&format!("field-{}-{name}", kind.spec().one), &[]);
    let known = own.or_else(|| language.known(&format!("field-{name}"), &[]));
    known.unwrap_or_else(|| name.replace('_', " "))
}

/// The value of a choice that a text means, in any letter case and in the words of any language.
#[must_use]
pub fn value(of: &'static [&'static str], text: &str) -> Option<&'static str> {
    let wanted = normal(text);
    let set = word_set(of);
    let is_named = |value: &str| {
        let of_language = |language: Language| {
            let text = set.and_then(|set| language.known(&format!("{set}-{value}"), &[]));
            text.is_some_and(|text| normal(&text) == wanted)
        };
        normal(value) == wanted || Language::ALL.iter().copied().any(of_language)
    };
    let is_common = |value: &str| {
        let mut all = VALUES.iter().filter(|(of, _)| *of == value);
        all.any(|(_, words)| words.contains(&wanted.as_str()))
    };
    let named = of.iter().copied().find(|value| is_named(value));
    let mut common = of.iter().copied().filter(|value| is_common(value));
    named.or_else(|| match (common.next(), common.next()) {
        (Some(only), None) => Some(only),
        _ => None,
    })
}

/// Yes or no in the words of any language.
#[must_use]
pub fn yes_or_no(text: &str) -> Option<bool> {
    match normal(text).as_str() {
        "yes" | "y" | "true" | "1" | "ndiyo" | "ndio" | "n diyo" | "x" | "ok" => Some(true),
        "no" | "n" | "false" | "0" | "hapana" | "la" => Some(false),
        _ => matches!(text.trim(), "✓" | "✔" | "☑").then_some(true),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use traybook_domain::kinds;

    #[test]
    fn every_language_of_the_texts_can_be_recorded() {
        let tags: Vec<&str> = Language::ALL.iter().map(|l| l.tag()).collect();
        assert_eq!(tags, kinds::LANGUAGES);
    }

    #[test]
    fn values_are_known_in_any_case_and_language() {
        for (text, want) in [
            ("F", "female"),
            ("female", "female"),
            ("Mwanamke", "female"),
            ("KE", "female"),
            ("mke", "female"),
            ("M", "male"),
            ("Mume", "male"),
            ("ME", "male"),
            ("Not stated", "not_stated"),
        ] {
            assert_eq!(value(kinds::SEXES, text), Some(want), "{text}");
        }
        assert_eq!(value(kinds::SEXES, "x"), None);
        assert_eq!(value(kinds::LANGUAGES, "Swahili"), Some("sw"));
        assert_eq!(value(kinds::LANGUAGES, "EN"), Some("en"));
        assert_eq!(value(kinds::ANIMAL_CLASSES, "Ng'ombe wa maziwa"), Some("dairy_cows"));
        assert_eq!(value(kinds::CROPS, "BARLEY "), Some("barley"));
        assert_eq!(value(kinds::MILK_SESSIONS, "Asubuhi"), Some("morning"));
        assert_eq!(
            (yes_or_no("Ndiyo"), yes_or_no("NO"), yes_or_no("maybe")),
            (Some(true), Some(false), None)
        );
    }

    /// Every word of the tables is of a column or value that there is, and stands as it is compared.
    #[test]
    fn the_tables_name_what_there_is() {
        for (one, name, words) in WORDS {
            let mut kinds = Kind::ALL.iter().filter(|k| one.is_empty() || k.spec().one == *one);
            let is_there = kinds.any(|k| targets(*k).iter().any(|t| t.name() == *name));
            assert!(is_there, "{one} {name}");
            words.iter().for_each(|word| assert_eq!(*word, normal(word)));
        }
        let of = |k: &Kind| {
            k.spec().fields.iter().filter_map(|f| match f.kind {
                traybook_domain::FieldKind::Choice(of) => Some(of),
                _ => None,
            })
        };
        for (value, words) in VALUES {
            assert!(Kind::ALL.iter().flat_map(of).any(|of| of.contains(value)), "{value}");
            words.iter().for_each(|word| assert_eq!(*word, normal(word)));
        }
    }
}
