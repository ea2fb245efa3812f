//! Menus over USSD that are open.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MenuRow {
    pub carrier: String,
    /// The carrier's own name of it.
    pub session: String,
    pub number: String,
    /// Where it stands, as JSON.
    pub state: String,
    /// Inputs so far.
    pub steps: i64,
    pub touched_at: i64,
}

pub fn menu(
    conn: &mut Conn,
    coop: i64,
    carrier: &str,
    session: &str,
) -> Result<Option<MenuRow>, StoreError> {
    let columns = columns!("texts::menu" {
        carrier: String,
        session: String,
        number: String,
        state: String,
        steps: i64,
        touched_at: Instant,
    } => MenuRow { carrier, session, number, state, steps, touched_at });
    let sql = format!(
        "SELECT {columns} FROM text_menus WHERE coop_id = ? AND carrier = ? AND session = ?"
    );
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::text(carrier), Bind::text(session)])
}

/// Keeps a menu. A number has one: earlier ones of it go.
pub fn put_menu(conn: &mut Conn, coop: i64, m: &MenuRow) -> Result<(), StoreError> {
    let key = [Bind::int(coop), Bind::text(&*m.number), Bind::text(&*m.carrier)];
    conn.exec(
        "DELETE FROM text_menus WHERE coop_id = ? AND number = ? AND (carrier <> ? OR session <> ?)",
        &[key.as_slice(), &[Bind::text(&*m.session)]].concat(),
    )?;
    let sql = "INSERT INTO text_menus (coop_id, carrier, session, number, state, steps, touched_at) \
               VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (coop_id, carrier, session) DO UPDATE SET \
               number = excluded.number, state = excluded.state, steps = excluded.steps, \
               touched_at = excluded.touched_at";
    let binds = [
        Bind::int(coop),
        Bind::text(&*m.carrier),
        Bind::text(&*m.session),
        Bind::text(&*m.number),
        Bind::text(&*m.state),
        Bind::int(m.steps),
        Bind::instant(m.touched_at),
    ];
    conn.exec(sql, &binds).map(drop)
}

/// Forgets menus that nobody touched since an instant; how many.
pub fn forget_menus(conn: &mut Conn, coop: i64, before: i64) -> Result<usize, StoreError> {
    let sql = "DELETE FROM text_menus WHERE coop_id = ? AND touched_at < ?";
    conn.exec(sql, &[Bind::int(coop), Bind::instant(before)])
}
