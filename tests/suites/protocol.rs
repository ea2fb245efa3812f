//! HTTP as its standards say.

use acceptance::{World, both};
use serde_json::json;
use traybook_http::ops;

both!(
    unknown_methods_get_405_with_allow,
    errors_are_problems,
    bodies_have_limits_and_types,
    answers_carry_security_headers,
    documentation_is_served,
    health_and_metrics_answer
);

fn unknown_methods_get_405_with_allow(w: World) {
    let paths: std::collections::BTreeSet<String> =
        ops::all().into_iter().map(|op| op.path).collect();
    for path in paths {
        let concrete = path.replace("{id}", "x").replace("{code}", "invalid");
        let answer = w.nobody.send("TRACE", &concrete, &[], None).expect(405);
        let allow = answer.header("allow").expect("Allow").to_owned();
        let known = ops::all().into_iter().filter(|op| op.path == path);
        for op in known {
            assert!(allow.contains(op.method.text()), "{path}: {allow}");
        }
        assert_eq!(answer.json()["code"], "method_not_allowed");
    }
    let head = w.nobody.send("HEAD", "/openapi.json", &[], None).expect(200);
    assert!(head.text.is_empty());
    let options = w.nobody.send("OPTIONS", "/v1/farms", &[], None).expect(204);
    assert_eq!(options.header("allow"), Some("GET, POST, HEAD, OPTIONS"));
}

fn errors_are_problems(w: World) {
    let manager = w.sign_in("manager");
    let post = |media: &str, body: &[u8]| {
        manager.send("POST", "/v1/farms", &[], Some((media, body.to_vec())))
    };
    let cases = [
        (manager.get("/nothing/here"), 404, "not_found"),
        (manager.get("/v1/farms/not-an-id"), 404, "not_found"),
        (manager.get("/v1/farms/%F0%28"), 404, "not_found"),
        (manager.get("/v1/farms?limit=%FF"), 422, "invalid"),
        (post("application/json", b"{\"code\":"), 400, "malformed"),
        (post("application/json", b"[]"), 422, "invalid"),
        (post("application/json", b"{} {}"), 400, "malformed"),
        (post("application/json", b"\xFF"), 400, "malformed"),
        (post("text/plain", b"{}"), 415, "media_type"),
        (manager.send("GET", "/v1/farms", &[("accept", "image/png")], None), 406, "not_acceptable"),
        (w.nobody.get("/v1/farms"), 401, "unauthenticated"),
    ];
    for (answer, status, code) in cases {
        assert_eq!(answer.status, status, "{}", answer.text);
        assert_eq!(answer.header("content-type"), Some("application/problem+json"), "{code}");
        let json = answer.json();
        assert_eq!((&json["code"], &json["status"]), (&json!(code), &json!(status)));
        assert_eq!(json["request_id"].as_str(), answer.header("x-request-id"));
        let explained = w.nobody.get(json["type"].as_str().expect("type")).expect(200);
        assert!(explained.text.len() > 20);
    }
    let challenge = w.nobody.get("/v1/farms");
    assert_eq!(challenge.header("www-authenticate"), Some("Bearer"));
}

fn bodies_have_limits_and_types(w: World) {
    let manager = w.sign_in("manager");
    let large = format!("{{\"code\":\"{}\"}}", "x".repeat(300_000));
    let body = Some(("application/json", large.into_bytes()));
    let refused = manager.send("POST", "/v1/farms", &[], body).expect(413);
    assert_eq!(refused.json()["code"], "too_large");
    let refused = manager.post("/v1/session/refresh", &json!({ "refresh": "x" })).expect(422);
    assert_eq!(refused.errors()[0].1, "shape");
}

fn answers_carry_security_headers(w: World) {
    let headers = [
        "x-content-type-options",
        "x-frame-options",
        "referrer-policy",
        "content-security-policy",
        "cross-origin-opener-policy",
        "x-request-id",
    ];
    let manager = w.sign_in("manager");
    for path in ["/v1/farms", "/nothing", "/health/live"] {
        let answer = manager.get(path);
        for name in headers {
            assert!(answer.header(name).is_some(), "{path} lacks {name}");
        }
    }
    let own = [("x-request-id", "device-7-request-12")];
    let answer = manager.send("GET", "/v1/farms", &own, None);
    assert_eq!(answer.header("x-request-id"), Some("device-7-request-12"));
    let forged = [("x-request-id", "a b")];
    assert_ne!(manager.send("GET", "/v1/farms", &forged, None).header("x-request-id"), Some("a b"));
}

fn documentation_is_served(w: World) {
    let document = w.nobody.get("/openapi.json").expect(200);
    assert_eq!(document.json()["openapi"], "3.1.0");
    assert!(w.nobody.get("/docs/").expect(200).text.contains("swagger-ui"));
    // Served from the binary: nothing is fetched from elsewhere.
    assert!(!w.nobody.get("/docs/").text.contains("https://"));
}

fn health_and_metrics_answer(w: World) {
    assert_eq!(w.nobody.get("/health/live").expect(200).text, "alive\n");
    assert_eq!(w.nobody.get("/health/ready").expect(200).text, "ready\n");
    w.nobody.get("/v1/farms").expect(401);
    let metrics = w.nobody.get("/metrics").expect(200).text;
    assert!(metrics.contains("operation=\"list_farms\",status=\"401\""));
    w.nobody.send("GET", "/metrics", &[("x-forwarded-for", "192.0.2.1")], None).expect(404);
}
