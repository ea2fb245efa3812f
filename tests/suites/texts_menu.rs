//! Menus over USSD, in both styles of aggregators: all inputs joined, and the last one only.

use crate::texts::{NUMBER, Phone, cows_of_three, later, records, signed};
use acceptance::world::{SHARED_SECRET, TEXT_SECRET};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::ColumnType;
use traybook_texts::gsm;
use traybook_texts::menu::MENU_SEPTETS;

both!(
    joined_inputs_make_one_record,
    last_inputs_make_one_record,
    a_session_that_is_cut_leaves_nothing,
    questions_are_asked_in_the_menu,
    the_days_work_is_done_by_its_number,
    who_may_call_and_what_is_refused,
    an_open_question_by_text_stays_open,
);

/// A session of a telephone.
struct Dial<'w> {
    w: &'w World,
    number: &'static str,
    session: &'static str,
    is_joined: bool,
    typed: Vec<String>,
}

impl<'w> Dial<'w> {
    /// A session that begins; what its first step shows.
    fn begin(w: &'w World, session: &'static str, is_joined: bool) -> (Self, String) {
        let dial = Self { w, number: NUMBER, session, is_joined, typed: Vec::new() };
        let (text, ends) = dial.send("");
        assert!(!ends, "{text}");
        (dial, text)
    }

    fn send(&self, input: &str) -> (String, bool) {
        let body = json!({ "session": self.session, "from": self.number, "input": input,
            "is_joined": self.is_joined });
        let said = signed(self.w, TEXT_SECRET, "/v1/texts/menu", &body).expect(200).json();
        let text = said["text"].as_str().expect("a text").to_owned();
        assert!(gsm::septets(&text).is_some_and(|n| n <= MENU_SEPTETS), "{text}");
        (text, said["ends"] == json!(true))
    }

    /// Types something, some seconds after the step was shown.
    fn step(&mut self, input: &str) -> (String, bool) {
        later(self.w, 5_000);
        self.typed.push(input.to_owned());
        self.again()
    }

    /// The same request once more.
    fn again(&self) -> (String, bool) {
        match self.is_joined {
            true => self.send(&self.typed.join("*")),
            false => self.send(self.typed.last().map_or("", String::as_str)),
        }
    }

    fn goes_on(&mut self, input: &str) -> String {
        let (text, ends) = self.step(input);
        assert!(!ends, "{input}: {text}");
        text
    }

    fn ends(&mut self, input: &str) -> String {
        let (text, ends) = self.step(input);
        assert!(ends, "{input}: {text}");
        text
    }
}

fn milk(w: &World) -> usize {
    records(w, "/v1/milk-records?limit=200").len()
}

fn menus(w: &World) -> usize {
    let sql = "SELECT session FROM text_menus";
    w.db.connect().rows(sql, &[], &[ColumnType::Text]).expect("sessions").len()
}

fn one_record(w: &World, is_joined: bool) {
    cows_of_three(w);
    let phone = Phone::linked(w, "member");
    let before = milk(w);
    let (mut dial, first) = Dial::begin(w, "s1", is_joined);
    assert!(first.starts_with("1 Maziwa\n2 Mayai"), "{first}");
    let asked = dial.goes_on("1");
    assert!(asked.contains("Lita"), "{asked}");
    assert_eq!(dial.again(), (asked, false), "the same request, the same answer");
    let draft = dial.goes_on("12.5");
    assert_eq!(draft, "Andika: maziwa lita 12.5, ng'ombe 3.\n1 Ndiyo\n2 Hapana");
    assert_eq!(dial.again(), (draft, false));
    assert_eq!(milk(w), before, "nothing is written before the yes");
    let echo = dial.ends("1");
    assert_eq!(echo, "Imeandikwa: maziwa lita 12.5, ng'ombe 3. Si sawa? Jibu KOSA.");
    assert_eq!(milk(w), before + 1);
    // The aggregator sends the yes again, soon and later.
    assert_eq!(dial.again(), (echo.clone(), true));
    later(w, 60_000);
    assert_eq!(dial.again(), (echo, true));
    assert_eq!(milk(w), before + 1);
    assert_eq!(phone.fetch(), [""; 0], "no text costs anything");
    // It is a record like that of a text: taken back by one.
    assert_eq!((phone.say("kosa").0.as_str(), milk(w)), ("undo", before));
}

fn joined_inputs_make_one_record(w: World) {
    one_record(&w, true);
    // Dialled in one go, and what the server forgot meanwhile.
    let before = milk(&w);
    let dial = |session: &str, input: &str| {
        let body = json!({ "session": session, "from": NUMBER, "input": input, "is_joined": true });
        signed(&w, TEXT_SECRET, "/v1/texts/menu", &body).expect(200).json()
    };
    assert_eq!(dial("s2", "1*11")["ends"], false);
    assert_eq!(dial("s2", "1*11*1")["ends"], true);
    assert_eq!(milk(&w), before + 1);
    // Back to another branch.
    assert_eq!(dial("s3", "1*9")["ends"], false);
    let other = dial("s3", "2")["text"].as_str().expect("a text").to_owned();
    assert!(other.contains("Mayai"), "{other}");
    assert_eq!(milk(&w), before + 1);
}

fn last_inputs_make_one_record(w: World) {
    one_record(&w, false);
}

fn a_session_that_is_cut_leaves_nothing(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    let before = milk(&w);
    for is_joined in [false, true] {
        let session = if is_joined { "cut-a" } else { "cut-b" };
        let (mut dial, _) = Dial::begin(&w, session, is_joined);
        dial.goes_on("1");
        dial.goes_on("12.5");
    }
    assert_eq!(milk(&w), before);
    assert_eq!(menus(&w), 1, "a number has one session");
    assert_eq!(phone.say("kosa").0, "nothing-to-undo");
    // Nobody goes on: the session is forgotten, and its yes says nothing any more.
    later(&w, 11 * 60 * 1_000);
    w.wait(w.app.forget_texts()).expect("forgotten");
    assert_eq!(menus(&w), 0);
    let (text, ends) =
        Dial { w: &w, number: NUMBER, session: "cut-b", is_joined: false, typed: Vec::new() }
            .send("1");
    assert!(!ends && text.starts_with("1 Maziwa"), "{text}");
    assert_eq!(milk(&w), before);
    // No.
    let (mut dial, _) = Dial::begin(&w, "no", false);
    dial.goes_on("1");
    dial.goes_on("12.5");
    assert_eq!(dial.ends("2"), "Sawa, hakuna kilichoandikwa.");
    assert_eq!(milk(&w), before);
    // Somebody who types for ever.
    let (mut dial, _) = Dial::begin(&w, "long", false);
    let mut over = false;
    for n in 0..30 {
        over = dial.step(&format!("7{n}")).1;
        if over {
            break;
        }
    }
    assert!(over, "a session has so many steps");
}

fn questions_are_asked_in_the_menu(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    phone.say("maziwa 6");
    let (mut dial, _) = Dial::begin(&w, "again", true);
    dial.goes_on("1");
    let question = dial.goes_on("5");
    assert!(question.contains("11"), "add or instead: {question}");
    let draft = dial.goes_on("1");
    assert!(draft.contains("11"), "{draft}");
    dial.ends("1");
    let today: Vec<Json> = records(&w, "/v1/milk-records")
        .into_iter()
        .filter(|r| r["date"] == "2026-03-20")
        .map(|r| r["litres"].clone())
        .collect();
    assert_eq!(today, [json!(11)]);
    // The last record is taken back after a yes.
    let (mut dial, _) = Dial::begin(&w, "undo", false);
    let draft = dial.goes_on("9");
    assert!(draft.starts_with("Futa:"), "{draft}");
    dial.ends("1");
    let (mut dial, _) = Dial::begin(&w, "undo-again", false);
    dial.ends("9");
    // What can not be is refused.
    let before = milk(&w);
    let (mut dial, _) = Dial::begin(&w, "much", false);
    dial.goes_on("1");
    dial.ends("301");
    assert_eq!(milk(&w), before);
    let (mut dial, _) = Dial::begin(&w, "wrong", false);
    assert!(dial.goes_on("77").starts_with("Hiyo haipo."));
}

fn the_days_work_is_done_by_its_number(w: World) {
    crate::work::farm(&w, "T1");
    Phone::linked(&w, "member");
    let (mut dial, _) = Dial::begin(&w, "work", true);
    let farms = dial.goes_on("5");
    assert!(farms.contains("1 F1") && farms.contains("2 T1"), "{farms}");
    let list = dial.goes_on("2");
    let at = list.find("loweka").expect("a soak");
    let number = list[..at].trim_end().rsplit([' ', ':', ';']).next().expect("a number").to_owned();
    let draft = dial.goes_on(&number);
    assert!(draft.starts_with("Andika: T1") && draft.contains("kuloweka"), "{draft}");
    let batches = records(&w, "/v1/batches").len();
    dial.ends("1");
    assert_eq!(records(&w, "/v1/batches").len(), batches + 1, "the soak begins a batch");
    let (mut dial, _) = Dial::begin(&w, "rest", true);
    dial.goes_on("5");
    dial.goes_on("1");
    assert_eq!(dial.ends("0"), "Sawa.");
}

fn who_may_call_and_what_is_refused(w: World) {
    let call = |number: &str, session: &str| {
        let body = json!({ "session": session, "from": number });
        signed(&w, TEXT_SECRET, "/v1/texts/menu", &body).expect(200).json()
    };
    assert_eq!(call(NUMBER, "s1")["ends"], true, "nobody's number");
    let phone = Phone::linked(&w, "member");
    assert_eq!(call(NUMBER, "s2")["ends"], false);
    assert_eq!(call("15500", "s3")["ends"], true, "no number");
    w.nobody.post("/v1/texts/menu", &json!({ "session": "s", "from": NUMBER })).expect(401);
    for body in [
        json!({ "session": "", "from": NUMBER }),
        json!({ "session": "x".repeat(101), "from": NUMBER }),
        json!({ "session": "s", "from": NUMBER, "input": "1".repeat(401) }),
    ] {
        signed(&w, TEXT_SECRET, "/v1/texts/menu", &body).expect(422);
    }
    // Money is for numbers that agreed to it; another farm is nowhere.
    let (mut dial, _) = Dial::begin(&w, "money", false);
    let said = dial.ends("7");
    assert!(!said.contains("F2"), "{said}");
    // Two co-operatives: one is chosen by a text first.
    let manager = w.sign_in_as("manager.b@coop.example");
    let body =
        json!({ "number": NUMBER, "member_id": w.b.id("member"), "consent_on": "2026-03-19" });
    manager.post("/v1/text-numbers", &body).expect(200);
    let shared = Phone::by(&w, NUMBER, SHARED_SECRET);
    shared.verify_in_b(&w);
    let body = json!({ "session": "two", "from": NUMBER });
    let said = signed(&w, SHARED_SECRET, "/v1/texts/menu", &body).expect(200).json();
    assert_eq!(said["ends"], true);
    drop(phone);
}

fn an_open_question_by_text_stays_open(w: World) {
    cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    assert_eq!(phone.say("maziwa jana").0, "ask");
    let (mut dial, _) = Dial::begin(&w, "s", false);
    dial.goes_on("1");
    dial.goes_on("12.5");
    dial.ends("1");
    assert_eq!(phone.say("11").0, "record", "the question of the text is answered");
    let days: Vec<(Json, Json)> = records(&w, "/v1/milk-records")
        .into_iter()
        .map(|r| (r["date"].clone(), r["litres"].clone()))
        .collect();
    for wanted in [("2026-03-20", json!(12.5)), ("2026-03-19", json!(11))] {
        assert!(days.contains(&(json!(wanted.0), wanted.1.clone())), "{days:?}");
    }
}
