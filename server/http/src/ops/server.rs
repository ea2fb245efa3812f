//! The operation on how the server is.

use super::plain::reading;
use super::{Handler, Op, Reply};
use crate::api::health;
use traybook_answers::server::ServerState;
use traybook_domain::people::authz::Role;

/// The operations.
pub(super) fn ops() -> Vec<Op> {
    vec![reading(
        "/v1/server",
        "get_server",
        "How the server is",
        "What somebody should see to, the worst first; version, memory, database, disks, backups, the \
         certificate. For whoever runs the machine.",
        "Operation",
        vec![Role::Operator],
        Reply::json::<ServerState>(),
        Vec::new(),
        vec![304, 403, 406],
        handler!(health::server),
    )]
}
