//! Feed that was left in store and months in which none was bought, on the pages, without script.

use acceptance::browser::{Browser, hidden};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    what_was_left_is_written_in_the_book,
    a_month_without_a_purchase_is_told_with_one_tap,
    an_answer_that_the_records_contradict_is_refused,
    an_answer_is_about_one_farm_and_its_animals,
    a_phone_is_answered_as_a_page_is,
);

fn list(w: &World, path: &str) -> Vec<Json> {
    w.sign_in("manager").get(path).expect(200).items()
}

/// Purchases and counts of the farm in February 2026.
fn february(w: &World) -> (Vec<Json>, Vec<Json>) {
    let of = |path: &str| {
        let farm = w.a.id("farm");
        list(w, &format!("/v1/{path}?farm_id={farm}&from=2026-02-01&to=2026-02-28"))
    };
    (of("feed-purchases"), of("feed-counts"))
}

fn page_of(w: &World) -> String {
    format!("/farms/{}/nothing-bought", w.a.id("farm"))
}

fn what_was_left_is_written_in_the_book(w: World) {
    let (farm, feed) = (w.a.id("farm"), w.a.id("feed").to_string());
    let mut member = Browser::sign_in(&w, "member");
    let book = format!("/farms/{farm}/book");
    let new = format!("{book}/feed-counts");
    // While none was counted, the book only shows where it is written.
    let page = member.get(&book).expect(200).text;
    let (unused, way) = (page.find("id=\"book-unused\""), page.find(&new));
    assert!(unused.is_some() && unused < way && !page.contains("id=\"feed-count\""), "{page}");
    let page = member.get(&new).expect(200).text;
    assert!(page.contains("in the morning, before feeding"), "{page}");
    let fields = [("feed_id", feed.as_str()), ("date", "2026-03-10"), ("kg", "-1")];
    let refused = member.fill(&new, &new, &fields);
    assert_eq!(refused.status, 422, "{}", refused.text);
    assert!(refused.text.contains("id=\"book-kg-error\""), "{}", refused.text);
    let fields = [("feed_id", feed.as_str()), ("date", "2026-03-10"), ("kg", "17,5")];
    assert_eq!(member.fill(&new, &new, &fields).status, 303);
    let page = member.get(&book).expect(200).text;
    assert!(page.contains("17.5") && page.contains("10 March 2026"), "{page}");
    let (bought, left) = (page.find("id=\"feed-purchase\""), page.find("id=\"feed-count\""));
    assert!(left.is_some() && bought < left, "after what was bought");
    let made = &list(&w, &format!("/v1/feed-counts?farm_id={farm}"))[0];
    assert_eq!((&made["kg"], &made["animal_group_id"]), (&json!(17.5), &Json::Null));
}

fn a_month_without_a_purchase_is_told_with_one_tap(w: World) {
    let (farm, feed) = (w.a.id("farm"), w.a.id("feed").to_string());
    let mut member = Browser::sign_in(&w, "member");
    let (book, path) = (format!("/farms/{farm}/book"), page_of(&w));
    assert!(member.get(&book).expect(200).text.contains(&format!("href=\"{path}\"")));
    // The last month stands there; both answers say what they mean.
    let page = member.get(&path).expect(200).text;
    assert!(page.contains("value=\"2026-02\""), "{page}");
    for part in ["name=\"stock\" value=\"none\"", "name=\"stock\" value=\"some\"", "data-keep="] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let buttons: Vec<&str> = page.split("<button").collect();
    let first = buttons.iter().position(|b| b.contains("name=\"stock\"")).expect("an answer");
    assert!(buttons[first - 1].starts_with(" hidden>"), "Enter alone answers nothing: {page}");
    assert!(page.contains("ate none of it") && page.contains("ate of that"), "{page}");
    // Tapped twice, it is one purchase of 0 kg and one count of 0 kg.
    let (csrf, id) = (hidden(&page, "csrf"), hidden(&page, "id"));
    let form = [
        ("csrf", csrf.as_str()),
        ("id", &id),
        ("feed_id", &feed),
        ("month", "2026-02"),
        ("stock", "none"),
    ];
    let before = february(&w);
    let mut to = String::new();
    for _ in 0..2 {
        let done = member.post(&path, &form);
        to = done.header("location").unwrap_or_else(|| panic!("{}", done.text)).to_owned();
        assert!(to.starts_with(&format!("{book}?")), "{to}");
    }
    let (bought, left) = february(&w);
    assert_eq!((bought.len(), left.len()), (before.0.len() + 1, before.1.len() + 1));
    let made = bought.iter().find(|r| r["id"] == json!(id)).expect("the purchase");
    assert_eq!((&made["kg"], &made["cost"]), (&json!(0), &json!(0)));
    assert_eq!((&made["date"], &made["feed_id"]), (&json!("2026-02-01"), &json!(feed)));
    assert_eq!((&left[0]["kg"], &left[0]["date"]), (&json!(0), &json!("2026-02-01")));
    assert_eq!(left[0]["feed_id"], json!(feed));
    // The page says what was saved.
    let page = member.get(&to).expect(200).text;
    let said = "Saved: no Dairy meal was bought in February 2026, and none was used.";
    assert!(page.contains(said), "{page}");
    // Asked anew and answered the same, nothing is added.
    let again = [("feed_id", feed.as_str()), ("month", "2026-02"), ("stock", "none")];
    assert_eq!(member.fill(&path, &path, &again).status, 303);
    let after = february(&w);
    assert_eq!((after.0.len(), after.1.len()), (bought.len(), left.len()));
    // A link names feed, month and the page to come back to.
    let link = format!("{path}?feed={feed}&month=2026-01&back=/result%3Ffarm%3D{farm}");
    let page = member.get(&link).expect(200).text;
    let chosen = format!("value=\"{feed}\" selected");
    assert!(page.contains("value=\"2026-01\"") && page.contains(&chosen), "{page}");
    let done = member.fill_in(&page, &path, &[("stock", "some")]);
    let to = format!("/result?farm={farm}&saved=some.2026-01.{feed}");
    assert_eq!(done.header("location"), Some(to.as_str()), "{}", done.text);
    let counts = list(&w, &format!("/v1/feed-counts?farm_id={farm}&to=2026-01-31"));
    assert_eq!(counts, Vec::<Json>::new(), "some was left: the 0 alone");
    let path = format!("/v1/feed-purchases?farm_id={farm}&from=2026-01-01&to=2026-01-31");
    let none = list(&w, &path);
    assert!(none.iter().any(|p| p["kg"] == json!(0) && p["date"] == "2026-01-01"), "{none:?}");
}

fn an_answer_that_the_records_contradict_is_refused(w: World) {
    let feed = w.a.id("feed").to_string();
    let bran = w.a.id("bran").to_string();
    let mut member = Browser::sign_in(&w, "member");
    let path = page_of(&w);
    let bought = json!({ "farm_id": w.a.id("farm"), "feed_id": feed, "date": "2026-02-28",
        "kg": 40.5, "cost": 30_000 });
    w.make(&w.a, Kind::FeedPurchase, bought);
    let before = february(&w);
    let mut tell = |feed: &str, month: &str, stock: &str| {
        let fields = [("feed_id", feed), ("month", month), ("stock", stock)];
        member.fill(&path, &path, &fields)
    };
    let refused = tell(&feed, "2026-02", "none");
    assert_eq!(refused.status, 409, "{}", refused.text);
    assert!(refused.text.contains("40.5 kg of this feed were bought on 2026-02-28"));
    assert!(refused.text.contains("value=\"2026-02\""), "what was typed stays");
    // First one answer, then the other: the count would be left standing.
    assert_eq!(tell(&bran, "2026-02", "none").status, 303);
    let refused = tell(&bran, "2026-02", "some");
    assert_eq!(refused.status, 409, "{}", refused.text);
    assert!(refused.text.contains("0 kg of this feed were left on 2026-02-01"));
    // The other way round there is nothing to take back.
    assert_eq!(tell(&bran, "2026-01", "some").status, 303);
    assert_eq!(tell(&bran, "2026-01", "none").status, 303);
    let after = february(&w);
    assert_eq!((after.0.len(), after.1.len()), (before.0.len() + 1, before.1.len() + 1));
    // What is no answer: no feed, no month, one to come, no button.
    for (feed, month, stock, wrong) in [
        ("", "2026-02", "some", "nothing-feed_id-error"),
        ("x", "2026-02", "some", "nothing-feed_id-error"),
        (bran.as_str(), "", "some", "nothing-month-error"),
        (bran.as_str(), "February", "some", "nothing-month-error"),
        (bran.as_str(), "2026-04", "some", "nothing-month-error"),
        // Enter in a field taps the button that has no answer.
        (bran.as_str(), "2026-02", "", "tap one of the two answers"),
    ] {
        let refused = tell(feed, month, stock);
        assert_eq!(refused.status, 422, "{month} {stock}: {}", refused.text);
        assert!(refused.text.contains(wrong), "{wrong}: {}", refused.text);
    }
    let stood = february(&w);
    assert_eq!((stood.0.len(), stood.1.len()), (after.0.len(), after.1.len()));
    let page = member.get(&format!("{path}?back=//elsewhere.example")).expect(200).text;
    assert!(!page.contains("\"//elsewhere.example"), "back leads to this server alone");
}

fn an_answer_is_about_one_farm_and_its_animals(w: World) {
    let (feed, cows) = (w.a.id("feed").to_string(), w.a.id("cows").to_string());
    let path = page_of(&w);
    // Cows and hens could eat it: the answer may say which.
    let mut officer = Browser::sign_in(&w, "officer");
    let fields = [
        ("feed_id", feed.as_str()),
        ("month", "2026-02"),
        ("animal_group_id", cows.as_str()),
        ("stock", "none"),
    ];
    assert_eq!(officer.fill(&path, &path, &fields).status, 303);
    let (bought, left) = february(&w);
    let of_cows = |r: &&Json| r["animal_group_id"] == json!(cows) && r["kg"] == json!(0);
    assert_eq!(
        (bought.iter().filter(of_cows).count(), left.iter().filter(of_cows).count()),
        (1, 1)
    );
    // Those of another farm are refused, and neither record is made.
    let goats = json!({ "code": "F2-goats", "farm_id": w.a.id("other_farm"),
        "animal_class": "goats" });
    let goats = w.make(&w.a, Kind::AnimalGroup, goats).to_string();
    let fields = [
        ("feed_id", feed.as_str()),
        ("month", "2026-01"),
        ("animal_group_id", goats.as_str()),
        ("stock", "none"),
    ];
    let refused = officer.fill(&path, &path, &fields);
    assert_eq!(refused.status, 422, "{}", refused.text);
    assert!(refused.text.contains("nothing-animal_group_id-error"), "{}", refused.text);
    let counts = format!("/v1/feed-counts?farm_id={}", w.a.id("farm"));
    assert_eq!(list(&w, &counts).len(), 1);
    // Out of reach there is no page, and nothing is recorded.
    for (who, farm) in [
        ("officer", w.a.id("other_farm")),
        ("member", w.a.id("other_farm")),
        ("member", w.b.id("farm")),
    ] {
        let mut browser = Browser::sign_in(&w, who);
        let csrf = hidden(&browser.get(&path).expect(200).text, "csrf");
        let path = format!("/farms/{farm}/nothing-bought");
        assert_eq!(browser.get(&path).status, 404, "{path}");
        let fields = [
            ("csrf", csrf.as_str()),
            ("feed_id", feed.as_str()),
            ("month", "2026-01"),
            ("stock", "none"),
        ];
        let refused = browser.post(&path, &fields);
        assert_eq!(refused.status, 404, "{path}: {}", refused.text);
        if farm == w.a.id("other_farm") {
            let theirs = format!("/v1/feed-counts?farm_id={farm}");
            assert_eq!(list(&w, &theirs), Vec::<Json>::new());
        }
    }
}

fn a_phone_is_answered_as_a_page_is(w: World) {
    let (farm, feed) = (w.a.id("farm"), w.a.id("feed").to_string());
    let mut member = Browser::sign_in(&w, "member");
    let path = page_of(&w);
    let page = member.get(&path).expect(200).text;
    let (csrf, id) = (hidden(&page, "csrf"), hidden(&page, "id"));
    let mut send = |month: &str, stock: &str| {
        let media = "application/x-www-form-urlencoded".to_owned();
        let form = format!("csrf={csrf}&id={id}&feed_id={feed}&month={month}&stock={stock}");
        member.ask("POST", &path, Some((media, form.into_bytes())), &[("x-from-phone", "1")])
    };
    for _ in 0..2 {
        let taken = send("2026-02", "none").expect(200).json();
        let see = format!("/farms/{farm}/book?saved=none.2026-02.{feed}");
        assert_eq!(taken, json!({ "taken": true, "see": see }));
    }
    assert_eq!(february(&w).1.len(), 1);
    let wrong = send("2026-04", "some").expect(422);
    assert_eq!(wrong.errors()[0].0, "/month");
    assert_eq!(send("2026-02", "some").status, 409);
}
