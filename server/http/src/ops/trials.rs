//! The operations of trials.

use super::plain::Plain;
use super::{Body, Handler, Method, Op, Param, Reply};
use crate::api::trials;
use traybook_answers::trials::{
    NewOnOffOrder, NewStartOrder, OnOffOrder, StartOrder, StartOrders, TrialPower,
};
use traybook_domain::limits;
use traybook_domain::people::authz::Role;

/// The operations.
pub(super) fn ops() -> Vec<Op> {
    let get = |path, id, summary, about, roles, reply, query, statuses, handler| {
        plain(
            (Method::Get, path, id),
            (summary, about),
            roles,
            (Body::None, reply),
            query,
            statuses,
            handler,
        )
    };
    let post = |path, id, summary, about, body, reply, handler| {
        let statuses = vec![400, 403, 404, 406, 409, 413, 415, 422];
        plain(
            (Method::Post, path, id),
            (summary, about),
            vec![Role::Manager],
            (body, reply),
            vec![],
            statuses,
            handler,
        )
    };
    let all = || vec![Role::Manager, Role::Officer, Role::Member];
    let body_max = limits::BODY_BYTES_MAX;
    vec![
        get(
            "/v1/trial-power",
            "get_trial_power",
            "What ways to start farms could show",
            "The smallest change of the programme, of areas and of a member that most such trials \
             would show (`shown_of_100`), for the way asked and for usual ones, and what waiting costs.",
            vec![Role::Manager],
            Reply::json::<TrialPower>(),
            vec![
                ("enterprise", "milk or eggs.", true),
                ("starts", "Farms to start in each month, such as 5,5,4.", false),
            ],
            vec![304, 403, 406, 422],
            handler!(trials::power),
        ),
        get(
            "/v1/start-orders",
            "list_start_orders",
            "Random orders of starts that were drawn",
            "The newest first; those that were taken back stay.",
            all(),
            Reply::json::<StartOrders>(),
            vec![],
            vec![304, 403, 406, 422],
            handler!(trials::start_orders),
        ),
        post(
            "/v1/start-orders",
            "draw_start_order",
            "Draw who starts when",
            "Farms that have not started, by area and size of herd, in random order. Seed and list \
             are stored together before the first start.",
            Body::json::<NewStartOrder>(body_max),
            Reply::created::<StartOrder>(),
            handler!(trials::draw_start_order),
        ),
        get(
            "/v1/start-orders/{id}",
            "get_start_order",
            "Who starts when, and whether the draw gives this list",
            "As far as the person sees the farms.",
            all(),
            Reply::json::<StartOrder>(),
            vec![],
            vec![304, 403, 404, 406, 422],
            handler!(trials::start_order),
        ),
        post(
            "/v1/on-off-orders",
            "draw_on_off_order",
            "Draw months with and without fodder",
            "For one farm whose member agreed: pairs of blocks, the order in each pair drawn.",
            Body::json::<NewOnOffOrder>(body_max),
            Reply::created::<OnOffOrder>(),
            handler!(trials::draw_on_off),
        ),
        get(
            "/v1/on-off-orders/{id}",
            "get_on_off_order",
            "Months with and without fodder of a farm",
            "As drawn, and the smallest change that they could show.",
            all(),
            Reply::json::<OnOffOrder>(),
            vec![],
            vec![304, 403, 404, 406, 422],
            handler!(trials::on_off_order),
        ),
    ]
}

fn plain(
    (method, path, id): (Method, &'static str, &'static str),
    (summary, about): (&'static str, &'static str),
    roles: Vec<Role>,
    (body, reply): (Body, Reply),
    query: Vec<Param>,
    statuses: Vec<u16>,
    handler: Handler,
) -> Op {
    let tag = "Trials";
    Plain { method, path, id, summary, about, tag, roles, body, reply, query, statuses, handler }
        .into()
}
