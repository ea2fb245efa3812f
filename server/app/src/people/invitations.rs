//! One-time codes with which people set a password, and what is done when a telephone is lost.

use super::session::{cooperative_of, digest};
use crate::error::AppError;
use crate::people::guessable;
use crate::people::security::{self, NO_COOP, Note};
use crate::people::throttle::Ended;
use crate::records::{Txn, find_visible};
use crate::{Actor, App, Coop};
use serde_json::{Map, Value as Json, json};
use traybook_answers::people::security::SecurityEvent;
use traybook_domain::kinds::{Member, Person};
use traybook_domain::people::authz::{Action, Role, Task};
use traybook_domain::record::Record as _;
use traybook_domain::{Kind, Value, limits};
use traybook_storage::Conn;
use traybook_storage::people::accounts;
use traybook_storage::people::sign_ins;
use traybook_storage::records::{self, Filter, Record};
use uuid::Uuid;

/// Letters and digits of codes: none that looks or sounds like another. 10 of 31 signs are about 49
/// bits; tries are counted by address.
const SIGNS: &[u8; 31] = b"ABCDEFGHJKMNPQRSTUVWXYZ23456789";
/// Random signs of a code. Before them stands the number of the co-operative, in the same signs, so
/// that the code is looked for there alone.
const LENGTH: usize = 10;
/// Signs of the number of a co-operative at most.
const NUMBER_MAX: usize = 12;
/// Members that one sheet invites.
pub const SHEET_MAX: usize = 60;
/// Members that are looked through for a sheet.
const MEMBERS_MAX: usize = 20_000;

/// Somebody who was invited.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Invited {
    pub name: String,
    /// Telephone number or address to sign in with.
    pub login: String,
    /// One-time code.
    pub code: String,
}

/// Members that were invited at once.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sheet {
    /// Invited now.
    pub invited: Vec<Invited>,
    /// Names of members who have no telephone number, and so can not sign in.
    pub without_phone: Vec<String>,
    /// Members who have set no password and did not fit on this sheet.
    pub left: usize,
}

/// A code as kept: the co-operative that it names, and its hash. One of an older program names none.
#[derive(Clone)]
struct Kept(Option<i64>, String);

impl Kept {
    /// Reads a code as its holder may write it: in any case, with gaps.
    fn of(code: &str) -> Self {
        let signs = code.chars().filter(char::is_ascii_alphanumeric);
        let plain: String = signs.map(|c| c.to_ascii_uppercase()).collect();
        match plain.len().checked_sub(LENGTH) {
            Some(0) => Self(None, digest(&plain)),
            Some(number @ 1..=NUMBER_MAX) => {
                Self(plain.get(..number).and_then(read_number), digest(&plain))
            }
            _ => Self(None, digest(code.trim())),
        }
    }

    fn key(&self) -> (Option<i64>, &str) {
        (self.0, &self.1)
    }
}

/// A co-operative's number in the signs of codes.
fn number_in_signs(coop: i64) -> String {
    let (mut left, mut signs) = (coop.unsigned_abs(), Vec::new());
    while left > 0 {
        let at = usize::try_from(left % 31).unwrap_or(0);
        signs.push(SIGNS.get(at).map_or('A', |sign| char::from(*sign)));
        left /= 31;
    }
    signs.iter().rev().collect()
}

fn read_number(signs: &str) -> Option<i64> {
    signs.bytes().try_fold(0_i64, |number, sign| {
        let at = SIGNS.iter().position(|s| *s == sign)?;
        number.checked_mul(31)?.checked_add(i64::try_from(at).ok()?)
    })
}

fn bad_code() -> AppError {
    AppError::field("code", "unknown_code", "ask for a new code: this one is unknown, used or old")
}

/// Who may be invited, by whom.
fn check(actor: &Actor, record: &Record) -> Result<Person, AppError> {
    let person = Person::from_values(&record.values).ok_or(AppError::NotFound)?;
    if record.withdrawn_at.is_some() || !person.active {
        let detail = "this person may not sign in; make the person active first";
        return Err(AppError::conflict("inactive", detail));
    }
    if person.role == "operator" && actor.role != Role::Operator && !actor.is_machine() {
        return Err(AppError::Forbidden);
    }
    Ok(person)
}

impl App {
    /// [`LENGTH`] random signs in two halves.
    pub(crate) fn new_code(&self) -> Result<String, AppError> {
        let mut code = String::new();
        while code.len() < LENGTH + 1 {
            let mut random = [0_u8; 16];
            self.random.fill(&mut random).map_err(AppError::Internal)?;
            // 248 is 8 times 31: each sign is as likely as the others.
            for sign in random.iter().filter(|b| **b < 248) {
                let sign = SIGNS.get(usize::from(*sign) % SIGNS.len()).copied().unwrap_or(b'A');
                if code.len() == LENGTH / 2 {
                    code.push('-');
                }
                if code.len() < LENGTH + 1 {
                    code.push(char::from(sign));
                }
            }
        }
        Ok(code)
    }

    /// A code that names its co-operative.
    fn code_of(&self, actor: &Actor) -> Result<String, AppError> {
        Ok(format!("{}-{}", number_in_signs(actor.coop.number), self.new_code()?))
    }

    /// Makes a one-time code with which a person sets a password. It is shown once; the person's
    /// older codes end.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`; `Invalid` when only an operator may invite this person.
    pub async fn invite(&self, actor: &Actor, person: Uuid) -> Result<(String, i64), AppError> {
        self.invite_anew(actor, person, false).await
    }

    /// The same for somebody whose telephone is lost: all sign-ins of the person end first.
    pub async fn lost_telephone(
        &self,
        actor: &Actor,
        person: Uuid,
    ) -> Result<(String, i64), AppError> {
        self.invite_anew(actor, person, true).await
    }

    async fn invite_anew(
        &self,
        actor: &Actor,
        person: Uuid,
        is_lost: bool,
    ) -> Result<(String, i64), AppError> {
        let visible = actor.task(Task::Invite)?;
        actor.visible(Action::Correct, Kind::Person)?;
        let (code, now) = (self.code_of(actor)?, self.now().0);
        let expires_at = now + limits::INVITATION_S * 1000;
        let (actor, Kept(_, hash)) = (actor.clone(), Kept::of(&code));
        self.store
            .write(move |conn| {
                let record = find_visible(conn, &actor, Kind::Person, person, &visible)?;
                check(&actor, &record)?;
                let coop = actor.coop.number;
                if is_lost {
                    accounts::end_person(conn, coop, person, now)?;
                    // The telephone made the codes, too.
                    sign_ins::end_second_factor(conn, coop, person)?;
                }
                let is_reset = accounts::password(conn, coop, person)?.is_some();
                if is_reset && actor.person != person {
                    sign_ins::put_notice(conn, (coop, person), &actor.name, now)?;
                }
                accounts::invite(conn, &hash, (coop, person), expires_at, now)?;
                let event =
                    if is_lost { SecurityEvent::PhoneLost } else { SecurityEvent::CodeMade };
                security::add(conn, coop, &Note::new(event).by(&actor).about(person), now)?;
                Ok::<_, AppError>(())
            })
            .await?;
        Ok((code, expires_at))
    }

    /// Invites members who have set no password yet, up to a sheet full; of an area, or all. Who is
    /// no person yet becomes one, with the telephone number of the register.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` where a member's own record breaks a rule.
    pub async fn invite_members(
        &self,
        actor: &Actor,
        area: Option<Uuid>,
    ) -> Result<Sheet, AppError> {
        actor.task(Task::Invite)?;
        actor.visible(Action::Create, Kind::Person)?;
        let now = self.now().0;
        let expires_at = now + limits::INVITATION_S * 1000;
        let mut fresh = Vec::new();
        for _ in 0..SHEET_MAX {
            fresh.push((self.new_id()?, self.code_of(actor)?));
        }
        let by = actor.clone();
        self.change(actor, move |txn| {
            let mut sheet = Sheet::default();
            let mut fresh = fresh.iter();
            let coop = by.coop.number;
            for (member, person) in without_password(txn, &by, area)? {
                let phone = member.1.phone.clone();
                let Some(login) =
                    person.as_ref().map_or(phone, |(_, p)| p.phone.clone().or(p.email.clone()))
                else {
                    sheet.without_phone.push(member.1.name);
                    continue;
                };
                let Some((new, code)) = fresh.next() else {
                    sheet.left += 1;
                    continue;
                };
                let id = match person {
                    Some((id, _)) => id,
                    None => {
                        let body = person_of(&member, &login);
                        txn.create(Kind::Person, *new, &body)?.record().id
                    }
                };
                let Kept(_, hash) = Kept::of(code);
                accounts::invite(txn.conn(), &hash, (coop, id), expires_at, now)?;
                let note = Note::new(SecurityEvent::CodeMade).by(&by).about(id);
                security::add(txn.conn(), coop, &note, now)?;
                sheet.invited.push(Invited { name: member.1.name, login, code: code.clone() });
            }
            Ok(sheet)
        })
        .await
    }

    /// Sets the password of an invited person, or the PIN of a member, in the co-operative that
    /// invited. It opens nothing elsewhere; the person's earlier sign-ins and other codes end. Gives
    /// the tokens by which the device is known from now on, one a login.
    ///
    /// # Errors
    /// `Invalid` for a weak password or a code that is unknown, used or too old; `TooMany` after
    /// repeated failures of the address.
    pub async fn accept(
        &self,
        code: &str,
        password: String,
        address: &str,
    ) -> Result<Vec<String>, AppError> {
        let (code, now) = (Kept::of(code), self.now().0);
        let tried = self.begin_try(vec![self.counted("code", address)?]).await?;
        let peek = code.clone();
        let invited = self.store.read(move |conn| whose_code(conn, &peek, now)).await;
        let ended = match &invited {
            Ok(None) => Ended::Wrong,
            // Whoever has a code that holds is no stranger: a weak password is no try.
            Ok(Some(_)) | Err(_) => Ended::Untried,
        };
        let (_, from) = self.hashed("", address)?;
        let note =
            Note { address: Some(from), ..Note::new(SecurityEvent::SignInFailed).detail("code") };
        self.settle(tried, ended, vec![(NO_COOP, note.clone())]).await?;
        let (person, coop_name) = invited?.ok_or_else(bad_code)?;
        let role = Role::parse(&person.role).ok_or_else(bad_code)?;
        let logins: Vec<String> = person.email.into_iter().chain(person.phone).collect();
        let about = logins.iter().map(String::as_str).chain([&*person.name, &*coop_name]);
        guessable::check_for(role, &password, &about.collect::<Vec<_>>())?;
        let hash = self.hasher.hash(password, self.random.clone()).await?;
        self.store
            .write(move |conn| {
                whose_code(conn, &code, now)?.ok_or_else(bad_code)?;
                let invited = accounts::use_invitation(conn, code.key(), now)?;
                let (coop, person) = invited.ok_or_else(bad_code)?;
                accounts::set_password(conn, coop, person, &hash, now)?;
                accounts::end_person(conn, coop, person, now)?;
                let note = Note { event: SecurityEvent::PasswordSet, ..note.clone() };
                security::add(conn, coop, &note.about(person), now)?;
                Ok::<_, AppError>(())
            })
            .await?;
        logins.iter().map(|login| self.device_token(login)).collect()
    }
}

/// Whom a code is for, with the name of the co-operative; none where it no longer holds or the
/// person is not active.
fn whose_code(
    conn: &mut Conn,
    code: &Kept,
    now: i64,
) -> Result<Option<(Person, String)>, AppError> {
    let Some((number, person)) = accounts::invited(conn, code.key(), now)? else { return Ok(None) };
    let record = records::find(conn, number, Kind::Person, person)?;
    let record = record.filter(|r| r.withdrawn_at.is_none());
    let person = record.and_then(|r| Person::from_values(&r.values)).filter(|p| p.active);
    let Some(person) = person else { return Ok(None) };
    let cooperative = cooperative_of(conn, number)?;
    let coop = Coop::load(conn, number, cooperative)?;
    Ok(Some((person, coop.name)))
}

type OfMember = ((Uuid, Member), Option<(Uuid, Person)>);

/// Members who have set no password, by name, with the person that signs in for each.
fn without_password(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    area: Option<Uuid>,
) -> Result<Vec<OfMember>, AppError> {
    let coop = actor.coop.number;
    let visible = actor.visible(Action::Read, Kind::Member)?;
    let spec = Kind::Member.spec();
    let of_area = area.and_then(|id| Some((spec.index("area_id")?, Value::Id(id))));
    let filter = Filter { equals: of_area.into_iter().collect(), ..Filter::default() };
    let conn = txn.conn();
    let found = records::page(conn, coop, Kind::Member, &visible, &filter, None, MEMBERS_MAX)?;
    let ids: Vec<Uuid> = found.iter().map(|m| m.id).collect();
    let people = records::by_reference(conn, coop, Kind::Person, "member_id", &ids)?;
    let have = accounts::with_password(conn, coop)?;
    let mut all = Vec::new();
    for record in &found {
        let Some(member) = Member::from_values(&record.values) else { continue };
        let own = people.iter().filter_map(|p| Some((p.id, Person::from_values(&p.values)?)));
        let own: Vec<(Uuid, Person)> =
            own.filter(|(_, p)| p.member_id == Some(record.id)).collect();
        let is_ready = own.iter().any(|(id, _)| have.contains(id));
        // Whoever was made inactive is not invited by a sheet.
        let is_closed = !own.is_empty() && own.iter().all(|(_, p)| !p.active);
        if !is_ready && !is_closed {
            let person = own.into_iter().find(|(_, p)| p.active);
            all.push(((record.id, member), person));
        }
    }
    all.sort_by(|a, b| a.0.1.name.cmp(&b.0.1.name));
    Ok(all)
}

/// The record of a person that a member becomes.
fn person_of((id, member): &(Uuid, Member), phone: &str) -> Map<String, Json> {
    let members = [
        ("code", json!(format!("member-{}", member.number))),
        ("name", json!(member.name)),
        ("phone", json!(phone)),
        ("language", json!(member.language)),
        ("role", json!(Role::Member.text())),
        ("active", json!(true)),
        ("member_id", json!(id)),
    ];
    members.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_read_as_its_holder_writes_it() {
        let kept = |text: &str| {
            let Kept(coop, hash) = Kept::of(text);
            (coop, hash)
        };
        for text in ["B-ABCDE-FGHJK", " b abcde fghjk\n", "babcdefghjk", "B.ABCDE.FGHJK"] {
            assert_eq!(kept(text), (Some(1), digest("BABCDEFGHJK")), "{text}");
        }
        // Those of older programs name no co-operative.
        assert_eq!(kept("abcde-fghjk"), (None, digest("ABCDEFGHJK")));
        let old = "0123456789abcdef".repeat(4);
        assert_eq!(kept(&old), (None, digest(&old)));
    }

    #[test]
    fn numbers_in_signs_are_read_back() {
        for coop in [1, 30, 31, 5_000, 1_000_000, i64::MAX >> 8] {
            let signs = number_in_signs(coop);
            assert!(signs.len() <= NUMBER_MAX, "{signs}");
            assert_eq!(read_number(&signs), Some(coop), "{signs}");
        }
        for wrong in ["I", "0", "ZZZZZZZZZZZZZZZZ"] {
            assert_eq!(read_number(wrong), None, "{wrong}");
        }
    }
}
