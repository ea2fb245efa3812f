//! Spreading the tables over several machines, where the database can.

use crate::App;
use crate::error::AppError;
use traybook_storage::copies::spread;

impl App {
    /// Tables that lie on one machine alone; none where the database can not spread tables.
    pub async fn local_tables(&self) -> Result<Option<Vec<String>>, AppError> {
        let found = self.store.read(|conn| {
            if !spread::can_spread(conn)? {
                return Ok::<_, AppError>(None);
            }
            Ok(Some(spread::local(conn)?))
        });
        let names = |all: Vec<(String, _)>| all.into_iter().map(|(name, _)| name).collect();
        Ok(found.await?.map(names))
    }

    /// Spreads the tables that are not spread yet, one after the other; how many. What is in them
    /// moves along. One that breaks off goes on where it stopped.
    ///
    /// # Errors
    /// `Conflict` with code `can_not_spread` where the database has no functions for it.
    pub async fn spread_tables(&self) -> Result<usize, AppError> {
        let store = self.store.patient();
        let mut done = 0;
        loop {
            let is_done = store.write(|conn| {
                if !spread::can_spread(conn)? {
                    let detail = "the database has no functions to spread tables: create the \
                                  extension of a distributed PostgreSQL in it first";
                    return Err(AppError::conflict("can_not_spread", detail));
                }
                let Some((table, how)) = spread::local(conn)?.into_iter().next() else {
                    return Ok(true);
                };
                spread::spread(conn, &table, how)?;
                Ok(false)
            });
            if is_done.await? {
                return Ok(done);
            }
            done += 1;
        }
    }
}
