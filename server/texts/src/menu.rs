//! A menu over USSD: each step fills a text, which is read as if it had been written. Nothing is
//! recorded before the last yes.

use crate::answers::{choice, drafted};
use crate::gsm::fit;
use crate::read::{Outcome, Reading, query_word};
use crate::scene::{Pending, Question, Scene};
use crate::words::{Opening, Query, Task, opening_word};
use serde::{Deserialize, Serialize};
use traybook_speech::Language;

/// Septets of one step (3GPP TS 23.038: 160 octets of seven bits each).
pub const MENU_SEPTETS: usize = 182;

/// What the first step offers, in its order.
const OFFERED: [Offer; 9] = [
    Offer::Milk,
    Offer::Eggs,
    Offer::Harvest,
    Offer::Discard,
    Offer::Work,
    Offer::Batches,
    Offer::Saving,
    Offer::Account,
    Offer::Undo,
];

/// A line of the first step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Offer {
    Milk,
    Eggs,
    Harvest,
    Discard,
    Work,
    Batches,
    Saving,
    Account,
    Undo,
}

impl Offer {
    /// What is asked for next; none where the word alone is enough.
    const fn prompt(self) -> Option<&'static str> {
        match self {
            Self::Milk => Some("t-menu-milk"),
            Self::Eggs => Some("t-menu-eggs"),
            Self::Harvest => Some("t-menu-harvest"),
            Self::Discard => Some("t-menu-discard"),
            _ => None,
        }
    }

    /// Whether it is about one farm.
    const fn is_of_farm(self) -> bool {
        !matches!(self, Self::Account | Self::Undo)
    }

    /// The beginning of its text.
    fn word(self, language: Language) -> String {
        let query = |query| query_word(query, language).to_owned();
        match self {
            Self::Milk => opening_word(Opening::Milk, language).to_owned(),
            Self::Eggs => opening_word(Opening::Eggs, language).to_owned(),
            Self::Harvest => {
                format!("{} kilo", opening_word(Opening::Work(Task::Harvest), language))
            }
            Self::Discard => {
                format!("{} trei", opening_word(Opening::Work(Task::Discard), language))
            }
            Self::Work => query(Query::Work),
            Self::Batches => query(Query::Batches),
            Self::Saving => query(Query::Saving),
            Self::Account => query(Query::Account),
            Self::Undo => match language {
                Language::Sw => "kosa".to_owned(),
                Language::En => "undo".to_owned(),
            },
        }
    }
}

/// Where a menu stands.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Stage {
    /// Nothing is chosen yet.
    #[default]
    First,
    /// Which farm.
    Farm(Offer),
    /// The figure of a record that begins with these words.
    Figure(String),
    /// Which line of the list was done.
    Line,
    /// A question of the reading.
    Question,
    /// Whether it is right.
    Sure,
}

/// A menu that is open.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Menu {
    stage: Stage,
    /// The text that was read last.
    pub text: String,
    /// The question that was open when it was read.
    pub pending: Option<Pending>,
    /// The question that is open now.
    asked: Option<Pending>,
    /// What was said last.
    said: String,
}

/// What comes next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Next {
    /// This is said, and the menu goes on.
    Say(String),
    /// This is said, and the menu is over.
    End(String),
    /// The menu's text is read, with its open question.
    Read,
    /// The menu's text is taken: its records are made.
    Write,
}

impl Menu {
    /// The first step.
    pub fn open(&mut self, scene: &Scene) -> Next {
        if !scene.known {
            return Next::End(scene.language.text("t-unknown"));
        }
        self.say(scene.language.text("t-menu"))
    }

    /// An input.
    pub fn step(&mut self, input: &str, scene: &Scene) -> Next {
        let language = scene.language;
        let input = input.trim();
        let at = input.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
        match self.stage.clone() {
            Stage::First => match at.and_then(|at| OFFERED.get(at)) {
                Some(offer) if offer.is_of_farm() && scene.farms.len() > 1 => {
                    self.stage = Stage::Farm(*offer);
                    let farms: Vec<String> = scene.farms.iter().map(|f| f.code.clone()).collect();
                    self.say(choice(language, &language.text("t-menu-farm"), &farms))
                }
                Some(offer) => self.chosen(*offer, None, language),
                None => self.again(language),
            },
            Stage::Farm(offer) => match at.and_then(|at| scene.farms.get(at)) {
                Some(farm) => self.chosen(offer, Some(&farm.code), language),
                None => self.again(language),
            },
            Stage::Figure(words) => self.read(format!("{words} {input}"), None),
            Stage::Line if input == "0" => Next::End(language.text("t-menu-end")),
            Stage::Line => {
                let word = match language {
                    Language::Sw => "tayari",
                    Language::En => "done",
                };
                self.read(format!("{word} {input}"), None)
            }
            Stage::Question => {
                let asked = self.asked.clone();
                let is_sure =
                    matches!(&asked, Some(Pending { question: Question::Sure { .. }, .. }));
                let text = match (is_sure, input, language) {
                    (true, "1", Language::Sw) => "ndiyo",
                    (true, "1", Language::En) => "yes",
                    (true, "2", Language::Sw) => "hapana",
                    (true, "2", Language::En) => "no",
                    _ => input,
                };
                self.read(text.to_owned(), asked)
            }
            Stage::Sure => match input {
                "1" => Next::Write,
                "2" => Next::End(language.text("t-menu-no")),
                _ => self.again(language),
            },
        }
    }

    fn chosen(&mut self, offer: Offer, farm: Option<&str>, language: Language) -> Next {
        let word = offer.word(language);
        let text = farm.map_or(word.clone(), |farm| format!("{farm} {word}"));
        match offer.prompt() {
            Some(prompt) => {
                self.stage = Stage::Figure(text);
                self.say(language.text(prompt))
            }
            None => self.read(text, None),
        }
    }

    fn read(&mut self, text: String, pending: Option<Pending>) -> Next {
        (self.text, self.pending) = (text, pending);
        Next::Read
    }

    /// What the text that was read leads to.
    pub fn heard(&mut self, reading: &Reading, scene: &Scene) -> Next {
        let language = scene.language;
        let draft = |key: &str| {
            let said = drafted(scene, &language.text(key), &reading.records);
            format!("{said}\n{}", language.text("t-menu-yes-no"))
        };
        match reading.outcome {
            Outcome::Record | Outcome::Undo => {
                self.stage = Stage::Sure;
                let is_record = reading.outcome == Outcome::Record;
                self.say(draft(if is_record { "t-menu-record" } else { "t-menu-undo" }))
            }
            Outcome::Ask if reading.pending.is_some() => {
                self.stage = Stage::Question;
                self.asked.clone_from(&reading.pending);
                let is_sure = matches!(
                    &reading.pending,
                    Some(Pending { question: Question::Sure { .. }, .. })
                );
                self.say(match is_sure {
                    true => format!("{}\n{}", reading.answer, language.text("t-menu-yes-no")),
                    false => reading.answer.clone(),
                })
            }
            Outcome::Answer if is_list(reading, scene) => {
                self.stage = Stage::Line;
                self.say(format!("{}\n{}", reading.answer, language.text("t-menu-line")))
            }
            _ => Next::End(fit(&reading.answer, MENU_SEPTETS)),
        }
    }

    fn say(&mut self, text: String) -> Next {
        self.said = fit(&text, MENU_SEPTETS);
        Next::Say(self.said.clone())
    }

    /// What was said last, once more.
    fn again(&mut self, language: Language) -> Next {
        let text = format!("{}\n{}", language.text("t-menu-wrong"), self.said);
        Next::Say(fit(&text, MENU_SEPTETS))
    }
}

/// Whether the answer is a list of work that is left.
fn is_list(reading: &Reading, scene: &Scene) -> bool {
    let asked = reading.asked.as_ref().filter(|a| a.query == Query::Work);
    let farm = asked.and_then(|a| scene.farms.iter().find(|f| Some(&f.code) == a.farm.as_ref()));
    farm.is_some_and(|f| f.lines.iter().any(|l| l.n.is_some()))
}
