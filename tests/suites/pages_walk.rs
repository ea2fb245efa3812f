//! Every page by every role in both languages: allowed or not, whole, sound, without a text that
//! is missing.

use acceptance::browser::{Browser, hidden};
use acceptance::{World, both};

both!(every_page_is_sound_for_every_role);

/// Pages with the roles that may see them: m manager, o officer, b member, p programme reader,
/// x operator.
fn pages(w: &World) -> Vec<(String, &'static str)> {
    let (farm, batch, visit) = (w.a.id("farm"), w.a.id("batch"), w.a.id("visit"));
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
        (format!("/farms/{farm}/visit"), "mo"),
        (format!("/farms/{farm}/batch"), "mob"),
        (format!("/farms/{farm}/animals"), "mob"),
        (format!("/farms/{farm}/labels"), "mob"),
        own("/invitation", "mobpx"),
        (format!("/visits/{visit}"), "mob"),
        own("/phone", "mobpx"),
        own("/month", "m"),
        own("/office", "m"),
        own("/savings", "mob"),
        own("/close", "m"),
        own("/spoilage", "mob"),
        (format!("/spoilage/{farm}"), "mob"),
        (format!("/lots/{lot}"), "mob"),
        own("/seed", "mo"),
        own("/people", "mx"),
        (format!("/people/{person}"), "mx"),
        own("/guide", "mob"),
        own("/review", "mo"),
        own("/import", "m"),
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
            let csrf = hidden(&browser.get("/phone").expect(200).text, "csrf");
            let form = [("csrf", csrf.as_str()), ("language", language), ("back", "/phone")];
            assert_eq!(browser.post("/language", &form).status, 303);
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
