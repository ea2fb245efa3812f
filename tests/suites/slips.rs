//! The served savings report beside a truth that is known: made-up farms, with the slips of people.

use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(feed_that_names_its_animals_leaves_no_hole);

/// Cows and hens eat bran, and each purchase says for whom it is: the months are known. [ARITH] The
/// cows' ration of 1.5 kg makes a head × day count 1.5 where bran is shared; the named purchases of
/// 4 cows cover 4 of 4, not 4 of 6.
fn feed_that_names_its_animals_leaves_no_hole(w: World) {
    let (a, id) = (&w.a, |name: &str| json!(w.a.id(name)));
    let mut rows = Vec::new();
    for (group, head, kg) in [("cows", 4, 1.5), ("hens", 50, 0.03)] {
        rows.push((
            Kind::HeadCount,
            json!({ "animal_group_id": id(group), "date": "2025-01-01", "reason": "counted",
                "head": head }),
        ));
        rows.push((
            Kind::BaselineRation,
            json!({ "animal_group_id": id(group), "feed_id": id("bran"),
                "kg_per_animal_day": kg, "recorded_on": "2025-06-01" }),
        ));
        for month in 1..=14 {
            let day = format!("{}-{:02}-02", 2025 + (month - 1) / 12, (month - 1) % 12 + 1);
            rows.push((
                Kind::FeedPurchase,
                json!({ "farm_id": id("farm"), "feed_id": id("bran"), "date": day,
                    "kg": f64::from(head) * kg * 30.0,
                    "cost": f64::from(head) * kg * 12_000.0,
                    "animal_group_id": id(group) }),
            ));
        }
    }
    for (kind, body) in rows {
        w.make(a, kind, body);
    }
    w.make_figures();
    let report = w.sign_in("manager").get("/v1/reports/savings?month=2025-09").expect(200).json();
    let farms = report["farms"].as_array().expect("farms");
    let f1 = farms.iter().find(|f| f["farm"] == "F1").expect("the farm");
    let of = |row: &Json| (row["enterprise"].clone(), row["status"].clone());
    let rows: Vec<_> = f1["enterprises"].as_array().expect("rows").iter().map(of).collect();
    let want = [(json!("dairy_cows"), json!("estimated")), (json!("layers"), json!("estimated"))];
    assert_eq!((rows.as_slice(), &f1["waits"]), (&want[..], &json!([])));
}
