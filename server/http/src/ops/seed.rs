//! Operations of the seed chain and the review list.

use super::plain::reading;
use super::{Handler, Op, Param, Reply};
use crate::api::{reports, review, seed};
use traybook_answers::review::ReviewList;
use traybook_answers::seed::pay_run::PaymentRun;
use traybook_answers::seed::seed_trace::{BatchTrace, LotTrace};
use traybook_answers::seed::{
    SeedAccount, SeedAccounts, SeedMovements, SeedStock, SupplierComparison,
};
use traybook_domain::people::authz::Role;

/// The operations.
pub(super) fn ops() -> Vec<Op> {
    let (manager, officer, member) = (Role::Manager, Role::Officer, Role::Member);
    let get = |path, id, summary, about, roles, reply, query, handler| {
        let mut statuses = vec![304, 403, 406, 422];
        if str::contains(path, "{id}") {
            statuses.push(404);
        }
        reading(path, id, summary, about, "Seed", roles, reply, query, statuses, handler)
    };
    let from: Param =
        ("from", "First day, YYYY-MM-DD; a year before the last where none is given.", false);
    let to: Param = ("to", "Last day, YYYY-MM-DD; today where none is given.", false);
    let everyone = vec![manager, officer, member];
    vec![
        get(
            "/v1/seed-stock",
            "get_seed_stock",
            "Seed in the store and on farms, by lot",
            "Kilograms from all purchases, issues, soaks and adjustments. A negative balance means \
             that records are missing or wrong.",
            everyone.clone(),
            Reply::json::<SeedStock>(),
            vec![],
            handler!(reports::seed_stock),
        ),
        get(
            "/v1/seed-movements",
            "list_seed_movements",
            "The ledger of seed",
            "Every purchase, issue, soak and adjustment of at most {MOVEMENT_DAYS_MAX} days, oldest first; a \
             movement without a farm is the store's.",
            everyone.clone(),
            Reply::json::<SeedMovements>(),
            vec![("from", "First day, YYYY-MM-DD.", true), ("to", "Last day, YYYY-MM-DD.", true)],
            handler!(reports::seed_movements),
        ),
        get(
            "/v1/payment-run",
            "get_payment_run",
            "A payment run for milk or eggs",
            "Per member: sold with a price, due for seed, other deductions, kept back already, to \
             keep back now, to pay out. At most {RUN_DAYS_MAX} days; half a month where no first \
             day is given.",
            everyone.clone(),
            Reply::table::<PaymentRun>(),
            vec![
                ("from", "First day, YYYY-MM-DD.", false),
                ("to", "Last day, YYYY-MM-DD; today where none is given.", false),
            ],
            handler!(seed::payment_run),
        ),
        get(
            "/v1/seed-accounts",
            "list_seed_accounts",
            "What each farm owes for seed",
            "Issues on credit less payments and check-off, by farm code; as JSON or, with Accept: \
             text/csv, as CSV. A negative balance is owed to the member. Withdrawn records do not \
             count.",
            everyone.clone(),
            Reply::table::<SeedAccounts>(),
            vec![],
            handler!(seed::accounts),
        ),
        get(
            "/v1/seed-accounts/{id}",
            "get_seed_account",
            "A farm's seed account as a statement",
            "Opening balance, every issue and payment of at most {STATEMENT_YEARS_MAX} years with the balance after \
             it, oldest first, and closing balance. Issues paid at once and issues without a price \
             leave the balance as it is. JSON or CSV.",
            everyone.clone(),
            Reply::table::<SeedAccount>(),
            vec![from, to],
            handler!(seed::account),
        ),
        get(
            "/v1/seed-lots/{id}/trace",
            "trace_seed_lot",
            "A seed lot to every farm, batch, animal group and day fed",
            "Everything that happened to the lot, oldest first, at most {TRACE_LINES_MAX} lines (the rest is \
             counted): purchases with test, issues, corrections, holds, and the events of all \
             batches grown from it; what is left where; what spoiled. Own farms only for members \
             and officers; purchases only for those who may read them. JSON or CSV.",
            everyone.clone(),
            Reply::table::<LotTrace>(),
            vec![],
            handler!(seed::lot_trace),
        ),
        get(
            "/v1/batches/{id}/trace",
            "trace_batch",
            "A batch back to purchase, supplier and test, and on to the animals",
            "The batch, its lot with purchases, tests, holds and the farm's issues, and its events \
             down to the groups fed and days; oldest first, at most {TRACE_LINES_MAX} lines. JSON or CSV.",
            everyone,
            Reply::table::<BatchTrace>(),
            vec![],
            handler!(seed::batch_trace),
        ),
        get(
            "/v1/supplier-comparison",
            "compare_suppliers",
            "Suppliers of seed compared",
            "Per supplier, by name, and each of its lots delivered in at most {SUPPLIER_DAYS_MAX} days: kg, price \
             with transport, germination, price of a kg of viable seed, and spoilage of the batches \
             with its 95 % interval. None is named while intervals overlap. Without \
             days it is of `made_at`, with other days of this moment. JSON or CSV.",
            vec![manager],
            Reply::table::<SupplierComparison>(),
            vec![from, to],
            handler!(seed::suppliers),
        ),
        Op {
            tag: "Review",
            ..get(
                "/v1/review",
                "list_review",
                "What contradicts itself or looks unlikely",
                "Findings of the last {REVIEW_DAYS} days, the newest first, at most {FINDINGS_MAX} (the rest is \
                 counted): the records, the figures, what is wrong, and the likely fix. A finding \
                 goes when the records are put right, or when a review acceptance names its \
                 `finding` and `evidence`; it comes back when the evidence changes. JSON or CSV.",
                vec![manager, officer],
                Reply::table::<ReviewList>(),
                vec![
                    ("farm_id", "Findings of this farm only.", false),
                    ("rule", "Findings of this rule only.", false),
                    ("accepted", "The accepted findings instead of the open ones.", false),
                ],
                handler!(review::list),
            )
        },
    ]
    .into_iter()
    .map(with_404)
    .collect()
}

/// A filter may name what is out of reach.
fn with_404(mut op: Op) -> Op {
    if op.query.iter().any(|q| q.0 == "farm_id") {
        op.statuses.push(404);
    }
    op
}
