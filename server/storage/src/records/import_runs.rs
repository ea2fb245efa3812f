//! Files that are being written slice by slice, and what was made of them.
//!
//! A run is noted before its first slice, each record that it makes with its slice. When all is
//! written the notes go. A run that breaks off is undone by them; then they stay, so that the same
//! file may come again.

use crate::columns::columns;
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use traybook_domain::Kind;
use uuid::Uuid;

/// A run of a co-operative.
pub type Run = (i64, Uuid);

fn of((coop, run): Run) -> [Bind; 2] {
    [Bind::int(coop), Bind::id(run)]
}

/// Notes a run that begins.
pub fn begin(conn: &mut Conn, run: Run, now: i64) -> Result<(), StoreError> {
    let sql = "INSERT INTO import_runs (coop_id, run_id, touched_at, undone) VALUES (?, ?, ?, ?)";
    let [coop, id] = of(run);
    conn.exec(sql, &[coop, id, Bind::instant(now), Bind::bool(false)]).map(drop)
}

/// Notes that a run goes on.
pub fn touch(conn: &mut Conn, run: Run, now: i64) -> Result<(), StoreError> {
    let [coop, id] = of(run);
    let sql = "UPDATE import_runs SET touched_at = ? WHERE coop_id = ? AND run_id = ?";
    conn.exec(sql, &[Bind::instant(now), coop, id]).map(drop)
}

/// Records that are noted by one statement.
const NOTES_AT_ONCE: usize = 50;

/// Notes what a slice made; `from` is how many records the run had made before. It notes
/// [`NOTES_AT_ONCE`] by one statement and the rest one by one, so that only two are prepared.
pub fn note(
    conn: &mut Conn,
    run: Run,
    made: &[(Kind, Uuid)],
    from: usize,
) -> Result<(), StoreError> {
    let rows: Vec<(usize, (Kind, Uuid))> = (from..).zip(made.iter().copied()).collect();
    let (many, rest) = rows.as_chunks::<NOTES_AT_ONCE>();
    let rest = rest.iter().map(std::slice::from_ref);
    for part in many.iter().map(|part| part.as_slice()).chain(rest) {
        let sql = format!(
            "INSERT INTO import_rows (coop_id, kind, id, run_id, seq, undone) VALUES {} \
             ON CONFLICT (coop_id, kind, id) DO UPDATE SET \
             run_id = excluded.run_id, seq = excluded.seq, undone = excluded.undone",
            vec!["(?, ?, ?, ?, ?, ?)"; part.len()].join(", ")
        );
        let binds: Vec<Bind> = part.iter().flat_map(|row| noted(run, row)).collect();
        conn.exec(&sql, &binds)?;
    }
    Ok(())
}

fn noted((coop, run): Run, (seq, (kind, id)): &(usize, (Kind, Uuid))) -> [Bind; 6] {
    [
        Bind::int(coop),
        Bind::text(kind.spec().one),
        Bind::id(*id),
        Bind::id(run),
        Bind::int(i64::try_from(*seq).unwrap_or(i64::MAX)),
        Bind::bool(false),
    ]
}

/// What a run made and was not undone yet, the last first.
pub fn to_undo(conn: &mut Conn, run: Run, most: usize) -> Result<Vec<(Kind, Uuid)>, StoreError> {
    let columns = columns!("import_runs::to_undo" { kind: Kind, id: Uuid } => (kind, id));
    let sql = format!(
        "SELECT {columns} FROM import_rows WHERE coop_id = ? AND run_id = ? AND undone = ? \
         ORDER BY seq DESC {LIMIT}"
    );
    let [coop, id] = of(run);
    let most = Bind::int(i64::try_from(most).unwrap_or(i64::MAX));
    conn.select(&columns, &sql, &[coop, id, Bind::bool(false), most])
}

/// Notes that a record of a run was undone.
pub fn undone(conn: &mut Conn, coop: i64, kind: Kind, id: Uuid) -> Result<(), StoreError> {
    let sql = "UPDATE import_rows SET undone = ? WHERE coop_id = ? AND kind = ? AND id = ?";
    let key = [Bind::int(coop), Bind::text(kind.spec().one), Bind::id(id)];
    conn.exec(sql, &[&[Bind::bool(true)], key.as_slice()].concat()).map(drop)
}

/// Whether a record was undone with the file that made it.
pub fn was_undone(conn: &mut Conn, coop: i64, kind: Kind, id: Uuid) -> Result<bool, StoreError> {
    let columns = columns!("import_runs::was_undone" { undone: bool } => undone);
    let sql =
        format!("SELECT {columns} FROM import_rows WHERE coop_id = ? AND kind = ? AND id = ?");
    let key = [Bind::int(coop), Bind::text(kind.spec().one), Bind::id(id)];
    Ok(conn.select_one(&columns, &sql, &key)?.unwrap_or(false))
}

/// Forgets a record: it stays as it is.
pub fn forget(conn: &mut Conn, coop: i64, kind: Kind, id: Uuid) -> Result<(), StoreError> {
    let sql = "DELETE FROM import_rows WHERE coop_id = ? AND kind = ? AND id = ?";
    conn.exec(sql, &[Bind::int(coop), Bind::text(kind.spec().one), Bind::id(id)]).map(drop)
}

/// Notes that all of a run is undone.
pub fn all_undone(conn: &mut Conn, run: Run) -> Result<(), StoreError> {
    let [coop, id] = of(run);
    let sql = "UPDATE import_runs SET undone = ? WHERE coop_id = ? AND run_id = ?";
    conn.exec(sql, &[Bind::bool(true), coop, id]).map(drop)
}

/// Forgets a part of a run that is written whole; true when nothing of it is left.
pub fn end(conn: &mut Conn, run: Run, most: usize) -> Result<bool, StoreError> {
    let sql = "DELETE FROM import_rows WHERE coop_id = ? AND run_id = ? AND undone = ? AND seq > \
               (SELECT MAX(seq) FROM import_rows WHERE coop_id = ? AND run_id = ? AND undone = ?) - ?";
    let [coop, id] = of(run);
    let key = [coop, id, Bind::bool(false)];
    let most = Bind::int(i64::try_from(most).unwrap_or(i64::MAX));
    if conn.exec(sql, &[&key, key.as_slice(), &[most]].concat())? > 0 {
        return Ok(false);
    }
    conn.exec("DELETE FROM import_runs WHERE coop_id = ? AND run_id = ?", &of(run))?;
    Ok(true)
}

/// Runs that nobody has gone on with since an instant.
pub fn broken_off(conn: &mut Conn, since: i64) -> Result<Vec<Run>, StoreError> {
    let columns = columns!("import_runs::broken_off" { coop: i64 = "coop_id", run: Uuid = "run_id" } => (coop, run));
    let sql = format!("SELECT {columns} FROM import_runs WHERE undone = ? AND touched_at < ?");
    conn.select(&columns, &sql, &[Bind::bool(false), Bind::instant(since)])
}
