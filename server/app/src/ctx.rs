//! Who acts, on which co-operative, when.

use crate::error::AppError;
use crate::people::Hasher;
use crate::people::KeyRing;
use crate::people::Throttle;
use crate::planning::Boards;
use crate::savings::Reports;
use chrono::NaiveDate;
use chrono_tz::Tz;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_domain::authz::{Action, Reach, Role, Task, reach, task_reach};
use traybook_domain::field::ReadCtx;
use traybook_domain::guide::{Guide, GuideEntry, GuideName};
use traybook_domain::kinds::{Cooperative, GrowingGuideValue, Person};
use traybook_domain::money::currency_digits;
use traybook_domain::record::Record as _;
use traybook_domain::time::{Clock, local_date, parse_zone};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Value};
use traybook_storage::records::{self, Filter, Record, Visible};
use traybook_storage::{Conn, Store, accounts};
use uuid::Uuid;

/// What the use cases need of the world. Cheap to clone.
#[derive(Clone)]
pub struct App {
    /// The store.
    pub store: Store,
    /// The clock.
    pub clock: Arc<dyn Clock>,
    /// New ids and secrets.
    pub random: Arc<dyn Random>,
    /// Keys of the access tokens.
    pub keys: Arc<KeyRing>,
    /// Password hashing, a few at a time.
    pub hasher: Arc<Hasher>,
    /// Failed sign-ins.
    pub throttle: Arc<Throttle>,
    /// Boards of today, bounded; may be thrown away at any moment.
    pub boards: Arc<Boards>,
    /// Reports of open months, bounded; may be thrown away at any moment.
    pub reports: Arc<Reports>,
}

/// Where randomness comes from.
pub trait Random: Send + Sync {
    /// Fills the bytes.
    ///
    /// # Errors
    /// When the system has none.
    fn fill(&self, bytes: &mut [u8]) -> Result<(), String>;
}

/// The operating system's randomness.
#[derive(Debug)]
pub struct SystemRandom;

impl Random for SystemRandom {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), String> {
        getrandom::fill(bytes).map_err(|e| e.to_string())
    }
}

impl App {
    /// Now.
    #[must_use]
    pub fn now(&self) -> Instant {
        self.clock.now()
    }

    /// A new UUIDv7.
    ///
    /// # Errors
    /// `Internal` when there is no randomness.
    pub fn new_id(&self) -> Result<Uuid, AppError> {
        let mut random = [0_u8; 10];
        self.random.fill(&mut random).map_err(AppError::Internal)?;
        let millis = u64::try_from(self.now().0).unwrap_or(0);
        Ok(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
    }

    /// A secret of 32 random bytes as 64 hexadecimal digits.
    ///
    /// # Errors
    /// As [`App::new_id`].
    pub fn new_secret(&self) -> Result<String, AppError> {
        let mut random = [0_u8; 32];
        self.random.fill(&mut random).map_err(AppError::Internal)?;
        Ok(random.iter().map(|b| format!("{b:02x}")).collect())
    }
}

/// A co-operative as every use case needs it.
#[derive(Clone, Debug)]
pub struct Coop {
    /// Its short number, which leads all keys.
    pub number: i64,
    /// Its id.
    pub id: Uuid,
    /// Its name.
    pub name: String,
    /// ISO 4217 code.
    pub currency: String,
    /// Digits of the currency.
    pub digits: u8,
    /// Zone of its days.
    pub zone: Tz,
}

impl Coop {
    /// Loads a co-operative.
    ///
    /// # Errors
    /// `NotFound` when there is none with this id.
    pub fn load(conn: &mut Conn, number: i64, id: Uuid) -> Result<Self, AppError> {
        let record = records::find(conn, number, Kind::Cooperative, id)?;
        let record = record.filter(|r| r.withdrawn_at.is_none()).ok_or(AppError::NotFound)?;
        let c = Cooperative::from_values(&record.values).ok_or(AppError::NotFound)?;
        Self::new(number, id, &c)
    }

    /// From its record.
    ///
    /// # Errors
    /// `Internal` when its currency or zone is unknown.
    pub fn new(number: i64, id: Uuid, c: &Cooperative) -> Result<Self, AppError> {
        let digits = currency_digits(&c.currency);
        let zone = parse_zone(&c.zone);
        let (Some(digits), Some(zone)) = (digits, zone) else {
            return Err(AppError::Internal("unknown currency or zone".to_owned()));
        };
        let (name, currency) = (c.name.clone(), c.currency.clone());
        Ok(Self { number, id, name, currency, digits, zone })
    }

    /// Today here.
    #[must_use]
    pub fn today(&self, now: Instant) -> NaiveDate {
        local_date(now, self.zone)
    }

    /// How fields are read here and now.
    #[must_use]
    pub fn read_ctx(&self, now: Instant) -> ReadCtx {
        ReadCtx { now, today: self.today(now), money_digits: self.digits }
    }

    /// The growing guide.
    ///
    /// # Errors
    /// Those of the store.
    pub fn guide(&self, conn: &mut Conn) -> Result<Guide, AppError> {
        let kind = Kind::GrowingGuideValue;
        let all = records::page(
            conn,
            self.number,
            kind,
            &Visible::All,
            &Filter::default(),
            None,
            10_000,
        )?;
        let entries = all.iter().rev().filter_map(|r| {
            let v = GrowingGuideValue::from_values(&r.values)?;
            let name = GuideName::parse(&v.name)?;
            Some(GuideEntry {
                name,
                class: v.animal_class,
                valid_from: v.valid_from,
                value: v.value,
            })
        });
        Ok(Guide::new(entries.collect()))
    }
}

/// Somebody signed in.
#[derive(Clone, Debug)]
pub struct Actor {
    /// The co-operative signed in to.
    pub coop: Coop,
    /// The person there.
    pub person: Uuid,
    /// Name, for the person's own eyes.
    pub name: String,
    /// Language of the person.
    pub language: String,
    /// Role.
    pub role: Role,
    /// The sign-in; none for the machine itself.
    pub family: Option<Uuid>,
    /// The member this person is.
    pub member: Option<Uuid>,
    /// Areas an officer looks after, with everything below them.
    pub areas: Vec<Uuid>,
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

    /// Whoever a sign-in stands for, now.
    ///
    /// # Errors
    /// `Unauthenticated` when it was ended, or as [`Actor::load`].
    pub fn signed_in(
        conn: &mut Conn,
        family: Uuid,
        (number, cooperative, person): (i64, Uuid, Uuid),
    ) -> Result<Self, AppError> {
        let found = accounts::signed_in(conn, family, (number, cooperative, person))?;
        let found = found.ok_or(AppError::Unauthenticated)?;
        let c = Some(&found.cooperative).filter(|r| r.withdrawn_at.is_none());
        let c = c.and_then(|r| Cooperative::from_values(&r.values));
        let coop = Coop::new(number, cooperative, &c.ok_or(AppError::Unauthenticated)?)?;
        Ok(Self { family: Some(family), ..Self::of(conn, coop, &found.person)? })
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
    /// `Forbidden` when the role does not allow it.
    pub fn visible(&self, action: Action, kind: Kind) -> Result<Visible, AppError> {
        self.within(reach(self.role, action, kind))
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

/// The areas below each area.
///
/// # Errors
/// Those of the store.
pub fn area_children(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, Vec<Uuid>>, AppError> {
    let mut children: HashMap<Uuid, Vec<Uuid>> = HashMap::new();
    let all =
        records::page(conn, number, Kind::Area, &Visible::All, &Filter::default(), None, 100_000)?;
    for area in all {
        let parent = Kind::Area.spec().get(&area.values, "parent_id");
        if let Value::Id(parent) = parent {
            children.entry(*parent).or_default().push(area.id);
        }
    }
    Ok(children)
}
