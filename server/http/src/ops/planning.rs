//! The operations of planning: plans, work lists, calendars.

use super::plain::Plain;
use super::{Body, Handler, Method, Op, Param, Reply};
use crate::api::planning;
use traybook_answers::planning::FarmPlan;
use traybook_answers::planning::forecast::SeedForecast;
use traybook_answers::planning::work::{
    CalendarLinks, NewCalendarLink, RecordWorkRequest, RecordedWork, Work, WorkChanges,
};
use traybook_domain::limits;
use traybook_domain::people::authz::Role;

const SHEET: &[&str] = &["text/html", "text/csv"];

/// Which work: parameters of the list and of the sheet.
fn which() -> Vec<Param> {
    vec![
        (
            "date",
            "Day, YYYY-MM-DD; today where none is given. At most {WORK_DAYS_AHEAD_MAX} days ahead.",
            false,
        ),
        ("farm_id", "Only this farm.", false),
        ("shed_id", "Only this shed.", false),
        ("area_id", "Only this area, with everything below it.", false),
        ("task", "Only this task.", false),
    ]
}

/// The operations.
pub(super) fn ops() -> Vec<Op> {
    let roles = || vec![Role::Manager, Role::Officer, Role::Member];
    let base = |method, path, id, summary, about, reply, query, statuses, handler| {
        let tag = "Planning";
        let roles = roles();
        let body = Body::None;
        Plain {
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
        }
    };
    let mut sheet = which();
    sheet.push(("days", "Days on the sheet, 1 to {SHEET_DAYS_MAX}; 1 where none is given.", false));
    sheet.push(("language", "`en` or `sw`; the person's where none is given.", false));
    let read = |path, id, summary, about, reply, query, statuses, handler| {
        base(Method::Get, path, id, summary, about, reply, query, statuses, handler)
    };
    let mut ops: Vec<Op> = Vec::new();
    ops.extend(work(&read, sheet).into_iter().map(Op::from));
    ops.extend(links(&base).into_iter().map(Op::from));
    ops.push(
        Plain {
            body: Body::json::<RecordWorkRequest>(limits::BODY_BYTES_MAX),
            ..base(
                Method::Post,
                "/v1/work",
                "record_work",
                "Record a line of work as done",
                "Begins or advances its batch. What the call does not say is taken from the line; \
                 kg harvested are only kept where they are told. The same call again is harmless \
                 and answers 200, also after a correction; another amount for the same line answers \
                 409. Where the record was withdrawn it is made anew.",
                Reply::made::<RecordedWork>(),
                vec![],
                vec![400, 403, 404, 406, 409, 413, 415, 422],
                handler!(planning::record_work),
            )
        }
        .into(),
    );
    ops.push(
        Plain {
            roles: vec![Role::Manager, Role::Officer],
            ..base(
                Method::Get,
                "/v1/seed-forecast",
                "get_seed_forecast",
                "How much seed the plans will take, and what to buy",
                "By crop, week, issue point (area) and farm, less the seed that is there; for the \
                 store when it is empty, when to order and how much, by lead time and safety \
                 stock. As CSV, with Accept: text/csv, the purchase list.",
                Reply::table::<SeedForecast>(),
                vec![(
                    "weeks",
                    "Weeks ahead, 1 to {FORECAST_WEEKS_MAX}; {FORECAST_WEEKS} where none is given.",
                    false,
                )],
                vec![304, 403, 406, 422],
                handler!(planning::seed_forecast),
            )
        }
        .into(),
    );
    ops.push(
        Plain {
            roles: Vec::new(),
            ..base(
                Method::Get,
                "/calendar/{secret}",
                "get_calendar",
                "A farm's work as a calendar",
                "iCalendar (RFC 5545), a fortnight ahead, under a secret address that can be \
                 revoked.",
                Reply::Calendar,
                vec![],
                vec![304, 404, 406, 422],
                handler!(planning::calendar),
            )
        }
        .into(),
    );
    ops
}

type Reads<'a> = dyn Fn(
        &'static str,
        &'static str,
        &'static str,
        &'static str,
        Reply,
        Vec<Param>,
        Vec<u16>,
        Handler,
    ) -> Plain
    + 'a;

fn work(read: &Reads<'_>, sheet: Vec<Param>) -> Vec<Plain> {
    vec![
        read(
            "/v1/work",
            "get_work",
            "What there is to do",
            "Of a farm, a shed, an area or all that the person looks after, on a day: what to soak, \
             drain, spread, water, harvest, feed, clean and discard; from actual batches where they \
             exist, from the plan where not; late work first, with the reason.",
            Reply::json::<Work>(),
            which(),
            vec![304, 403, 404, 406, 422],
            handler!(planning::work),
        ),
        read(
            "/v1/work-sheet",
            "get_work_sheet",
            "The same on paper",
            "A page a farm and day to print, or CSV with Accept: text/csv, where warnings are lines \
             of the task `warning`.",
            Reply::Forms(SHEET),
            sheet,
            vec![304, 403, 404, 406, 422],
            handler!(planning::work_sheet),
        ),
        read(
            "/v1/work-changes",
            "list_work_changes",
            "Today's work lists that changed since a cursor",
            "For devices: all lists first, then those of the farms that changed. Keep `next` and \
             send it as `after`. `is_complete` says that lists of other farms are stale.",
            Reply::json::<WorkChanges>(),
            vec![("after", "Cursor of the last answer; all lists where none is given.", false)],
            vec![304, 400, 403, 406, 422],
            handler!(planning::work_changes),
        ),
        read(
            "/v1/farms/{id}/plan",
            "get_farm_plan",
            "A farm's plan",
            "Trays, places, seed, water and work a day in steady state, and day by day from today: \
             what is soaked for which feeding day, who goes short or has too much and why, and how \
             a new farm's shelf fills.",
            Reply::json::<FarmPlan>(),
            vec![
                ("days", "Days, 1 to {PLAN_DAYS_MAX}; {PLAN_DAYS} where none is given.", false),
                ("start", "First day of soaking of a farm that has not begun, YYYY-MM-DD.", false),
            ],
            vec![304, 403, 404, 406, 422],
            handler!(planning::farm_plan),
        ),
    ]
}

type Makes<'a> = dyn Fn(
        Method,
        &'static str,
        &'static str,
        &'static str,
        &'static str,
        Reply,
        Vec<Param>,
        Vec<u16>,
        Handler,
    ) -> Plain
    + 'a;

fn links(base: &Makes<'_>) -> Vec<Plain> {
    vec![
        base(
            Method::Get,
            "/v1/farms/{id}/calendar-links",
            "list_calendar_links",
            "The calendar addresses of a farm",
            "Without their secrets.",
            Reply::json::<CalendarLinks>(),
            vec![],
            vec![304, 403, 404, 406, 422],
            handler!(planning::calendar_links),
        ),
        base(
            Method::Post,
            "/v1/farms/{id}/calendar-links",
            "create_calendar_link",
            "Make a calendar address for a farm",
            "`path` is told once: whoever has it can read the farm's work until it is revoked, or \
             until its maker may no longer see the farm.",
            Reply::created::<NewCalendarLink>(),
            vec![],
            vec![403, 404, 406, 409, 422],
            handler!(planning::add_calendar_link),
        ),
        base(
            Method::Delete,
            "/v1/farms/{id}/calendar-links/{link_id}",
            "revoke_calendar_link",
            "Revoke a calendar address",
            "",
            Reply::Nothing,
            vec![],
            vec![403, 404, 422],
            handler!(planning::revoke_calendar_link),
        ),
    ]
}
