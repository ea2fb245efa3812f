//! The growing guide and the time zone of a co-operative.

use crate::columns::columns;
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use chrono::NaiveDate;
use chrono_tz::Tz;
use traybook_domain::planning::guide::{Guide, GuideEntry, GuideName};

pub fn guide(conn: &mut Conn, coop: i64) -> Result<Guide, StoreError> {
    let columns = columns!("guide::guide" {
        name: String,
        class: Option<String> = "animal_class",
        value: i64,
        valid_from: NaiveDate,
    } => GuideName::parse(&name).map(|name| GuideEntry { name, class, valid_from, value }));
    let sql = format!(
        "SELECT {columns} FROM growing_guide_values WHERE coop_id = ? AND withdrawn_at IS NULL \
         ORDER BY valid_from, id"
    );
    let entries = conn.select(&columns, &sql, &[Bind::int(coop)])?;
    Ok(Guide::new(entries.into_iter().flatten().collect()))
}

/// The time zone of the co-operative's days; UTC where the name is not known any more.
pub fn zone(conn: &mut Conn, coop: i64) -> Result<Tz, StoreError> {
    let columns = columns!("guide::zone" { zone: String } => zone);
    let sql = format!("SELECT {columns} FROM cooperatives WHERE coop_id = ?");
    let zone = conn.select_one(&columns, &sql, &[Bind::int(coop)])?;
    Ok(zone.and_then(|zone| zone.parse().ok()).unwrap_or(Tz::UTC))
}
