//! Names of sheets that every spreadsheet program takes.

/// Longest name of a sheet.
const CHARS_MAX: usize = 31;

/// Names for areas: at most 31 characters, none of the forbidden ones, each once, unlike those of
/// our own sheets.
pub fn sheets(areas: &[&str], own: &[String], nameless: &str) -> Vec<String> {
    // Spreadsheet programs keep "History" for themselves.
    let mut taken: Vec<String> = own.iter().map(|name| name.to_lowercase()).collect();
    taken.push("history".to_owned());
    areas.iter().map(|area| name(area, &mut taken, nameless)).collect()
}

fn name(area: &str, taken: &mut Vec<String>, nameless: &str) -> String {
    let safe = |c: char| match c {
        '[' | ']' | ':' | '*' | '?' | '/' | '\\' => ' ',
        c if c.is_control() => ' ',
        c => c,
    };
    let clean: String = area.chars().map(safe).collect();
    let clean = clean.split_whitespace().collect::<Vec<_>>().join(" ");
    let clean = clean.trim_matches('\'').trim();
    let clean = if clean.is_empty() { nameless } else { clean };
    let mut number = 1_u32;
    loop {
        let tail = if number > 1 { format!(" ({number})") } else { String::new() };
        let name = format!("{}{tail}", cut(clean, CHARS_MAX.saturating_sub(tail.len())));
        let key = name.to_lowercase();
        if !taken.contains(&key) {
            taken.push(key);
            return name;
        }
        number += 1;
    }
}

/// The beginning of a name; characters count as UTF-16 units, as the file format counts them.
fn cut(name: &str, units: usize) -> String {
    let mut left = units;
    let mut short = String::new();
    for c in name.chars() {
        let Some(rest) = left.checked_sub(c.len_utf16()) else { break };
        left = rest;
        short.push(c);
    }
    short.trim_end_matches('\'').trim_end().to_owned()
}

/// A sheet's name as formulas write it.
pub fn quoted(name: &str) -> String {
    format!("'{}'", name.replace('\'', "''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sheets_get_names_that_are_allowed_and_differ() {
        let long = "The valley of the very long river name north";
        let own = ["Totals".to_owned(), "Notes".to_owned()];
        let sheets = |areas: &[&str]| sheets(areas, &own, "Area");
        let names =
            sheets(&["Kilima", "KILIMA", "Totals", "a/b:c", "", "'x'", long, long, "history"]);
        assert_eq!(
            names,
            [
                "Kilima",
                "KILIMA (2)",
                "Totals (2)",
                "a b c",
                "Area",
                "x",
                "The valley of the very long riv",
                "The valley of the very long (2)",
                "history (2)",
            ]
        );
        assert_eq!(sheets(&[&"🐄".repeat(40)]), ["🐄".repeat(15)]);
        assert_eq!(quoted("a'b"), "'a''b'");
    }
}
