//! Prints the tables that the kinds' declarations ask for: `print_ddl sqlite|postgres`.

use traybook_storage::schema::{Dialect, ddl};

fn main() {
    let dialect = match std::env::args().nth(1).as_deref() {
        Some("postgres") => Dialect::Postgres,
        _ => Dialect::Sqlite,
    };
    print!("{}", ddl(dialect));
}
