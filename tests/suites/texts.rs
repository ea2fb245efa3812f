//! Text messages from the door of carriers to the records, and back to the answer.

use acceptance::world::{SHARED_SECRET, TEXT_SECRET};
use acceptance::{Answer, World, both};
use serde_json::{Value as Json, json};
use std::cell::Cell;
use traybook_app::texts::sign;
use traybook_domain::Kind;
use traybook_domain::value::Instant;

both!(
    a_text_becomes_a_record_and_an_answer,
    a_text_that_comes_again_changes_nothing,
    a_number_counts_once_it_has_returned_its_code,
    what_a_text_made_is_taken_back_for_a_day,
    a_second_amount_is_added_or_stands_instead,
    the_days_work_is_listed_and_done_by_number,
    texts_end_with_stop_and_begin_again,
    limits_of_a_day_hold,
    texts_are_leased_settled_and_tried_again,
    unsigned_and_old_requests_are_refused,
    one_number_in_two_cooperatives_is_asked_once,
    no_number_sees_another_farm,
    what_a_record_forbids_is_the_answer,
    whoever_runs_the_server_sees_how_texts_go,
);

pub(crate) const NUMBER: &str = "+255700000101";
const DAY_MS: i64 = 24 * 60 * 60 * 1_000;

/// A member's telephone.
pub(crate) struct Phone<'w> {
    w: &'w World,
    pub number: String,
    secret: &'static str,
    next: Cell<u32>,
}

/// A signed request.
pub(crate) fn signed(w: &World, secret: &str, path: &str, body: &Json) -> Answer {
    let body = body.to_string().into_bytes();
    let at = w.app.now().0 / 1_000;
    let signature = sign(secret, "msg_1", at, &body).expect("a signature");
    let (at, signature) = (at.to_string(), signature.as_str());
    let headers =
        [("webhook-id", "msg_1"), ("webhook-timestamp", &at), ("webhook-signature", signature)];
    w.nobody.send("POST", path, &headers, Some(("application/json", body)))
}

impl<'w> Phone<'w> {
    pub fn new(w: &'w World, number: &str) -> Self {
        Self { w, number: number.to_owned(), secret: TEXT_SECRET, next: Cell::new(0) }
    }

    /// One whose texts go by another carrier.
    pub fn by(w: &'w World, number: &str, secret: &'static str) -> Self {
        Self { secret, ..Self::new(w, number) }
    }

    /// One that a member has linked and verified.
    pub fn linked(w: &'w World, who: &str) -> Self {
        let phone = Self::new(w, NUMBER);
        phone.link(who);
        phone.verify();
        phone
    }

    pub fn link(&self, who: &str) -> Json {
        self.link_to(who, None)
    }

    /// Linked for one farm of the member.
    pub fn link_to(&self, who: &str, farm: Option<&str>) -> Json {
        let body = json!({
            "number": self.number, "member_id": self.w.a.id(who), "language": "sw",
            "farm_id": farm.map(|farm| self.w.a.id(farm)),
            "consent_on": "2026-03-19", "reminders": true, "cautions": true, "money": true,
        });
        self.w.sign_in("manager").post("/v1/text-numbers", &body).expect(200).json()
    }

    pub fn verify(&self) {
        let code = self.code();
        assert_eq!(self.say(&code).0, "verified");
    }

    /// The code that was sent.
    fn code(&self) -> String {
        let sent = self.fetch();
        let of = |t: &String| {
            t.split(|c: char| !c.is_ascii_digit()).find(|w| w.len() == 4).map(str::to_owned)
        };
        sent.iter().find_map(of).expect("a code")
    }

    fn hand_over(&self, id: &str, text: Json) -> Json {
        let body = json!({ "id": id, "from": self.number, "text": text });
        signed(self.w, self.secret, "/v1/texts/in", &body).expect(200).json()
    }

    /// Sends a text; the outcome and the answer.
    pub fn say(&self, text: &str) -> (String, String) {
        self.next.set(self.next.get() + 1);
        let taken = self.hand_over(&format!("{}-{}", self.number, self.next.get()), json!(text));
        let outcome = taken["outcome"].as_str().expect("an outcome").to_owned();
        (outcome, self.fetch().join(" | "))
    }

    /// All that waits for this telephone.
    pub fn fetch(&self) -> Vec<String> {
        let mut all = Vec::new();
        loop {
            let leased = signed(self.w, self.secret, "/v1/texts/lease", &json!({ "most": 20 }));
            let items = leased.expect(200).items();
            if items.is_empty() {
                return all;
            }
            let settled: Vec<Json> =
                items.iter().map(|i| json!({ "id": i["id"], "state": "sent" })).collect();
            signed(self.w, self.secret, "/v1/texts/settle", &json!({ "items": settled }))
                .expect(200);
            let own = items.iter().filter(|i| i["to"] == json!(self.number));
            all.extend(own.filter_map(|i| i["text"].as_str().map(str::to_owned)));
        }
    }
}

/// Lets time pass.
pub(crate) fn later(w: &World, ms: i64) {
    w.clock.set(Instant(w.app.now().0 + ms));
}

pub(crate) fn records(w: &World, path: &str) -> Vec<Json> {
    w.sign_in("manager").get(path).expect(200).items()
}

pub(crate) fn cows_of_three(w: &World) {
    let heads = json!({ "animal_group_id": w.a.id("cows"), "date": "2026-01-01",
        "reason": "counted", "head": 3 });
    w.make(&w.a, Kind::HeadCount, heads);
}

fn a_text_becomes_a_record_and_an_answer(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    let (outcome, answer) = phone.say("Maziwa 12.5");
    assert_eq!(outcome, "record");
    assert_eq!(answer, "Imeandikwa: maziwa lita 12.5, ng'ombe 3. Si sawa? Jibu KOSA.");
    let milk = records(&w, "/v1/milk-records");
    let found = milk.iter().find(|r| r["litres"] == json!(12.5)).expect("the record");
    assert_eq!(found["animal_group_id"], json!(w.a.id("cows")));
    assert_eq!((&found["date"], &found["animals_in_milk"]), (&json!("2026-03-20"), &json!(3)));
    // The history says that it came by text.
    let id = found["id"].as_str().expect("an id");
    let path = format!("/v1/milk-records/{id}/history");
    let history = w.sign_in("officer").get(&path).expect(200).json();
    assert_eq!(history["items"][0]["origin"], "text", "{history}");
    assert_eq!(phone.say("jui maziwa 3").0, "ask");
    assert_eq!(phone.say("afisa ng'ombe mgonjwa").0, "officer");
    let wish = records(&w, "/v1/correction-requests");
    assert!(wish.iter().any(|r| r["wish"].as_str().is_some_and(|t| t.contains("mgonjwa"))));
}

fn a_text_that_comes_again_changes_nothing(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    let before = records(&w, "/v1/milk-records").len();
    let first = phone.hand_over("one", json!("maziwa 12"));
    assert_eq!((&first["outcome"], &first["is_new"]), (&json!("record"), &json!(true)));
    for _ in 0..3 {
        let again = phone.hand_over("one", json!("maziwa 12"));
        assert_eq!((&again["outcome"], &again["is_new"]), (&json!("record"), &json!(false)));
    }
    // By another carrier, or read twice from a modem: the same sender, time and text.
    let sent = |id: &str| {
        let body = json!({ "id": id, "from": NUMBER, "text": "maziwa jana 11",
            "sent_at": "2026-03-20T08:59:00Z" });
        signed(&w, TEXT_SECRET, "/v1/texts/in", &body).expect(200).json()["is_new"].clone()
    };
    assert_eq!((sent("two"), sent("two_01")), (json!(true), json!(false)));
    assert_eq!(phone.fetch().len(), 2, "one answer each");
    assert_eq!(records(&w, "/v1/milk-records").len(), before + 2);
    // The same words by mistake, soon after.
    assert_eq!(phone.say("maziwa 12").0, "repeat");
    later(&w, 11 * 60 * 1_000);
    assert_eq!(phone.say("maziwa 12").0, "ask", "a second amount");
}

fn a_number_counts_once_it_has_returned_its_code(w: World) {
    let phone = Phone::new(&w, NUMBER);
    assert_eq!(phone.say("maziwa 12").0, "unknown");
    let officer = w.sign_in("officer");
    let body = |number: &str, member: &str| json!({ "number": number, "member_id": w.a.id(member), "consent_on": "2026-03-19" });
    officer.post("/v1/text-numbers", &body(NUMBER, "other_member")).expect(404);
    officer.post("/v1/text-numbers", &body("15500", "member")).expect(422);
    w.sign_in("member").post("/v1/text-numbers", &body(NUMBER, "member")).expect(403);
    let link = officer.post("/v1/text-numbers", &body("0700 000 101", "member")).expect(200).json();
    assert_eq!((&link["number"], &link["state"]), (&json!(NUMBER), &json!("pending")));
    let code = phone.code();
    assert_eq!(phone.say("maziwa 12").0, "unknown", "it does not count yet");
    let wrong = if code == "1234" { "4321" } else { "1234" };
    assert_eq!(phone.say(wrong).0, "refuse");
    assert_eq!(Phone::new(&w, "+255700000102").say(&code).0, "unknown", "from another number");
    assert_eq!(phone.say(&code).0, "verified");
    assert_eq!(phone.say("msaada").0, "answer");
    let listed = officer.get("/v1/text-numbers").expect(200).items();
    assert_eq!((listed.len(), &listed[0]["state"]), (1, &json!("active")));
    // A code that is too old, and three wrong ones.
    officer.post("/v1/text-numbers", &body("+255700000103", "member")).expect(200);
    let late = Phone::new(&w, "+255700000103");
    let code = late.code();
    later(&w, DAY_MS);
    assert_eq!(late.say(&code).0, "refuse");
    // An ended link is a stranger's.
    let officer = w.sign_in("officer");
    let path = format!("/v1/text-numbers/{}", listed[0]["id"].as_str().expect("an id"));
    officer.delete(&path, "").expect(200);
    assert_eq!(phone.say("msaada").0, "unknown");
}

fn what_a_text_made_is_taken_back_for_a_day(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    let live = || records(&w, "/v1/milk-records").len();
    let before = live();
    assert_eq!(phone.say("kosa").0, "nothing-to-undo");
    phone.say("maziwa 12");
    assert_eq!((phone.say("Kosa").0.as_str(), live()), ("undo", before));
    assert_eq!(phone.say("kosa").0, "nothing-to-undo", "once");
    // What it replaced comes back.
    phone.say("maziwa jana 10");
    phone.say("maziwa jana 11");
    assert_eq!(phone.say("2").0, "record");
    let of_day = || {
        let all = records(&w, "/v1/milk-records");
        let all: Vec<Json> = all.into_iter().filter(|r| r["date"] == "2026-03-19").collect();
        all.iter().map(|r| r["litres"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(of_day(), [json!(11)]);
    assert_eq!(phone.say("kosa").0, "undo");
    assert_eq!(of_day(), [json!(10)]);
    // Corrected by somebody since, or a day old.
    phone.say("maziwa juzi 9");
    let all = records(&w, "/v1/milk-records");
    let found = all.iter().find(|r| r["litres"] == json!(9)).expect("the record");
    let path = format!("/v1/milk-records/{}", found["id"].as_str().expect("an id"));
    w.sign_in("manager").patch(&path, "\"1\"", &json!({ "litres": 8 })).expect(200);
    assert_eq!(phone.say("kosa").0, "nothing-to-undo");
    phone.say("maziwa 12");
    later(&w, DAY_MS + 1);
    assert_eq!(phone.say("kosa").0, "nothing-to-undo");
}

fn a_second_amount_is_added_or_stands_instead(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    phone.say("maziwa 6");
    let (outcome, question) = phone.say("maziwa 5");
    assert_eq!(outcome, "ask");
    assert!(question.contains("11"), "{question}");
    assert_eq!(phone.say("1").0, "record");
    let litres = |w: &World| {
        let all = records(w, "/v1/milk-records");
        let all: Vec<Json> = all.into_iter().filter(|r| r["date"] == "2026-03-20").collect();
        all.iter().map(|r| r["litres"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(litres(&w), [json!(11)]);
    assert_eq!(phone.say("ongeza maziwa 1").0, "record");
    assert_eq!(litres(&w), [json!(12)]);
}

fn the_days_work_is_listed_and_done_by_number(w: World) {
    crate::work::farm(&w, "T1");
    let phone = Phone::linked(&w, "member");
    assert_eq!(phone.say("kazi").0, "ask", "the member has two farms");
    let (outcome, list) = phone.say("kazi T1");
    assert_eq!(outcome, "answer");
    assert!(list.contains("loweka"), "{list}");
    let at = list.find("loweka").expect("a soak");
    let number = list[..at].trim_end().rsplit([' ', ':', ';']).next().expect("a number").to_owned();
    let (outcome, echo) = phone.say(&format!("tayari {number} kilo 2.5"));
    assert_eq!(outcome, "record", "{list}: {echo}");
    assert!(echo.contains("T1") && echo.contains("2.5"), "{echo}");
    let soaks = records(&w, "/v1/batch-events");
    let soak = soaks.iter().find(|e| e["kg"] == json!(2.5)).expect("the soak");
    assert_eq!(soak["event"], "soaked");
    let batches = records(&w, "/v1/batches").len();
    assert_eq!(phone.say("kosa").0, "undo");
    assert_eq!(records(&w, "/v1/batches").len(), batches - 1, "the batch goes with its soak");
    assert_eq!(phone.say("tayari 99").0, "ask");
}

fn texts_end_with_stop_and_begin_again(w: World) {
    let phone = Phone::linked(&w, "member");
    assert_eq!(phone.say("stop").0, "stop");
    let (outcome, again) = phone.say("STOP");
    assert_eq!((outcome.as_str(), again.as_str()), ("stop", ""), "it is confirmed once");
    assert_eq!(phone.say("msaada").0, "answer", "own texts are answered");
    assert_eq!(phone.say("anza").0, "start");
    assert_eq!(phone.say("english").0, "language");
    assert!(phone.say("help").1.starts_with("Write:"));
}

fn limits_of_a_day_hold(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    let mut outcomes = Vec::new();
    for n in 0..22 {
        let day = 14 + n % 7;
        outcomes.push(phone.say(&format!("ongeza maziwa {day}/3 {}.{n}", 1 + n % 3)).0);
        if outcomes.last().is_some_and(|o| o == "ask") {
            outcomes.pop();
            outcomes.push(phone.say("ndiyo").0);
        }
    }
    let made = outcomes.iter().filter(|o| *o == "record").count();
    assert_eq!(made, 20, "{outcomes:?}");
    assert_eq!(outcomes.last().map(String::as_str), Some("too-many"));
    for _ in 0..20 {
        phone.say("msaada");
    }
    assert_eq!(phone.say("msaada").1, "", "thirty answers a day");
    later(&w, DAY_MS);
    assert_ne!(phone.say("msaada").1, "");
    // A stranger's machine hears three answers.
    let stranger = Phone::new(&w, "+255700000999");
    let answers: Vec<bool> = (0..5).map(|_| !stranger.say("zawadi").1.is_empty()).collect();
    assert_eq!(answers, [true, true, true, false, false]);
}

fn texts_are_leased_settled_and_tried_again(w: World) {
    let phone = Phone::linked(&w, "member");
    phone.hand_over("a", json!("msaada"));
    later(&w, 1_000);
    phone.hand_over("b", json!("kiswahili"));
    let lease =
        || signed(&w, TEXT_SECRET, "/v1/texts/lease", &json!({ "most": 5 })).expect(200).items();
    let first = lease();
    assert_eq!(first.len(), 1, "one after the other to one number");
    assert!(lease().is_empty(), "it is leased");
    let settle = |id: &Json, state: &str| {
        let body = json!({ "items": [{ "id": id, "state": state }] });
        signed(&w, TEXT_SECRET, "/v1/texts/settle", &body).expect(200).json()["settled"].clone()
    };
    // Nobody settled it: handed out again after a while.
    later(&w, 120_000);
    let again = lease();
    assert_eq!(again[0]["id"], first[0]["id"]);
    assert_eq!(settle(&first[0]["id"], "failed"), json!(1));
    assert_eq!(settle(&first[0]["id"], "sent"), json!(0), "it is leased no more");
    // What waits for its next try holds nobody up.
    let second = lease();
    assert_ne!(second[0]["id"], first[0]["id"]);
    assert_eq!(settle(&second[0]["id"], "sent"), json!(1));
    assert!(lease().is_empty());
    later(&w, 10 * 60_000);
    let third = lease();
    assert_eq!(third[0]["id"], first[0]["id"]);
    assert_eq!(settle(&third[0]["id"], "refused"), json!(1));
    // Answers of six hours ago are of no use.
    phone.hand_over("c", json!("msaada"));
    later(&w, 6 * 60 * 60 * 1_000);
    assert!(lease().is_empty());
    signed(&w, TEXT_SECRET, "/v1/texts/lease", &json!({ "most": 0 })).expect(422);
}

fn unsigned_and_old_requests_are_refused(w: World) {
    let body = json!({ "id": "1", "from": NUMBER, "text": "maziwa 12" });
    w.nobody.post("/v1/texts/in", &body).expect(401);
    w.sign_in("manager").post("/v1/texts/in", &body).expect(401);
    let other = "whsec_PPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPP";
    signed(&w, other, "/v1/texts/in", &body).expect(401);
    signed(&w, other, "/v1/texts/lease", &json!({ "most": 1 })).expect(401);
    let bytes = body.to_string().into_bytes();
    let old = w.app.now().0 / 1_000 - 301;
    let signature = sign(TEXT_SECRET, "m", old, &bytes).expect("a signature");
    let old = old.to_string();
    let headers = [
        ("webhook-id", "m"),
        ("webhook-timestamp", &old),
        ("webhook-signature", signature.as_str()),
    ];
    w.nobody.send("POST", "/v1/texts/in", &headers, Some(("application/json", bytes))).expect(401);
    signed(&w, TEXT_SECRET, "/v1/texts/in", &json!({ "id": "", "from": NUMBER })).expect(422);
    signed(&w, TEXT_SECRET, "/v1/texts/in", &json!({ "from": NUMBER })).expect(422);
    signed(&w, TEXT_SECRET, "/v1/texts/in", &body).expect(200);
}

fn one_number_in_two_cooperatives_is_asked_once(w: World) {
    let phone = Phone { secret: SHARED_SECRET, ..Phone::linked(&w, "member") };
    let manager = w.sign_in_as("manager.b@coop.example");
    let body =
        json!({ "number": NUMBER, "member_id": w.b.id("member"), "consent_on": "2026-03-19" });
    manager.post("/v1/text-numbers", &body).expect(200);
    phone.verify_in_b(&w);
    let heads = json!({ "animal_group_id": w.b.id("cows"), "date": "2026-01-01",
        "reason": "counted", "head": 3 });
    w.make(&w.b, Kind::HeadCount, heads);
    later(&w, 12 * 60 * 60 * 1_000 - 5 * 60_000);
    assert_eq!(phone.say("12").0, "ask");
    let (outcome, question) = phone.say("maziwa 12.5");
    assert_eq!(outcome, "ask");
    assert!(question.contains("1 Co-operative a 2 Co-operative b"), "{question}");
    assert_eq!(phone.say("maziwa jana 11").0, "ask", "a second text waits too");
    assert_eq!(phone.say("3").0, "ask", "there is no third");
    // The choice comes after midnight: what waits is of the days on which it was said.
    later(&w, 30 * 60_000);
    let (outcome, echoes) = phone.say("2");
    assert_eq!(outcome, "record");
    assert!(echoes.contains("12.5") && echoes.contains("11"), "{echoes}");
    let manager = w.sign_in_as("manager.b@coop.example");
    let of_b = || manager.get("/v1/milk-records").expect(200).items();
    let days: Vec<(Json, Json)> =
        of_b().iter().map(|r| (r["date"].clone(), r["litres"].clone())).collect();
    for wanted in [("2026-03-20", json!(12.5)), ("2026-03-19", json!(11))] {
        assert!(days.contains(&(json!(wanted.0), wanted.1)), "{days:?}");
    }
    assert!(phone.say("help").1.starts_with("Write:"), "the second one, in its language");
    // It comes again after a crash: nothing twice.
    let before = of_b().len();
    let again = phone.hand_over(&format!("{}-{}", phone.number, phone.next.get() - 1), json!("2"));
    assert_eq!((&again["is_new"], of_b().len()), (&json!(false), before));
    // STOP is for both.
    assert_eq!(phone.say("stop").0, "stop");
    for by in ["manager.a@coop.example", "manager.b@coop.example"] {
        let listed = w.sign_in_as(by).get("/v1/text-numbers").expect(200).items();
        let states: Vec<&Json> = listed.iter().map(|n| &n["state"]).collect();
        assert_eq!(states, [&json!("stopped")], "{by}");
    }
}

impl Phone<'_> {
    /// The code of the second co-operative: the first one's link is verified already.
    pub fn verify_in_b(&self, w: &World) {
        let code = self.code();
        let only_b = json!({ "id": "b", "from": self.number, "text": code });
        signed(w, self.secret, "/v1/texts/in", &only_b).expect(200);
        self.fetch();
    }
}

fn no_number_sees_another_farm(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    for text in ["kazi F2", "F2 maziwa 12", "maziwa F2-cows 12", "vuna B99 11"] {
        let (outcome, answer) = phone.say(text);
        assert!(
            outcome == "ask" || outcome == "unclear" || outcome == "answer",
            "{text}: {answer}"
        );
        assert!(outcome != "answer" || !answer.contains("F2"), "{text}: {answer}");
    }
    let before = records(&w, "/v1/milk-records");
    assert!(before.iter().all(|r| r["animal_group_id"] != json!(w.a.id("other_cows"))));
    // A member who has left is nobody's.
    let left = json!({ "left_on": "2026-03-20" });
    let path = format!("/v1/members/{}", w.a.id("member"));
    w.sign_in("manager").patch(&path, "\"1\"", &left).expect(200);
    assert_eq!(phone.say("msaada").0, "unknown");
}

fn what_a_record_forbids_is_the_answer(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    let before = records(&w, "/v1/milk-records").len();
    assert_eq!(phone.say("maziwa 301").0, "refuse");
    // A day before the flock is known, too many eggs for the hens: nothing of the text is kept.
    assert_eq!(phone.say("maziwa 12 mayai 40").0, "ask");
    assert_eq!(records(&w, "/v1/milk-records").len(), before);
}

fn whoever_runs_the_server_sees_how_texts_go(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    phone.say("maziwa 12.5");
    phone.say("jui maziwa 3");
    phone.hand_over("later", json!("msaada"));
    let metrics = || w.nobody.get("/metrics").expect(200).text;
    let text = metrics();
    // The code came back, one record, one question, one answer; of the four answers and the code one
    // waits.
    for line in [
        "traybook_texts_came{outcome=\"record\"} 1",
        "traybook_texts_came{outcome=\"verified\"} 1",
        "traybook_texts_out{state=\"sent\"} 4",
        "traybook_texts_out{state=\"waiting\"} 1",
        "traybook_texts_segments 5",
        "traybook_texts_waiting{carrier=\"office\"} 1",
    ] {
        assert!(text.lines().any(|l| l == line), "{line}: {text}");
    }
    let at =
        format!("traybook_carrier_heard_seconds{{carrier=\"office\"}} {}", w.app.now().0 / 1_000);
    assert!(text.contains(&at), "{text}");
    assert!(!text.contains(NUMBER), "no number is named");
    let state = |w: &World| w.sign_in("operator").get("/v1/server").expect(200).json();
    let waits =
        |state: &Json| state["worries"].as_array().expect("worries").contains(&json!("texts_wait"));
    let before = state(&w);
    let office =
        before["carriers"].as_array().and_then(|c| c.iter().find(|c| c["name"] == "office"));
    assert_eq!(office.expect("the carrier")["waiting"], 1, "{before}");
    assert!(!waits(&before));
    later(&w, 15 * 60_000 + 1);
    assert!(waits(&state(&w)), "nobody fetched it");
    let page = acceptance::browser::Browser::sign_in(&w, "operator").page("/server");
    assert!(page.contains("office") && page.contains("1 text waits"), "{page}");
    assert_eq!(phone.fetch().len(), 1);
    assert!(!waits(&state(&w)));
}
