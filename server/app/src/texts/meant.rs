//! Which co-operative a text is for, where several share a carrier.

use super::take::{Come, Spoken, Taking};
use super::{Served, numbers};
use crate::error::AppError;
use crate::{App, Coop};
use traybook_domain::value::Instant;
use traybook_storage::texts::{self, Number};
use traybook_storage::{Conn, people::logins};
use traybook_texts::phone::e164;
use traybook_texts::{Pending, chosen_coop};
use uuid::Uuid;

/// A co-operative that may be meant, with the links of the sender.
pub(super) type Linked = (Coop, Vec<Number>);

impl App {
    /// The co-operatives that a text may be for, with their links of the number.
    pub(super) async fn meant(
        &self,
        come: &Come,
    ) -> Result<(Vec<Linked>, Option<String>), AppError> {
        let carrier = self.carriers.named(&come.carrier).ok_or(AppError::Forbidden)?;
        let number = e164(&come.from, &carrier.dialling);
        let to = come.to.as_ref().and_then(|to| e164(to, &carrier.dialling).or(Some(to.clone())));
        let named = |s: &&Served| s.number.is_some() && s.number == to;
        let one = carrier.serves.iter().find(named);
        let ids: Vec<Uuid> = match one {
            Some(served) => vec![served.id],
            None => carrier.serves.iter().map(|s| s.id).collect(),
        };
        let of = number.clone();
        let found = self.store.read(move |conn| {
            let mut found = Vec::new();
            for id in &ids {
                let Some(coop) = logins::coop_number(conn, *id)? else { continue };
                let links = match &of {
                    Some(of) => texts::links(conn, coop, of)?,
                    None => Vec::new(),
                };
                found.push((Coop::load(conn, coop, *id)?, links));
            }
            Ok::<_, AppError>(found)
        });
        Ok((found.await?, number))
    }

    /// Takes the texts that waited for the choice which this text makes; none where it makes none.
    /// Each is taken by an id of its own, and the choice is noted after them: whatever dies between,
    /// the same text again takes what is left.
    pub(super) async fn take_kept(
        &self,
        taking: &Taking,
        asked: &[Coop],
    ) -> Result<Option<Spoken>, AppError> {
        let (Some(number), Some(text)) = (taking.number.clone(), taking.come.text.clone()) else {
            return Ok(None);
        };
        if asked.len() < 2 {
            return Ok(None);
        }
        let (first, many) = (taking.clone(), asked.len());
        let found = self.store.read(move |conn| {
            let pending = first.turn(conn)?.pending;
            let pending = pending.and_then(|p| serde_json::from_str::<Pending>(&p.0).ok());
            let chosen = |p: Pending| Some((chosen_coop(&text, &p, many)?, p));
            Ok::<_, AppError>(pending.and_then(chosen))
        });
        let Some((at, pending)) = found.await? else { return Ok(None) };
        let coop = asked.get(at).ok_or(AppError::NotFound)?;
        let mut spoken = None;
        for (n, (said_on, text)) in pending.waiting().into_iter().enumerate() {
            let mut come = taking.come.clone();
            if n > 0 {
                come = Come { id: format!("{}.{n}", come.id), sent_at: None, ..come };
            }
            let kept = Some((said_on, text.to_owned()));
            let (coop, names) = (coop.clone(), Vec::new());
            let taken =
                self.take_one(&Taking { coop, come, names, kept, ..taking.clone() }).await?;
            spoken.get_or_insert(taken);
        }
        let (of, now) = (coop.number, taking.now);
        let chosen = number.clone();
        self.store.change(of, move |w| numbers::choose(w, of, &chosen, now)).await?;
        let asking = taking.clone();
        self.store.change(taking.coop.number, move |w| asking.forget_question(w)).await?;
        Ok(spoken)
    }

    /// STOP ends what nobody asked for from all co-operatives that this number may mean.
    pub(super) async fn stop_all(&self, taking: &Taking, all: &[Linked]) -> Result<(), AppError> {
        let Some(number) = &taking.number else { return Ok(()) };
        let others = all.iter().filter(|(coop, _)| coop.number != taking.coop.number);
        for (coop, links) in others {
            let mut links = links.clone();
            links.retain(|l| l.state == "active");
            if links.is_empty() {
                continue;
            }
            let (of, number, now) = (coop.number, number.clone(), taking.now.0);
            let stop = move |w: &mut traybook_storage::Writing<'_>| {
                numbers::set_state(w, of, &links, "stopped")?;
                texts::give_up(w, of, &number, now)?;
                Ok::<_, AppError>(())
            };
            self.store.change(of, stop).await?;
        }
        Ok(())
    }
}

impl Taking {
    fn forget_question(&self, conn: &mut Conn) -> Result<(), AppError> {
        let mut turn = self.turn(conn)?;
        turn.pending = None;
        Ok(texts::put_turn(conn, self.coop.number, &turn)?)
    }
}

/// The co-operative of a text; where several may be meant and none was chosen, the first, and all of
/// them to ask.
pub(super) fn choose(
    coops: &[Linked],
    text: Option<&str>,
    now: Instant,
) -> Result<(Coop, Vec<Coop>), AppError> {
    let text = text.unwrap_or_default().trim();
    if let Some(awaits) = coops.iter().find(|(_, links)| numbers::is_code(links, text, now)) {
        return Ok((awaits.0.clone(), Vec::new()));
    }
    let linked: Vec<&Linked> =
        coops.iter().filter(|(_, links)| links.iter().any(|l| l.state != "pending")).collect();
    let pending = coops.iter().find(|(_, links)| !links.is_empty());
    match linked.as_slice() {
        [] => {
            let one = pending.or(coops.first()).ok_or(AppError::NotFound)?;
            Ok((one.0.clone(), Vec::new()))
        }
        [one] => Ok((one.0.clone(), Vec::new())),
        several => {
            let chosen_at = |of: &Linked| of.1.iter().filter_map(|l| l.chosen_at).max();
            let chosen = several.iter().filter(|c| chosen_at(c).is_some());
            match chosen.max_by_key(|c| chosen_at(c)) {
                Some(one) => Ok((one.0.clone(), Vec::new())),
                None => {
                    let first = several.first().map(|c| c.0.clone()).ok_or(AppError::NotFound)?;
                    Ok((first, several.iter().map(|(coop, _)| coop.clone()).collect()))
                }
            }
        }
    }
}
