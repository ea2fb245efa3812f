//! Random texts: nothing fails, and every answer fits one segment.

use super::{base, cases, large};
use traybook_speech::Language;
use traybook_texts::{Outcome, gsm, read};

/// A small generator with a seed (splitmix64, public domain, Sebastiano Vigna).
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    pub fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}

const WORDS: &[&str] = &[
    "maziwa",
    "mayai",
    "vuna",
    "nimevuna",
    "tupa",
    "tayari",
    "loweka",
    "chuja",
    "tandaza",
    "mwagilia",
    "lisha",
    "osha",
    "kazi",
    "trei",
    "akiba",
    "deni",
    "msaada",
    "afisa",
    "kosa",
    "ndiyo",
    "hapana",
    "stop",
    "anza",
    "kiswahili",
    "english",
    "jana",
    "juzi",
    "leo",
    "kesho",
    "asubuhi",
    "mchana",
    "jioni",
    "ng'ombe",
    "kuku",
    "mbuzi",
    "nyufa",
    "lita",
    "kilo",
    "ukungu",
    "kuoza",
    "panya",
    "nyingine",
    "na",
    "nusu",
    "ongeza",
    "badala",
    "B41",
    "B39",
    "F3",
    "ku1",
    "ng1",
    "milk",
    "eggs",
    "discard",
    "done",
    "work",
    "F0012-261119",
    "261119",
    "COW",
    "½",
    "€",
    "[x]",
    "ŵĩkũ",
    "😀",
    "kumi",
    "\u{feff}",
    "mtu",
    "PIN",
    "http://x.example",
    "?",
    "''",
    "maziwa'",
];
const FIGURES: &[&str] = &[
    "0",
    "1",
    "2",
    "3",
    "6",
    "9",
    "12",
    "12.5",
    "12,5",
    "1,250",
    "1.250",
    "40",
    "4O",
    "l2",
    "300",
    "1/2",
    "25/11",
    "31/2",
    "25/11/26",
    "-5",
    "+7",
    "99999999999999999999",
    "2,3",
    "2,3,5",
    "12.5.1",
    "7:30",
    "50%",
    "00",
    "0.001",
    "9999999",
    "9,999,999",
    "1/0",
    "0/0",
];

fn text(dice: &mut Dice) -> String {
    let mut out = String::new();
    // Half of them begin like a record, so that records are reached.
    if dice.below(2) == 0 {
        let words = ["maziwa", "mayai", "vuna", "tupa", "tayari", "loweka", "kosa", "kazi", "trei"];
        out = format!("{} ", dice.of(&words));
        if dice.below(2) == 0 {
            out.push_str(&format!("{} ", dice.below(60)));
            out.push_str(["", "ukungu", "jana", "kilo 6"][dice.below(4)]);
        }
        if dice.below(2) == 0 {
            return out;
        }
    }
    for _ in 0..dice.below(12) {
        match dice.below(10) {
            0..=4 => out.push_str(dice.of::<&str>(WORDS)),
            5..=7 => out.push_str(dice.of::<&str>(FIGURES)),
            8 => out.extend(char::from_u32(dice.below(0x3000) as u32)),
            _ => out.push_str(&dice.below(100_000).to_string()),
        }
        if dice.below(8) > 0 {
            out.push(' ');
        }
    }
    out
}

#[test]
fn a_hundred_thousand_random_texts_do_no_harm() {
    let mut dice = Dice(20_261_127);
    let fits = |text: &str| gsm::septets(text).is_some_and(|n| n > 0 && n <= gsm::SEGMENT);
    let mut seen = std::collections::BTreeMap::<&str, usize>::new();
    for language in [Language::Sw, Language::En] {
        for mut scene in [base(language), large()] {
            scene.language = language;
            let fresh = scene.clone();
            for _ in 0..25_000 {
                let text = text(&mut dice);
                let reading = read(Some(&text), &scene);
                assert!(fits(&reading.answer), "{text:?}: {}", reading.answer);
                assert_eq!(gsm::segments(&reading.answer), 1);
                let makes = matches!(reading.outcome, Outcome::Record | Outcome::Undo);
                assert_eq!(makes, !reading.records.is_empty(), "{text:?}");
                *seen.entry(reading.outcome.text()).or_default() += 1;
                cases::go_on(&mut scene, Some(&text), &reading);
                if dice.below(20) == 0 {
                    scene = fresh.clone();
                }
            }
            assert!(cases::lists_fit(&scene));
        }
    }
    // All of it was walked through.
    for outcome in ["record", "ask", "answer", "refuse", "undo", "officer", "unclear"] {
        assert!(seen.get(outcome).is_some_and(|n| *n > 50), "{outcome}: {seen:?}");
    }
}
