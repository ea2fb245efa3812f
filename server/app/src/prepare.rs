//! What is asked for first is made before anybody asks: after a start, and when a day has begun.

use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::estimates::Enterprise;
use crate::review::Asked;
use crate::savings_view::Told;
use chrono::NaiveDate;
use std::collections::HashMap;
use traybook_domain::Month;
use traybook_storage::accounts;

impl App {
    /// Prepares every co-operative for its day, once; `done` tells for which it was done. One that
    /// fails does not stop the others, and is tried again.
    ///
    /// # Errors
    /// Those of the store.
    pub async fn prepare_all(&self, done: &mut HashMap<i64, NaiveDate>) -> Result<(), AppError> {
        for coop in self.every_coop().await? {
            let (number, today) = (coop.number, coop.today(self.now()));
            if done.get(&number) == Some(&today) {
                continue;
            }
            match self.prepare(coop).await {
                Ok(()) => drop(done.insert(number, today)),
                Err(error) => tracing::warn!(number, %error, "the day could not be prepared"),
            }
        }
        Ok(())
    }

    /// Every co-operative, for what the server does by itself. One that can not be loaded is logged
    /// and left out.
    ///
    /// # Errors
    /// Those of the store.
    pub(crate) async fn every_coop(&self) -> Result<Vec<Coop>, AppError> {
        let all = self.store.read(|conn| Ok::<_, AppError>(accounts::cooperatives(conn)?)).await?;
        let mut coops = Vec::with_capacity(all.len());
        for (number, id) in all {
            match self.store.read(move |conn| Coop::load(conn, number, id)).await {
                Ok(coop) => coops.push(coop),
                Err(error) => tracing::warn!(number, %error, "a co-operative could not be loaded"),
            }
        }
        Ok(coops)
    }

    /// Makes what pages and estimates of a co-operative rest on, and keeps it as they do.
    ///
    /// # Errors
    /// Those of the store.
    pub async fn prepare(&self, coop: Coop) -> Result<(), AppError> {
        let last_month = Month::of(coop.today(self.now())).plus(-1);
        let actor = Actor::machine(coop);
        for enterprise in [Enterprise::Milk, Enterprise::Eggs] {
            self.programme_output_change(&actor, enterprise).await?;
        }
        self.savings_view(&actor, last_month, Told::Estimates).await?;
        self.keep_feed_savings(&actor).await?;
        self.first_visits(&actor, 1).await?;
        self.pressing_work(&actor, None, 1).await?;
        self.review(&actor, Asked::default()).await?;
        Ok(())
    }
}
