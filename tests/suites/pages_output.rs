//! The page of milk and eggs: what a second entry does, what is asked back, taking back and putting
//! back.

use acceptance::browser::{Browser, hidden};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::value::Instant;

both!(
    milk_is_recorded_once_however_often_it_is_sent,
    two_milkings_of_a_day_add_up,
    a_second_entry_is_asked_back,
    a_figure_far_from_the_usual_is_asked_back_once,
    what_was_sold_of_two_milkings_is_shared,
    taking_back_asks_and_can_be_undone,
    numbers_are_read_as_people_write_them,
    the_age_of_a_flock_is_asked_once_a_month,
);

/// The member's page, with what its forms carry.
struct Page {
    browser: Browser,
    csrf: String,
}

impl Page {
    fn open(w: &World) -> Self {
        let mut browser = Browser::sign_in(w, "member");
        let csrf = hidden(&browser.get("/output").expect(200).text, "csrf");
        Self { browser, csrf }
    }

    fn text(&mut self) -> String {
        self.browser.get("/output").expect(200).text
    }

    /// A fresh id for a group's form.
    fn id_of(&mut self, group: &str) -> String {
        let page = self.text();
        let at = page.find(&format!("name=\"group\" value=\"{group}\"")).expect("a form");
        hidden(&page[at..], "id")
    }

    /// Sends a form of a group; the status and what was said.
    fn send(&mut self, group: &str, id: &str, fields: &[(&str, &str)]) -> (u16, String) {
        let mut form = vec![("csrf", self.csrf.as_str()), ("group", group), ("id", id)];
        form.extend(fields);
        let answer = self.browser.post("/output", &form);
        let to = answer.header("location").map(str::to_owned);
        (answer.status, to.unwrap_or(answer.text))
    }

    /// Sends a new form.
    fn fill(&mut self, group: &str, fields: &[(&str, &str)]) -> (u16, String) {
        let id = self.id_of(group);
        self.send(group, &id, fields)
    }

    /// What the page that follows says.
    fn follow(&mut self, to: &str) -> String {
        self.browser.get(to).expect(200).text
    }
}

fn kept(w: &World, path: &str, group: &str) -> Vec<Json> {
    let member = w.sign_in("member");
    member.get(&format!("/v1/{path}?animal_group_id={group}")).expect(200).items()
}

fn cows(w: &World) -> String {
    w.a.id("cows").to_string()
}

fn milk_is_recorded_once_however_often_it_is_sent(w: World) {
    let cows = cows(&w);
    let mut page = Page::open(&w);
    let text = page.text();
    assert!(text.contains("Milk, your cows") && text.contains("Eggs, your laying hens"));
    let id = page.id_of(&cows);
    for _ in 0..2 {
        let fields = [("litres", "11,5"), ("animals_in_milk", "1")];
        let (status, to) = page.send(&cows, &id, &fields);
        assert_eq!(status, 303, "{to}");
        assert!(page.follow(&to).contains("Saved: "), "{to}");
        assert!(page.follow(&to).contains("litres 11.5"));
    }
    let all = kept(&w, "milk-records", &cows);
    assert_eq!((all.len(), &all[0]["litres"]), (1, &json!(11.5)));
    let (status, text) = page.fill(&cows, &[("litres", "much"), ("animals_in_milk", "1")]);
    assert_eq!(status, 422);
    assert!(text.contains("value=\"much\""), "what was typed stays");
    // Another farm's animals are not there.
    let other = w.a.id("other_cows").to_string();
    let id = page.id_of(&cows);
    assert_eq!(page.send(&other, &id, &[("litres", "3"), ("animals_in_milk", "1")]).0, 404);
}

fn two_milkings_of_a_day_add_up(w: World) {
    let cows = cows(&w);
    let mut page = Page::open(&w);
    let morning = [("session", "morning"), ("litres", "6"), ("animals_in_milk", "1")];
    assert_eq!(page.fill(&cows, &morning).0, 303);
    // From now on both milkings stand on the form, with what is written already.
    let text = page.text();
    assert!(text.contains("name=\"morning-litres\"") && text.contains("name=\"evening-litres\""));
    assert!(text.contains("Written already: 6 litres"));
    assert_eq!(page.fill(&cows, &[("evening-litres", "5"), ("animals_in_milk", "1")]).0, 303);
    let all = kept(&w, "milk-records", &cows);
    let mut sessions: Vec<_> =
        all.iter().map(|r| (r["session"].clone(), r["litres"].clone())).collect();
    sessions.sort_by_key(|s| s.0.to_string());
    assert_eq!(sessions, [(json!("evening"), json!(5)), (json!("morning"), json!(6))]);
    assert!(!page.text().contains("does not count"));
    // Both at once, the next day, from a phone that kept the form.
    w.clock.set(Instant(w.app.now().0 + 86_400_000));
    let mut page = Page::open(&w);
    let both = [("morning-litres", "6,5"), ("evening-litres", "5"), ("animals_in_milk", "1")];
    let id = page.id_of(&cows);
    for _ in 0..2 {
        assert_eq!(page.send(&cows, &id, &both).0, 303);
    }
    assert_eq!(kept(&w, "milk-records", &cows).len(), 4, "sent twice, kept once");
    let (status, text) = page.fill(&cows, &[("animals_in_milk", "1")]);
    assert_eq!(status, 422, "a form without a figure: {text}");
}

fn a_second_entry_is_asked_back(w: World) {
    let cows = cows(&w);
    let mut page = Page::open(&w);
    let first = [("session", "day"), ("litres", "6"), ("animals_in_milk", "1")];
    assert_eq!(page.fill(&cows, &first).0, 303);
    let second = [("session", "day"), ("litres", "5"), ("animals_in_milk", "2")];
    let (status, text) = page.fill(&cows, &second);
    assert_eq!(status, 422);
    assert!(text.contains("6 litres are written of this already"), "{text}");
    assert!(text.contains("which makes 11"), "both readings are said");
    assert_eq!(kept(&w, "milk-records", &cows).len(), 1, "nothing is kept before the answer");
    let id = page.id_of(&cows);
    let add = [second.as_slice(), &[("again", "add")]].concat();
    // Sent twice, it adds once.
    for _ in 0..2 {
        assert_eq!(page.send(&cows, &id, &add).0, 303);
    }
    let all = kept(&w, "milk-records", &cows);
    assert_eq!(all.len(), 1);
    assert_eq!((&all[0]["litres"], &all[0]["animals_in_milk"]), (&json!(11), &json!(2)));
    let instead =
        [("session", "day"), ("litres", "9"), ("animals_in_milk", "2"), ("again", "instead")];
    assert_eq!(page.fill(&cows, &instead).0, 303);
    let all = kept(&w, "milk-records", &cows);
    assert_eq!((all.len(), &all[0]["litres"]), (1, &json!(9)));
    // One milking beside a whole day that is written.
    let evening = [("session", "evening"), ("litres", "4"), ("animals_in_milk", "2")];
    assert!(page.fill(&cows, &evening).1.contains("9 litres are written"));
    let add = [evening.as_slice(), &[("again", "add")]].concat();
    assert_eq!(page.fill(&cows, &add).0, 303);
    let all = kept(&w, "milk-records", &cows);
    assert_eq!((all.len(), &all[0]["session"], &all[0]["litres"]), (1, &json!("day"), &json!(13)));
    // Eggs of a second collection.
    let hens = w.a.id("hens").to_string();
    assert_eq!(page.fill(&hens, &[("eggs", "40"), ("hens_present", "100")]).0, 303);
    let more = [("eggs", "12"), ("hens_present", "99"), ("again", "add")];
    assert_eq!(page.fill(&hens, &more).0, 303);
    let all = kept(&w, "egg-records", &hens);
    assert_eq!((all.len(), &all[0]["eggs"], &all[0]["hens_present"]), (1, &json!(52), &json!(100)));
}

/// Eight days of about 7.5 litres.
fn a_week(w: &World) {
    for day in 12..20 {
        let date = format!("2026-03-{day}");
        w.make(
            &w.a,
            Kind::MilkRecord,
            json!({ "animal_group_id": w.a.id("cows"), "date": date, "session": "day",
                "litres": 7.5, "animals_in_milk": 1 }),
        );
    }
}

fn a_figure_far_from_the_usual_is_asked_back_once(w: World) {
    w.clock.set(traybook_domain::time::parse_instant("2026-03-20T05:00:00Z").expect("an instant"));
    a_week(&w);
    let cows = cows(&w);
    let mut page = Page::open(&w);
    let slip = [("session", "day"), ("litres", "75"), ("animals_in_milk", "1")];
    let (status, text) = page.fill(&cows, &slip);
    assert_eq!(status, 422);
    assert!(text.contains("usually give about 7.5"), "{text}");
    assert_eq!(kept(&w, "milk-records", &cows).len(), 8);
    let sure = [slip.as_slice(), &[("sure", "true")]].concat();
    assert_eq!(page.fill(&cows, &sure).0, 303);
    assert_eq!(kept(&w, "milk-records", &cows).len(), 9);
    // In Kiswahili as well.
    let mut page = Page::open(&w);
    page.browser.post("/language", &[("csrf", &page.csrf.clone()), ("language", "sw")]);
    let csrf = hidden(&page.text(), "csrf");
    page.csrf = csrf;
    let low = [
        ("session", "morning"),
        ("litres", "0,5"),
        ("animals_in_milk", "1"),
        ("date", "2026-03-11"),
    ];
    assert_eq!(page.fill(&cows, &low).0, 303, "nothing is known of its mornings");
    let again = [("session", "day"), ("litres", "7"), ("animals_in_milk", "1")];
    let (_, text) = page.fill(&cows, &again);
    assert!(text.contains("75 imeandikwa tayari"), "{text}");
}

fn what_was_sold_of_two_milkings_is_shared(w: World) {
    let cows = cows(&w);
    let mut page = Page::open(&w);
    let fields = [
        ("morning-litres", "6"),
        ("evening-litres", "5"),
        ("animals_in_milk", "1"),
        ("sold_litres", "9"),
        ("price_per_litre", "1,200"),
    ];
    let (status, text) = page.fill(&cows, &fields);
    assert_eq!(status, 303, "{text}");
    let all = kept(&w, "milk-records", &cows);
    let of =
        |session: &str| all.iter().find(|r| r["session"] == session).cloned().expect("a record");
    assert_eq!(
        (&of("evening")["sold_litres"], &of("morning")["sold_litres"]),
        (&json!(5), &json!(4))
    );
    assert_eq!(of("morning")["price_per_litre"], json!(1200));
    // Where the farm sells, it is asked the next day, with the price.
    let text = page.text();
    assert!(text.contains("name=\"sold_litres\"") && text.contains("value=\"1200\""));
    let too_much = [
        ("morning-litres", "1"),
        ("evening-litres", "2"),
        ("animals_in_milk", "1"),
        ("sold_litres", "9"),
        ("date", "2026-03-01"),
    ];
    let (status, text) = page.fill(&cows, &too_much);
    assert_eq!(status, 422);
    assert!(text.contains("Litres sold: sold, home and calf use together"), "{text}");
}

fn taking_back_asks_and_can_be_undone(w: World) {
    let cows = cows(&w);
    let mut page = Page::open(&w);
    assert_eq!(page.fill(&cows, &[("litres", "6"), ("animals_in_milk", "1")]).0, 303);
    let sums = || w.wait(w.app.rebuild_sums(&w.a.coop)).expect("rebuilt");
    let before = sums().kept;
    let record = kept(&w, "milk-records", &cows)[0].clone();
    let id = record["id"].as_str().expect("an id");
    let path = format!("/output/{id}/back");
    assert!(page.text().contains(&format!("{path}?kind=milk-records")));
    let asked = page.follow(&format!("{path}?kind=milk-records"));
    assert!(asked.contains("Take this back?") && asked.contains("litres 6"), "{asked}");
    assert_eq!(kept(&w, "milk-records", &cows).len(), 1, "asking changes nothing");
    let csrf = page.csrf.clone();
    let yes = [("csrf", csrf.as_str()), ("kind", "milk-records"), ("version", "1")];
    let done = page.browser.post(&path, &yes);
    let to = done.header("location").expect("a page").to_owned();
    assert!(kept(&w, "milk-records", &cows).is_empty());
    let said = page.follow(&to);
    assert!(said.contains("Taken back: ") && said.contains("Put it back"), "{said}");
    let undo = format!("/put-back/milk-records/{id}");
    // For another co-operative it is not there.
    let mut other = Browser::sign_in_as(&w, "member.b@coop.example");
    let token = hidden(&other.get("/output").expect(200).text, "csrf");
    let foreign = [("csrf", token.as_str()), ("version", "2"), ("to", "/output")];
    assert_eq!(other.post(&undo, &foreign).status, 404);
    let back = [("csrf", csrf.as_str()), ("version", "2"), ("to", "/output")];
    let done = page.browser.post(&undo, &back);
    assert_eq!(done.status, 303, "{}", done.text);
    assert_eq!(done.header("location"), Some(&*format!("/output?saved=milk-records.{id}")));
    let all = kept(&w, "milk-records", &cows);
    assert_eq!((all.len(), &all[0]["litres"], &all[0]["version"]), (1, &json!(6), &json!(3)));
    let history =
        w.sign_in("member").get(&format!("/v1/milk-records/{id}/history")).expect(200).items();
    let actions: Vec<_> = history.iter().map(|v| v["action"].clone()).collect();
    assert_eq!(actions, ["created", "withdrawn", "put_back"]);
    let after = sums();
    assert_eq!((&after.kept, &after.rebuilt), (&before, &before), "the sums are as before");
}

fn numbers_are_read_as_people_write_them(w: World) {
    let cows = cows(&w);
    let mut page = Page::open(&w);
    // 1,250 litres are more than one cow gives, but the field itself holds both.
    let (status, text) = page.fill(&cows, &[("litres", "1,250"), ("animals_in_milk", "1")]);
    assert_eq!(status, 422);
    assert!(text.contains("1,250 can be 1250 or 1.25: write 1250 or 1.25"), "{text}");
    assert!(kept(&w, "milk-records", &cows).is_empty());
    let farm = w.a.id("farm").to_string();
    let mut manager = Browser::sign_in(&w, "manager");
    let book = format!("/farms/{farm}/book/other-costs");
    for (written, amount) in [
        ("42,000", 42_000.0_f64),
        ("42 000", 42_000.0),
        ("42.000", 42_000.0),
        ("42000/=", 42_000.0),
        ("1.250.000,50", 1_250_000.5),
        ("42,5", 42.5),
    ] {
        let form = manager.get(&book).expect(200).text;
        let (csrf, id) = (hidden(&form, "csrf"), hidden(&form, "id"));
        let fields = [
            ("csrf", csrf.as_str()),
            ("id", &id),
            ("date", "2026-03-01"),
            ("category", "labour"),
            ("amount", written),
            ("paid_by", "member"),
        ];
        let done = manager.post(&book, &fields);
        assert_eq!(done.status, 303, "{written}: {}", done.text);
        let kept = w.sign_in("manager").get(&format!("/v1/other-costs/{id}")).expect(200).json();
        assert_eq!(kept["amount"].as_f64(), Some(amount), "{written}");
        let said = manager.get(done.header("location").expect("a page")).expect(200).text;
        let is_whole = amount.fract() == 0.0;
        if is_whole {
            assert!(said.contains("amount TZS 42\u{202f}000"), "it is said what was understood");
        }
        // A correction that leaves the figure as it stands keeps it.
        let record = format!("/book/other-costs/{id}");
        let form = manager.get(&record).expect(200).text;
        let csrf = hidden(&form, "csrf");
        let same = kept["amount"].to_string();
        let fields = [
            ("csrf", csrf.as_str()),
            ("version", "1"),
            ("date", "2026-03-02"),
            ("category", "labour"),
            ("amount", &same),
            ("paid_by", "member"),
        ];
        assert_eq!(manager.post(&record, &fields).status, 303, "{same}");
        let after = w.sign_in("manager").get(&format!("/v1/other-costs/{id}")).expect(200).json();
        assert_eq!(after["amount"], kept["amount"], "{written}");
    }
}

/// The age of a flock is asked once a month, and grows by itself.
fn the_age_of_a_flock_is_asked_once_a_month(w: World) {
    let hens = w.a.id("hens").to_string();
    let asks = |browser: &mut Browser| {
        let page = browser.get("/output").expect(200).text;
        let field = format!("id=\"milk-{hens}-flock_age_weeks\"");
        let at = page.find(&field).map(|at| page[at..].split('>').next().unwrap_or("").to_owned());
        (page, at)
    };
    let mut browser = Browser::sign_in(&w, "member");
    let (page, field) = asks(&mut browser);
    assert!(field.expect("asked").contains("value=\"\""), "nothing is known yet");
    let at = page.find(&format!("value=\"{hens}\"")).expect("the hens' form");
    let (csrf, id) = (hidden(&page, "csrf"), hidden(&page[at..], "id"));
    let form = [
        ("csrf", csrf.as_str()),
        ("group", &hens),
        ("id", &id),
        ("eggs", "40"),
        ("hens_present", "50"),
        ("flock_age_weeks", "34"),
    ];
    assert_eq!(browser.post("/output", &form).status, 303);
    let member = w.sign_in("member");
    let kept = member.get(&format!("/v1/egg-records?animal_group_id={hens}")).expect(200).items();
    assert_eq!(kept[0]["flock_age_weeks"], 34);
    assert_eq!(asks(&mut browser).1, None, "it is known this month");
    w.clock.set(Instant(w.app.now().0 + 35 * 86_400_000));
    let mut browser = Browser::sign_in(&w, "member");
    let field = asks(&mut browser).1.expect("asked in the next month");
    assert!(field.contains("value=\"39\""), "five weeks later: {field}");
}
