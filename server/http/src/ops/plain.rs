//! The operations that are not those of record kinds.

use super::{Body, Handler, Method, Op, Param, Reply};
use crate::api::{estimates, health, photos, reports, session, sync};
use crate::shape::Shape;
use traybook_answers::estimates as answers;
use traybook_answers::people::security::SecurityLog;
use traybook_answers::planning::GrowingGuide;
use traybook_answers::records::Changes;
use traybook_answers::savings::board::BoardPaper;
use traybook_answers::savings::{MonthClose, MonthCloses, SavingAccount};
use traybook_domain::limits;
use traybook_domain::people::authz::Role;

const DOCUMENT_LANGUAGE: Param =
    ("language", "Of a workbook or PDF: `en` or `sw`; the person's where none is given.", false);

/// An operation without a kind.
pub(super) struct Plain {
    pub method: Method,
    pub path: &'static str,
    pub id: &'static str,
    pub summary: &'static str,
    pub about: &'static str,
    pub tag: &'static str,
    pub roles: Vec<Role>,
    pub body: Body,
    pub reply: Reply,
    pub query: Vec<Param>,
    pub statuses: Vec<u16>,
    pub handler: Handler,
}

impl From<Plain> for Op {
    fn from(p: Plain) -> Self {
        Self {
            method: p.method,
            path: p.path.to_owned(),
            id: p.id.to_owned(),
            summary: p.summary.to_owned(),
            about: p.about.to_owned(),
            tag: p.tag,
            signed_in: !p.roles.is_empty(),
            roles: p.roles,
            kind: None,
            body: p.body,
            reply: p.reply,
            query: p.query,
            if_match: false,
            statuses: p.statuses,
            handler: p.handler,
        }
    }
}

/// Signing in and out.
pub(super) fn session_ops() -> Vec<Op> {
    let small = limits::BODY_BYTES_MAX;
    let everyone = Role::ALL.to_vec();
    vec![
        Plain {
            method: Method::Post,
            path: "/v1/session",
            id: "sign_in",
            summary: "Sign in",
            about: "With an e-mail address or telephone number and a password. After \
                    {SIGN_IN_FAILURES_MAX} failures of an account, address or tried password \
                    within {SIGN_IN_MINUTES} minutes further tries must wait. A device that \
                    sends the `device_token` of an earlier answer waits for its own failures \
                    alone. Whoever has a second factor gets 409 with `conflict` second_factor, and \
                    sends the same again with `code`.",
            tag: "Session",
            roles: Vec::new(),
            body: Body::json::<session::SignInRequest>(small),
            reply: Reply::created::<session::SignedInResponse>(),
            query: Vec::new(),
            statuses: vec![400, 401, 406, 409, 413, 415, 422, 429],
            handler: handler!(session::sign_in),
        }
        .into(),
        Plain {
            method: Method::Post,
            path: "/v1/session/refresh",
            id: "refresh_session",
            summary: "Exchange a refresh token",
            about: "For a new access token and the next refresh token. A refresh token works once; \
                    one that comes again ends the sign-in. Where the answer was lost, the same \
                    token may come again within {REFRESH_GRACE_S} seconds, as long as the next \
                    one was not used.",
            tag: "Session",
            roles: Vec::new(),
            body: Body::json::<session::RefreshRequest>(small),
            reply: Reply::created::<session::SignedInResponse>(),
            query: Vec::new(),
            statuses: vec![400, 401, 406, 413, 415, 422],
            handler: handler!(session::refresh),
        }
        .into(),
        Plain {
            method: Method::Post,
            path: "/v1/session/invitation",
            id: "accept_invitation",
            summary: "Set a password with a one-time code",
            about: "",
            tag: "Session",
            roles: Vec::new(),
            body: Body::json::<session::AcceptRequest>(small),
            reply: Reply::Nothing,
            query: Vec::new(),
            statuses: vec![400, 413, 415, 422, 429],
            handler: handler!(session::accept),
        }
        .into(),
        Plain {
            method: Method::Get,
            path: "/v1/session",
            id: "get_session",
            summary: "Who is signed in",
            about: "",
            tag: "Session",
            roles: everyone.clone(),
            body: Body::None,
            reply: Reply::json::<session::SessionResponse>(),
            query: Vec::new(),
            statuses: vec![406, 422],
            handler: handler!(session::get),
        }
        .into(),
        Plain {
            method: Method::Delete,
            path: "/v1/session",
            id: "sign_out",
            summary: "Sign out",
            about: "Ends this sign-in: its access and refresh tokens hold no longer.",
            tag: "Session",
            roles: everyone,
            body: Body::None,
            reply: Reply::Nothing,
            query: Vec::new(),
            statuses: vec![422],
            handler: handler!(session::sign_out),
        }
        .into(),
        Plain {
            method: Method::Post,
            path: "/v1/session/proof",
            id: "prove_session",
            summary: "Prove the second factor once more",
            about: "Whoever has a second factor is asked for it again before people are changed, \
                    months are closed and files are taken: the answer is 403 with code \
                    `proof_needed`. A proof holds {PROOF_MINUTES} minutes.",
            tag: "Session",
            roles: Role::ALL.to_vec(),
            body: Body::json::<session::ProofRequest>(small),
            reply: Reply::Nothing,
            query: Vec::new(),
            statuses: vec![400, 413, 415, 422, 429],
            handler: handler!(session::prove),
        }
        .into(),
        Plain {
            method: Method::Post,
            path: "/v1/people/{id}/invitations",
            id: "invite_person",
            summary: "Make a one-time code for a person",
            about: "With it the person sets a password. The code is shown once and holds {INVITATION_DAYS} days.",
            tag: "People",
            roles: vec![Role::Operator, Role::Manager],
            body: Body::None,
            reply: Reply::created::<session::InvitationResponse>(),
            query: Vec::new(),
            statuses: vec![403, 404, 406, 409, 422],
            handler: handler!(session::invite),
        }
        .into(),
        reading(
            "/v1/security-log",
            "get_security_log",
            "The security log, the newest line first",
            "Who signed in, failed, was refused, was given a new code, took files, read what is \
             personal to another. Logins and addresses are keyed hashes. Lines are kept \
             {SECURITY_LOG_DAYS} days.",
            "Session",
            vec![Role::Operator, Role::Manager],
            Reply::json::<SecurityLog>(),
            vec![
                ("before", "Lines before this number; `next` of the last answer.", false),
                ("of", "cooperative, or for operators none: what concerns no co-operative.", false),
            ],
            vec![403, 406, 422],
            handler!(session::security_log),
        ),
    ]
}

/// An operation that reads.
#[expect(clippy::too_many_arguments, reason = "one line of the table each")]
pub(super) fn reading(
    path: &'static str,
    id: &'static str,
    summary: &'static str,
    about: &'static str,
    tag: &'static str,
    roles: Vec<Role>,
    reply: Reply,
    query: Vec<Param>,
    statuses: Vec<u16>,
    handler: Handler,
) -> Op {
    let (method, body) = (Method::Get, Body::None);
    Op::from(Plain {
        method,
        path,
        id,
        summary,
        about,
        tag,
        roles,
        body,
        reply,
        query,
        statuses,
        handler,
    })
}

/// Reports, estimates, devices and the operation of the server.
pub(super) fn other_ops() -> Vec<Op> {
    let (manager, officer, member) = (Role::Manager, Role::Officer, Role::Member);
    let get = reading;
    let month: Param = ("month", "Month, YYYY-MM.", true);
    let workers = vec![Role::Operator, manager, officer, member];
    let mut ops = vec![
        get(
            "/v1/photos/{id}/content",
            "get_photo_content",
            "The picture file of a photo",
            "",
            "Visits",
            vec![manager, officer, member],
            Reply::Picture,
            vec![],
            vec![304, 403, 404, 406, 422],
            handler!(photos::get),
        ),
        get(
            "/v1/growing-guide",
            "get_growing_guide",
            "The growing guide in force",
            "Every standard with its value, unit and source.",
            "Setup",
            vec![manager, officer, member],
            Reply::json::<GrowingGuide>(),
            vec![("day", "Day, YYYY-MM-DD; today where none is given.", false)],
            vec![304, 403, 406, 422],
            handler!(reports::growing_guide),
        ),
        get(
            "/v1/reports/savings",
            "get_savings_report",
            "The savings report of a month",
            "Per farm, per area and for the co-operative; as JSON or, by Accept, as CSV, workbook \
             or PDF. A closed month answers what was frozen, to the byte.",
            "Reports",
            vec![manager, officer, member],
            Reply::Report,
            vec![month, DOCUMENT_LANGUAGE],
            vec![304, 403, 406, 422, 429],
            handler!(reports::savings),
        ),
        get(
            "/v1/reports/savings-workbook",
            "get_savings_workbook",
            "The savings reports of several months as a workbook",
            "At most {WORKBOOK_MONTHS_MAX} months; a sheet an area, totals as formulas. Closed months are as they \
             were frozen.",
            "Reports",
            vec![manager, officer, member],
            Reply::Workbook,
            vec![
                ("from", "First month, YYYY-MM.", true),
                ("to", "Last month, YYYY-MM.", true),
                DOCUMENT_LANGUAGE,
            ],
            vec![304, 403, 406, 422, 429],
            handler!(reports::savings_workbook),
        ),
        get(
            "/v1/reports/board-paper",
            "get_board_paper",
            "The paper of a month for a meeting",
            "The month, the one before and the year so far; areas, cost of dry matter, seed owed, \
             spoilage and what was done, what is missing, what to decide. As JSON or, by Accept, as \
             PDF of at most four pages.",
            "Reports",
            vec![manager],
            Reply::Paper(Shape::of::<BoardPaper>()),
            vec![
                month,
                (
                    "anonymous",
                    "`true` leaves out names of members and farms, for a meeting of all.",
                    false,
                ),
                DOCUMENT_LANGUAGE,
            ],
            vec![304, 403, 406, 422],
            handler!(reports::board_paper),
        ),
        get(
            "/v1/visit-list",
            "get_visit_list",
            "Whom to visit next",
            "Farms with a standing flag first, by the strength of the evidence, then overdue \
             follow-ups, farms without records and new starters; each with its reasons.",
            "Visits",
            vec![manager, officer],
            Reply::json::<answers::VisitList>(),
            vec![],
            vec![304, 403, 406, 422],
            handler!(estimates::visit_list),
        ),
        get(
            "/v1/output-change",
            "get_output_change",
            "Whether output really changed",
            "Milk per cow-day or eggs per hen-day after each farm's start, net of farms that had \
             not started, with 95 % intervals, for farms, areas and the co-operative, each with \
             one plain sentence. An interval across zero reads: cannot tell yet.",
            "Estimates",
            vec![manager, officer, member],
            Reply::json::<answers::OutputChange>(),
            vec![("enterprise", "milk or eggs.", true)],
            vec![304, 403, 406, 422],
            handler!(estimates::output_change),
        ),
        get(
            "/v1/saving-estimates",
            "get_saving_estimates",
            "What was saved on feed since the start",
            "Per farm and for the programme, with 95 % intervals, from what was bought before and \
             after the start.",
            "Estimates",
            vec![manager, officer, member],
            Reply::json::<answers::SavingEstimates>(),
            vec![],
            vec![304, 403, 406, 422],
            handler!(estimates::savings),
        ),
        get(
            "/v1/farms/{id}/saving",
            "get_farm_saving",
            "How a farm's saving of a month came about",
            "Baseline, index, prices and what was eaten of each feed, with the purchases behind it.",
            "Estimates",
            vec![manager, officer, member],
            Reply::json::<SavingAccount>(),
            vec![("month", "Month, YYYY-MM.", true)],
            vec![304, 403, 404, 406, 422],
            handler!(estimates::farm_saving),
        ),
        get(
            "/v1/spoilage",
            "get_spoilage",
            "Who keeps spoiling",
            "Every farm's status, the strongest evidence first, whether it points at the farm or at a \
             seed lot, and how many batches are counted and how many not, and why.",
            "Estimates",
            vec![manager, officer, member],
            Reply::json::<answers::Spoilage>(),
            vec![],
            vec![304, 403, 406, 422],
            handler!(estimates::spoilage),
        ),
        get(
            "/v1/spoilage/{id}",
            "get_farm_spoilage",
            "A farm's spoilage chart",
            "The chart's path with the batches behind it, which of them raised the flag, its sheds, and \
             the batches that are not counted.",
            "Estimates",
            vec![manager, officer, member],
            Reply::json::<answers::FarmChart>(),
            vec![],
            vec![304, 403, 404, 406, 422],
            handler!(estimates::farm_spoilage),
        ),
        get(
            "/v1/spoilage-conditions",
            "get_spoilage_conditions",
            "What goes with losses",
            "Conditions of batches over the last 24 months and how many times as many trays were lost \
             with them, with 95 % interval: temperature, humidity, water source, crop, answers at \
             visits, late harvests, seed depth, wet season, germination. They go together; the \
             records cannot say that one causes the other. Made once a day.",
            "Estimates",
            vec![manager, officer, member],
            Reply::json::<answers::SpoilageConditions>(),
            vec![],
            vec![304, 403, 406, 422],
            handler!(estimates::spoilage_conditions),
        ),
        get(
            "/v1/spoilage/{id}/conditions",
            "get_farm_spoilage_conditions",
            "What goes with losses on a farm",
            "The conditions that losses go with, and the farm's own ratio where it is told apart from \
             none.",
            "Estimates",
            vec![manager, officer, member],
            Reply::json::<answers::FarmConditions>(),
            vec![],
            vec![304, 403, 404, 406, 422],
            handler!(estimates::farm_conditions),
        ),
        get(
            "/v1/seed-lot-evidence",
            "get_seed_lot_evidence",
            "Whether spoilage comes from seed lots",
            "Lots against farms over the last {LOT_DAYS} days, the suspect lots, and where else they grow.",
            "Estimates",
            vec![manager, officer, member],
            Reply::json::<answers::SeedLotEvidence>(),
            vec![],
            vec![304, 403, 406, 422],
            handler!(estimates::seed_lot_evidence),
        ),
        get(
            "/v1/month-closes",
            "list_month_closes",
            "The closed months",
            "",
            "Reports",
            vec![manager, officer, member],
            Reply::json::<MonthCloses>(),
            vec![],
            vec![304, 403, 406, 422],
            handler!(reports::month_closes),
        ),
        get(
            "/v1/changes",
            "list_changes",
            "Everything that changed since a cursor",
            "Withdrawals included; each record once, as it is now. An answer may hold fewer entries than were asked for: go on while `has_more`. Keep `next` and send it as \
             `after` the next time; 410 means: begin from the start, and drop what you hold and are not given again; it also comes after \
             {FEED_KEPT_DAYS} days without asking. With the code `restored` it means as well: the records were \
             restored from a backup, so send again what you sent after `restored_to`. Keep what you \
             sent for {SENT_KEPT_DAYS} days for that.",
            "Devices",
            workers.clone(),
            Reply::json::<Changes>(),
            vec![
                ("after", "Cursor of the last answer; from the start where none is given.", false),
                (
                    "limit",
                    "Entries, 1 to {CHANGES_PAGE_MAX}; {PAGE_MAX} where none is given.",
                    false,
                ),
            ],
            vec![400, 403, 406, 410, 422],
            handler!(sync::changes),
        ),
        get(
            "/health/live",
            "get_liveness",
            "Whether the process runs",
            "",
            "Operation",
            vec![],
            Reply::Text,
            vec![],
            vec![],
            handler!(health::live),
        ),
        get(
            "/health/ready",
            "get_readiness",
            "Whether the database answers",
            "",
            "Operation",
            vec![],
            Reply::Text,
            vec![],
            vec![],
            handler!(health::ready),
        ),
        get(
            "/metrics",
            "get_metrics",
            "Counters in the Prometheus text format",
            "Only for the machine itself (loopback).",
            "Operation",
            vec![],
            Reply::Text,
            vec![],
            vec![404],
            handler!(health::metrics),
        ),
        get(
            "/openapi.json",
            "get_openapi",
            "This document",
            "",
            "Operation",
            vec![],
            Reply::json::<health::OpenApiDocument>(),
            vec![],
            vec![],
            handler!(health::openapi),
        ),
        get(
            "/problems/{code}",
            "get_problem",
            "What a problem code means",
            "",
            "Operation",
            vec![],
            Reply::Text,
            vec![],
            vec![404],
            handler!(health::problem),
        ),
    ];
    ops.push(
        Plain {
            method: Method::Put,
            path: "/v1/photos/{id}/content",
            id: "store_photo_content",
            summary: "Send the picture file of a photo",
            about: "JPEG, PNG or WebP. The place and other data beside the picture are taken out \
                    unless the photo says to keep them. Sending the same file again is harmless.",
            tag: "Visits",
            roles: vec![manager, officer, member],
            body: Body::Picture,
            reply: Reply::Stored,
            query: Vec::new(),
            statuses: vec![400, 403, 404, 409, 413, 415, 422],
            handler: handler!(photos::store),
        }
        .into(),
    );
    ops.push(
        Plain {
            method: Method::Post,
            path: "/v1/month-closes",
            id: "close_month",
            summary: "Close a month",
            about: "Its report is frozen to the byte; later corrections show as adjustments in the \
                    next open month.",
            tag: "Reports",
            roles: vec![manager],
            body: Body::json::<reports::CloseMonthRequest>(limits::BODY_BYTES_MAX),
            reply: Reply::created::<MonthClose>(),
            query: Vec::new(),
            statuses: vec![400, 403, 406, 409, 413, 415, 422],
            handler: handler!(reports::close_month),
        }
        .into(),
    );
    ops.push(
        Plain {
            method: Method::Post,
            path: "/v1/sync",
            id: "sync",
            summary: "Carry out a device's queue of changes",
            about: "Up to {SYNC_MUTATIONS_MAX}, in the order given, each answered on its own: done, already_done, \
                    conflict with the record as it is now, or refused with reasons. Sending the \
                    same queue again is harmless. Another `epoch` than the last time means: the \
                    records were restored from a backup; send again what you sent after \
                    `restored_to`.",
            tag: "Devices",
            roles: workers,
            body: Body::json::<sync::SyncRequest>(limits::SYNC_BODY_BYTES_MAX),
            reply: Reply::json::<sync::SyncResponse>(),
            query: Vec::new(),
            statuses: vec![400, 403, 406, 413, 415, 422],
            handler: handler!(sync::sync),
        }
        .into(),
    );
    ops
}
