//! Invented people: given names that are common in Tanzania, and family names that are made of
//! syllables and belong to nobody.

use crate::random::Rng;

const FEMALE: &[&str] = &[
    "Amina",
    "Asha",
    "Fatuma",
    "Halima",
    "Zainabu",
    "Neema",
    "Upendo",
    "Furaha",
    "Rehema",
    "Zawadi",
    "Subira",
    "Salma",
    "Mariamu",
    "Saida",
    "Pendo",
    "Anna",
    "Joyce",
    "Editha",
    "Agnesi",
    "Rukia",
    "Hadija",
    "Tatu",
    "Mwajuma",
    "Elizabeti",
    "Sofia",
    "Leila",
    "Bahati",
    "Siwema",
];

const MALE: &[&str] = &[
    "Juma",
    "Hamisi",
    "Baraka",
    "Bakari",
    "Rajabu",
    "Saidi",
    "Salumu",
    "Musa",
    "Daudi",
    "Yohana",
    "Petro",
    "Emanueli",
    "Elia",
    "Zuberi",
    "Shabani",
    "Abdalla",
    "Ramadhani",
    "Hasani",
    "Idrisa",
    "Omari",
    "Selemani",
    "Yusufu",
    "Paulo",
    "Samweli",
    "Filipo",
    "Athumani",
    "Jabiri",
    "Tumaini",
];

const FIRST: &[&str] = &["Ka", "Ki", "Ma", "Mba", "Mwe", "Nda", "Nga", "Sha", "Ta", "Lu", "Go"];
const MIDDLE: &[&str] = &["ra", "li", "so", "ti", "we", "ngu", "zi", "lo", "ma", "he"];
const LAST: &[&str] = &["ndi", "wa", "ro", "mbo", "le", "sha", "ni", "tu", "zo"];

/// A person's name and sex as it stands in records.
pub(crate) fn person(rng: &mut Rng) -> (String, &'static str) {
    let sex = if rng.chance(0.56) { "female" } else { "male" };
    let given = rng.pick(if sex == "female" { FEMALE } else { MALE });
    let family = [rng.pick(FIRST), rng.pick(MIDDLE), rng.pick(LAST)].concat();
    (format!("{given} {family}"), sex)
}

/// How to find a farm, in words.
pub(crate) fn place(rng: &mut Rng) -> String {
    let mark = rng.pick(&[
        "the old mango tree",
        "the primary school",
        "the maize mill",
        "the wooden bridge",
        "the dispensary",
        "the football pitch",
        "the water kiosk",
        "the market shed",
    ]);
    let side = rng.pick(&["left", "right"]);
    let gate = rng.pick(&["first gate", "second gate", "third gate", "blue gate", "iron gate"]);
    format!("Past {mark}, {gate} on the {side}")
}
