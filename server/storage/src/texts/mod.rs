//! Text messages: telephone numbers, what came, what is to be sent, and what was said last.
//!
//! Nothing here moves the revision: what a text records goes through [`crate::records`].

mod incoming;
mod menus;
mod numbers;
mod outgoing;
mod review;
mod said;

pub use incoming::{
    In, add_in, by_text, came_before, came_since, note_record, outcomes, versions_by_text,
};
pub use menus::{MenuRow, forget_menus, menu, put_menu};
pub use numbers::{Number, add_number, all_links, link, links, links_of, put_number};
pub use outgoing::{
    Out, add_out, counts, due, give_up, has_run_out, hold_back, made_since, out, out_of_key,
    put_out, tidy_out, waiting,
};
pub use review::{has_records, undone, visits, weighed};
pub use said::{Turn, put_turn, turn, turns};

use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

fn instant(at: Option<i64>) -> Bind {
    Bind::opt(ColumnType::Instant, at.map(Value::Instant))
}

fn text(text: Option<&str>) -> Bind {
    Bind::opt(ColumnType::Text, text.map(|t| Value::Text(t.to_owned())))
}

/// Empties the bodies of texts whose days are over; how many.
pub fn forget_bodies(
    conn: &mut Conn,
    coop: i64,
    (known, unknown): (i64, i64),
) -> Result<usize, StoreError> {
    let came = conn.exec(
        "UPDATE texts_in SET body = NULL WHERE coop_id = ? AND body IS NOT NULL \
         AND taken_at < CASE WHEN is_known = ? THEN ? ELSE ? END",
        &[Bind::int(coop), Bind::bool(true), Bind::instant(known), Bind::instant(unknown)],
    )?;
    let sent = conn.exec(
        "UPDATE texts_out SET body = NULL WHERE coop_id = ? AND body IS NOT NULL AND made_at < ? \
         AND state <> 'waiting' AND state <> 'leased'",
        &[Bind::int(coop), Bind::instant(known)],
    )?;
    Ok(came + sent)
}

/// Forgets the links of a member. What was said with a number that nobody else has is emptied.
pub fn forget_member(conn: &mut Conn, coop: i64, member: Uuid) -> Result<(), StoreError> {
    let own = links_of(conn, coop, member)?;
    let sql = "DELETE FROM text_numbers WHERE coop_id = ? AND member_id = ?";
    conn.exec(sql, &[Bind::int(coop), Bind::id(member)])?;
    for link in own {
        if !links(conn, coop, &link.number)?.is_empty() {
            continue;
        }
        let of = [Bind::int(coop), Bind::text(&*link.number)];
        for sql in [
            "UPDATE texts_in SET body = NULL, number = '' WHERE coop_id = ? AND number = ?",
            "UPDATE texts_out SET body = NULL, number = '', state = CASE WHEN state = 'waiting' \
             THEN 'expired' ELSE state END WHERE coop_id = ? AND number = ?",
            "DELETE FROM text_turns WHERE coop_id = ? AND number = ?",
            "DELETE FROM text_menus WHERE coop_id = ? AND number = ?",
        ] {
            conn.exec(sql, &of)?;
        }
    }
    Ok(())
}
