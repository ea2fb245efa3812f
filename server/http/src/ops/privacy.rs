//! The operations on what is held about a member.

use super::plain::Plain;
use super::{Body, Handler, Method, Op, Reply};
use crate::api::privacy;
use traybook_answers::people::privacy::{EraseRequest, Erased, PersonalCopy};
use traybook_domain::limits;
use traybook_domain::people::authz::Role;

/// The operations.
pub(super) fn ops() -> Vec<Op> {
    let copy = Plain {
        method: Method::Get,
        path: "/v1/members/{id}/personal-copy",
        id: "get_personal_copy",
        summary: "Everything that is held about a member",
        about: "The member, the farms, all that was recorded of them with every version, \
                attendances, accounts, the ids of pictures, and the closed months whose report names \
                the member. To be handed over on request.",
        tag: "People",
        roles: vec![Role::Manager, Role::Member],
        body: Body::None,
        reply: Reply::json::<PersonalCopy>(),
        query: Vec::new(),
        statuses: vec![304, 403, 404, 406],
        handler: handler!(privacy::personal_copy),
    };
    let erase = Plain {
        method: Method::Post,
        path: "/v1/members/{id}/erasure",
        id: "erase_member",
        summary: "Erase what is personal of a member who left",
        about: "Name, telephone, places, pictures and all free texts are emptied in every version, \
                the account is closed, and reports of closed months show the number in place of the \
                name. Figures stay. It can not be undone. Backups made before still hold the name \
                until they are pruned.",
        tag: "People",
        roles: vec![Role::Manager],
        body: Body::json::<EraseRequest>(limits::BODY_BYTES_MAX),
        reply: Reply::json::<Erased>(),
        query: Vec::new(),
        statuses: vec![400, 403, 404, 406, 413, 415, 422],
        handler: handler!(privacy::erase),
    };
    vec![copy.into(), erase.into()]
}
