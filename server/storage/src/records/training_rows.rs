//! Trainings: who came, and members who may be marked present.

use crate::columns::columns;
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::records::Visible;
use crate::records::farm_rows::{fits, only};
use chrono::NaiveDate;
use uuid::Uuid;

/// A member who may come to a training.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trainee {
    pub member: Uuid,
    pub number: String,
    pub name: String,
    /// Whether the member is marked present.
    pub is_present: bool,
}

/// How many people came to each of some trainings; one without anybody is left out.
pub fn came(
    conn: &mut Conn,
    coop: i64,
    trainings: &[Uuid],
) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("training_rows::came" {
        training: Uuid = "training_id",
        people: i64 = "COUNT(DISTINCT member_id)",
    } => (training, people));
    let mut sql =
        format!("SELECT {columns} FROM attendances WHERE coop_id = ? AND withdrawn_at IS NULL");
    let mut binds = vec![Bind::int(coop)];
    only(Some(trainings), "training_id", &mut sql, &mut binds);
    sql.push_str(" GROUP BY training_id");
    conn.select(&columns, &sql, &binds)
}

/// Whom a register lists.
pub enum Listed<'a> {
    /// Members of these areas, or of any, who belonged to the co-operative on the day and whom a
    /// text fits.
    Invited(Option<&'a [Uuid]>, NaiveDate, &'a str),
    /// Those who are marked present.
    Present,
}

/// Members by name, with whether they are marked present at a training.
pub fn trainees(
    conn: &mut Conn,
    coop: i64,
    visible: &Visible,
    (training, listed): (Uuid, &Listed<'_>),
    (skip, limit): (usize, usize),
) -> Result<Vec<Trainee>, StoreError> {
    const CAME: &str = "EXISTS (SELECT 1 FROM attendances a WHERE a.coop_id = ? \
        AND a.training_id = ? AND a.member_id = m.id AND a.withdrawn_at IS NULL)";
    let columns = columns!("training_rows::trainees" {
        member: Uuid = "m.id",
        number: String = "m.number",
        name: String = "m.name",
        came: i64 = format!("CAST(CASE WHEN {CAME} THEN 1 ELSE 0 END AS BIGINT)"),
    } => Trainee { member, number, name, is_present: came == 1 });
    let mut sql =
        format!("SELECT {columns} FROM members m WHERE m.coop_id = ? AND m.withdrawn_at IS NULL");
    let mut binds = vec![Bind::int(coop), Bind::id(training), Bind::int(coop)];
    match visible {
        Visible::All => {}
        Visible::Areas(areas) => only(Some(areas), "m.area_id", &mut sql, &mut binds),
        Visible::Member(member) => only(Some(&[*member]), "m.id", &mut sql, &mut binds),
    }
    match listed {
        Listed::Invited(areas, day, text) => {
            only(*areas, "m.area_id", &mut sql, &mut binds);
            sql.push_str(" AND (m.left_on IS NULL OR m.left_on >= ?)");
            binds.push(Bind::date(*day));
            fits(text, &["m.name", "m.number"], &mut sql, &mut binds);
        }
        Listed::Present => {
            sql.push_str(&format!(" AND {CAME}"));
            binds.extend([Bind::int(coop), Bind::id(training)]);
        }
    }
    sql.push_str(&format!(" ORDER BY LOWER(m.name), m.number, m.id {LIMIT} OFFSET ?"));
    let int = |n: usize| Bind::int(i64::try_from(n).unwrap_or(i64::MAX));
    binds.extend([int(limit), int(skip)]);
    conn.select(&columns, &sql, &binds)
}

/// Somebody who was trained.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trained {
    pub member: Uuid,
    /// Sex as stated.
    pub sex: String,
    pub birth_year: Option<i64>,
}

/// The members who came to a training of some days and agreed to be counted, each once.
pub fn trained(
    conn: &mut Conn,
    coop: i64,
    (first, last): (NaiveDate, NaiveDate),
) -> Result<Vec<Trained>, StoreError> {
    let columns = columns!("training_rows::trained" {
        member: Uuid = "m.id",
        sex: String = "m.sex",
        birth_year: Option<i64> = "m.birth_year",
    } => Trained { member, sex, birth_year });
    let sql = format!(
        "SELECT DISTINCT {columns} FROM trainings t \
         JOIN attendances a ON a.coop_id = t.coop_id AND a.training_id = t.id \
         JOIN members m ON m.coop_id = a.coop_id AND m.id = a.member_id \
         WHERE t.coop_id = ? AND t.date >= ? AND t.date <= ? AND t.withdrawn_at IS NULL \
         AND a.withdrawn_at IS NULL AND m.withdrawn_at IS NULL AND m.consent = ? ORDER BY m.id"
    );
    let binds = [Bind::int(coop), Bind::date(first), Bind::date(last), Bind::bool(true)];
    conn.select(&columns, &sql, &binds)
}
