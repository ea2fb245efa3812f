//! Farms with their members, and animal groups with their head: of all farms or of a few.

use crate::columns::columns;
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::records::Visible;
use chrono::NaiveDate;
use std::collections::HashSet;
use std::sync::Arc;
use traybook_domain::herd::HerdMonth;
use traybook_domain::planning::way::Position;
use traybook_domain::{ColumnType, Month};
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

/// Appends the condition on farms that somebody may see.
fn only_seen(visible: &Visible, table: &str, sql: &mut String, binds: &mut Vec<Bind>) {
    match visible {
        Visible::All => {}
        Visible::Areas(areas) => only(Some(areas), &format!("{table}area_id"), sql, binds),
        Visible::Member(member) => {
            only(Some(&[*member]), &format!("{table}member_id"), sql, binds);
        }
    }
}

/// A farm with its member, as reports and work lists name them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FarmRow {
    pub farm: Uuid,
    pub code: String,
    pub area: Uuid,
    pub member: Uuid,
    pub number: String,
    pub name: String,
    /// Sex as stated.
    pub sex: String,
    pub birth_year: Option<i64>,
    /// Whether the member agreed to be counted.
    pub consent: bool,
    /// Day of joining, and of leaving.
    pub joined: (NaiveDate, Option<NaiveDate>),
    /// Day of the first soak.
    pub started_on: Option<NaiveDate>,
    /// How to find it.
    pub place: Option<String>,
    /// Where it lies, where that is known.
    pub position: Option<Position>,
}

/// The farms, by code; each to be shared by what is made of it. All of them may be kept in memory.
pub fn farms(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<Arc<FarmRow>>, StoreError> {
    match conn.farms.clone().filter(|_| of.is_none()) {
        Some(lists) => Ok(lists.read(conn, coop)?.to_vec()),
        None => read(conn, coop, of),
    }
}

/// The same from the database.
pub(super) fn read(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<Arc<FarmRow>>, StoreError> {
    let columns = columns!("farm_rows::farms" {
        farm: Uuid = "f.id",
        code: String = "f.code",
        area: Uuid = "f.area_id",
        member: Uuid = "m.id",
        number: String = "m.number",
        name: String = "m.name",
        sex: String = "m.sex",
        birth_year: Option<i64> = "m.birth_year",
        consent: bool = "m.consent",
        joined_on: NaiveDate = "m.joined_on",
        left_on: Option<NaiveDate> = "m.left_on",
        started_on: Option<NaiveDate> = "f.fodder_started_on",
        place: Option<String> = "f.place",
        latitude: Option<i64> = "f.latitude",
        longitude: Option<i64> = "f.longitude",
    } => Arc::new(FarmRow {
        farm,
        code,
        area,
        member,
        number,
        name,
        sex,
        birth_year,
        consent,
        joined: (joined_on, left_on),
        started_on,
        place,
        position: latitude.zip(longitude),
    }));
    let mut sql = format!(
        "SELECT {columns} FROM farms f \
         JOIN members m ON m.coop_id = f.coop_id AND m.id = f.member_id \
         WHERE f.coop_id = ? AND f.withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop)];
    only(of, "f.id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY f.code, f.id");
    conn.select(&columns, &sql, &binds)
}

/// The farms that somebody may see, where only their ids and codes are asked for.
pub fn codes(
    conn: &mut Conn,
    coop: i64,
    visible: &Visible,
) -> Result<Vec<(Uuid, String)>, StoreError> {
    if let Some(lists) = conn.farms.clone().filter(|_| !matches!(visible, Visible::Member(_))) {
        let farms = lists.read(conn, coop)?;
        let seen = farms.iter().filter(|f| visible.sees(f.area, f.member));
        return Ok(seen.map(|f| (f.farm, f.code.clone())).collect());
    }
    let columns = columns!("farm_rows::codes" {
        farm: Uuid = "id",
        code: String,
    } => (farm, code));
    let mut sql = format!("SELECT {columns} FROM farms WHERE coop_id = ? AND withdrawn_at IS NULL");
    let mut binds = vec![Bind::int(coop)];
    only_seen(visible, "", &mut sql, &mut binds);
    conn.select(&columns, &sql, &binds)
}

/// The farms that somebody may see, where only their ids are asked for.
pub fn seen_ids(
    conn: &mut Conn,
    coop: i64,
    visible: &Visible,
) -> Result<HashSet<Uuid>, StoreError> {
    Ok(codes(conn, coop, visible)?.into_iter().map(|(farm, _)| farm).collect())
}

/// A farm that was looked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FoundFarm {
    pub farm: Uuid,
    pub code: String,
    pub area: Uuid,
    pub number: String,
    /// Name of the member.
    pub name: String,
    /// Telephone.
    pub phone: Option<String>,
    /// Day of the first soak.
    pub started_on: Option<NaiveDate>,
    /// How to find it.
    pub place: Option<String>,
}

/// Digits from which on a text is looked for in telephone numbers.
const PHONE_DIGITS_MIN: usize = 4;

/// Appends the condition that a text is in one of some columns, or its digits in the member's
/// telephone number.
pub(crate) fn fits(text: &str, columns: &[&str], sql: &mut String, binds: &mut Vec<Bind>) {
    if text.is_empty() {
        return;
    }
    let escaped = text.to_lowercase().replace('!', "!!").replace('%', "!%").replace('_', "!_");
    let like = |c: &&str| format!("LOWER({c}) LIKE ? ESCAPE '!'");
    let mut fits: Vec<String> = columns.iter().map(like).collect();
    binds.extend(std::iter::repeat_n(Bind::text(format!("%{escaped}%")), fits.len()));
    let digits: String = text.chars().filter(char::is_ascii_digit).collect();
    let digits = digits.trim_start_matches('0');
    if digits.len() >= PHONE_DIGITS_MIN {
        fits.push("REPLACE(REPLACE(m.phone, ' ', ''), '-', '') LIKE ?".to_owned());
        binds.push(Bind::text(format!("%{digits}%")));
    }
    sql.push_str(&format!(" AND ({})", fits.join(" OR ")));
}

/// Farms by the member's name. A text is looked for in name, number, code and telephone number;
/// the 0 before a number in the country's own form does not matter.
pub fn search(
    conn: &mut Conn,
    coop: i64,
    visible: &Visible,
    text: &str,
    (skip, limit): (usize, usize),
) -> Result<Vec<FoundFarm>, StoreError> {
    let columns = columns!("farm_rows::search" {
        farm: Uuid = "f.id",
        code: String = "f.code",
        area: Uuid = "f.area_id",
        number: String = "m.number",
        name: String = "m.name",
        phone: Option<String> = "m.phone",
        started_on: Option<NaiveDate> = "f.fodder_started_on",
        place: Option<String> = "f.place",
    } => FoundFarm { farm, code, area, number, name, phone, started_on, place });
    let mut sql = format!(
        "SELECT {columns} FROM farms f \
         JOIN members m ON m.coop_id = f.coop_id AND m.id = f.member_id \
         WHERE f.coop_id = ? AND f.withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop)];
    only_seen(visible, "f.", &mut sql, &mut binds);
    fits(text, &["m.name", "m.number", "f.code"], &mut sql, &mut binds);
    sql.push_str(&format!(" ORDER BY LOWER(m.name), f.code, f.id {LIMIT} OFFSET ?"));
    let int = |n: usize| Bind::int(i64::try_from(n).unwrap_or(i64::MAX));
    binds.extend([int(limit), int(skip)]);
    conn.select(&columns, &sql, &binds)
}

/// The farms that somebody may see where they are few; none where they are more than `most`, which
/// are read faster with all others.
pub fn few(
    conn: &mut Conn,
    coop: i64,
    visible: &Visible,
    most: usize,
) -> Result<Option<Vec<Uuid>>, StoreError> {
    let Visible::Member(member) = visible else { return Ok(None) };
    let columns = columns!("farm_rows::few" { id: Uuid } => id);
    let sql = format!(
        "SELECT {columns} FROM farms WHERE coop_id = ? AND member_id = ? AND \
         withdrawn_at IS NULL ORDER BY id {LIMIT}"
    );
    let limit = i64::try_from(most).unwrap_or(0).saturating_add(1);
    let binds = [Bind::int(coop), Bind::id(*member), Bind::int(limit)];
    let farms = conn.select(&columns, &sql, &binds)?;
    Ok((farms.len() <= most).then_some(farms))
}

/// All farms that somebody may see, withdrawn ones too.
pub fn within(conn: &mut Conn, coop: i64, visible: &Visible) -> Result<HashSet<Uuid>, StoreError> {
    let columns = columns!("farm_rows::within" { id: Uuid } => id);
    let mut sql = format!("SELECT {columns} FROM farms WHERE coop_id = ?");
    let mut binds = vec![Bind::int(coop)];
    only_seen(visible, "", &mut sql, &mut binds);
    Ok(conn.select(&columns, &sql, &binds)?.into_iter().collect())
}

/// An animal group with the latest month up to `month` in which its head count changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GroupRow {
    pub farm: Uuid,
    pub group: Uuid,
    pub code: String,
    /// Class of animal.
    pub class: String,
    /// Latest month of change; none where no head was ever counted.
    pub herd: Option<HerdMonth>,
}

/// The animal groups with their head, by code.
pub fn groups(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<GroupRow>, StoreError> {
    let columns = columns!("farm_rows::groups" {
        farm: Uuid = "g.farm_id",
        group: Uuid = "g.id",
        code: String = "g.code",
        class: String = "g.animal_class",
        month: Option<Month> = "h.month",
        animal_days: Option<i64> = "h.animal_days",
        closing_head: Option<i64> = "h.closing_head",
    } => {
        let herd = month.zip(animal_days).zip(closing_head);
        let herd = herd.map(|((month, animal_days), closing_head)| HerdMonth {
            month,
            animal_days,
            closing_head,
        });
        GroupRow { farm, group, code, class, herd }
    });
    let mut sql = format!(
        "SELECT {columns} FROM animal_groups g LEFT JOIN herd_months h ON h.coop_id = g.coop_id \
           AND h.animal_group_id = g.id AND h.month = (SELECT MAX(x.month) FROM herd_months x \
           WHERE x.coop_id = ? AND x.animal_group_id = g.id AND x.month <= ?) \
         WHERE g.coop_id = ? AND g.withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::int(month.number()), Bind::int(coop)];
    only(of, "g.farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY g.code, g.id");
    conn.select(&columns, &sql, &binds)
}
