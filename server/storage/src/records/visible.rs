//! Which records a person may see.

use super::find;
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use traybook_domain::{ColumnType, Kind, Scope, Value};
use uuid::Uuid;

/// Which records a person may see.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Visible {
    /// All of the co-operative.
    All,
    /// Those of these areas (already with everything below them).
    Areas(Vec<Uuid>),
    /// Those of this member and the member's farms.
    Member(Uuid),
}

impl Visible {
    /// Whether a farm of this area and member may be seen.
    #[must_use]
    pub fn sees(&self, area: Uuid, member: Uuid) -> bool {
        match self {
            Self::All => true,
            Self::Areas(areas) => areas.contains(&area),
            Self::Member(own) => *own == member,
        }
    }

    /// Whether all farms of an area may be seen.
    #[must_use]
    pub fn sees_area(&self, area: &Uuid) -> bool {
        match self {
            Self::All => true,
            Self::Areas(areas) => areas.contains(area),
            Self::Member(_) => false,
        }
    }
}

/// The condition on `visible` for a kind, appended to a WHERE clause.
pub(super) fn visibility(
    kind: Kind,
    coop: i64,
    visible: &Visible,
    sql: &mut String,
    binds: &mut Vec<Bind>,
) {
    let spec = kind.spec();
    let column = match (kind, spec.scope) {
        (_, Scope::Cooperative) => return,
        (Kind::Farm, _) => "id",
        (_, Scope::Area) => "area_id",
        (_, Scope::Farm) => "farm_id",
        (_, Scope::Member) => "member_id",
    };
    let of = if spec.scope == Scope::Member { "members" } else { "farms" };
    match visible {
        Visible::All => {}
        Visible::Areas(areas) => {
            // PostgreSQL knows no empty list: an officer without areas sees nothing.
            let marks = vec!["?"; areas.len().max(1)].join(", ");
            if column == "area_id" {
                sql.push_str(&format!(" AND area_id IN ({marks})"));
            } else {
                sql.push_str(&format!(
                    " AND {column} IN (SELECT id FROM {of} WHERE coop_id = ? AND area_id IN \
                     ({marks}))"
                ));
                binds.push(Bind::int(coop));
            }
            binds.extend(areas.iter().map(|a| Bind::id(*a)));
            if areas.is_empty() {
                binds.push(Bind::opt(ColumnType::Id, None));
            }
        }
        Visible::Member(member) => {
            if kind == Kind::Member {
                sql.push_str(" AND id = ?");
            } else if spec.scope == Scope::Member {
                sql.push_str(" AND member_id = ?");
            } else {
                sql.push_str(&format!(
                    " AND {column} IN (SELECT id FROM farms WHERE coop_id = ? AND member_id = ?)"
                ));
                binds.push(Bind::int(coop));
            }
            binds.push(Bind::id(*member));
        }
    }
}

/// Whether a record may be seen.
pub fn is_visible(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    values: &[Value],
    id: Uuid,
    visible: &Visible,
) -> Result<bool, StoreError> {
    let Some((above, of)) = seen_by(kind, values, visible) else {
        return Ok(is_seen(kind, values, id, visible));
    };
    let of = find(conn, coop, above, of)?;
    Ok(of.is_some_and(|of| is_seen(above, &of.values, of.id, visible)))
}

/// The farm or member on which it depends whether a record may be seen; none where it depends on
/// the record itself.
#[must_use]
pub fn seen_by(kind: Kind, values: &[Value], visible: &Visible) -> Option<(Kind, Uuid)> {
    let spec = kind.spec();
    let is_own = matches!(
        (kind, spec.scope, visible),
        (_, Scope::Cooperative, _)
            | (_, _, Visible::All)
            | (Kind::Farm, _, _)
            | (Kind::Member, _, Visible::Member(_))
            | (_, Scope::Member, Visible::Member(_))
            | (_, Scope::Area, Visible::Areas(_))
    );
    let (above, field) = match spec.scope {
        Scope::Member => (Kind::Member, "member_id"),
        _ => (Kind::Farm, "farm_id"),
    };
    if is_own { None } else { Some((above, spec.get(values, field).as_id()?)) }
}

/// Whether a record may be seen that depends on nothing but itself.
#[must_use]
pub fn is_seen(kind: Kind, values: &[Value], id: Uuid, visible: &Visible) -> bool {
    let spec = kind.spec();
    let of = |field: &str| spec.get(values, field).as_id();
    match (kind, spec.scope, visible) {
        (_, Scope::Cooperative, _) | (_, _, Visible::All) => true,
        (Kind::Member, _, Visible::Member(member)) => id == *member,
        (Kind::Farm, _, Visible::Member(member)) | (_, Scope::Member, Visible::Member(member)) => {
            of("member_id") == Some(*member)
        }
        (_, Scope::Area, Visible::Areas(areas)) | (Kind::Farm, _, Visible::Areas(areas)) => {
            of("area_id").is_some_and(|area| areas.contains(&area))
        }
        _ => false,
    }
}
