//! The savings report as workbook and PDF.

use crate::report::full_month;
use acceptance::client::Answer;
use acceptance::{Client, World, both};
use serde_json::json;
use traybook_app::{Actor, AppError};
use traybook_domain::Kind;
use traybook_domain::people::authz::Role;
use traybook_speech::Language;
use uuid::Uuid;

both!(
    the_report_comes_as_workbook_and_pdf,
    a_closed_month_gives_the_same_documents_for_ever,
    a_workbook_of_several_months_has_its_limits,
    documents_show_what_the_person_may_see
);

const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
const PDF: &str = "application/pdf";
const REPORT: &str = "/v1/reports/savings?month=2026-02";

fn get(client: &Client, path: &str, accept: &str) -> Answer {
    client.send("GET", path, &[("accept", accept)], None)
}

fn the_report_comes_as_workbook_and_pdf(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    // First bytes: PKWARE APPNOTE 4.3.7 and ISO 32000-1 7.5.2.
    for (media, begin, name) in
        [(XLSX, "PK", "savings-2026-02.xlsx"), (PDF, "%PDF-", "savings-2026-02.pdf")]
    {
        let answer = get(&manager, REPORT, media).expect(200);
        assert_eq!(answer.header("content-type"), Some(media));
        assert!(answer.text.starts_with(begin), "{media}");
        let file = answer.header("content-disposition").expect("a name");
        assert!(file.contains(name), "{file}");
        assert_eq!(answer.header("vary").map(|v| v.contains("accept")), Some(true));
        let tag = answer.header("etag").expect("a tag").to_owned();
        let again = [("accept", media), ("if-none-match", tag.as_str())];
        manager.send("GET", REPORT, &again, None).expect(304);
    }
    // Who asks for anything gets JSON as before.
    let answer = get(&manager, REPORT, "*/*").expect(200);
    assert_eq!(answer.header("content-type"), Some("application/json"));
    get(&manager, REPORT, "image/png").expect(406);
    let future = "/v1/reports/savings?month=2027-01";
    for media in [XLSX, PDF] {
        let errors = get(&manager, future, media).expect(422).errors();
        assert_eq!(errors, [("/month".to_owned(), "future".to_owned())]);
        get(&w.sign_in("operator"), REPORT, media).expect(403);
        get(&w.nobody, REPORT, media).expect(401);
    }
}

fn a_closed_month_gives_the_same_documents_for_ever(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    manager.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    let book = "/v1/reports/savings-workbook?from=2026-01&to=2026-02";
    let tags = || {
        let tag = |path, media| {
            let answer = get(&manager, path, media).expect(200);
            (answer.header("etag").expect("a tag").to_owned(), answer.text)
        };
        [tag(REPORT, XLSX), tag(REPORT, PDF), tag(book, XLSX)]
    };
    let first = tags();
    assert_eq!(first, tags());
    w.make(
        &w.a,
        Kind::FeedPurchase,
        json!({ "farm_id": w.a.id("farm"), "feed_id": w.a.id("bran"),
        "date": "2026-02-20", "kg": 50, "cost": 20_000 }),
    );
    let after = tags();
    assert_eq!((&first[0], &first[1]), (&after[0], &after[1]));
    // March is open and holds the adjustment; it is another document now.
    let march = "/v1/reports/savings?month=2026-03";
    let tag = |media| get(&manager, march, media).expect(200).header("etag").map(str::to_owned);
    let before = (tag(XLSX), tag(PDF));
    w.make(
        &w.a,
        Kind::OtherCost,
        json!({ "farm_id": w.a.id("farm"), "date": "2026-02-27",
        "category": "repairs", "amount": 9_000.5 }),
    );
    assert!(tag(XLSX) != before.0 && tag(PDF) != before.1);
}

fn a_workbook_of_several_months_has_its_limits(w: World) {
    let manager = w.sign_in("manager");
    let path = |from: &str, to: &str| format!("/v1/reports/savings-workbook?from={from}&to={to}");
    let ask = |from: &str, to: &str| manager.get(&path(from, to));
    let answer = ask("2023-04", "2026-03").expect(200);
    assert_eq!(answer.header("content-type"), Some(XLSX));
    let errors = |from: &str, to: &str| ask(from, to).expect(422).errors().remove(0);
    let error = |pointer: &str, code: &str| (pointer.to_owned(), code.to_owned());
    assert_eq!(errors("2023-03", "2026-03"), error("/to", "range"));
    assert_eq!(errors("2026-02", "2026-01"), error("/to", "range"));
    assert_eq!(errors("2026-02", "2026-04"), error("/to", "future"));
    assert_eq!(errors("Feb", "2026-01"), error("/from", "type"));
    let missing = manager.get("/v1/reports/savings-workbook?from=2026-01").expect(422).errors();
    assert_eq!(missing, [error("/to", "required")]);
    get(&manager, &path("2026-01", "2026-02"), "application/json").expect(406);
    w.sign_in("operator").get(&path("2026-01", "2026-02")).expect(403);
    w.nobody.get(&path("2026-01", "2026-02")).expect(401);
}

fn documents_show_what_the_person_may_see(w: World) {
    full_month(&w);
    let manager = Actor::machine(w.a.coop.clone());
    let member = Actor {
        role: Role::Member,
        member: Some(w.a.id("member")),
        person: w.a.id("member_person"),
        ..manager.clone()
    };
    let page = |actor: &Actor, farm: Uuid, month: &str| {
        w.wait(w.app.member_pdf(actor, farm, month, Language::Sw))
            .map(|bytes| bytes.starts_with(b"%PDF-"))
    };
    let (own, other) = (w.a.id("farm"), w.a.id("other_farm"));
    assert!(page(&manager, own, "2026-02").unwrap());
    assert!(page(&manager, other, "2026-02").unwrap());
    assert!(page(&member, own, "2026-02").unwrap());
    assert!(matches!(page(&member, other, "2026-02"), Err(AppError::NotFound)));
    assert!(matches!(page(&manager, w.b.id("farm"), "2026-02"), Err(AppError::NotFound)));
    assert!(matches!(page(&manager, own, "soon"), Err(AppError::Invalid(_))));
    let operator = Actor { role: Role::Operator, ..member.clone() };
    assert!(matches!(page(&operator, own, "2026-02"), Err(AppError::Forbidden)));
    // The member's documents are others than the manager's: they hold the own farm only.
    let tag = |who: &str, media| {
        get(&w.sign_in(who), REPORT, media).expect(200).header("etag").map(str::to_owned)
    };
    for media in [XLSX, PDF] {
        assert_ne!(tag("manager", media), tag("member", media));
    }
}
