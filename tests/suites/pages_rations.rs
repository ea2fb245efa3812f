//! What feeds are worth, the cheapest mix, when fodder pays, suppliers: the manager's pages, with
//! prices from the co-operative's own purchases.

use crate::rations;
use acceptance::browser::Browser;
use acceptance::{World, both};
use serde_json::json;
use traybook_domain::Kind;

both!(
    feeds_have_their_prices_and_the_caution,
    a_mix_is_found_with_own_prices_and_clashes_are_said,
    fodder_pays_or_not_with_figures_from_records,
    suppliers_stand_beside_each_other,
);

/// A text with plain spaces between thousands.
fn plain(page: &str) -> String {
    page.replace(['\u{202f}', '\u{a0}'], " ").replace("&#39;", "'")
}

fn feeds_have_their_prices_and_the_caution(w: World) {
    rations::month(&w);
    let mut manager = Browser::sign_in(&w, "manager");
    // [MADE] with the figures of the worked month: 1,000 a kg, 1,111 a kg of dry matter.
    let page = plain(&manager.page("/feed-value?month=2026-02"));
    for part in ["Sunflower cake", "1111", "December 2025", "no protein", "3178"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    for path in ["/feed-value", "/feed-mix", "/break-even"] {
        let page = manager.page(&format!("{path}?month=2026-02"));
        assert!(page.contains("Ask the local livestock service"), "{path}");
    }
    for part in ["/feed-value", "/feed-mix", "/break-even", "/suppliers", "/trainings", "/totals"] {
        assert!(manager.page("/office").contains(&format!("href=\"{part}\"")), "{part}");
    }
    assert_eq!(manager.get("/feed-value?month=x").status, 422);
    let mut officer = Browser::sign_in(&w, "officer");
    assert_eq!(officer.get("/feed-value").status, 403);
}

fn a_mix_is_found_with_own_prices_and_clashes_are_said(w: World) {
    let cake = rations::month(&w);
    let maize = w.make(
        &w.a,
        Kind::Feed,
        json!({ "name": "Maize", "dry_matter_percent": 90, "crude_protein_percent": 8 }),
    );
    let bought = json!({ "farm_id": w.a.id("farm"), "feed_id": maize, "date": "2026-02-05",
        "kg": 100, "cost": 50_000 });
    w.make(&w.a, Kind::FeedPurchase, bought);
    let mut manager = Browser::sign_in(&w, "manager");
    let form = manager.page("/feed-mix?month=2026-02");
    let cake = cake.as_str().expect("an id");
    for (id, price) in [(cake, "1000"), (&*maize.to_string(), "500")] {
        let from = form.find(&format!("name=\"price-{id}\"")).expect("its price is asked");
        let value = form[from..].split(" value=\"").nth(1).expect("a value");
        assert!(value.starts_with(price), "{id}: {value}");
    }
    // Pearson square (Montana State University Extension) of 40 % and 8 % to 16 %: 8 to 24 parts of
    // dry matter. 25 kg at 90 % is 27.8 kg as fed, 75 kg is 83.3 kg: 27,778 and 41,667.
    let asked = |protein: &str, more: &str| {
        format!(
            "/feed-mix?month=2026-02&dry_matter_kg=100&protein={protein}&price-{cake}=1000\
             &price-{maize}=500{more}"
        )
    };
    let page = plain(&manager.page(&asked("16", "")));
    for part in ["27.8", "83.3", "69 444", "Worth up to"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    // No mix has more protein than its richest feed.
    let page = plain(&manager.page(&asked("50", "")));
    assert!(page.contains("you ask 50 %, the most that a mix reaches is 40 %"), "{page}");
    // Maize has no energy on record: with a limit of it only cake can be mixed.
    let page = plain(&manager.page(&asked("16", "&energy=11")));
    assert!(page.contains("111.1") && !page.contains("83.3"), "{page}");
    let refused = manager.get(&asked("lots", ""));
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("#ask-protein") && refused.text.contains("value=\"lots\""));
}

fn fodder_pays_or_not_with_figures_from_records(w: World) {
    let cake = rations::month(&w);
    let mut manager = Browser::sign_in(&w, "manager");
    let path = format!("/break-even?month=2026-02&feed={}", cake.as_str().expect("an id"));
    // [ARITH] 26 kg of dry matter stand for 28.9 kg of cake at 1,000 a kg; the fodder cost 82,640.
    let page = plain(&manager.page(&path));
    for part in ["Fodder loses", "TZS 82 640", "TZS 53 751", "value=\"56\"", "28 889"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    // What is typed counts before what is recorded.
    let page = plain(&manager.page(&format!("{path}&seed_price=0&other_cost=0")));
    assert!(page.contains("Fodder saves TZS 28 889"), "{page}");
    let refused = manager.get(&format!("{path}&spoiled_percent=120"));
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("#ask-spoiled_percent"), "{}", refused.text);
    // A month without records asks for the figures and shows none.
    let page = manager.page("/break-even?month=2025-08");
    assert!(page.contains("No feed has a price") && !page.contains("Fodder loses"), "{page}");
}

fn suppliers_stand_beside_each_other(w: World) {
    rations::month(&w);
    let mut manager = Browser::sign_in(&w, "manager");
    let page = plain(&manager.page("/suppliers?from=2026-01-01&to=2026-03-01"));
    for part in ["Seed store", "L1", "940", "too few batches"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let none = manager.page("/suppliers?from=2025-01-01&to=2025-02-01");
    assert!(none.contains("No seed was bought"), "{none}");
    assert_eq!(manager.get("/suppliers?from=x").status, 422);
    assert_eq!(Browser::sign_in(&w, "officer").get("/suppliers").status, 403);
}
