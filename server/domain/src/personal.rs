//! What of a record is personal: what an erasure empties, and what stays so that figures hold.

use crate::field::{FieldKind, FieldSpec};
use crate::value::Value;
use crate::{ColumnType, Kind};

/// Stands in a text that may not be empty.
pub const EMPTIED: &str = "\u{2013}";

/// Texts that the program or a rule made and that name nobody; without them findings and trials
/// would lose what they are about.
const KEPT: &[(Kind, &str)] = &[
    (Kind::Flag, "evidence"),
    (Kind::ReviewAcceptance, "finding"),
    (Kind::ReviewAcceptance, "evidence"),
    (Kind::OnOffPlan, "seed"),
];

/// Whether an erasure empties a field: names, telephones, places, and all that somebody wrote
/// freely. A new text of a kind is emptied unless it is named above.
#[must_use]
pub fn is_personal(kind: Kind, field: &FieldSpec) -> bool {
    let is_text = matches!(field.kind, FieldKind::Text { .. });
    let is_place = matches!(field.name, "latitude" | "longitude");
    let of_member = kind == Kind::Member
        && matches!(field.name, "sex" | "birth_year" | "consent" | "consent_on");
    let of_account = kind == Kind::Person && field.name == "active";
    (is_text || is_place || of_member || of_account) && !KEPT.contains(&(kind, field.name))
}

/// The record with its personal fields emptied; `number` takes the place of a name.
#[must_use]
pub fn emptied(kind: Kind, values: &[Value], number: &str) -> Vec<Value> {
    let fields = kind.spec().fields.iter().zip(values);
    fields.map(|(field, value)| one(kind, field, value, number)).collect()
}

fn one(kind: Kind, field: &FieldSpec, value: &Value, number: &str) -> Value {
    if value.is_null() || !is_personal(kind, field) {
        return value.clone();
    }
    match field.name {
        "name" if matches!(kind, Kind::Member | Kind::Person) => Value::Text(number.to_owned()),
        "sex" => Value::Text("not_stated".to_owned()),
        "consent" | "active" => Value::Bool(false),
        _ if field.required && field.column() == ColumnType::Text => {
            Value::Text(EMPTIED.to_owned())
        }
        _ => Value::Null,
    }
}
