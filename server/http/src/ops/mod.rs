//! The table of operations.

/// A handler as the table holds it.
macro_rules! handler {
    ($path:path) => {
        (|request| Box::pin($path(request))) as Handler
    };
}

pub mod numbers;
mod plain;
mod planning;
mod privacy;
mod programme;
mod rations;
mod seed;
mod server;
mod texts;
mod trials;

use crate::api::records;
use crate::request::{Answer, Request};
use crate::shape::Shape;
use std::future::Future;
use std::pin::Pin;
use traybook_answers::records::RecordHistory;
use traybook_answers::savings::SavingsReport;
use traybook_domain::Kind;
use traybook_domain::people::authz::{Action, Reach, Role, reach};
use utoipa::ToSchema;

/// How a handler runs.
pub type Handler = fn(Request) -> Pin<Box<dyn Future<Output = Answer>>>;

/// Methods in use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Method {
    /// Read.
    Get,
    /// Make.
    Post,
    /// Store.
    Put,
    /// Correct.
    Patch,
    /// Withdraw.
    Delete,
}

impl Method {
    /// Its name.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Get => "GET",
            Self::Post => "POST",
            Self::Put => "PUT",
            Self::Patch => "PATCH",
            Self::Delete => "DELETE",
        }
    }
}

/// What the body must be.
#[derive(Clone, Copy, Debug)]
pub enum Body {
    /// None.
    None,
    /// JSON, at most so many bytes.
    Json(Shape, usize),
    /// JSON of the kind's schema with a prefix: `New`, or a suffix: `Patch`.
    Record(&'static str),
    /// A picture file.
    Picture,
}

/// What success answers.
#[derive(Clone, Copy, Debug)]
pub enum Reply {
    /// 200 with JSON.
    Json(Shape),
    /// 200 with the kind's schema, with an ETag.
    Record,
    /// 201 (or 200 when it was there) with the kind's schema.
    Created,
    /// 200 with a page of the kind's records.
    Page,
    /// 200 with the versions of a record.
    History,
    /// 201 with JSON.
    CreatedJson(Shape),
    /// 201, or 200 when it was there, with JSON.
    Made(Shape),
    /// 200 with text of these media types.
    Forms(&'static [&'static str]),
    /// 200 with an iCalendar file.
    Calendar,
    /// 204.
    Nothing,
    /// 200 with the report as JSON, CSV, workbook or PDF.
    Report,
    /// 200 with JSON, or PDF.
    Paper(Shape),
    /// 200 with a workbook.
    Workbook,
    /// 200 with JSON, or its list as CSV.
    Table(Shape),
    /// 200 with a picture.
    Picture,
    /// 201 or 204.
    Stored,
    /// 200 with text.
    Text,
}

impl Body {
    /// JSON made of a type, at most so many bytes.
    #[must_use]
    pub const fn json<T: ToSchema>(bytes_max: usize) -> Self {
        Self::Json(Shape::of::<T>(), bytes_max)
    }

    /// Its shape, where it has one.
    #[must_use]
    pub const fn shape(&self) -> Option<Shape> {
        match self {
            Self::Json(shape, _) => Some(*shape),
            Self::None | Self::Record(_) | Self::Picture => None,
        }
    }
}

impl Reply {
    /// 200 with JSON made of a type.
    #[must_use]
    pub const fn json<T: ToSchema>() -> Self {
        Self::Json(Shape::of::<T>())
    }

    /// 201 with JSON made of a type.
    #[must_use]
    pub const fn created<T: ToSchema>() -> Self {
        Self::CreatedJson(Shape::of::<T>())
    }

    /// 201, or 200 when it was there, with JSON made of a type.
    #[must_use]
    pub const fn made<T: ToSchema>() -> Self {
        Self::Made(Shape::of::<T>())
    }

    /// 200 with JSON made of a type, or its list as CSV.
    #[must_use]
    pub const fn table<T: ToSchema>() -> Self {
        Self::Table(Shape::of::<T>())
    }

    /// Its shape, where it has one.
    #[must_use]
    pub const fn shape(&self) -> Option<Shape> {
        match self {
            Self::Json(s)
            | Self::CreatedJson(s)
            | Self::Made(s)
            | Self::Table(s)
            | Self::Paper(s) => Some(*s),
            Self::History => Some(Shape::of::<RecordHistory>()),
            Self::Report => Some(Shape::of::<SavingsReport>()),
            _ => None,
        }
    }
}

/// A query parameter: name, what it is, whether it must be given.
pub type Param = (&'static str, &'static str, bool);

/// One operation.
#[derive(Clone)]
pub struct Op {
    /// Method.
    pub method: Method,
    /// Path with `{id}` and the like.
    pub path: String,
    /// Unique id.
    pub id: String,
    /// What it does.
    pub summary: String,
    /// More about it; see [`numbers`].
    pub about: String,
    /// Heading in the documentation.
    pub tag: &'static str,
    /// Whether somebody must be signed in.
    pub signed_in: bool,
    /// Roles that may use it at all.
    pub roles: Vec<Role>,
    /// Kind of record.
    pub kind: Option<Kind>,
    /// Body.
    pub body: Body,
    /// Answer.
    pub reply: Reply,
    /// Query parameters besides those of lists.
    pub query: Vec<Param>,
    /// Whether If-Match is required.
    pub if_match: bool,
    /// Statuses besides success that this operation can answer with.
    pub statuses: Vec<u16>,
    /// What runs.
    pub handler: Handler,
}

/// Roles that reach at least one record.
fn roles(action: Action, kind: Kind) -> Vec<Role> {
    Role::ALL.into_iter().filter(|role| reach(*role, action, kind) != Reach::None).collect()
}

/// Plural name of a kind in words.
fn plural(kind: Kind) -> String {
    kind.spec().path.replace('-', " ")
}

fn record_ops(kind: Kind, ops: &mut Vec<Op>) {
    let spec = kind.spec();
    let (one, many) = (spec.one, spec.path.replace('-', "_"));
    let words = one.replace('_', " ");
    let base = Op {
        method: Method::Get,
        path: format!("/v1/{}", spec.path),
        id: format!("list_{many}"),
        summary: format!("List {}", plural(kind)),
        about: spec.doc.trim().to_owned(),
        tag: tag(kind),
        signed_in: true,
        roles: roles(Action::Read, kind),
        kind: Some(kind),
        body: Body::None,
        reply: Reply::Page,
        query: Vec::new(),
        if_match: false,
        statuses: vec![400, 403, 406, 422],
        handler: handler!(records::list),
    };
    let item = format!("/v1/{}/{{id}}", spec.path);
    let all = [
        base.clone(),
        Op {
            method: Method::Post,
            id: format!("create_{one}"),
            summary: format!("Make a {words}"),
            about: "The id may be made by the client (UUID version 7); sending the same id with \
                    the same body again answers the stored record."
                .to_owned(),
            roles: roles(Action::Create, kind),
            body: Body::Record("New"),
            reply: Reply::Created,
            statuses: vec![400, 403, 406, 409, 413, 415, 422],
            handler: handler!(records::create),
            ..base.clone()
        },
        Op {
            path: item.clone(),
            id: format!("get_{one}"),
            summary: format!("Get a {words}"),
            reply: Reply::Record,
            statuses: vec![304, 403, 404, 406, 422],
            handler: handler!(records::get),
            ..base.clone()
        },
        Op {
            method: Method::Patch,
            path: item.clone(),
            id: format!("correct_{one}"),
            summary: format!("Correct a {words}"),
            about: "A merge patch (RFC 7396): what is absent stays, null removes. The earlier \
                    values stay in the history."
                .to_owned(),
            roles: roles(Action::Correct, kind),
            body: Body::Record("Patch"),
            reply: Reply::Record,
            if_match: true,
            statuses: vec![400, 403, 404, 406, 409, 412, 413, 415, 422, 428],
            handler: handler!(records::correct),
            ..base.clone()
        },
        Op {
            method: Method::Delete,
            path: item.clone(),
            id: format!("withdraw_{one}"),
            summary: format!("Withdraw a {words}"),
            about: "It counts no longer, and stays readable with its history.".to_owned(),
            roles: roles(Action::Withdraw, kind),
            reply: Reply::Nothing,
            query: vec![("reason", "Why, 1 to 500 characters.", false)],
            if_match: true,
            statuses: vec![400, 403, 404, 409, 412, 422, 428],
            handler: handler!(records::withdraw),
            ..base.clone()
        },
        Op {
            path: format!("{item}/history"),
            id: format!("get_{one}_history"),
            summary: format!("All versions of a {words}"),
            reply: Reply::History,
            statuses: vec![403, 404, 406, 422],
            handler: handler!(records::history),
            ..base
        },
    ];
    // What no role may do does not exist.
    ops.extend(all.into_iter().filter(|op| !op.roles.is_empty()));
}

fn tag(kind: Kind) -> &'static str {
    match kind {
        Kind::Cooperative | Kind::Area | Kind::GrowingGuideValue | Kind::ChecklistItem => "Setup",
        Kind::Feed | Kind::Supplier => "Setup",
        Kind::Member | Kind::Person | Kind::OfficerArea => "People",
        Kind::Farm | Kind::Shed => "Farms",
        Kind::AnimalGroup | Kind::HeadCount | Kind::BaselineRation => "Animals",
        Kind::SeedLot | Kind::SeedPurchase | Kind::SeedIssue | Kind::SeedAdjustment => "Seed",
        Kind::LotHold | Kind::SeedPayment | Kind::Deduction => "Seed",
        Kind::FodderPlan | Kind::PlannedHead | Kind::RestDay | Kind::GrowingPause => "Planning",
        Kind::WorkRecord => "Planning",
        Kind::ReviewAcceptance => "Review",
        Kind::CorrectionRequest => "Review",
        Kind::Batch | Kind::BatchEvent => "Batches",
        Kind::MilkRecord | Kind::EggRecord => "Milk and eggs",
        Kind::FeedPurchase | Kind::FeedCount | Kind::OtherCost | Kind::Asset => "Costs",
        Kind::Visit
        | Kind::VisitPlan
        | Kind::VisitCheck
        | Kind::FollowUp
        | Kind::Reading
        | Kind::Photo
        | Kind::Flag => "Visits",
        Kind::Training | Kind::Attendance => "Trainings",
        Kind::StartPlan | Kind::StartPlace | Kind::OnOffPlan => "Trials",
    }
}

/// Headings of the documentation, in order.
pub const TAGS: &[&str] = &[
    "Session",
    "Setup",
    "People",
    "Farms",
    "Animals",
    "Planning",
    "Seed",
    "Batches",
    "Milk and eggs",
    "Costs",
    "Visits",
    "Trainings",
    "Trials",
    "Review",
    "Reports",
    "Estimates",
    "Rations",
    "Devices",
    "Operation",
    "Text messages",
];

/// All operations.
#[must_use]
pub fn all() -> Vec<Op> {
    let mut ops = plain::session_ops();
    for kind in Kind::ALL {
        record_ops(*kind, &mut ops);
    }
    ops.extend(seed::ops());
    ops.extend(plain::other_ops());
    ops.extend(planning::ops());
    ops.extend(privacy::ops());
    ops.extend(programme::ops());
    ops.extend(rations::ops());
    ops.extend(server::ops());
    ops.extend(trials::ops());
    ops.extend(texts::ops());
    ops
}
