//! What was released stays: within 1.x the interface breaks nothing of an earlier version
//! (semver.org, 2.0.0, rule 8). What a client sends must still be taken, and what it reads must still
//! be there.

use serde_json::{Value as Json, json};
use std::collections::BTreeSet;
use std::path::PathBuf;
use traybook_http::openapi;

/// Which way a schema goes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    /// From the client: what was taken must be taken.
    In,
    /// To the client: what was given must be given.
    Out,
}

/// Compares two documents.
struct Compared<'a> {
    old: &'a Json,
    new: &'a Json,
    /// Pairs of references that were compared: some schemas hold themselves.
    seen: BTreeSet<(String, String, bool)>,
    broken: Vec<String>,
    /// Operations and members that were looked at.
    looked: usize,
}

fn resolved<'d>(document: &'d Json, schema: &'d Json) -> &'d Json {
    let to = schema["$ref"].as_str().and_then(|to| to.strip_prefix('#'));
    to.and_then(|to| document.pointer(to)).unwrap_or(schema)
}

/// Names in a list of a schema.
fn names(of: &Json) -> BTreeSet<String> {
    match of {
        Json::Array(all) => all.iter().map(Json::to_string).collect(),
        Json::Null => BTreeSet::new(),
        one => BTreeSet::from([one.to_string()]),
    }
}

impl<'a> Compared<'a> {
    fn of(old: &'a Json, new: &'a Json) -> Self {
        let mut compared = Self { old, new, seen: BTreeSet::new(), broken: Vec::new(), looked: 0 };
        for (path, all) in old["paths"].as_object().expect("paths") {
            for (method, then) in all.as_object().expect("operations") {
                compared.operation(&format!("{method} {path}"), then, &new["paths"][path][method]);
            }
        }
        compared
    }

    fn breaks(&mut self, at: &str, what: &str) {
        self.broken.push(format!("{at}: {what}"));
    }

    fn operation(&mut self, at: &str, then: &'a Json, now: &'a Json) {
        self.looked += 1;
        if now.is_null() {
            return self.breaks(at, "is gone");
        }
        if then["operationId"] != now["operationId"] {
            self.breaks(at, "has another id");
        }
        self.parameters(at, then, now);
        let (was, is) = (&then["requestBody"], &now["requestBody"]);
        if is["required"] == true && was["required"] != true {
            self.breaks(at, "needs a body");
        }
        self.contents(at, (&was["content"], &is["content"]), Way::In);
        for (status, was) in then["responses"].as_object().expect("answers") {
            let is = resolved(self.new, &now["responses"][status]);
            if status.starts_with('2') && is.is_null() {
                self.breaks(at, &format!("no longer answers {status}"));
            } else if !is.is_null() {
                let was = resolved(self.old, was);
                self.contents(
                    &format!("{at} {status}"),
                    (&was["content"], &is["content"]),
                    Way::Out,
                );
            }
        }
    }

    fn parameters(&mut self, at: &str, then: &'a Json, now: &'a Json) {
        let list = |document: &'a Json, of: &'a Json| -> Vec<&'a Json> {
            let all = of["parameters"].as_array().into_iter().flatten();
            all.map(|one| resolved(document, one)).collect()
        };
        let (was, is) = (list(self.old, then), list(self.new, now));
        let same = |a: &Json, b: &Json| a["name"] == b["name"] && a["in"] == b["in"];
        for old in &was {
            let at = format!("{at} parameter {}", old["name"]);
            match is.iter().find(|new| same(old, new)) {
                None => self.breaks(&at, "is gone"),
                Some(new) => {
                    if new["required"] == true && old["required"] != true {
                        self.breaks(&at, "is needed now");
                    }
                    self.schema(&at, (&old["schema"], &new["schema"]), Way::In);
                }
            }
        }
        for new in is.iter().filter(|new| new["required"] == true) {
            if !was.iter().any(|old| same(old, new)) {
                self.breaks(at, &format!("needs parameter {}", new["name"]));
            }
        }
    }

    fn contents(&mut self, at: &str, (then, now): (&'a Json, &'a Json), way: Way) {
        for (media, was) in then.as_object().into_iter().flatten() {
            match now.get(media) {
                None => self.breaks(at, &format!("has no {media}")),
                Some(is) => self.schema(at, (&was["schema"], &is["schema"]), way),
            }
        }
    }

    fn schema(&mut self, at: &str, (then, now): (&'a Json, &'a Json), way: Way) {
        let name = |of: &Json| of["$ref"].as_str().map(str::to_owned);
        if let (Some(was), Some(is)) = (name(then), name(now))
            && !self.seen.insert((was, is, way == Way::In))
        {
            return;
        }
        let (then, now) = (resolved(self.old, then), resolved(self.new, now));
        self.looked += 1;
        self.kinds(at, then, now, way);
        self.choices(at, then, now, way);
        self.bounds(at, then, now, way);
        self.members(at, then, now, way);
        if !then["items"].is_null() {
            self.schema(&format!("{at}[]"), (&then["items"], &now["items"]), way);
        }
        for several in ["oneOf", "anyOf", "allOf"] {
            let list = |of: &'a Json| of[several].as_array().map(Vec::as_slice).unwrap_or_default();
            let (was, is) = (list(then), list(now));
            if is.len() < was.len() && way == Way::In {
                self.breaks(at, "takes fewer forms");
            }
            for (n, pair) in was.iter().zip(is).enumerate() {
                self.schema(&format!("{at} {several} {n}"), pair, way);
            }
        }
    }

    /// What is sent may be of more types than before, what is read of fewer.
    fn kinds(&mut self, at: &str, then: &Json, now: &Json, way: Way) {
        let (was, is) = (names(&then["type"]), names(&now["type"]));
        let fits = match way {
            Way::In => was.is_subset(&is) || is.is_empty(),
            Way::Out => is.is_subset(&was) && is.is_empty() == was.is_empty() || was.is_empty(),
        };
        // A whole number is a number.
        let is_wider = is.contains("\"number\"") && was.contains("\"integer\"");
        let fits = fits || (way == Way::In && is_wider);
        if !fits {
            self.breaks(at, &format!("was {was:?}, is {is:?}"));
        }
        if then["format"] != now["format"] && !then["format"].is_null() {
            self.breaks(at, &format!("was {}, is {}", then["format"], now["format"]));
        }
    }

    /// A choice may grow. A client passes over an answer that it does not know, as `API.md` says.
    fn choices(&mut self, at: &str, then: &Json, now: &Json, way: Way) {
        let (was, is) = (names(&then["enum"]), names(&now["enum"]));
        if way == Way::In && was.is_empty() && !is.is_empty() {
            self.breaks(at, "takes a few words alone");
        }
        if !is.is_empty() {
            for gone in was.difference(&is) {
                self.breaks(at, &format!("no longer has {gone}"));
            }
        }
    }

    /// What is sent may not be bounded more closely than before.
    fn bounds(&mut self, at: &str, then: &Json, now: &Json, way: Way) {
        if way == Way::Out {
            return;
        }
        for (name, is_most) in [
            ("maximum", true),
            ("maxLength", true),
            ("maxItems", true),
            ("minimum", false),
            ("minLength", false),
            ("minItems", false),
        ] {
            let (was, is) = (then[name].as_f64(), now[name].as_f64());
            let is_closer = match (was, is) {
                (_, None) => false,
                (None, Some(is)) => is_most || is > 0.0,
                (Some(was), Some(is)) => {
                    if is_most {
                        is < was
                    } else {
                        is > was
                    }
                }
            };
            if is_closer {
                self.breaks(at, &format!("{name} was {was:?}, is {is:?}"));
            }
        }
    }

    fn members(&mut self, at: &str, then: &'a Json, now: &'a Json, way: Way) {
        let (needed, needed_now) = (names(&then["required"]), names(&now["required"]));
        let (more, fewer) = match way {
            Way::In => (needed_now.difference(&needed), "is needed now"),
            Way::Out => (needed.difference(&needed_now), "may be missing now"),
        };
        let broken: Vec<String> = more.cloned().collect();
        for name in broken {
            self.breaks(&format!("{at}.{name}"), fewer);
        }
        for (name, was) in then["properties"].as_object().into_iter().flatten() {
            let at = format!("{at}.{name}");
            match now["properties"].get(name) {
                None => self.breaks(&at, "is gone"),
                Some(is) => self.schema(&at, (was, is), way),
            }
        }
    }
}

fn now() -> Json {
    serde_json::from_str(&openapi::text().expect("a sound document")).expect("JSON")
}

#[test]
fn nothing_that_was_released_is_broken() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../openapi/released");
    let mut versions = 0;
    for entry in std::fs::read_dir(folder).expect("released versions") {
        let path = entry.expect("an entry").path();
        let old = std::fs::read_to_string(&path).expect("a document");
        let old: Json = serde_json::from_str(&old).expect("JSON");
        let version = old["info"]["version"].as_str().expect("a version").to_owned();
        assert_eq!(path.file_stem().and_then(|s| s.to_str()), Some(version.as_str()));
        let now = now();
        let compared = Compared::of(&old, &now);
        assert!(compared.looked > 2_000, "{} places were compared", compared.looked);
        assert_eq!(compared.broken, Vec::<String>::new(), "against {version}");
        versions += 1;
    }
    assert!(versions > 0);
}

/// What is broken on purpose is seen.
#[test]
fn a_break_is_seen() {
    let old = now();
    let broken = |change: &dyn Fn(&mut Json)| {
        let mut new = old.clone();
        change(&mut new);
        Compared::of(&old, &new).broken
    };
    assert_eq!(broken(&|_| {}), Vec::<String>::new());
    let member = |d: &mut Json| {
        let milk = &mut d["components"]["schemas"]["MilkRecord"];
        milk["properties"].as_object_mut().expect("members").remove("litres");
    };
    let needed = |d: &mut Json| {
        let milk = &mut d["components"]["schemas"]["NewMilkRecord"];
        milk["required"].as_array_mut().expect("names").push(json!("note"));
    };
    let choice = |d: &mut Json| {
        let class = "/components/schemas/NewAnimalGroup/properties/animal_class/enum";
        d.pointer_mut(class).and_then(Json::as_array_mut).expect("a choice").pop();
    };
    let kind = |d: &mut Json| {
        d["components"]["schemas"]["NewMilkRecord"]["properties"]["litres"]["type"] =
            json!("string");
    };
    let gone = |d: &mut Json| {
        d["paths"].as_object_mut().expect("paths").remove("/v1/work");
    };
    let parameter = |d: &mut Json| {
        let all = d.pointer_mut("/paths/~1v1~1work/get/parameters");
        let all = all.and_then(Json::as_array_mut).expect("parameters");
        all.push(json!({ "name": "x", "in": "query", "required": true, "schema": {} }));
    };
    assert!(!broken(&member).is_empty(), "a member of an answer");
    assert!(!broken(&needed).is_empty(), "a member that is needed");
    assert!(!broken(&choice).is_empty(), "a choice");
    assert!(!broken(&kind).is_empty(), "a type");
    assert!(!broken(&gone).is_empty(), "an operation");
    assert!(!broken(&parameter).is_empty(), "a parameter");
}
