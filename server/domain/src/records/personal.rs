//! What of a record is personal: what an erasure empties, and what stays so that figures hold.

use crate::field::{FieldKind, FieldSpec};
use crate::value::Value;
use crate::{ColumnType, Kind};
use serde_json::{Map, Value as Json};

/// Stands in a text that may not be empty.
const EMPTIED: &str = "\u{2013}";

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

/// What takes the place of a personal field that is filled in; none where it stays.
fn instead(kind: Kind, field: &FieldSpec, number: &str) -> Option<Value> {
    let text = |text: &str| Value::Text(text.to_owned());
    is_personal(kind, field).then(|| match field.name {
        "name" if matches!(kind, Kind::Member | Kind::Person) => text(number),
        "sex" => text("not_stated"),
        "consent" | "active" => Value::Bool(false),
        _ if field.required && field.column() == ColumnType::Text => text(EMPTIED),
        _ => Value::Null,
    })
}

/// The record with its personal fields emptied; `number` takes the place of a name.
#[must_use]
pub fn emptied(kind: Kind, values: &[Value], number: &str) -> Vec<Value> {
    let fields = kind.spec().fields.iter().zip(values);
    let one = |(field, value): (&FieldSpec, &Value)| {
        let instead = instead(kind, field, number).filter(|_| !value.is_null());
        instead.unwrap_or_else(|| value.clone())
    };
    fields.map(one).collect()
}

/// The same of a version that is kept as JSON.
pub fn empty_json(kind: Kind, body: &mut Map<String, Json>, number: &str) {
    for field in kind.spec().fields {
        let Some(instead) = instead(kind, field, number) else { continue };
        if let Some(value) = body.get_mut(field.name).filter(|value| !value.is_null()) {
            // None of these values is money, so the currency's digits do not matter.
            *value = field.write_json(&instead, 0);
        }
    }
}
