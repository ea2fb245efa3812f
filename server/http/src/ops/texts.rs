//! The operations on text messages: the door of carriers, and whose numbers there are.

use super::plain::Plain;
use super::{Body, Handler, Method, Op, Reply};
use crate::api::texts;
use traybook_answers::texts as answers;
use traybook_domain::limits::BODY_BYTES_MAX;
use traybook_domain::people::authz::Role;

const TAG: &str = "Text messages";

/// The operations.
pub(super) fn ops() -> Vec<Op> {
    let mut ops = carrier_ops();
    ops.extend(number_ops());
    ops
}

/// What carriers ask, signed by their secret.
fn carrier_ops() -> Vec<Op> {
    let statuses = vec![400, 401, 406, 413, 415, 422];
    let take = Plain {
        method: Method::Post,
        path: "/v1/texts/in",
        id: "take_text",
        summary: "Hand over a text that came",
        about: "Signed by a carrier's secret as the Standard Webhooks specification says, with \
                the headers webhook-id, webhook-timestamp and webhook-signature. The text, what it \
                records and the answer are stored before this answers; the same id again changes \
                nothing.",
        tag: TAG,
        roles: Vec::new(),
        body: Body::json::<answers::TakeTextRequest>(BODY_BYTES_MAX),
        reply: Reply::json::<answers::TextTaken>(),
        query: Vec::new(),
        statuses: statuses.clone(),
        handler: handler!(texts::take),
    };
    let menu = Plain {
        method: Method::Post,
        path: "/v1/texts/menu",
        id: "step_text_menu",
        summary: "Hand over a step of a menu over USSD",
        about: "Signed as `take_text`. Each step fills the same reading as a text; only the last \
                yes writes, and its answer ends the session. A step that comes again gives the \
                same answer. A session that was cut leaves nothing behind.",
        tag: TAG,
        roles: Vec::new(),
        body: Body::json::<answers::TextMenuRequest>(BODY_BYTES_MAX),
        reply: Reply::json::<answers::TextMenu>(),
        query: Vec::new(),
        statuses: statuses.clone(),
        handler: handler!(texts::menu),
    };
    let lease = Plain {
        method: Method::Post,
        path: "/v1/texts/lease",
        id: "lease_texts",
        summary: "Fetch texts to be sent",
        about: "Signed as `take_text`. For a while they are this carrier's alone; what is not \
                settled in time is handed out again. Of each number the oldest comes first.",
        tag: TAG,
        roles: Vec::new(),
        body: Body::json::<answers::LeaseTextsRequest>(BODY_BYTES_MAX),
        reply: Reply::json::<answers::LeasedTexts>(),
        query: Vec::new(),
        statuses: statuses.clone(),
        handler: handler!(texts::lease),
    };
    let settle = Plain {
        method: Method::Post,
        path: "/v1/texts/settle",
        id: "settle_texts",
        summary: "Say what became of leased texts",
        about: "Signed as `take_text`. What failed is tried again after a while, until it is too \
                late.",
        tag: TAG,
        roles: Vec::new(),
        body: Body::json::<answers::SettleTextsRequest>(BODY_BYTES_MAX),
        reply: Reply::json::<answers::TextsSettled>(),
        query: Vec::new(),
        statuses,
        handler: handler!(texts::settle),
    };
    vec![take.into(), menu.into(), lease.into(), settle.into()]
}

/// Numbers of members, and what texts cost.
fn number_ops() -> Vec<Op> {
    let roles = vec![Role::Manager, Role::Officer];
    let list = Plain {
        method: Method::Get,
        path: "/v1/text-numbers",
        id: "list_text_numbers",
        summary: "Telephone numbers that members write from",
        about: "Ended ones too.",
        tag: TAG,
        roles: roles.clone(),
        body: Body::None,
        reply: Reply::json::<answers::TextNumbers>(),
        query: Vec::new(),
        statuses: vec![304, 403, 406],
        handler: handler!(texts::numbers),
    };
    let link = Plain {
        method: Method::Post,
        path: "/v1/text-numbers",
        id: "link_text_number",
        summary: "Link a number with the member's consent",
        about: "The number gets a code of four digits and counts once it has returned it. The same \
                number and member again gets a new code.",
        tag: TAG,
        roles: roles.clone(),
        body: Body::json::<answers::LinkNumberRequest>(BODY_BYTES_MAX),
        reply: Reply::json::<answers::TextNumber>(),
        query: Vec::new(),
        statuses: vec![400, 403, 404, 406, 409, 413, 415, 422],
        handler: handler!(texts::link),
    };
    let end = Plain {
        method: Method::Delete,
        path: "/v1/text-numbers/{id}",
        id: "end_text_number",
        summary: "End a link",
        about: "The number is a stranger's from then on; its records stay.",
        tag: TAG,
        roles,
        body: Body::None,
        reply: Reply::json::<answers::TextNumber>(),
        query: Vec::new(),
        statuses: vec![403, 404, 406],
        handler: handler!(texts::end),
    };
    let used = Plain {
        method: Method::Get,
        path: "/v1/texts-use",
        id: "get_texts_use",
        summary: "What texts this month cost",
        about: "Texts and segments by purpose, and how many that came were not understood.",
        tag: TAG,
        roles: vec![Role::Manager],
        body: Body::None,
        reply: Reply::json::<answers::TextsUse>(),
        query: Vec::new(),
        statuses: vec![304, 403, 406],
        handler: handler!(texts::used),
    };
    vec![list.into(), link.into(), end.into(), used.into()]
}
