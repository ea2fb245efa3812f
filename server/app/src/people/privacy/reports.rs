//! A member's name in the reports of closed months: the number takes its place, all other bytes stay.

use serde::Deserialize;
use serde_json::value::RawValue;
use traybook_storage::savings::months::Close;
use uuid::Uuid;

#[derive(Deserialize)]
struct Lines<'a> {
    #[serde(borrow)]
    farms: Vec<&'a RawValue>,
}

#[derive(Deserialize)]
struct Line {
    member_id: Uuid,
    member_number: String,
    member_name: String,
}

/// The report without the member's name; none where it does not hold it.
pub(super) fn without_name(close: &Close, member: Uuid) -> Option<Close> {
    let lines: Lines<'_> = serde_json::from_str(&close.report_json).ok()?;
    let (mut json, mut csv, mut is_changed) =
        (close.report_json.clone(), close.report_csv.clone(), false);
    for raw in lines.farms.iter().map(|line| line.get()) {
        let Ok(line) = serde_json::from_str::<Line>(raw) else { continue };
        if line.member_id != member || line.member_name == line.member_number {
            continue;
        }
        let text = |value: &str| serde_json::Value::from(value).to_string();
        let said = |name: &str| format!("\"member_name\":{}", text(name));
        let without = raw.replace(&said(&line.member_name), &said(&line.member_number));
        json = json.replace(raw, &without);
        csv = csv_without(&csv, &line);
        is_changed = true;
    }
    is_changed.then(|| Close { report_json: json, report_csv: csv, ..close.clone() })
}

/// The lines of the member have the number before the name.
fn csv_without(csv: &str, line: &Line) -> String {
    let cell = |text: &str| {
        let one = traybook_reports::csv_text::line(&[text]);
        one.trim_end_matches("\r\n").to_owned()
    };
    let (number, name) = (cell(&line.member_number), cell(&line.member_name));
    csv.replace(&format!("{number},{name},"), &format!("{number},{number},"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use traybook_domain::Month;

    #[test]
    fn only_the_members_own_name_goes() {
        let (member, other) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let line = |id: Uuid, number: &str| {
            format!(
                r#"{{"member_id":"{id}","member_number":"{number}","member_name":"Asha \"A\" M"}}"#
            )
        };
        let json =
            format!(r#"{{"farms":[{},{}],"total":null}}"#, line(member, "M1"), line(other, "M2"));
        let csv = "month,member_number,member_name,x\r\n2026-01,M1,\"Asha \"\"A\"\" M\",1\r\n\
                   2026-01,M2,\"Asha \"\"A\"\" M\",1\r\n";
        let close = Close {
            month: Month::parse("2026-01").expect("a month"),
            closed_at: 0,
            closed_by: other,
            report_json: json.clone(),
            report_csv: csv.to_owned(),
            report_version: 2,
        };
        let without = without_name(&close, member).expect("it holds the name");
        let expected = json.replacen(r#""member_name":"Asha \"A\" M""#, r#""member_name":"M1""#, 1);
        assert_eq!(without.report_json, expected);
        let expected = csv.replacen("M1,\"Asha \"\"A\"\" M\"", "M1,M1", 1);
        assert_eq!(without.report_csv, expected);
        assert_eq!(without_name(&without, member), None, "once is enough");
        assert_eq!(without_name(&close, Uuid::from_u128(3)), None);
    }
}
