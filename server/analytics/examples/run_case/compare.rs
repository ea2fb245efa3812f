//! Compares an answer with what a case expects, number by number.

use serde_json::Value;

/// Most places listed for one file.
const PLACES_MAX: usize = 20;

/// Absolute and relative tolerance of one key.
#[derive(Clone, Copy)]
struct Tolerance {
    absolute: f64,
    relative: f64,
}

/// Places where the answer is off; empty when it is right. `published` is information only.
pub fn off(case: &Value, answer: &Value) -> Vec<String> {
    let mut places = Vec::new();
    let start = tolerance_at(&case["tolerance"], "default");
    let start = start.unwrap_or(Tolerance { absolute: 1e-9, relative: 1e-6 });
    walk(&case["tolerance"], &case["expected"], answer, start, String::new(), &mut places);
    let more = places.len().saturating_sub(PLACES_MAX);
    places.truncate(PLACES_MAX);
    if more > 0 {
        places.push(format!("and {more} more"));
    }
    places
}

fn tolerance_at(tolerances: &Value, key: &str) -> Option<Tolerance> {
    let mut named = tolerances.as_object()?.iter();
    let (_, held) = named.find(|(names, _)| names.split(',').any(|name| name.trim() == key))?;
    Some(Tolerance {
        absolute: held["abs"].as_f64().unwrap_or(0.0),
        relative: held["rel"].as_f64().unwrap_or(0.0),
    })
}

fn walk(
    tolerances: &Value,
    expected: &Value,
    answer: &Value,
    near: Tolerance,
    place: String,
    off: &mut Vec<String>,
) {
    match (expected, answer) {
        (Value::Object(wanted), Value::Object(found)) => {
            for (key, value) in wanted.iter().filter(|(key, _)| *key != "published") {
                let place = if place.is_empty() { key.clone() } else { format!("{place}.{key}") };
                let near = tolerance_at(tolerances, key).unwrap_or(near);
                match found.get(key) {
                    Some(answer) => walk(tolerances, value, answer, near, place, off),
                    None => off.push(place),
                }
            }
            let is_extra = |key: &&String| !wanted.contains_key(*key);
            off.extend(found.keys().filter(is_extra).map(|key| format!("{place}.{key} (extra)")));
        }
        (Value::Array(wanted), Value::Array(found)) if wanted.len() == found.len() => {
            for (i, (value, answer)) in wanted.iter().zip(found).enumerate() {
                walk(tolerances, value, answer, near, format!("{place}[{i}]"), off);
            }
        }
        (Value::Number(wanted), Value::Number(found)) => {
            let is_near = match (wanted.as_f64(), found.as_f64()) {
                (Some(e), Some(x)) => (x - e).abs() <= near.absolute + near.relative * e.abs(),
                _ => false,
            };
            if !is_near {
                off.push(place);
            }
        }
        _ if expected == answer || both_say_nothing(expected, answer) => {}
        _ => off.push(place),
    }
}

/// "No estimate" may be written as null, or as an object of nulls and zero counts.
fn both_say_nothing(a: &Value, b: &Value) -> bool {
    let is_nothing = |v: &Value| match v {
        Value::Null => true,
        Value::Object(parts) => {
            parts.values().all(|part| part.is_null() || part.as_u64() == Some(0))
        }
        _ => false,
    };
    a.is_object() != b.is_object() && is_nothing(a) && is_nothing(b)
}
