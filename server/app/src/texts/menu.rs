//! Menus over USSD: each step fills the same reading as a text, and only the last yes writes.
//!
//! A session stands in the database, one a number, for some minutes. A step that comes again gives
//! the same answer. An aggregator sends either all inputs so far or the last one only.

use super::meant::choose;
use super::said::keep_list;
use super::scene::known;
use super::take::{Agreed, Come, Taking};
use crate::App;
use crate::error::AppError;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use traybook_speech::Language;
use traybook_storage::Writing;
use traybook_storage::texts::{self, MenuRow};
use traybook_texts::gsm::fit;
use traybook_texts::menu::{MENU_SEPTETS, Menu, Next};
use traybook_texts::{Reading, Scene};

/// How long a session is kept after its last step: networks cut one after some minutes.
pub(super) const MENU_MS: i64 = 10 * 60 * 1_000;
/// The same input of a session within this time is the same request once more: nobody reads a step
/// and presses a key so fast.
const SAME_INPUT_MS: i64 = 2_000;
/// Inputs of a session.
const STEPS_MAX: usize = 24;
/// Longest name of a session.
pub const SESSION_MAX: usize = 100;
/// Longest input, all of them joined.
pub const MENU_INPUT_MAX: usize = 400;

/// A step as a carrier hands it over.
#[derive(Clone, Debug)]
pub struct MenuCall {
    /// Name of the carrier.
    pub carrier: String,
    /// The carrier's own name of the session.
    pub session: String,
    /// Number of the member.
    pub from: String,
    /// Number or code that was called.
    pub to: Option<String>,
    /// What was typed.
    pub input: String,
    /// Whether that is all since the session began, joined by stars; else it is the last alone.
    pub is_joined: bool,
}

/// What is shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MenuSaid {
    /// At most 182 septets.
    pub text: String,
    /// Whether the session is over.
    pub ends: bool,
}

/// A session as it is kept.
#[derive(Clone, Default, Serialize, Deserialize)]
struct Kept {
    menu: Menu,
    list: Option<(String, NaiveDate)>,
    inputs: Vec<String>,
    said: String,
    ends: bool,
}

/// One step of a session.
struct Step {
    taking: Taking,
    call: MenuCall,
}

impl App {
    /// Takes a step of a menu.
    ///
    /// # Errors
    /// `Forbidden` for a carrier that is not known; `Invalid`; those of the store.
    pub async fn text_menu(&self, call: MenuCall) -> Result<MenuSaid, AppError> {
        if call.session.is_empty() || call.session.chars().count() > SESSION_MAX {
            let detail = format!("give the session's own name, 1 to {SESSION_MAX} characters");
            return Err(AppError::field("session", "length", detail));
        }
        let come = Come {
            carrier: call.carrier.clone(),
            id: format!("menu {}", call.session),
            from: call.from.clone(),
            to: call.to.clone(),
            text: None,
            sent_at: None,
        };
        let (coops, number) = self.meant(&come).await?;
        let now = self.now();
        let (coop, asked) = choose(&coops, None, now)?;
        let spoken = coops.iter().flat_map(|(_, links)| links).next();
        let language = spoken.and_then(|l| Language::parse(&l.language)).unwrap_or_default();
        let end = |key: &str| Ok(MenuSaid { text: language.text(key), ends: true });
        if number.is_none() {
            return end("t-unknown");
        }
        if asked.len() > 1 {
            return end("t-menu-coop");
        }
        let of = coop.number;
        let (names, kept, menu, is_refused) = (Vec::new(), None, None, false);
        let taking = Taking { coop, come, number, names, now, kept, menu, is_refused };
        let step = |is_refused: bool| {
            let taking = Taking { is_refused, ..taking.clone() };
            let step = Step { taking, call: call.clone() };
            self.store.change(of, move |writing| step.take(writing))
        };
        match step(false).await {
            Err(
                AppError::Invalid(_)
                | AppError::Conflict { .. }
                | AppError::Stale { .. }
                | AppError::Forbidden
                | AppError::NotFound,
            ) => step(true).await,
            other => other,
        }
    }
}

impl Step {
    fn take(&self, writing: &mut Writing<'_>) -> Result<MenuSaid, AppError> {
        let (coop, call) = (self.taking.coop.number, &self.call);
        let number = self.taking.number.clone().unwrap_or_default();
        let row = texts::menu(writing, coop, &call.carrier, &call.session)?;
        let row = row.filter(|r| {
            r.number == number && (0..MENU_MS).contains(&(self.taking.now.0 - r.touched_at))
        });
        let touched_at = row.as_ref().map(|r| r.touched_at);
        let kept = row.and_then(|r| serde_json::from_str::<Kept>(&r.state).ok());
        let Some((mut kept, inputs)) = self.left(kept.as_ref(), touched_at) else {
            let kept = kept.unwrap_or_default();
            return Ok(MenuSaid { text: kept.said, ends: kept.ends });
        };
        if kept.said.is_empty() {
            let next = self.open(writing, &mut kept)?;
            self.follow(writing, &mut kept, next)?;
        }
        for input in inputs {
            if kept.ends {
                break;
            }
            kept.inputs.push(input.clone());
            let next = self.step(writing, &mut kept, &input)?;
            self.follow(writing, &mut kept, next)?;
        }
        let row = MenuRow {
            carrier: call.carrier.clone(),
            session: call.session.clone(),
            number,
            state: super::said::json(&kept)?,
            steps: i64::try_from(kept.inputs.len()).unwrap_or(i64::MAX),
            touched_at: self.taking.now.0,
        };
        texts::put_menu(writing, coop, &row)?;
        Ok(MenuSaid { text: kept.said, ends: kept.ends })
    }

    /// Where the session stands and the inputs that are new; none where this request came before.
    fn left(&self, kept: Option<&Kept>, touched_at: Option<i64>) -> Option<(Kept, Vec<String>)> {
        let typed = self.call.input.trim();
        let fresh = kept.is_none();
        let kept = kept.cloned().unwrap_or_default();
        if kept.ends {
            return None;
        }
        if self.call.is_joined {
            let all: Vec<String> = match typed {
                "" => Vec::new(),
                typed => typed.split('*').map(str::to_owned).collect(),
            };
            return match all.strip_prefix(kept.inputs.as_slice()) {
                Some([]) if !fresh => None,
                Some(more) => Some((kept.clone(), more.to_vec())),
                // Another way through the menu: from its beginning, as nothing was written.
                None => Some((Kept::default(), all)),
            };
        }
        let is_soon = touched_at.is_some_and(|at| self.taking.now.0 - at < SAME_INPUT_MS);
        let is_same = kept.inputs.last().map_or(typed.is_empty(), |last| last == typed);
        if !fresh && ((is_soon && is_same) || typed.is_empty()) {
            return None;
        }
        // A session that is not known any more begins anew, whatever was typed.
        let inputs = if fresh { Vec::new() } else { vec![typed.to_owned()] };
        Some((kept, inputs))
    }

    /// What is known, with the text of the menu read.
    fn reading(
        &self,
        writing: &mut Writing<'_>,
        kept: &mut Kept,
        text: &str,
    ) -> Result<(Scene, Reading), AppError> {
        let mut taking = self.taking.clone();
        taking.come.text = Some(text.to_owned());
        let agreed = kept.agreed();
        let mut turn = taking.turn(writing)?;
        turn.pending = agreed.pending(taking.now.0)?;
        turn.list = agreed.list;
        let links = taking.links(writing)?;
        let (known, reading) = taking.read(writing, &links, &turn)?;
        keep_list(&mut turn, &known.scene, &reading)?;
        kept.list = turn.list;
        Ok((known.scene, reading))
    }

    /// What is known of the number, without its work.
    fn scene(&self, writing: &mut Writing<'_>) -> Result<Scene, AppError> {
        let taking = &self.taking;
        let (turn, links) = (taking.turn(writing)?, taking.links(writing)?);
        Ok(known(writing, &taking.coop, &links, &turn, (taking.now, false))?.scene)
    }

    fn open(&self, writing: &mut Writing<'_>, kept: &mut Kept) -> Result<Next, AppError> {
        let scene = self.scene(writing)?;
        Ok(kept.menu.open(&scene))
    }

    fn step(
        &self,
        writing: &mut Writing<'_>,
        kept: &mut Kept,
        input: &str,
    ) -> Result<Next, AppError> {
        let scene = self.scene(writing)?;
        if kept.inputs.len() > STEPS_MAX {
            return Ok(Next::End(scene.language.text("t-menu-long")));
        }
        let next = kept.menu.step(input, &scene);
        if next != Next::Read {
            return Ok(next);
        }
        let text = kept.menu.text.clone();
        let (scene, reading) = self.reading(writing, kept, &text)?;
        Ok(kept.menu.heard(&reading, &scene))
    }

    /// Does what comes next, and keeps what is said.
    fn follow(
        &self,
        writing: &mut Writing<'_>,
        kept: &mut Kept,
        next: Next,
    ) -> Result<(), AppError> {
        (kept.said, kept.ends) = match next {
            Next::Say(text) => (text, false),
            Next::End(text) => (text, true),
            Next::Read => (String::new(), true),
            Next::Write => {
                let mut taking = self.taking.clone();
                taking.come.text = Some(kept.menu.text.clone());
                taking.menu = Some(kept.agreed());
                let spoken = taking.take(writing)?;
                (spoken.answer.unwrap_or_default(), true)
            }
        };
        kept.said = fit(&kept.said, MENU_SEPTETS);
        Ok(())
    }
}

impl Kept {
    fn agreed(&self) -> Agreed {
        Agreed { pending: self.menu.pending.clone(), list: self.list.clone() }
    }
}
