//! Made-up farms entered through the import, and the served report beside their truth.

use crate::farms::{Farms, MONTHS, Truth, month_day, today};
use crate::world::{PASSWORD, folder, make, object};
use crate::{Client, World};
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, HashMap};
use traybook_app::records::import::read_folder;
use traybook_app::{Actor, Coop};
use traybook_domain::Kind;
use traybook_domain::time::at_local;

/// A figure of the report with its interval, beside the truth; currency units.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    /// As served.
    pub value: f64,
    /// Lower end as served.
    pub low: f64,
    /// Upper end as served.
    pub high: f64,
    /// What it should be.
    pub truth: f64,
    /// True baseline of what it is over.
    pub baseline: f64,
}

impl Seen {
    /// Whether the interval holds the truth.
    pub fn is_held(&self) -> bool {
        self.low <= self.truth && self.truth <= self.high
    }
}

/// A served month beside the truth.
#[derive(Clone, Debug, Default)]
pub struct MonthSeen {
    /// The co-operative.
    pub total: Option<Seen>,
    /// The co-operative's saving and change in milk together.
    pub net: Option<Seen>,
    /// Farms with a number.
    pub farms: Vec<Seen>,
    /// Rows over and after the start, by status: farm, class of animals and month.
    pub statuses: BTreeMap<String, usize>,
    /// Rows with a number.
    pub rows: usize,
    /// True saving of all rows after the start, with a number or not, feed alone.
    pub all: f64,
    /// True baseline of all those rows.
    pub all_baseline: f64,
}

/// All that is served of farms on one day.
pub struct AllSeen {
    /// Months by their position.
    pub months: BTreeMap<usize, MonthSeen>,
    /// The co-operative since the start.
    pub since: Seen,
    /// Farms since their start.
    pub farms_since: Vec<Seen>,
}

/// A co-operative of made-up farms.
pub struct Entered {
    /// The co-operative.
    pub coop: Coop,
    /// Its manager.
    pub manager: Client,
    /// What the manager signs in with.
    pub login: String,
    truth: HashMap<(String, String), Truth>,
}

/// Month as the interface writes it.
pub fn month_text(month: usize) -> String {
    month_day(month).format("%Y-%m").to_string()
}

/// Founds a co-operative and imports the farms' files.
pub fn enter(w: &World, name: &str, farms: &Farms) -> Entered {
    w.clock.set(at_local(today(), 12 * 60, chrono_tz::Africa::Dar_es_Salaam));
    let body = json!({ "name": name, "currency": "TZS", "zone": "Africa/Dar_es_Salaam",
        "language": "en", "started_on": "2023-01-01" });
    let coop = w.wait(w.app.found(w.app.new_id().expect("id"), object(body))).expect("founded");
    let into = folder();
    for (file, text) in &farms.files {
        std::fs::write(into.join(file), text).expect("written");
    }
    let machine = Actor::machine(coop.clone());
    let files = read_folder(&into).expect("files");
    for report in w.wait(w.app.import(&machine, files, false)).expect("imported") {
        assert_eq!(report.bad, [], "{}", report.file);
        assert_eq!(report.made, report.rows, "{}", report.file);
    }
    drop(std::fs::remove_dir_all(&into));
    let login = format!("manager.{name}@coop.example");
    let person = json!({ "code": "manager", "name": "Manager", "language": "en",
        "role": "manager", "email": login, "active": true });
    let person = w.wait(make(&w.app, &coop, Kind::Person, person)).expect("a manager");
    w.wait(w.app.set_password(&machine, person, PASSWORD.to_owned())).expect("password");
    let key = |t: &Truth| ((t.farm.clone(), t.class.to_owned()), t.clone());
    let truth = farms.truth.iter().map(key).collect();
    Entered { coop, manager: w.sign_in_as(&login), login, truth }
}

fn number(value: &Json) -> Option<f64> {
    value.as_f64()
}

/// A figure and its interval, where it is there.
fn seen(figures: &Json, name: &str, truth: f64, baseline: f64) -> Option<Seen> {
    let interval = &figures[format!("{name}_interval")];
    Some(Seen {
        value: number(&figures[name])?,
        low: number(&interval["low"])?,
        high: number(&interval["high"])?,
        truth,
        baseline,
    })
}

fn items<'a>(value: &'a Json, member: &str) -> &'a [Json] {
    value[member].as_array().map_or(&[], Vec::as_slice)
}

fn text(value: &Json) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

impl Entered {
    /// Makes the figures on this day. The manager signs in again: a token holds for minutes.
    pub fn make(&mut self, w: &World, day: chrono::NaiveDate) {
        w.clock.set(at_local(day, 12 * 60, chrono_tz::Africa::Dar_es_Salaam));
        w.wait(w.app.make_figures_now(&self.coop)).expect("figures");
        self.manager = w.sign_in_as(&self.login);
    }

    /// The served report of a month.
    pub fn report(&self, month: usize) -> Json {
        let path = format!("/v1/reports/savings?month={}", month_text(month));
        self.manager.get(&path).expect(200).json()
    }

    /// Asserts that the running month has facts, and neither a baseline nor a saving, in JSON and CSV.
    pub fn assert_running_month_has_no_number(&self) {
        let report = self.report(MONTHS);
        assert_eq!(report["is_running"], true);
        let no_number = |figures: &Json| {
            for name in ["baseline_cost", "eaten_cost", "feed_saving", "saving", "net"] {
                assert!(figures[name].is_null(), "{name}: {figures}");
            }
            assert!(figures["saving_interval"].is_null(), "{figures}");
        };
        no_number(&report["total"]);
        items(&report, "areas").iter().for_each(no_number);
        for farm in items(&report, "farms") {
            no_number(farm);
            items(farm, "enterprises").iter().for_each(no_number);
        }
        let bought = |f: &Json| f["bought_cost"].as_f64().is_some_and(|cost| cost > 0.0);
        assert!(items(&report, "farms").iter().any(bought), "facts to date");
        let path = format!("/v1/reports/savings?month={}", month_text(MONTHS));
        let csv = self.manager.send("GET", &path, &[("accept", "text/csv")], None).expect(200).text;
        let mut lines = csv.lines();
        let columns: Vec<&str> = lines.next().expect("columns").split(',').collect();
        for name in ["baseline_cost", "feed_saving", "saving"] {
            let at = columns.iter().position(|c| *c == name).expect("a column");
            let cells = lines.clone().map(|l| l.split(',').nth(at).expect("a cell"));
            assert_eq!(cells.filter(|c| !c.is_empty()).count(), 0, "{name}: {csv}");
        }
    }

    /// True feed saving, baseline and change in milk of a row.
    fn true_row(&self, farm: &str, class: &str, month: usize) -> (f64, f64, f64) {
        let t = &self.truth[&(farm.to_owned(), class.to_owned())];
        (t.baseline[month] - t.eaten[month], t.baseline[month], t.output[month])
    }

    /// A report beside the truth; `since` gathers what each farm's rows with a number come to.
    pub fn beside(
        &self,
        report: &Json,
        month: usize,
        since: &mut BTreeMap<String, (f64, f64)>,
    ) -> MonthSeen {
        let mut made = MonthSeen::default();
        let (mut true_sum, mut base_sum, mut milk) = (0.0, 0.0, 0.0);
        for farm in items(report, "farms") {
            let code = text(&farm["farm"]);
            let (mut true_farm, mut base_farm) = (0.0, 0.0);
            for row in items(farm, "enterprises") {
                let class = text(&row["enterprise"]);
                let (saved, base, gained) = self.true_row(&code, &class, month);
                let Some(feed) = number(&row["feed_saving"]) else { continue };
                // What growing fodder cost is recorded, so that it has no error.
                let fodder = feed - number(&row["saving"]).expect("a saving");
                true_farm += saved - fodder;
                base_farm += base;
                milk += gained;
                made.rows += 1;
            }
            let all = since.entry(code.clone()).or_default();
            *all = (all.0 + true_farm, all.1 + base_farm);
            (true_sum, base_sum) = (true_sum + true_farm, base_sum + base_farm);
            made.farms.extend(seen(farm, "saving", true_farm, base_farm));
        }
        made.total = seen(&report["total"], "saving", true_sum, base_sum);
        made.net = seen(&report["total"], "net", true_sum + milk, base_sum);
        let after = |t: &&Truth| t.start.is_some_and(|s| month > s);
        for t in self.truth.values().filter(after) {
            let (saved, base, _) = self.true_row(&t.farm, t.class, month);
            (made.all, made.all_baseline) = (made.all + saved, made.all_baseline + base);
            let farm = items(report, "farms").iter().find(|f| f["farm"] == t.farm.as_str());
            let rows = farm.map_or(&[][..], |f| items(f, "enterprises"));
            let row = rows.iter().find(|r| r["enterprise"] == t.class);
            let status = row.map_or_else(|| "no row".to_owned(), |r| text(&r["status"]));
            *made.statuses.entry(status).or_default() += 1;
        }
        made
    }

    /// All months over as they are served now, and the sums since the start.
    pub fn all(&self) -> AllSeen {
        let mut since = BTreeMap::new();
        let mut months = BTreeMap::new();
        let mut last = Json::Null;
        for month in 12..MONTHS {
            last = self.report(month);
            months.insert(month, self.beside(&last, month, &mut since));
        }
        let farms_since = items(&last, "farms").iter().filter_map(|farm| {
            let (truth, baseline) = since.get(&text(&farm["farm"])).copied()?;
            seen(&farm["since_start"], "saving", truth, baseline).filter(|_| baseline > 0.0)
        });
        let farms_since = farms_since.collect();
        let sum = since.values().fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
        let since = seen(&last["total"]["since_start"], "saving", sum.0, sum.1).expect("a sum");
        AllSeen { months, since, farms_since }
    }
}
