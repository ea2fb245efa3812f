//! Files that were looked through and wait to be taken, so that any server can take them.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use uuid::Uuid;

/// Bytes of a file that are written at once: others have their turn between.
pub const PART_BYTES: usize = 1024 * 1024;

/// Files of a co-operative that wait, by the name that their person knows.
pub type Name = (i64, Uuid);

fn of((coop, id): Name) -> [Bind; 2] {
    [Bind::int(coop), Bind::id(id)]
}

/// What is kept of files that wait.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wait {
    /// Who sent them.
    pub person: Uuid,
    /// When they were kept, or when their writing last went on, milliseconds.
    pub touched_at: i64,
    /// `waits`, `runs`, `done` or `failed`.
    pub state: String,
    /// Rows that were read so far.
    pub rows_read: i64,
    /// Rows of all files.
    pub rows_all: i64,
    /// How they are read, JSON.
    pub layouts: String,
    /// What became of them, JSON.
    pub outcomes: String,
}

/// Keeps new files. Those that the person sent before go, and the oldest where the co-operative
/// has more than `most`.
pub fn begin(conn: &mut Conn, name: Name, wait: &Wait, most: i64) -> Result<(), StoreError> {
    let [coop, id] = of(name);
    let sql = "DELETE FROM import_waits WHERE coop_id = ? AND person_id = ? AND state <> 'runs'";
    conn.exec(sql, &[coop.clone(), Bind::id(wait.person)])?;
    conn.exec(
        "INSERT INTO import_waits (coop_id, id, person_id, touched_at, state, rows_read, \
         rows_all, layouts, outcomes) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        &[
            coop.clone(),
            id,
            Bind::id(wait.person),
            Bind::instant(wait.touched_at),
            Bind::text(&*wait.state),
            Bind::int(wait.rows_read),
            Bind::int(wait.rows_all),
            Bind::text(&*wait.layouts),
            Bind::text(&*wait.outcomes),
        ],
    )?;
    let newest = format!(
        "SELECT id FROM import_waits WHERE coop_id = ? ORDER BY touched_at DESC, id {LIMIT}"
    );
    let sql = format!(
        "DELETE FROM import_waits WHERE coop_id = ? AND state <> 'runs' AND id NOT IN ({newest})"
    );
    conn.exec(&sql, &[coop.clone(), coop, Bind::int(most)]).map(drop)
}

/// Keeps a part of a file: its place among the files, its place in the file.
pub fn add_part(
    conn: &mut Conn,
    name: Name,
    (file, part): (i64, i64),
    (file_name, content): (&str, Vec<u8>),
) -> Result<(), StoreError> {
    let [coop, id] = of(name);
    let sql = "INSERT INTO import_wait_parts (coop_id, wait_id, file, part, name, content) \
               VALUES (?, ?, ?, ?, ?, ?)";
    let place = [coop, id, Bind::int(file), Bind::int(part)];
    let content = [Bind::text(file_name), Bind::bytes(content)];
    conn.exec(sql, &[place.as_slice(), content.as_slice()].concat()).map(drop)
}

/// Files that wait.
pub fn find(conn: &mut Conn, name: Name) -> Result<Option<Wait>, StoreError> {
    let columns = columns!("import_waits::find" {
        person: Uuid = "person_id",
        touched_at: Instant,
        state: String,
        rows_read: i64,
        rows_all: i64,
        layouts: String,
        outcomes: String,
    } => Wait { person, touched_at, state, rows_read, rows_all, layouts, outcomes });
    let sql = format!("SELECT {columns} FROM import_waits WHERE coop_id = ? AND id = ?");
    conn.select_one(&columns, &sql, &of(name))
}

/// Names and bytes of the files, in the order in which they came.
pub fn files(conn: &mut Conn, name: Name) -> Result<Vec<(String, Vec<u8>)>, StoreError> {
    let columns = columns!("import_waits::files" {
        part: i64,
        file: String = "name",
        content: Vec<u8>,
    } => (part, file, content));
    let sql = format!(
        "SELECT {columns} FROM import_wait_parts WHERE coop_id = ? AND wait_id = ? \
         ORDER BY file, part"
    );
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    for (part, file, mut content) in conn.select(&columns, &sql, &of(name))? {
        match files.last_mut().filter(|_| part > 0) {
            Some((_, bytes)) => bytes.append(&mut content),
            None => files.push((file, content)),
        }
    }
    Ok(files)
}

/// Keeps how files are read, and what was said of them.
pub fn choose(
    conn: &mut Conn,
    name: Name,
    (layouts, outcomes): (&str, &str),
    now: i64,
) -> Result<(), StoreError> {
    let [coop, id] = of(name);
    let sql = "UPDATE import_waits SET layouts = ?, outcomes = ?, touched_at = ? \
               WHERE coop_id = ? AND id = ? AND state <> 'runs'";
    let set = [Bind::text(layouts), Bind::text(outcomes), Bind::instant(now)];
    conn.exec(sql, &[set.as_slice(), &[coop, id]].concat()).map(drop)
}

/// Begins to take files; false where that has begun, unless nobody has gone on with it since an
/// instant.
pub fn start(conn: &mut Conn, name: Name, since: i64, now: i64) -> Result<bool, StoreError> {
    let [coop, id] = of(name);
    let sql = "UPDATE import_waits SET state = 'runs', rows_read = 0, touched_at = ? \
               WHERE coop_id = ? AND id = ? AND (state <> 'runs' OR touched_at < ?)";
    Ok(conn.exec(sql, &[Bind::instant(now), coop, id, Bind::instant(since)])? > 0)
}

/// Notes how far the writing is.
pub fn touch(conn: &mut Conn, name: Name, rows_read: i64, now: i64) -> Result<(), StoreError> {
    let [coop, id] = of(name);
    let sql = "UPDATE import_waits SET rows_read = ?, touched_at = ? WHERE coop_id = ? AND id = ?";
    conn.exec(sql, &[Bind::int(rows_read), Bind::instant(now), coop, id]).map(drop)
}

/// Notes how the writing ended: `done` or `failed`. None of `outcomes` leaves what was said.
pub fn end(
    conn: &mut Conn,
    name: Name,
    (state, outcomes): (&str, Option<&str>),
    now: i64,
) -> Result<(), StoreError> {
    let [coop, id] = of(name);
    if let Some(outcomes) = outcomes {
        let sql = "UPDATE import_waits SET outcomes = ? WHERE coop_id = ? AND id = ?";
        conn.exec(sql, &[Bind::text(outcomes), coop.clone(), id.clone()])?;
    }
    let sql = "UPDATE import_waits SET state = ?, touched_at = ? WHERE coop_id = ? AND id = ?";
    conn.exec(sql, &[Bind::text(state), Bind::instant(now), coop, id]).map(drop)
}

/// Forgets the files of all co-operatives that nobody has touched since an instant.
pub fn forget(conn: &mut Conn, since: i64) -> Result<(), StoreError> {
    conn.exec("DELETE FROM import_waits WHERE touched_at < ?", &[Bind::instant(since)]).map(drop)
}
