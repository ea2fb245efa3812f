//! Whether a statement asks one co-operative alone: so that tables can be spread over several
//! machines, and each statement goes to one of them.

use std::collections::{BTreeSet, HashMap, HashSet};
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::thread::ThreadId;
use traybook_storage::copies::spread::{Spread, tables};

/// Statements that may ask all co-operatives, by a part of their text, with the reason.
const OF_ALL: &[(&str, &str)] = &[
    ("FROM coop_counters WHERE sums_form < ?", "at the start: sums of an older program"),
    ("FROM coop_counters c WHERE NOT EXISTS (SELECT 1 FROM batch_trays", "the same, of batches"),
    ("FROM coop_counters n JOIN cooperatives c", "which figures are due: one statement for all"),
    ("FROM review_queue q JOIN cooperatives c", "which histories wait: one statement for all"),
    ("FROM coop_snapshots WHERE failed_at IS NOT NULL", "health: how many makings failed"),
    ("FROM import_runs WHERE undone = ? AND touched_at < ?", "files that broke off"),
    (
        "FROM coop_counters n LEFT JOIN feed_floors f",
        "which feeds may forget: one statement for all",
    ),
    ("DELETE FROM import_waits WHERE touched_at < ?", "forgets files that nobody took"),
    ("FROM security_chains ORDER BY chain", "check: follows every chain"),
    ("FROM security_chains c WHERE c.lines", "which chains are too long: one statement for all"),
    ("FROM programme_cells WHERE month = ?", "a programme's sums over its co-operatives"),
    ("FROM sign_in_failures WHERE since <= ?", "forgets failures that are over"),
    ("FROM sign_in_failures WHERE key_hash IN (SELECT", "forgets the oldest failures"),
    ("DELETE FROM invitations WHERE used_at IS NULL", "a restore ends all codes"),
    ("FROM invitations WHERE code_hash = ?", "a code of an older program names no co-operative"),
    ("FROM sessions WHERE token_hash = ?", "a secret of an older program, for 30 days"),
    ("FROM calendar_links WHERE secret_hash = ?", "an address of an older program"),
];

/// Backups, restores and moves read and write whole tables.
fn is_of_a_copy(sql: &str) -> bool {
    let rest = ["SELECT COUNT(*) FROM ", "DELETE FROM "].iter().find_map(|b| sql.strip_prefix(b));
    rest.is_some_and(|table| !table.contains(' ')) || sql.starts_with("SELECT \"")
}

/// Statements that should have asked one co-operative and did not, with what is wrong.
static WRONG: Mutex<BTreeSet<String>> = Mutex::new(BTreeSet::new());

/// Statements that were looked at, by hash: each text once.
static SEEN: Mutex<BTreeSet<u64>> = Mutex::new(BTreeSet::new());

fn hash(sql: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    sql.hash(&mut hasher);
    hasher.finish()
}

/// The thread of the test: what a test asks itself is not looked at.
static TEST: OnceLock<ThreadId> = OnceLock::new();

/// Begins to look at every statement of the program.
pub fn look() {
    TEST.get_or_init(|| std::thread::current().id());
    traybook_storage::conn::watch(|sql| {
        let is_new = || SEEN.lock().unwrap_or_else(PoisonError::into_inner).insert(hash(sql));
        if TEST.get() == Some(&std::thread::current().id()) || !is_new() {
            return;
        }
        if let Some(why) = wrong(sql) {
            WRONG.lock().unwrap_or_else(PoisonError::into_inner).insert(format!("{why}: {sql}"));
        }
    });
}

/// What was found since the start.
#[must_use]
pub fn found() -> Vec<String> {
    WRONG.lock().unwrap_or_else(PoisonError::into_inner).iter().cloned().collect()
}

/// By which column each table is spread; none for one that stands everywhere.
fn columns() -> &'static HashMap<String, Option<&'static str>> {
    static COLUMNS: OnceLock<HashMap<String, Option<&'static str>>> = OnceLock::new();
    COLUMNS.get_or_init(|| {
        let column = |spread| match spread {
            Spread::Cooperative(column) | Spread::Key(column) => Some(column),
            Spread::Everywhere => None,
        };
        let mut all: HashMap<_, _> =
            tables().into_iter().map(|(name, spread)| (name, column(spread))).collect();
        // A view of tables of one co-operative.
        all.insert("seed_movements".to_owned(), Some("coop_id"));
        all
    })
}

/// What is wrong with a statement; none where it asks one co-operative at every level of SELECT.
#[must_use]
pub fn wrong(sql: &str) -> Option<String> {
    const NO_QUESTION: [&str; 9] = [
        "BEGIN",
        "COMMIT",
        "ROLLBACK",
        "SAVEPOINT",
        "RELEASE",
        "PRAGMA",
        "SET ",
        "LOCK ",
        "VACUUM",
    ];
    let is_of_all = |(part, _): &(&str, &str)| sql.contains(part);
    if NO_QUESTION.iter().any(|word| sql.starts_with(word))
        || OF_ALL.iter().any(is_of_all)
        || is_of_a_copy(sql)
    {
        return None;
    }
    let tokens = tokens(sql);
    let named = |at: usize| tokens.get(at + 1).is_some_and(|t| *t == "AS" || *t == "(");
    // Names of WITH: before AS, or before their columns.
    let withs: HashSet<&str> = match tokens.first() {
        Some(&"WITH") => (0..tokens.len()).filter(|at| named(*at)).map(|at| tokens[at]).collect(),
        _ => HashSet::new(),
    };
    level(&tokens, &mut 0, &withs)
}

/// Words, signs and strings.
fn tokens(sql: &str) -> Vec<&str> {
    let is_word = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '.';
    let (mut all, mut rest) = (Vec::new(), sql.trim_start());
    while let Some(first) = rest.chars().next() {
        let end = if first == '\'' {
            rest[1..].find('\'').map_or(rest.len(), |at| at + 2)
        } else if is_word(first) {
            rest.find(|c| !is_word(c)).unwrap_or(rest.len())
        } else {
            first.len_utf8()
        };
        let (token, after) = rest.split_at(end);
        // Names in quotes are names.
        if token != "\"" {
            all.push(token);
        }
        rest = after.trim_start();
    }
    all
}

/// Looks at what stands between two parentheses, or at the whole.
fn level(tokens: &[&str], at: &mut usize, withs: &HashSet<&str>) -> Option<String> {
    let (mut part, mut inner): (Vec<&str>, Option<String>) = (Vec::new(), None);
    let mut outer = None;
    while let Some(token) = tokens.get(*at) {
        *at += 1;
        match *token {
            "(" => {
                let from = *at;
                inner = level(tokens, at, withs).or(inner);
                // What an INSERT names stands in parentheses.
                if part.first() == Some(&"INSERT") {
                    part.extend(&tokens[from..*at - 1]);
                }
            }
            ")" => break,
            "UNION" | "EXCEPT" | "INTERSECT" => {
                outer = question(&part, withs).or(outer);
                part.clear();
            }
            token => part.push(token),
        }
    }
    question(&part, withs).or(outer).or(inner)
}

/// Looks at one SELECT, or one statement that writes.
fn question(part: &[&str], withs: &HashSet<&str>) -> Option<String> {
    const NEXT: [&str; 5] = ["FROM", "JOIN", "INTO", "UPDATE", ","];
    const ENDS: [&str; 8] = ["WHERE", "SELECT", "SET", "GROUP", "ORDER", "ON", "VALUES", "LIMIT"];
    let (mut asked, mut is_list) = (Vec::new(), false);
    for (at, token) in part.iter().enumerate() {
        is_list = match *token {
            "FROM" | "JOIN" | "INTO" | "UPDATE" => true,
            end if ENDS.contains(&end) => false,
            _ => is_list,
        };
        let before = at.checked_sub(1).and_then(|at| part.get(at)).copied().unwrap_or_default();
        if is_list && NEXT.contains(&before) && !withs.contains(token) {
            asked.extend(columns().get(*token).copied().flatten());
        }
    }
    let column = asked.first()?;
    let is_column = |t: &&str| **t == **column || t.ends_with(&format!(".{column}"));
    let places: Vec<usize> =
        (0..part.len()).filter(|at| part.get(*at).is_some_and(is_column)).collect();
    let word = |at: usize| part.get(at).copied().unwrap_or_default();
    if part.first() == Some(&"INSERT") && !part.contains(&"SELECT") {
        return places.is_empty().then(|| format!("names no {column}"));
    }
    let is_bound = |at: &usize| word(at + 1) == "=" && word(at + 2) == "?";
    if !places.iter().any(is_bound) {
        return Some(format!("binds no {column}"));
    }
    // Each further table is bound too, or tied to another one's column.
    let equal = places.iter().filter(|at| word(**at + 1) == "=").count();
    let further = asked.iter().filter(|c| *c == column).count();
    (equal < further).then(|| format!("{further} tables, {equal} with their {column}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_statement_of_one_cooperative_is_right() {
        for sql in [
            "SELECT id FROM farms WHERE coop_id = ? AND id = ?",
            "SELECT f.id FROM farms f JOIN members m ON m.coop_id = f.coop_id AND m.id = f.member_id \
             WHERE f.coop_id = ?",
            "INSERT INTO farms (coop_id, id) VALUES (?, ?) ON CONFLICT (coop_id, id) DO NOTHING",
            "UPDATE farms SET code = ? WHERE coop_id = ? AND id = ?",
            "DELETE FROM changes WHERE coop_id = ? AND seq < ?",
            "WITH own(id) AS (SELECT id FROM areas WHERE coop_id = ? UNION SELECT a.id FROM areas a \
             JOIN own ON a.parent_id = own.id WHERE a.coop_id = ?) SELECT id FROM own",
            "SELECT person_id FROM logins WHERE login = ?",
            "SELECT epoch FROM record_epoch",
        ] {
            assert_eq!(wrong(sql), None, "{sql}");
        }
    }

    #[test]
    fn a_statement_of_all_is_found_at_every_level() {
        for sql in [
            "SELECT id FROM farms WHERE id = ?",
            "SELECT id FROM farms WHERE coop_id = ? AND member_id IN (SELECT id FROM members)",
            "SELECT id FROM farms f WHERE coop_id = ? AND EXISTS (SELECT 1 FROM members m WHERE \
             m.coop_id = f.coop_id AND m.id = f.member_id)",
            "SELECT f.id FROM farms f JOIN members m ON m.id = f.member_id WHERE f.coop_id = ?",
            "SELECT id FROM farms WHERE coop_id = ? UNION ALL SELECT id FROM members",
            "UPDATE farms SET code = ? WHERE id = ?",
            "INSERT INTO farms (id) VALUES (?)",
            "SELECT person_id FROM logins WHERE coop_id = ?",
        ] {
            assert!(wrong(sql).is_some(), "{sql}");
        }
    }
}
