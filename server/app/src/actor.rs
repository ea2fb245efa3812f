//! Who acts, and how far.

use crate::coop::Coop;
use crate::error::AppError;
use traybook_domain::Kind;
use traybook_domain::kinds::{Cooperative, Person};
use traybook_domain::limits;
use traybook_domain::people::authz::{Action, Reach, Role, Task, asks_proof, reach, task_reach};
use traybook_domain::record::Record as _;
use traybook_storage::records::{self, Record, Visible};
use traybook_storage::{Conn, people::accounts};
use uuid::Uuid;

/// Somebody signed in.
#[derive(Clone, Debug)]
pub struct Actor {
    /// The co-operative signed in to.
    pub coop: Coop,
    pub person: Uuid,
    /// Name, for the person's own eyes.
    pub name: String,
    /// Language of the person.
    pub language: String,
    pub role: Role,
    /// The sign-in; none for the machine itself.
    pub family: Option<Uuid>,
    /// The member this person is.
    pub member: Option<Uuid>,
    /// Areas an officer looks after, with everything below them.
    pub areas: Vec<Uuid>,
    /// Whether a second factor was proved lately; none where the person has none.
    pub proved: Option<bool>,
    /// When somebody else reset the person's sign-in, milliseconds, and who; until it was seen.
    pub notice: Option<(i64, String)>,
}

impl Actor {
    /// Loads a person who may act here now.
    ///
    /// # Errors
    /// `Unauthenticated` when the person was withdrawn or made inactive.
    pub fn load(
        conn: &mut Conn,
        number: i64,
        cooperative: Uuid,
        person: Uuid,
    ) -> Result<Self, AppError> {
        let denied = |e: AppError| match e {
            AppError::NotFound => AppError::Unauthenticated,
            other => other,
        };
        let coop = Coop::load(conn, number, cooperative).map_err(denied)?;
        let found = records::find(conn, number, Kind::Person, person)?;
        Self::of(conn, coop, &found.ok_or(AppError::Unauthenticated)?)
    }

    /// Whoever a sign-in stands for, now, and when it was seen last.
    ///
    /// # Errors
    /// `Unauthenticated` when it was ended, was not used for too long or is too old, or as
    /// [`Actor::load`].
    pub fn signed_in(
        conn: &mut Conn,
        family: Uuid,
        (number, cooperative, person): (i64, Uuid, Uuid),
        now: i64,
    ) -> Result<(Self, i64), AppError> {
        let found = accounts::signed_in(conn, family, (number, cooperative, person))?;
        let found = found.ok_or(AppError::Unauthenticated)?;
        let c = Some(&found.cooperative).filter(|r| r.withdrawn_at.is_none());
        let c = c.and_then(|r| Cooperative::from_values(&r.values));
        let coop = Coop::new(number, cooperative, &c.ok_or(AppError::Unauthenticated)?)?;
        let actor = Self::of(conn, coop, &found.person)?;
        let (idle_ms, whole_ms) = limits::session_ms(actor.role);
        if now - found.seen_at >= idle_ms || now - found.begun_at >= whole_ms {
            return Err(AppError::Unauthenticated);
        }
        let is_fresh = found.proved_at.is_some_and(|at| now - at < limits::PROOF_MS);
        let proved = found.has_second.then_some(is_fresh);
        let actor = Self { family: Some(family), proved, notice: found.notice, ..actor };
        Ok((actor, found.seen_at))
    }

    fn of(conn: &mut Conn, coop: Coop, person: &Record) -> Result<Self, AppError> {
        let p = Some(person).filter(|r| r.withdrawn_at.is_none());
        let p = p.and_then(|r| Person::from_values(&r.values)).filter(|p| p.active);
        let p = p.ok_or(AppError::Unauthenticated)?;
        let role = Role::parse(&p.role).ok_or(AppError::Unauthenticated)?;
        let areas = match role {
            Role::Officer => accounts::officer_areas(conn, coop.number, person.id)?,
            _ => Vec::new(),
        };
        Ok(Self {
            coop,
            person: person.id,
            name: p.name,
            language: p.language,
            role,
            family: None,
            member: p.member_id,
            areas,
            proved: None,
            notice: None,
        })
    }

    /// One who may do everything in a co-operative: imports and demo data from the machine itself.
    #[must_use]
    pub fn machine(coop: Coop) -> Self {
        Self {
            coop,
            person: Uuid::nil(),
            name: "this machine".to_owned(),
            language: "en".to_owned(),
            role: Role::Manager,
            family: None,
            member: None,
            areas: Vec::new(),
            proved: None,
            notice: None,
        }
    }

    /// Whether the machine itself acts.
    #[must_use]
    pub fn is_machine(&self) -> bool {
        self.person.is_nil()
    }

    /// What this person may see when doing an action on a kind.
    ///
    /// # Errors
    /// `Forbidden` when the role does not allow it; `ProofNeeded` before people are changed.
    pub fn visible(&self, action: Action, kind: Kind) -> Result<Visible, AppError> {
        let visible = self.within(reach(self.role, action, kind))?;
        if asks_proof(action, kind) {
            self.prove()?;
        }
        Ok(visible)
    }

    /// Asks that a second factor was proved lately, of whoever has one.
    ///
    /// # Errors
    /// `ProofNeeded`.
    pub fn prove(&self) -> Result<(), AppError> {
        if self.proved == Some(false) { Err(AppError::ProofNeeded) } else { Ok(()) }
    }

    /// What this person may see when doing a task.
    ///
    /// # Errors
    /// `Forbidden` when the role does not allow it.
    pub fn task(&self, task: Task) -> Result<Visible, AppError> {
        self.within(task_reach(self.role, task))
    }

    fn within(&self, reach: Reach) -> Result<Visible, AppError> {
        match (reach, self.member) {
            (Reach::All, _) => Ok(Visible::All),
            (Reach::Areas, _) => Ok(Visible::Areas(self.areas.clone())),
            (Reach::Own, Some(member)) => Ok(Visible::Member(member)),
            _ => Err(AppError::Forbidden),
        }
    }
}
