//! Farms with their members, and animal groups with their head: of all farms or of a few.

use crate::conn::{Bind, Conn, LIMIT, Row};
use crate::error::StoreError;
use crate::records::Visible;
use chrono::NaiveDate;
use std::collections::HashSet;
use std::sync::Arc;
use traybook_domain::herd::HerdMonth;
use traybook_domain::{ColumnType, Month, Value};
use uuid::Uuid;

/// Which farms: all of the co-operative, or these.
pub type Farms<'a> = Option<&'a [Uuid]>;

/// Appends the condition on farms.
pub(crate) fn only(farms: Farms<'_>, column: &str, sql: &mut String, binds: &mut Vec<Bind>) {
    if let Some(farms) = farms {
        let marks = vec!["?"; farms.len().max(1)].join(", ");
        sql.push_str(&format!(" AND {column} IN ({marks})"));
        binds.extend(farms.iter().map(|f| Bind::id(*f)));
        if farms.is_empty() {
            binds.push(Bind::opt(ColumnType::Id, None));
        }
    }
}

/// A farm with its member, as reports and work lists name them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FarmRow {
    /// Farm.
    pub farm: Uuid,
    /// Farm code.
    pub code: String,
    /// Area.
    pub area: Uuid,
    /// Member.
    pub member: Uuid,
    /// Membership number.
    pub number: String,
    /// Name.
    pub name: String,
    /// Sex as stated.
    pub sex: String,
    /// Year of birth.
    pub birth_year: Option<i64>,
    /// Whether the member agreed to be counted.
    pub consent: bool,
    /// Day of joining, and of leaving.
    pub joined: (NaiveDate, Option<NaiveDate>),
    /// Day of the first soak.
    pub started_on: Option<NaiveDate>,
    /// How to find it.
    pub place: Option<String>,
}

/// The farms, by code; each to be shared by what is made of it.
///
/// # Errors
/// Those of the database.
pub fn farms(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<Arc<FarmRow>>, StoreError> {
    use ColumnType::{Bool, Date, Id, Int, Text};
    let mut sql = "SELECT f.id, f.code, f.area_id, m.id, m.number, m.name, m.sex, m.birth_year, \
                   m.consent, m.joined_on, m.left_on, f.fodder_started_on, f.place FROM farms f \
                   JOIN members m ON m.coop_id = f.coop_id AND m.id = f.member_id \
                   WHERE f.coop_id = ? AND f.withdrawn_at IS NULL"
        .to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(of, "f.id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY f.code, f.id");
    let types = [Id, Text, Id, Id, Text, Text, Text, Int, Bool, Date, Date, Date, Text];
    let rows = conn.rows(&sql, &binds, &types)?;
    let text = |v: &Value| v.as_text().map(str::to_owned);
    let farm = |r: &Row| {
        Some(FarmRow {
            farm: r.first()?.as_id()?,
            code: text(r.get(1)?)?,
            area: r.get(2)?.as_id()?,
            member: r.get(3)?.as_id()?,
            number: text(r.get(4)?)?,
            name: text(r.get(5)?)?,
            sex: text(r.get(6)?)?,
            birth_year: r.get(7)?.as_int(),
            consent: r.get(8)?.as_bool()?,
            joined: (r.get(9)?.as_date()?, r.get(10)?.as_date()),
            started_on: r.get(11)?.as_date(),
            place: text(r.get(12)?),
        })
    };
    Ok(rows.iter().filter_map(farm).map(Arc::new).collect())
}

/// The farms that somebody may see where they are few; none where they are more than `most`, which
/// are read faster with all others.
///
/// # Errors
/// Those of the database.
pub fn few(
    conn: &mut Conn,
    coop: i64,
    visible: &Visible,
    most: usize,
) -> Result<Option<Vec<Uuid>>, StoreError> {
    let Visible::Member(member) = visible else { return Ok(None) };
    let rows = conn.rows(
        &format!(
            "SELECT id FROM farms WHERE coop_id = ? AND member_id = ? AND withdrawn_at IS NULL \
         ORDER BY id {LIMIT}"
        ),
        &[
            Bind::int(coop),
            Bind::id(*member),
            Bind::int(i64::try_from(most).unwrap_or(0).saturating_add(1)),
        ],
        &[ColumnType::Id],
    )?;
    let farms: Vec<Uuid> = rows.iter().filter_map(|r| r.first()?.as_id()).collect();
    Ok((farms.len() <= most).then_some(farms))
}

/// All farms that somebody may see, withdrawn ones too.
///
/// # Errors
/// Those of the database.
pub fn within(conn: &mut Conn, coop: i64, visible: &Visible) -> Result<HashSet<Uuid>, StoreError> {
    let mut sql = "SELECT id FROM farms WHERE coop_id = ?".to_owned();
    let mut binds = vec![Bind::int(coop)];
    match visible {
        Visible::All => {}
        Visible::Areas(areas) => only(Some(areas), "area_id", &mut sql, &mut binds),
        Visible::Member(member) => only(Some(&[*member]), "member_id", &mut sql, &mut binds),
    }
    let rows = conn.rows(&sql, &binds, &[ColumnType::Id])?;
    let unknown = || StoreError::Internal("a farm without an id".to_owned());
    rows.iter().map(|r| r.first().and_then(Value::as_id).ok_or_else(unknown)).collect()
}

/// An animal group with the latest month up to `month` in which its head count changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GroupRow {
    /// Farm.
    pub farm: Uuid,
    /// Group.
    pub group: Uuid,
    /// Its code.
    pub code: String,
    /// Class of animal.
    pub class: String,
    /// Latest month of change; none where no head was ever counted.
    pub herd: Option<HerdMonth>,
}

/// The animal groups with their head, by code.
///
/// # Errors
/// Those of the database.
pub fn groups(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<GroupRow>, StoreError> {
    use ColumnType::{Id, Int, Text};
    let mut sql = "SELECT g.farm_id, g.id, g.code, g.animal_class, h.month, h.animal_days, \
         h.closing_head FROM animal_groups g LEFT JOIN herd_months h ON h.coop_id = g.coop_id \
           AND h.animal_group_id = g.id AND h.month = (SELECT MAX(x.month) FROM herd_months x \
           WHERE x.coop_id = g.coop_id AND x.animal_group_id = g.id AND x.month <= ?) \
         WHERE g.coop_id = ? AND g.withdrawn_at IS NULL"
        .to_owned();
    let mut binds = vec![Bind::int(month.number()), Bind::int(coop)];
    only(of, "g.farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY g.code, g.id");
    let rows = conn.rows(&sql, &binds, &[Id, Id, Text, Text, Int, Int, Int])?;
    let group = |r: &Row| {
        let herd = r.get(4)?.as_int().and_then(Month::from_number).and_then(|month| {
            Some(HerdMonth {
                month,
                animal_days: r.get(5)?.as_int()?,
                closing_head: r.get(6)?.as_int()?,
            })
        });
        let text = |i: usize| r.get(i).and_then(Value::as_text).map(str::to_owned);
        Some(GroupRow {
            farm: r.first()?.as_id()?,
            group: r.get(1)?.as_id()?,
            code: text(2)?,
            class: text(3)?,
            herd,
        })
    };
    Ok(rows.iter().filter_map(group).collect())
}
