//! The officer's round: in the order of need, and of the way.

use acceptance::browser::Browser;
use acceptance::{World, both};
use serde_json::json;
use traybook_domain::Kind;
use uuid::Uuid;

both!(a_round_goes_from_farm_to_the_nearest);

fn a_round_goes_from_farm_to_the_nearest(w: World) {
    let officer = w.sign_in("officer");
    let at = |id: Uuid, latitude: f64| {
        let path = format!("/v1/farms/{id}");
        let body = json!({ "latitude": latitude, "longitude": 37.0 });
        officer.patch(&path, "\"1\"", &body).expect(200);
    };
    let due = |farm: Uuid, code: &str, day: &str| {
        let visit = json!({ "farm_id": farm, "officer_id": w.a.id("officer"),
            "started_at": "2026-02-01T07:00:00Z", "code": code });
        let visit = officer.post("/v1/visits", &visit).expect(201).json()["id"].clone();
        let follow = json!({ "farm_id": farm, "visit_id": visit, "action": "look", "due_on": day });
        officer.post("/v1/follow-ups", &follow).expect(201);
    };
    let farm = |code: &str| {
        let body =
            json!({ "code": code, "member_id": w.a.id("member"), "area_id": w.a.id("area") });
        w.make(&w.a, Kind::Farm, body)
    };
    // The most pressing is F1; the nearest to it is W3, then W2; nobody knows where W4 lies.
    let (near, nearer, unknown) = (farm("W2"), farm("W3"), farm("W4"));
    at(w.a.id("farm"), -1.5);
    at(near, -1.6);
    at(nearer, -1.55);
    for (farm, code, day) in [
        (w.a.id("farm"), "V-1", "2026-02-10"),
        (near, "V-2", "2026-02-20"),
        (unknown, "V-3", "2026-02-21"),
        (nearer, "V-4", "2026-02-25"),
    ] {
        due(farm, code, day);
    }
    let mut browser = Browser::sign_in(&w, "officer");
    let order = |page: &str| -> Vec<String> {
        let mut at: Vec<(usize, &str)> = ["F1 ·", "W2 ·", "W3 ·", "W4 ·"]
            .into_iter()
            .filter_map(|code| Some((page.find(code)?, code)))
            .collect();
        at.sort_unstable();
        at.into_iter().map(|(_, code)| code[..2].to_owned()).collect()
    };
    let page = browser.page("/round?order=way");
    assert_eq!(order(&page), ["F1", "W3", "W2", "W4"], "{page}");
    // 0.05 degrees of latitude are 5.6 km.
    assert!(page.contains("5.6 km further"), "{page}");
    assert_eq!(order(&browser.page("/round")), ["F1", "W2", "W4", "W3"]);
}
