//! Made-up farms that lose a known share of trays, entered through the import week by week, and the
//! flags that the server raises meanwhile.

use crate::random::Rng;
use crate::world::{PASSWORD, folder, make, object};
use crate::{Client, World};
use chrono::{Days, NaiveDate};
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use traybook_app::records::import::read_folder;
use traybook_app::{Actor, Coop};
use traybook_domain::Kind;
use traybook_domain::time::at_local;

/// Weeks of batches: a farm-year.
pub const WEEKS: u64 = 52;
/// Day on which a rise begins.
const RISES_ON: i64 = 100;
/// Days within which it should be found.
const FOUND_WITHIN: i64 = 90;
/// Share of trays that is lost where nothing is wrong.
const USUAL: f64 = 0.04;
/// Correlation between the trays of one batch.
const CORRELATION: f64 = 0.05;
/// Days from the soak to the harvest.
const GROWS: u64 = 8;

/// Trays of a batch, and days from one batch to the next.
pub type Size = (u32, u64);

/// The first day on which a batch ends.
pub fn first_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2025, 1, 6).expect("a day")
}

/// A farm.
#[derive(Clone, Copy, Debug)]
pub struct Grower {
    /// Its batches.
    pub size: Size,
    /// Share lost from day [`RISES_ON`] on; none where nothing changes.
    pub rises_to: Option<f64>,
}

/// Flags of the farms of one size.
#[derive(Clone, Debug, Default)]
pub struct Count {
    /// Farms where nothing was wrong for a year, and flags on them.
    pub clean: (u32, u32),
    /// Farms with a rise, by per cent, and those of them first flagged within [`FOUND_WITHIN`] days
    /// of it.
    pub rises: BTreeMap<u32, (u32, u32)>,
}

/// Trays discarded of a batch whose trays hang together: beta-binomial, by urn.
fn discards(rng: &mut Rng, trays: u32, share: f64) -> u32 {
    let s = (1.0 - CORRELATION) / CORRELATION;
    let mut lost = 0;
    for tray in 0..trays {
        let chance = (share * s + f64::from(lost)) / (s + f64::from(tray));
        lost += u32::from(rng.chance(chance));
    }
    lost
}

/// Farms whose batches come in week by week, each week followed by a making.
pub struct GrowersServed {
    manager: Client,
    growers: Vec<Grower>,
}

impl GrowersServed {
    /// Founds a co-operative of the farms and lets a year pass.
    pub fn run(w: &World, name: &str, seed: u64, growers: Vec<Grower>) -> Self {
        let start = first_day() - Days::new(30);
        w.clock.set(at_local(first_day(), 12 * 60, chrono_tz::Africa::Dar_es_Salaam));
        let body = json!({ "name": name, "currency": "TZS", "zone": "Africa/Dar_es_Salaam",
            "language": "en", "started_on": start.to_string() });
        let coop = w.wait(w.app.found(w.app.new_id().expect("id"), object(body))).expect("founded");
        let mut farms = "code,member,area,fodder_started_on\n".to_owned();
        let mut members = "number,name,area,sex,language,consent,joined_on\n".to_owned();
        let mut sheds = "code,farm,tray_places\n".to_owned();
        for (at, grower) in growers.iter().enumerate() {
            writeln!(members, "M{at},Member {at},Vale,female,en,yes,{start}").expect("text");
            writeln!(farms, "G{at},M{at},Vale,{start}").expect("text");
            writeln!(sheds, "G{at}-S,G{at},{}", grower.size.0 * 12).expect("text");
        }
        let areas = "name\nVale\n".to_owned();
        let files = [("areas", areas), ("members", members), ("farms", farms), ("sheds", sheds)];
        import(w, &coop, &files);
        let login = format!("manager.{name}@coop.example");
        let person = json!({ "code": "manager", "name": "Manager", "language": "en",
            "role": "manager", "email": login, "active": true });
        let person = w.wait(make(&w.app, &coop, Kind::Person, person)).expect("a manager");
        let machine = Actor::machine(coop.clone());
        w.wait(w.app.set_password(&machine, person, PASSWORD.to_owned())).expect("password");
        let mut streams: Vec<Rng> = (0..growers.len()).map(|at| Rng::of(seed, 1, at)).collect();
        for week in 0..WEEKS {
            let text = batches(&growers, &mut streams, week * 7..week * 7 + 7);
            let evening = first_day() + Days::new(week * 7 + 6);
            w.clock.set(at_local(evening, 20 * 60, chrono_tz::Africa::Dar_es_Salaam));
            import(w, &coop, &[("batches", text)]);
            w.wait(w.app.make_figures_now(&coop)).expect("figures");
        }
        Self { manager: w.sign_in_as(&login), growers }
    }

    /// The flags that are served, beside what was wrong.
    pub fn flags(&self) -> BTreeMap<Size, Count> {
        let farm = |row: &Json| (row["id"].clone(), row["code"].clone());
        let codes: Vec<(Json, Json)> = self.list("farms").iter().map(farm).collect();
        let mut raised: BTreeMap<usize, Vec<i64>> = BTreeMap::new();
        for flag in self.list("flags") {
            let code = codes.iter().find(|c| c.0 == flag["farm_id"]).expect("its farm");
            let at = code.1.as_str().and_then(|c| c.strip_prefix('G')?.parse().ok());
            let on: NaiveDate = flag["raised_on"].as_str().expect("a day").parse().expect("a day");
            raised.entry(at.expect("a code")).or_default().push((on - first_day()).num_days());
        }
        let mut all: BTreeMap<Size, Count> = BTreeMap::new();
        for (at, grower) in self.growers.iter().enumerate() {
            let days = raised.remove(&at).unwrap_or_default();
            let count = all.entry(grower.size).or_default();
            let Some(share) = grower.rises_to else {
                let flags = u32::try_from(days.len()).expect("few");
                count.clean = (count.clean.0 + 1, count.clean.1 + flags);
                continue;
            };
            let in_time = RISES_ON..RISES_ON + FOUND_WITHIN;
            let is_found = days.iter().min().is_some_and(|day| in_time.contains(day));
            let slot = count.rises.entry((share * 100.0).round() as u32).or_default();
            *slot = (slot.0 + 1, slot.1 + u32::from(is_found));
        }
        all
    }

    /// The share of trays lost that the server accepts, per cent.
    pub fn accepted_percent(&self) -> f64 {
        let answer = self.manager.get("/v1/spoilage").expect(200).json();
        answer["accepted_percent"].as_f64().expect("a share")
    }

    fn list(&self, what: &str) -> Vec<Json> {
        let mut all = Vec::new();
        let mut path = format!("/v1/{what}?limit=200");
        loop {
            let page = self.manager.get(&path).expect(200).json();
            all.extend(page["items"].as_array().cloned().unwrap_or_default());
            let Some(next) = page["next"].as_str() else { return all };
            path = next.to_owned();
        }
    }
}

/// The batches that end on these days, each in one line.
fn batches(growers: &[Grower], streams: &mut [Rng], days: std::ops::Range<u64>) -> String {
    let mut text = "code,shed,crop,soaked_at,seed_kg,spread_at,trays_spread,harvested_at,\
        trays_harvested,harvested_kg,discarded_at,trays_discarded,discard_cause\n"
        .to_owned();
    for (at, (grower, rng)) in growers.iter().zip(streams).enumerate() {
        let (trays, every) = grower.size;
        for day in days.clone().filter(|day| day % every == 0) {
            let has_risen = day >= RISES_ON.unsigned_abs();
            let share = grower.rises_to.filter(|_| has_risen).unwrap_or(USUAL);
            let lost = discards(rng, trays, share);
            let good = trays - lost;
            let ends = first_day() + Days::new(day);
            let soak = ends - Days::new(GROWS);
            let spread = soak + Days::new(2);
            write!(
                text,
                "G{at}-{day},G{at}-S,barley,{soak} 08:00,{},{spread} 12:00,{trays},",
                2 * trays
            )
            .expect("text");
            let harvested = match good {
                0 => ",,,".to_owned(),
                good => format!("{ends} 07:00,{good},{},", 12 * good),
            };
            let discarded = match lost {
                0 => ",,".to_owned(),
                lost => format!("{ends} 06:30,{lost},mould"),
            };
            writeln!(text, "{harvested}{discarded}").expect("text");
        }
    }
    text
}

fn import(w: &World, coop: &Coop, files: &[(&str, String)]) {
    let into = folder();
    for (kind, text) in files {
        std::fs::write(into.join(format!("{kind}.csv")), text).expect("written");
    }
    let files = read_folder(&into).expect("files");
    let machine = Actor::machine(coop.clone());
    for report in w.wait(w.app.import(&machine, files, false)).expect("imported") {
        assert_eq!(report.bad, [], "{}", report.file);
    }
    drop(std::fs::remove_dir_all(&into));
}
