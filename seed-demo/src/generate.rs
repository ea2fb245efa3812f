//! From a plan to records in the store.

use crate::calendar::{Calendar, ZONE_NAME, at};
use crate::clock::ManualClock;
use crate::farm::Farm;
use crate::plans;
use crate::prices::Market;
use crate::setup::{self, Catalog};
use crate::sizes::Size;
use crate::store::SeedStore;
use crate::story::{FarmTruth, Story, stories};
use crate::trainings::train;
use crate::writes::{Out, Write};
use chrono::NaiveDate;
use serde_json::{Map, Value as Json, json};
use std::sync::Arc;
use traybook_app::people::guessable;
use traybook_app::{Actor, App, AppError, Coop};

/// Name of the demo co-operative.
pub(crate) const NAME: &str = "Nyota Valley Livestock Co-operative";
/// Most records in one transaction.
const WRITES_MAX: usize = 5_000;

/// Which demo to make.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plan {
    /// How large.
    pub size: Size,
    /// Whole months of history, where it is to be another number than the size's; at least 8.
    pub months: Option<usize>,
    /// Another seed gives other people and figures of the same kind.
    pub seed: u64,
    /// The day on which the demo stands.
    pub today: NaiveDate,
}

impl Plan {
    /// Whole months of history before the running one.
    #[must_use]
    pub fn history(&self) -> usize {
        self.months.map_or(self.size.months(), |m| m.max(Size::Small.months()))
    }
}

/// Somebody who can sign in to the demo.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Login {
    /// Role as it stands in records.
    pub role: String,
    /// E-mail address to sign in with.
    pub login: String,
    pub password: String,
    pub name: String,
}

/// A demo that was written.
#[derive(Clone, Debug)]
pub struct Demo {
    pub cooperative: Coop,
    /// Who can sign in.
    pub logins: Vec<Login>,
    /// Records made, the co-operative's own included.
    pub records: u64,
    /// What is true of each farm, in order of farm code.
    pub truth: Vec<FarmTruth>,
    /// Code of the one seed lot that germinates badly and moulds; none where no farm grows fodder.
    pub bad_lot: Option<String>,
}

/// What all farms share.
pub(crate) struct World {
    pub(crate) plan: Plan,
    /// Its days.
    pub(crate) calendar: Calendar,
    /// Prices and season.
    pub(crate) market: Market,
    /// Records made at the beginning.
    pub(crate) catalog: Catalog,
}

/// Makes the demo co-operative in an empty or used store, month by month.
///
/// `clock` must be the clock of `app`; it ends on the evening of the plan's day.
///
/// # Errors
/// Those of the use cases: `Conflict` when this demo was made before, and those of the store.
pub async fn generate(app: &App, clock: &ManualClock, plan: &Plan) -> Result<Demo, AppError> {
    let calendar = Calendar::new(plan);
    let mut out = Out::new(plan.seed);
    clock.set(at(calendar.first_day(), 8 * 60));
    let coop = app.found(out.id(at(calendar.first_day(), 8 * 60)), body(&calendar)).await?;
    let actor = Actor::machine(coop.clone());
    let stories = stories(plan);
    let catalog = setup::catalog(plan, &calendar, &mut out);
    let market = Market::new(plan.seed, calendar.months);
    let mut world = World { plan: *plan, calendar, market, catalog };
    let mut farms: Vec<Farm> = stories.iter().map(|s| Farm::new(plan, s.clone())).collect();
    // One farm forgets its last batch.
    let late = |f: &&mut Farm| !f.story.bad_shed && f.story.start.is_some();
    if let Some(farm) = farms.iter_mut().filter(late).min_by_key(|f| f.story.start) {
        farm.growing.is_late = true;
    }
    let mut store = SeedStore::new(plan);
    let mut records = 1;
    for number in 0..=calendar.months {
        clock.set(calendar.entered(number));
        for farm in farms.iter_mut().filter(|f| f.story.enrolled == number) {
            farm.enrol(&world, &mut out);
        }
        if number == 0 {
            setup::member_logins(&mut world.catalog, &farms, &mut out);
        }
        store.buy(&world, number, &mut farms, &mut out);
        for farm in &mut farms {
            farm.month(&world, number, &mut store, &mut out);
        }
        store.count(&world, number, &mut out);
        store.collect(&world, number, &farms, &mut out);
        train(&world, number, &farms, &mut out);
        if number == calendar.months {
            plans::plan(&world, &farms, &mut out);
        }
        records += write(app, &actor, std::mem::take(&mut out.writes)).await?;
    }
    clock.set(calendar.now());
    let logins = sign_ins(app, &actor, &world.catalog).await?;
    let truth = stories.iter().map(|s: &Story| FarmTruth::of(s)).collect();
    Ok(Demo { cooperative: coop, logins, records, truth, bad_lot: store.bad_lot })
}

fn body(calendar: &Calendar) -> Map<String, Json> {
    let fields = [
        ("name", json!(NAME)),
        ("currency", json!("TZS")),
        ("zone", json!(ZONE_NAME)),
        ("language", json!("sw")),
        ("started_on", json!(calendar.first_day().to_string())),
        ("wet_months", json!("3,4,5,11")),
    ];
    fields.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

/// Writes a month, some thousand records at a time; returns how many records are new.
async fn write(app: &App, actor: &Actor, mut writes: Vec<Write>) -> Result<u64, AppError> {
    let mut made = 0;
    while !writes.is_empty() {
        let rest = writes.split_off(writes.len().min(WRITES_MAX));
        let chunk = Arc::new(std::mem::replace(&mut writes, rest));
        let (work, by) = (Arc::clone(&chunk), actor.clone());
        app.change(actor, move |txn| work.iter().try_for_each(|w| w.apply(txn, &by))).await?;
        let new = chunk.iter().filter(|w| matches!(w, Write::Create { .. })).count();
        made += u64::try_from(new).unwrap_or(0);
    }
    Ok(made)
}

async fn sign_ins(app: &App, actor: &Actor, catalog: &Catalog) -> Result<Vec<Login>, AppError> {
    let mut logins = Vec::new();
    for user in &catalog.users {
        guessable::check(user.password, &[])?;
        app.set_password(actor, user.id, user.password.to_owned()).await?;
        logins.push(Login {
            role: user.role.to_owned(),
            login: user.email.to_owned(),
            password: user.password.to_owned(),
            name: user.name.clone(),
        });
    }
    Ok(logins)
}
