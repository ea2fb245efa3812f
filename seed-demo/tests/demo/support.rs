//! An app on a new SQLite file, and its records read back.

use chrono::NaiveDate;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use traybook_app::people::Hasher;
use traybook_app::people::KeyRing;
use traybook_app::records::represent::body_json;
use traybook_app::{App, AppError};
use traybook_app::{Random, SystemRandom};
use traybook_domain::Kind;
use traybook_seed_demo::{Demo, ManualClock, Plan, Size, generate};
use traybook_storage::records::{self, Record};
use traybook_storage::{Store, StoreConfig};

/// A demo in a file of its own, which goes with it.
pub struct Made {
    /// The app.
    pub app: App,
    /// What was made.
    pub demo: Demo,
    /// All records by kind.
    pub records: BTreeMap<Kind, Vec<Record>>,
    path: PathBuf,
}

/// The plan of the tests: the day is fixed, so that the records are.
pub fn plan(size: Size) -> Plan {
    let today = NaiveDate::from_ymd_opt(2026, 5, 19).expect("a day");
    Plan { size, months: None, seed: 20_260_519, today }
}

fn app(path: &std::path::Path, clock: Arc<ManualClock>) -> App {
    let random = SystemRandom;
    let url = format!("sqlite:{}", path.display());
    App {
        store: Store::open(&StoreConfig::new(url, 2)).expect("a store"),
        clock,
        keys: Arc::new(
            KeyRing::parse(&KeyRing::generate(&random).expect("keys")).expect("a key ring"),
        ),
        hasher: Arc::new(Hasher::new(&random).expect("a hasher")),
        boards: Arc::default(),
        reports: Arc::default(),
        keeping: Arc::default(),
        carriers: Arc::default(),
        random: Arc::new(random),
    }
}

/// Makes a demo.
pub async fn make(plan: &Plan) -> Made {
    let mut bytes = [0_u8; 8];
    SystemRandom.fill(&mut bytes).expect("randomness");
    let name = format!("traybook-demo-{:016x}.db", u64::from_be_bytes(bytes));
    let path = std::env::temp_dir().join(name);
    let clock = Arc::new(ManualClock::default());
    let app = app(&path, Arc::clone(&clock));
    let demo = generate(&app, &clock, plan).await.expect("a demo");
    let coop = demo.cooperative.number;
    let records = app
        .store
        .read(move |conn| {
            let mut all = BTreeMap::new();
            for kind in Kind::ALL {
                let list: &mut Vec<Record> = all.entry(*kind).or_default();
                records::for_each(conn, coop, *kind, |_, record| {
                    list.push(record);
                    Ok::<_, AppError>(())
                })?;
            }
            Ok::<_, AppError>(all)
        })
        .await
        .expect("records");
    Made { app, demo, records, path }
}

impl Made {
    /// All records of a kind as its type.
    pub fn all<R: traybook_domain::record::Record>(&self) -> Vec<R> {
        let list = self.records.get(&R::KIND).map_or(&[][..], Vec::as_slice);
        list.iter().map(|r| R::from_values(&r.values).expect("its kind")).collect()
    }

    /// Records of a kind with their ids.
    pub fn with_ids<R: traybook_domain::record::Record>(&self) -> Vec<(uuid::Uuid, R)> {
        let list = self.records.get(&R::KIND).map_or(&[][..], Vec::as_slice);
        list.iter().map(|r| (r.id, R::from_values(&r.values).expect("its kind"))).collect()
    }

    /// A digest of everything that was recorded.
    pub fn digest(&self) -> String {
        let mut hash = Sha256::new();
        for (kind, list) in &self.records {
            for r in list {
                let body = body_json(*kind, &r.values, self.demo.cooperative.digits);
                let body = serde_json::Value::Object(body);
                let head = format!("{} {} {}", kind.spec().one, r.id, r.version);
                let times = format!("{} {}", r.created_at, r.changed_at);
                hash.update(format!("{head} {times} {body}\n"));
            }
        }
        hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        for end in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(format!("{}{end}", self.path.display()));
        }
    }
}
