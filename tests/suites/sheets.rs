//! Files as people keep them: workbooks and texts, columns matched, refused rows given back.

use acceptance::browser::{Browser, hidden};
use acceptance::world::{folder, object};
use acceptance::{World, both};
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
use serde_json::{Value as Json, json};
use traybook_app::Actor;
use traybook_app::records::import::{FileReport, Said, Source, read_files};
use traybook_domain::Kind;
use traybook_sheets::columns::KEPT_IN_SHEETS;
use traybook_sheets::days::DayOrder;
use traybook_sheets::examples::template;
use traybook_speech::Language;

both!(
    a_messy_workbook_and_a_messy_text_come_in,
    what_refers_to_a_bad_row_is_said_once,
    good_rows_are_taken_and_the_others_come_back,
    columns_are_asked_once_and_by_each_cooperative_itself,
    a_preview_waits_for_nobody_and_keeps_nothing,
    templates_fit_together,
    the_command_line_reads_the_same_files
);

const CELLS: usize = 100_000;

fn import(w: &World, files: Vec<Source>, dry_run: bool) -> Vec<FileReport> {
    w.wait(w.app.import(&Actor::machine(w.a.coop.clone()), files, dry_run)).expect("imported")
}

fn manager(w: &World, path: &str) -> Vec<Json> {
    w.sign_in("manager").get(path).expect(200).items()
}

/// An invented member list: a title, a blank row, days and numbers as the workbook keeps them.
fn members() -> Vec<u8> {
    let mut book = Workbook::new();
    book.add_worksheet().set_name("Notes").expect("a name");
    let sheet = book.add_worksheet();
    sheet.set_name("List 2026").expect("a name");
    sheet.write_string(0, 0, "Members of the dairy group, 2026").expect("cell");
    let header =
        ["No.", "Farmer's name", "Gender", "Village", "Phone no.", "Lang", "Agreed", "Joined"];
    for (at, name) in (0_u16..).zip(header) {
        sheet.write_string(2, at, name).expect("cell");
    }
    let day = Format::new().set_num_format("dd/mm/yyyy");
    let rows = [
        ("M77", "Neema Mfano", "F", "north HILL", 712_345_678.0, "Swahili", "Ndiyo", "2025-03-05"),
        ("M78", "Baraka Mfano", "Mume", "South", 754_000_111.0, "English", "yes", "2025-04-12"),
    ];
    for (line, row) in (4_u32..).zip(rows) {
        for (at, text) in (0_u16..).zip([row.0, row.1, row.2, row.3]) {
            sheet.write_string(line, at, text).expect("cell");
        }
        sheet.write_number(line, 4, row.4).expect("cell");
        sheet.write_string(line, 5, row.5).expect("cell");
        sheet.write_string(line, 6, row.6).expect("cell");
        let on = ExcelDateTime::parse_from_str(row.7).expect("a day");
        sheet.write_datetime_with_format(line, 7, &on, &day).expect("cell");
    }
    book.save_to_buffer().expect("saved")
}

fn a_messy_workbook_and_a_messy_text_come_in(w: World) {
    let sources = Source::of_file("our people.xlsx", &members(), CELLS);
    assert_eq!((sources.len(), sources[0].layout.kind), (1, Kind::Member));
    let report = import(&w, sources, false).remove(0);
    assert_eq!((report.made, &report.bad), (2, &Vec::new()));
    let made = manager(&w, "/v1/members?number=M77").remove(0);
    for (member, want) in [
        ("sex", json!("female")),
        ("language", json!("sw")),
        ("phone", json!("+255712345678")),
        ("joined_on", json!("2025-03-05")),
        ("area_id", json!(w.a.id("sub_area"))),
    ] {
        assert_eq!(made[member], want, "{member}");
    }
    // Semicolons, decimal commas, days of either figure, units, farms by their members' names, in
    // Windows-1252 with CRLF. Line 2 is blank and line 6 a sum.
    let text = "Feed of March\r\n\r\nTarehe;Mkulima;Chakula;Kilo;Bei;Maelezo\r\n\
        25/2/2026;M2;dairy MEAL;70,5 kg;Tsh 42.000/=;caf\u{e9}\r\n\
        5/3/2026;F1;Maize bran;1.250;42 000;\r\n\
        Jumla;;;1.320,5;;\r\n\
        6/3/2026;Nobody;Maize bran;2;10;\r\n";
    let bytes: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).expect("Latin")).collect();
    let sources = Source::of_file("chakula.csv", &bytes, CELLS);
    assert_eq!(sources[0].layout.kind, Kind::FeedPurchase);
    let machine = Actor::machine(w.a.coop.clone());
    let report = w.wait(w.app.import_good_rows(&machine, sources)).expect("taken").remove(0);
    assert_eq!((report.rows, report.made, report.left_out), (3, 2, 1));
    let bad: Vec<(u64, usize, &str)> =
        report.bad.iter().map(|b| (b.line, b.column, b.error.code)).collect();
    assert_eq!(bad, [(7, 2, "unknown_reference")], "the line of the person's own file");
    let bought = manager(&w, "/v1/feed-purchases?limit=200");
    let of = |day: &str| bought.iter().find(|b| b["date"] == day).expect("bought").clone();
    let (one, other) = (of("2026-02-25"), of("2026-03-05"));
    assert_eq!((&one["kg"], &one["cost"]), (&json!(70.5), &json!(42_000)));
    assert_eq!(
        (&one["note"], &one["farm_id"]),
        (&json!("caf\u{e9}"), &json!(w.a.id("other_farm")))
    );
    assert_eq!((&other["kg"], &other["cost"]), (&json!(1_250), &json!(42_000)));
    // "Asha Mfano" is the name of two members: nobody is chosen for the person.
    let two = b"date,farm,feed,kg,cost\n2026-03-07,Asha Mfano,Dairy meal,1,10\n";
    let report = import(&w, Source::of_file("feed_purchases.csv", two, CELLS), true).remove(0);
    assert_eq!(report.bad[0].error.code, "several_of_name");
    // Every error names its line, whatever ends a line.
    for end in ["\n", "\r\n", "\r"] {
        let text = ["date,farm,feed,kg,cost", "", "2026-03-07,F1,Dairy meal,much,10", ""].join(end);
        let sources = Source::of_file("feed_purchases.csv", text.as_bytes(), CELLS);
        let report = import(&w, sources, true).remove(0);
        assert_eq!((report.bad[0].line, report.bad[0].column), (3, 4), "{end:?}");
    }
}

fn what_refers_to_a_bad_row_is_said_once(w: World) {
    let areas = "name,parent\nEast,\nWest,nowhere\n";
    let member = |n: usize| {
        format!(
            "W{n},Member {n},{},female,sw,yes,2025-01-01\n",
            if n < 30 { "West" } else { "East" }
        )
    };
    let members: String = (0..31).map(member).collect();
    let members = format!("number,name,area,sex,language,consent,joined_on\n{members}");
    let farms: String = (0..31).map(|n| format!("WF{n},W{n},East\n")).collect();
    let farms = format!("code,member,area\n{farms}");
    let files = [("areas.csv", areas), ("members.csv", &members), ("farms.csv", &farms)];
    let sources = || -> Vec<Source> {
        files.iter().flat_map(|(n, text)| Source::of_file(n, text.as_bytes(), CELLS)).collect()
    };
    let reports = import(&w, sources(), true);
    let of = |r: &FileReport| (r.bad.len(), r.bad_count, r.waiting, r.made);
    assert_eq!(
        reports.iter().map(of).collect::<Vec<_>>(),
        [(1, 1, 0, 1), (0, 30, 30, 1), (0, 30, 30, 1),]
    );
    assert_eq!((reports[0].bad[0].line, reports[0].bad[0].behind), (3, 60));
    let machine = Actor::machine(w.a.coop.clone());
    let done = w.wait(w.app.import_good_rows(&machine, sources())).expect("taken");
    assert_eq!(done.iter().map(|r| r.made).collect::<Vec<_>>(), [1, 1, 1]);
    assert_eq!(manager(&w, "/v1/farms?code=WF30").len(), 1);
}

fn good_rows_are_taken_and_the_others_come_back(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let text = "Date;Farm;Feed;Kg;Cost\n25/2/2026;F1;Dairy meal;70 kg;42.000\n\
                26/2/2026;F1;Dairy meal;much;1\n";
    let files = [("files", "feed bought.csv", text.as_bytes())];
    let page = browser.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    for part in
        ["Feed bought", "25 February 2026", "5/3/2026 is 5 March", "much", "Take the one good row"]
    {
        assert!(page.contains(part), "{part}: {page}");
    }
    let (csrf, name) = (hidden(&page, "csrf"), hidden(&page, "name"));
    let form = [("csrf", csrf.as_str()), ("name", &name), ("how", "rows")];
    let done = browser.post("/import/take", &form).expect(200).text;
    assert!(done.contains("the bad rows were left out"), "{done}");
    assert_eq!(manager(&w, "/v1/feed-purchases?limit=200").len(), 1);
    let address = format!("/import/refused?name={name}&file=0");
    let refused = browser.get(&address).expect(200).text;
    let lines: Vec<&str> = refused.trim_start_matches('\u{FEFF}').lines().collect();
    assert_eq!(lines[0], "Date,Farm,Feed,Kg,Cost,why refused");
    assert!(lines[1].starts_with("26/2/2026,F1,Dairy meal,much,1,Kg: give a number"), "{refused}");
    // Somebody else does not get it.
    let mut other = Browser::sign_in(&w, "manager");
    assert_eq!(other.get(&address).status, 200, "the same person, signed in twice");
    let mut foreign = Browser::sign_in_as(&w, "manager.b@coop.example");
    assert_eq!(foreign.get(&address).status, 404);
    // Mended, it comes in without a question.
    let mended = refused.replace("much", "30");
    let files = [("files", "feed bought.csv", mended.as_bytes())];
    let page = browser.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    assert!(page.contains("Take the good file"), "{page}");
    let (csrf, name) = (hidden(&page, "csrf"), hidden(&page, "name"));
    browser.post("/import/take", &[("csrf", &csrf), ("name", &name), ("how", "whole")]).expect(200);
    assert_eq!(manager(&w, "/v1/feed-purchases?limit=200").len(), 2);
}

fn columns_are_asked_once_and_by_each_cooperative_itself(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let text = "when\tfarm\tmilk out\tcows\tshoe size\n5/3/2026\tF1\t1,250\t30\t44\n";
    let files = [("files", "milk.tsv", text.as_bytes())];
    let asked = browser.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    for part in ["shoe size", "leave this column out", "the same in all rows"] {
        assert!(asked.contains(part), "{part}: {asked}");
    }
    let fields = |days: &'static str| {
        [
            ("kind-0", "milk_record"),
            ("to-0-0", "date"),
            ("to-0-1", "animal_group"),
            ("to-0-2", "litres"),
            ("to-0-3", "animals_in_milk"),
            ("to-0-4", "-"),
            ("fixed-0-session", "day"),
            ("days-0", days),
            ("mark-0", ","),
        ]
    };
    // What is not said is asked again, beside its field.
    let open = browser.fill_in(&asked, "/import/columns", &fields(""));
    assert_eq!(open.status, 422);
    for part in ["say which comes first, day or month", "5/3/2026 is 3 May"] {
        assert!(open.text.contains(part), "{part}: {}", open.text);
    }
    let page =
        browser.fill_in(&open.text, "/import/columns", &fields("day-first")).expect(200).text;
    for part in ["5 March 2026", "F1-cows", "1.25", "Take the good file"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    // The next file with this header, in any order of columns, is read in the same way.
    let next = "farm\twhen\tcows\tmilk out\tshoe size\nF1\t6/3/2026\t30\t1,500\t45\n";
    let files = [("files", "april.tsv", next.as_bytes())];
    let page = browser.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    assert!(page.contains("6 March 2026") && page.contains("1.5"), "{page}");
    // A template shows what is wanted.
    let template = browser.get("/import/template?kind=milk_record&form=csv").expect(200).text;
    assert!(template.contains("animal group,date,session,litres,animals in milk"), "{template}");
    let workbook = browser.get("/import/template?kind=milk_record&form=xlsx").expect(200);
    assert!(workbook.header("content-type").is_some_and(|t| t.contains("spreadsheetml")));
    assert_eq!(browser.get("/import/template?kind=cooperative&form=csv").status, 403);
    // Another co-operative is asked itself.
    let mut other = Browser::sign_in_as(&w, "manager.b@coop.example");
    let files = [("files", "milk.tsv", text.as_bytes())];
    let asked = other.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    assert!(asked.contains("leave this column out"), "{asked}");
}

/// Somebody else holds the lock that every change of the co-operative needs; a preview does not
/// want it.
fn a_preview_waits_for_nobody_and_keeps_nothing(w: World) {
    let text = "code;shed;crop;soaked_at;seed_kg;discarded_at;trays_discarded;discard_cause\n\
                P1;F1-S1;barley;2026-03-01 06:30;8;2026-03-09;1;mould\n";
    let sources = Source::of_file("batches.csv", text.as_bytes(), CELLS);
    let mut holder = w.db.connect();
    let lock = if w.db.is_sqlite() {
        "BEGIN IMMEDIATE"
    } else {
        "BEGIN; SELECT * FROM coop_counters FOR UPDATE; LOCK TABLE batches IN SHARE MODE"
    };
    holder.batch(lock).expect("locked");
    let report = import(&w, sources.clone(), true).remove(0);
    assert_eq!((report.made, report.bad), (3, Vec::new()));
    holder.batch("ROLLBACK").expect("unlocked");
    assert_eq!(manager(&w, "/v1/batches?code=P1"), Vec::<Json>::new());
    let report = import(&w, sources, false).remove(0);
    assert_eq!((report.made, report.before), (3, 0), "the preview left nothing");
}

fn templates_fit_together(w: World) {
    let today = w.a.coop.today(w.app.now());
    for language in Language::ALL.iter().copied() {
        let body = json!({ "name": format!("Fresh {}", language.tag()), "currency": "TZS",
            "zone": "Africa/Dar_es_Salaam", "language": language.tag(), "started_on": "2025-01-01" });
        let id = w.app.new_id().expect("an id");
        let coop = w.wait(w.app.found(id, object(body))).expect("founded");
        let mut sources = Vec::new();
        for kind in KEPT_IN_SHEETS {
            let (header, row) = template(language, *kind, today);
            let more = if *kind == Kind::AnimalGroup {
                let hens = row.iter().map(|c| c.replace("F1-cows", "F1-hens"));
                let cows = language.text("class-dairy_cows");
                let layers = language.text("class-layers");
                hens.map(|c| if c == cows { layers.clone() } else { c }).collect()
            } else {
                Vec::new()
            };
            let line = |cells: &[String]| {
                traybook_reports::csv_text::line(
                    &cells.iter().map(String::as_str).collect::<Vec<_>>(),
                )
            };
            let text = format!("{}{}{}", line(&header), line(&row), line(&more));
            let name = language.text(&format!("kind-{}", kind.spec().one));
            sources.extend(Source::of_file(&format!("{name}.csv"), text.as_bytes(), CELLS));
        }
        for report in w.wait(w.app.import(&Actor::machine(coop), sources, false)).expect("in") {
            assert_eq!(report.bad, [], "{}", report.file);
            assert!(report.made > 0, "{}", report.file);
        }
    }
}

fn the_command_line_reads_the_same_files(w: World) {
    let place = folder();
    let text = "when\tfarm\tmilk out\tcows\tshoe size\n5/3/2026\tF1\t1,250\t30\t44\n";
    std::fs::write(place.join("milk.tsv"), text).expect("written");
    std::fs::write(place.join("people.xlsx"), members()).expect("written");
    let alone = read_files(&place, &Said::default()).expect("read");
    assert_eq!(
        alone.iter().map(|s| s.layout.kind).collect::<Vec<_>>(),
        [Kind::Member, Kind::MilkRecord]
    );
    let codes = |reports: &[FileReport]| -> Vec<&'static str> {
        reports.iter().flat_map(|r| &r.bad).map(|b| b.error.code).collect()
    };
    let refused = import(&w, alone, true);
    assert!(codes(&refused).contains(&"column_unknown"), "{refused:?}");
    let pair = |a: &str, b: &str| (a.to_owned(), b.to_owned());
    let said = Said {
        days: Some(DayOrder::DayFirst),
        mark: Some(','),
        columns: vec![pair("when", "date"), pair("Milk out", "litres"), pair("shoe size", "")],
        fixed: vec![pair("session", "day")],
    };
    let reports = import(&w, read_files(&place, &said).expect("read"), false);
    assert_eq!(codes(&reports), Vec::<&str>::new(), "{reports:?}");
    assert_eq!(reports.iter().map(|r| r.made).collect::<Vec<_>>(), [2, 1]);
    assert_eq!(manager(&w, "/v1/milk-records")[0]["litres"], json!(1.25));
}
