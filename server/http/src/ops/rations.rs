//! Operations on what feeds are worth.

use super::{Body, Handler, Method, Op, Reply};
use crate::api::rations;
use traybook_answers::rations::FeedValues;
use traybook_app::rations::break_even::FodderBreakEven;
use traybook_app::rations::{budget, mix, request, square};
use traybook_domain::limits;
use traybook_domain::people::authz::{Reach, Role, Task, task_reach};

/// Prices of nutrients, Pearson square, mix, break-even, partial budgets.
pub(super) fn ops() -> Vec<Op> {
    let roles = Role::ALL.into_iter().filter(|r| task_reach(*r, Task::Rations) != Reach::None);
    let roles: Vec<Role> = roles.collect();
    let most = limits::BODY_BYTES_MAX;
    let post = |path: &str, id: &str, summary: &str, about: &str, body, reply, handler| Op {
        method: Method::Post,
        path: path.to_owned(),
        id: id.to_owned(),
        summary: summary.to_owned(),
        about: format!(
            "{about} Nothing is kept. For advice together with the local livestock service."
        ),
        tag: "Rations",
        signed_in: true,
        roles: roles.clone(),
        kind: None,
        body,
        reply,
        query: Vec::new(),
        if_match: false,
        statuses: vec![400, 403, 406, 413, 415, 422],
        handler,
    };
    let square = post(
        "/v1/pearson-square",
        "compute_pearson_square",
        "Mix two feeds to a content",
        "The target must lie between the two feeds. A feed may be named by feed_id; what the \
         request does not give is then taken from its record, and its price from the month.",
        Body::json::<request::PearsonSquareRequest>(most),
        Reply::json::<square::Answer>(),
        handler!(rations::pearson_square),
    );
    let mix = post(
        "/v1/feed-mixes",
        "compute_feed_mix",
        "The cheapest mix within limits",
        "Up to {FEEDS_MAX} feeds. Answers kg and cost, what each limit costs and up to which price each \
         feed is worth buying; or, where nothing meets the limits, which of them clash.",
        Body::json::<request::FeedMixRequest>(most),
        Reply::json::<mix::Outcome>(),
        handler!(rations::feed_mix),
    );
    let break_even = post(
        "/v1/fodder-break-even",
        "compute_fodder_break_even",
        "At which price, yield or spoilage fodder pays",
        "With farm_id and month, what the request does not give is taken from the farm's records \
         of the month and from the growing guide.",
        Body::json::<request::FodderBreakEvenRequest>(most),
        Reply::json::<FodderBreakEven>(),
        handler!(rations::break_even),
    );
    let budget = post(
        "/v1/partial-budgets",
        "compute_partial_budget",
        "What a change brings, and which choice to take",
        "Changes: added income and saved cost less lost income and added cost. Choices, by cost and \
         net benefit: which are dominated, the marginal rate of return of each step, and the one to \
         take under a minimum rate.",
        Body::json::<request::PartialBudgetRequest>(most),
        Reply::json::<budget::Answer>(),
        handler!(rations::partial_budget),
    );
    let values = Op {
        method: Method::Get,
        path: "/v1/feed-values".to_owned(),
        id: "get_feed_values".to_owned(),
        summary: "What the nutrients of feeds cost".to_owned(),
        about:
            "Every feed at its price of the month, by the price rule of the savings report, per \
                kg as fed, kg of dry matter, kg of protein and MJ; beside them the own fodder. \
                Null where not known."
                .to_owned(),
        body: Body::None,
        reply: Reply::json::<FeedValues>(),
        query: vec![
            ("month", "Month, YYYY-MM.", true),
            ("farm_id", "With this farm's own prices and fodder.", false),
        ],
        statuses: vec![400, 403, 406, 422],
        handler: handler!(rations::feed_values),
        ..square.clone()
    };
    vec![values, square, mix, break_even, budget]
}
