//! How texts go, over all co-operatives of the carriers: for whoever runs the server.

use crate::error::AppError;
use crate::{App, Coop};
use std::collections::BTreeMap;
use traybook_answers::server::ServerCarrier;
use traybook_answers::wire::Time;
use traybook_domain::Month;
use traybook_domain::time::start_of_day;
use traybook_domain::value::Instant;
use traybook_storage::{Conn, people::logins, texts};
use uuid::Uuid;

/// Texts of the running month, each co-operative's in its own zone.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TextCounts {
    /// That came, by what became of them.
    pub came: BTreeMap<String, i64>,
    /// To be sent, by how they stand.
    pub out: BTreeMap<String, i64>,
    /// Segments of those that were not given up.
    pub segments: i64,
    pub carriers: Vec<ServerCarrier>,
}

/// What waits for the carriers of a co-operative.
type Waiting = (i64, Option<i64>);

impl App {
    /// How texts go. Asks no permission: the figures name nobody.
    pub async fn text_counts(&self) -> Result<TextCounts, AppError> {
        let now = self.now();
        let ids = self.served();
        let found = self.store.read(move |conn| {
            let mut counts = TextCounts::default();
            let mut waiting = BTreeMap::new();
            for id in ids {
                let Some(number) = logins::coop_number(conn, id)? else { continue };
                let coop = Coop::load(conn, number, id)?;
                counts.add(conn, &coop, now)?;
                waiting.insert(id, texts::waiting(conn, number, now.0)?);
            }
            Ok::<_, AppError>((counts, waiting))
        });
        let (mut counts, waiting) = found.await?;
        counts.carriers = self.carriers_with(&waiting);
        Ok(counts)
    }

    /// The carriers, when each was heard, and what waits for it.
    pub(crate) async fn carriers_now(&self) -> Result<Vec<ServerCarrier>, AppError> {
        let (now, ids) = (self.now().0, self.served());
        let found = self.store.read(move |conn| {
            let mut waiting = BTreeMap::new();
            for id in ids {
                let Some(number) = logins::coop_number(conn, id)? else { continue };
                waiting.insert(id, texts::waiting(conn, number, now)?);
            }
            Ok::<_, AppError>(waiting)
        });
        Ok(self.carriers_with(&found.await?))
    }

    /// The co-operatives that carriers serve.
    pub(super) fn served(&self) -> Vec<Uuid> {
        let all = self.carriers.all().iter();
        let mut ids: Vec<Uuid> = all.flat_map(|c| c.serves.iter().map(|s| s.id)).collect();
        ids.sort_unstable();
        ids.dedup();
        ids
    }

    fn carriers_with(&self, waiting: &BTreeMap<Uuid, Waiting>) -> Vec<ServerCarrier> {
        let one = |carrier: &super::Carrier| {
            let own: Vec<&Waiting> =
                carrier.serves.iter().filter_map(|s| waiting.get(&s.id)).collect();
            let since = own.iter().filter_map(|w| w.1).min();
            ServerCarrier {
                name: carrier.name.clone(),
                heard_at: self.carriers.heard(&carrier.name).map(Time),
                waiting: own.iter().map(|w| w.0).sum(),
                waiting_since: since.map(|at| Time(Instant(at))),
            }
        };
        self.carriers.all().iter().map(one).collect()
    }
}

impl TextCounts {
    fn add(&mut self, conn: &mut Conn, coop: &Coop, now: Instant) -> Result<(), AppError> {
        let since = start_of_day(Month::of(coop.today(now)).first_day(), coop.zone).0;
        for (outcome, texts) in texts::outcomes(conn, coop.number, since)? {
            *self.came.entry(outcome).or_insert(0) += texts;
        }
        for (_, state, texts, segments) in texts::counts(conn, coop.number, since)? {
            if state != "expired" && state != "failed" {
                self.segments += segments;
            }
            *self.out.entry(state).or_insert(0) += texts;
        }
        Ok(())
    }
}
