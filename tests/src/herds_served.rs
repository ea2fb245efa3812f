//! Made-up herds entered through the import, and the served change in output beside its truth.

use crate::herds::{Herd, Herds, today};
use crate::world::{PASSWORD, folder, make, object};
use crate::{Client, World};
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use traybook_app::records::import::read_folder;
use traybook_app::{Actor, Coop};
use traybook_domain::Kind;
use traybook_domain::time::at_local;

/// What is served, counted beside the truth.
#[derive(Clone, Debug, Default)]
pub struct Count {
    /// Member intervals that hold the truth, and all.
    pub members: (u32, u32),
    /// Verdicts of the wrong direction, and all that say a direction.
    pub wrong: (u32, u32),
    /// Whether the programme's interval holds the mean truth of its farms, and all.
    pub programme: (u32, u32),
    /// Farms held that changed what they count, and all that did so and started or waited long.
    pub caught: (u32, u32),
    /// Farms held without a reason, and all without one.
    pub held: (u32, u32),
    /// Farms by status.
    pub statuses: BTreeMap<String, u32>,
}

impl Count {
    /// Adds another's.
    pub fn add(&mut self, other: &Self) {
        let pairs = [
            (&mut self.members, other.members),
            (&mut self.wrong, other.wrong),
            (&mut self.programme, other.programme),
            (&mut self.caught, other.caught),
            (&mut self.held, other.held),
        ];
        for (into, by) in pairs {
            *into = (into.0 + by.0, into.1 + by.1);
        }
        for (status, n) in &other.statuses {
            *self.statuses.entry(status.clone()).or_default() += n;
        }
    }
}

/// A share in per cent.
pub fn share(of: (u32, u32)) -> f64 {
    100.0 * f64::from(of.0) / f64::from(of.1.max(1))
}

/// A co-operative of made-up herds.
pub struct EnteredHerds {
    /// The co-operative.
    pub coop: Coop,
    /// Its manager.
    pub manager: Client,
}

/// Founds a co-operative, imports the herds' files and makes the figures.
pub fn enter_herds(w: &World, name: &str, herds: &Herds) -> EnteredHerds {
    w.clock.set(at_local(today(), 12 * 60, chrono_tz::Africa::Dar_es_Salaam));
    let body = json!({ "name": name, "currency": "TZS", "zone": "Africa/Dar_es_Salaam",
        "language": "en", "started_on": "2023-01-01" });
    let coop = w.wait(w.app.found(w.app.new_id().expect("id"), object(body))).expect("founded");
    let into = folder();
    for (file, text) in &herds.files {
        std::fs::write(into.join(file), text).expect("written");
    }
    let machine = Actor::machine(coop.clone());
    let files = read_folder(&into).expect("files");
    for report in w.wait(w.app.import(&machine, files, false)).expect("imported") {
        assert_eq!(report.bad, [], "{}", report.file);
    }
    drop(std::fs::remove_dir_all(&into));
    w.wait(w.app.make_figures_now(&coop)).expect("figures");
    let login = format!("manager.{name}@coop.example");
    let person = json!({ "code": "manager", "name": "Manager", "language": "en",
        "role": "manager", "email": login, "active": true });
    let person = w.wait(make(&w.app, &coop, Kind::Person, person)).expect("a manager");
    w.wait(w.app.set_password(&machine, person, PASSWORD.to_owned())).expect("password");
    EnteredHerds { coop, manager: w.sign_in_as(&login) }
}

impl EnteredHerds {
    /// The served change in output beside the truth.
    pub fn beside(&self, herds: &[Herd], is_milk: bool) -> Count {
        let enterprise = if is_milk { "milk" } else { "eggs" };
        let path = format!("/v1/output-change?enterprise={enterprise}");
        let answer = self.manager.get(&path).expect(200).json();
        let mut count = Count::default();
        let mut truths = Vec::new();
        for farm in answer["farms"].as_array().expect("farms") {
            let herd = herds.iter().find(|h| farm["farm"] == h.farm.as_str()).expect("a farm");
            let percent = 100.0 * herd.effect.exp_m1();
            let status = farm["status"].as_str().expect("a status").to_owned();
            let is_held = status == "check_level";
            if herd.changes_count {
                count.caught = (count.caught.0 + u32::from(is_held), count.caught.1 + 1);
            } else {
                count.held = (count.held.0 + u32::from(is_held), count.held.1 + 1);
            }
            if let Some((low, high)) = farm["low"].as_f64().zip(farm["high"].as_f64()) {
                let holds = low <= percent && percent <= high;
                count.members = (count.members.0 + u32::from(holds), count.members.1 + 1);
                let is_wrong = match farm["verdict"].as_str() {
                    Some("increase") => Some(percent <= 0.0),
                    Some("decrease") => Some(percent >= 0.0),
                    _ => None,
                };
                if let Some(wrong) = is_wrong {
                    count.wrong = (count.wrong.0 + u32::from(wrong), count.wrong.1 + 1);
                }
                truths.push(herd.effect);
            }
            *count.statuses.entry(status).or_default() += 1;
        }
        let programme = &answer["programme"];
        let ends: Option<(f64, f64)> = number(programme, "low").zip(number(programme, "high"));
        if let Some((low, high)) = ends.filter(|_| !truths.is_empty()) {
            let mean = truths.iter().sum::<f64>() / truths.len() as f64;
            let truth = 100.0 * mean.exp_m1();
            count.programme = (u32::from(low <= truth && truth <= high), 1);
        }
        count
    }
}

fn number(of: &Json, name: &str) -> Option<f64> {
    of[name].as_f64()
}
