//! Every page by every role in both languages: allowed or not, whole, sound, without a text that
//! is missing.

use crate::{review, review_rules, texts_review};
use acceptance::browser::{Browser, hidden};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use std::collections::BTreeSet;
use traybook_app::records::import::Source;
use traybook_domain::Kind;
use traybook_domain::kinds::REVIEW_RULES;

both!(
    every_page_is_sound_for_every_role,
    findings_are_said_in_the_language_of_the_page,
    refusals_are_said_in_the_language_of_the_page,
);

/// Pages with the roles that may see them: m manager, o officer, b member, p programme reader,
/// x operator.
fn pages(w: &World) -> Vec<(String, &'static str)> {
    let (farm, batch, visit) = (w.a.id("farm"), w.a.id("batch"), w.a.id("visit"));
    let training = w.a.id("training");
    let (event, lot, person) = (w.a.id("event"), w.a.id("lot"), w.a.id("officer"));
    let own = |path: &str, roles: &'static str| (path.to_owned(), roles);
    vec![
        own("/today", "mob"),
        own("/output", "mob"),
        (format!("/batches?farm={farm}"), "mob"),
        (format!("/batches/{batch}"), "mob"),
        (format!("/batches/{batch}/events"), "mob"),
        (format!("/events/{event}"), "mob"),
        (format!("/result?farm={farm}"), "mob"),
        (format!("/account?farm={farm}"), "mob"),
        (format!("/ask?farm={farm}"), "mob"),
        own("/round", "mo"),
        own("/farms", "mob"),
        own("/farms/new", "mo"),
        (format!("/farms/{farm}"), "mob"),
        (format!("/farms/{farm}/plan"), "mob"),
        (format!("/farms/{farm}/book"), "mob"),
        (format!("/farms/{farm}/book/feed-purchases"), "mob"),
        (format!("/farms/{farm}/book/feed-counts"), "mob"),
        (format!("/farms/{farm}/nothing-bought"), "mob"),
        (format!("/farms/{farm}/book/seed-issues"), "mo"),
        (format!("/farms/{farm}/book/baseline-rations"), "mo"),
        (format!("/batches/{batch}/correct"), "mob"),
        own("/store", "m"),
        own("/store/seed-purchases", "m"),
        (format!("/book/seed-lots/{lot}"), "mobx"),
        (format!("/farms/{farm}/visit"), "mo"),
        (format!("/farms/{farm}/batch"), "mob"),
        (format!("/farms/{farm}/animals"), "mob"),
        (format!("/farms/{farm}/labels"), "mob"),
        (format!("/farms/{farm}/calendar"), "mob"),
        own("/invitation", "mobpx"),
        (format!("/visits/{visit}"), "mob"),
        own("/phone", "mobpx"),
        own("/trainings", "mo"),
        own("/trainings/new", "mo"),
        (format!("/trainings/{training}"), "mo"),
        (format!("/trainings/{training}/correct"), "mo"),
        own("/month", "m"),
        own("/output-change", "m"),
        own("/owed", "mob"),
        own("/year", "m"),
        own("/first", "m"),
        own("/setup", "m"),
        own("/people/invitations", "m"),
        own("/setup/areas", "m"),
        (format!("/farms/{farm}/sheds"), "mob"),
        (format!("/farms/{farm}/sheds/sheds"), "mo"),
        (format!("/farms/{farm}/visits"), "mob"),
        (format!("/farms/{farm}/visits/visit-plans"), "mo"),
        own("/trials", "m"),
        own("/office", "m"),
        own("/savings", "mob"),
        own("/close", "m"),
        own("/spoilage", "mob"),
        (format!("/spoilage/{farm}"), "mob"),
        (format!("/lots/{lot}"), "mob"),
        own("/seed", "mo"),
        own("/people", "mx"),
        (format!("/people/{person}"), "mx"),
        own("/own", "mobpx"),
        own("/security", "mx"),
        own("/texts", "mo"),
        own("/security?of=none", "x"),
        own("/server", "x"),
        own("/feed-value", "m"),
        own("/feed-mix", "m"),
        own("/break-even", "m"),
        own("/suppliers", "m"),
        own("/guide", "mob"),
        own("/service", "m"),
        own("/review", "mo"),
        own("/import", "m"),
        own("/import/templates", "m"),
        own("/totals", "mp"),
    ]
}

fn every_page_is_sound_for_every_role(w: World) {
    let all = [
        ("manager", 'm'),
        ("officer", 'o'),
        ("member", 'b'),
        ("programme_reader", 'p'),
        ("operator", 'x'),
    ];
    for (who, letter) in all {
        let mut browser = Browser::sign_in(&w, who);
        for language in ["sw", "en"] {
            speak(&mut browser, language);
            for (path, roles) in pages(&w) {
                let page = browser.get(&path);
                let allowed = roles.contains(letter);
                let status = page.status;
                assert!(status == 200 || !allowed, "{who} {path}: {status} {}", page.text);
                assert!(status == 403 || status == 404 || allowed, "{who} {path}: {status}");
                sound(&page.text, language, &format!("{who} {language} {path}"));
            }
        }
    }
}

fn speak(browser: &mut Browser, language: &str) {
    let csrf = hidden(&browser.get("/phone").expect(200).text, "csrf");
    let form = [("csrf", csrf.as_str()), ("language", language), ("back", "/phone")];
    assert_eq!(browser.post("/language", &form).status, 303);
}

/// What a page says, without the signs that HTML escapes.
fn plain(page: &str) -> String {
    page.replace("&#39;", "'").replace("&#34;", "\"").replace("&#38;", "&")
}

/// Stretches of an English text that no other language would have by chance.
fn stretches(text: &str) -> impl Iterator<Item = &str> {
    let all = text.split([':', ';', ',', '.']).map(str::trim);
    all.filter(|part| part.split(' ').filter(|w| w.len() > 2).count() >= 3)
}

fn findings_are_said_in_the_language_of_the_page(w: World) {
    review::contradict(&w);
    review::make_up(&w);
    review::misfeed(&w);
    review_rules::slip(&w);
    texts_review::contradict_by_text(&w);
    let given = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id("farm"),
        "date": "2026-03-12", "kg": 10, "payment": "paid" });
    w.make(&w.a, Kind::SeedIssue, given);
    let mut seen = BTreeSet::new();
    // The farms fall silent later.
    for now in ["2026-03-20T09:00:00Z", "2026-04-20T09:00:00Z"] {
        w.clock.set(traybook_domain::time::parse_instant(now).expect("instant"));
        let mut browser = Browser::sign_in(&w, "manager");
        for finding in review::items(&w, "") {
            let text = |member: &str| finding[member].as_str().unwrap_or_default().to_owned();
            let query = format!("rule={}", text("rule"));
            speak(&mut browser, "sw");
            let page = plain(&browser.get(&format!("/review?{query}")).expect(200).text);
            let path = format!(
                "/review/accept?finding={}",
                text("finding").replace(':', "%3A").replace(' ', "%20")
            );
            let accept = plain(&browser.get(&path).expect(200).text);
            let english = [text("problem"), text("fix")];
            for part in english.iter().flat_map(|t| stretches(t)) {
                assert!(!page.contains(part) && !accept.contains(part), "{part}: {page} {accept}");
            }
            let all = [&page, &accept];
            assert!(all.iter().all(|p| !p.contains("{$") && !p.contains("[problem")), "{page}");
            // The English page has the facts of the interface, day and figure.
            speak(&mut browser, "en");
            let page = plain(&browser.get(&path).expect(200).text);
            same_facts(&finding, &page);
            let mut parts = english.iter().flat_map(|t| stretches(t));
            assert!(parts.any(|part| page.contains(part)), "English would be found: {page}");
            seen.insert(text("rule"));
        }
    }
    // A jump that holds an output change back takes years of records: its sentence is looked at in
    // the tests of the page.
    let others = REVIEW_RULES.iter().filter(|r| **r != "check_level");
    let rules: BTreeSet<String> = others.map(|r| (*r).to_owned()).collect();
    assert_eq!(seen, rules, "every rule was looked at");
}

/// Every number and code of the interface's sentence stands on the page.
fn same_facts(finding: &Json, page: &str) {
    let problem = finding["problem"].as_str().unwrap_or_default();
    let page = page.replace('−', "-").replace('\u{202f}', "");
    for word in problem.split([' ', ':', ';', ',']).map(|w| w.trim_end_matches('.')) {
        if word.chars().any(|c| c.is_ascii_digit()) {
            // A day is written in words: 2026-03-09 is 9 March 2026.
            let day = word.parse::<chrono::NaiveDate>();
            let wanted =
                day.map_or_else(|_| word.to_owned(), |d| d.format("%-d %B %Y").to_string());
            assert!(page.contains(&wanted), "{wanted} of {problem}: {page}");
        }
    }
}

fn refusals_are_said_in_the_language_of_the_page(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    speak(&mut browser, "sw");
    // Each row breaks another rule; the words of the rules are those of the interface.
    let unknown = "animal_group,date,session,litres,animals_in_milk,colour\n";
    let milk = "animal_group,date,session,litres,animals_in_milk\n\
                F1-cows,2026-03-18,noon,12.5,1\n\
                F1-cows,2026-03-18,day,much,1\n\
                F1-cows,2026-03-18,day,12.5,900000\n\
                F1-cows,2026-03-18,day,1250,1\n\
                F1-cows,2099-03-18,day,12.5,1\n\
                nobody,2026-03-18,day,12.5,1\n\
                F1-cows,2026-03-18,day,12.5\n";
    for text in [milk, unknown, "PK\x03\x04"] {
        let text = text.as_bytes();
        let files = [("files", "milk.csv", text)];
        let page = browser.fill_with_files("/import", "/import", &[], &files).expect(200).text;
        let source = Source::of_file("milk.csv", text, 10_000);
        let machine = traybook_app::Actor::machine(w.a.coop.clone());
        let reports = w.wait(w.app.import(&machine, source, true)).expect("looked through");
        let bad = &reports[0].bad;
        let page = plain(&page);
        let parts: Vec<&str> = bad.iter().flat_map(|b| stretches(&b.error.detail)).collect();
        assert!(!parts.is_empty(), "there is something to say: {bad:?}");
        for part in parts {
            assert!(!page.contains(part), "{part}: {page}");
        }
    }
    // Beside a field, and as a conflict.
    let set = [("name", "seed_kg_per_tray"), ("value", "900"), ("valid_from", "2026-03-20")];
    let refused = browser.fill("/guide", "/guide", &set);
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("Andika 0.05 hadi 20."), "{}", refused.text);
    assert_eq!(browser.fill("/close?month=2026-01", "/close", &[]).status, 303);
    let csrf = hidden(&browser.get("/phone").expect(200).text, "csrf");
    let again = browser.post("/close", &[("csrf", &csrf), ("month", "2026-01")]);
    assert_eq!(again.status, 409, "{}", again.text);
    assert!(again.text.contains("Mwezi umefungwa") && !again.text.contains("is closed"));
}

fn sound(page: &str, language: &str, about: &str) {
    assert!(page.contains(&format!("<html lang=\"{language}\">")), "{about}");
    let key = |t: &str| {
        let end = t.find(']').unwrap_or(0);
        let name = &t[..end];
        end > 2
            && name
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-' || b == b'_')
    };
    assert!(!page.split('[').skip(1).any(key), "{about}: a text is missing: {page}");
    for banned in [" style=", "<script>", "javascript:", "onclick"] {
        assert!(!page.contains(banned), "{about}: {banned}");
    }
    assert_eq!(page.matches("<h1").count(), 1, "{about}: one heading");
    // Every field has its label, every id stands once.
    let mut ids: Vec<&str> =
        page.split(" id=\"").skip(1).filter_map(|t| t.split('"').next()).collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count, "{about}: an id stands twice");
    for tag in page
        .split('<')
        .filter(|t| ["input ", "select ", "textarea "].iter().any(|n| t.starts_with(n)))
    {
        let quiet = ["type=\"hidden\"", "type=\"radio\""].iter().any(|k| tag.contains(k));
        let id = tag.split(" id=\"").nth(1).and_then(|t| t.split('"').next());
        let labelled = id.is_some_and(|id| page.contains(&format!("for=\"{id}\"")));
        assert!(quiet || labelled, "{about}: no label for <{tag}");
    }
}
