//! Texts over a network that loses, doubles, delays and reorders them, with carriers that die at any
//! point and clocks that jump: one distinct text makes one set of records, and every taken text has
//! one answer.

use acceptance::random::Rng;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, BTreeSet};
use traybook_answers::texts::{LeasedText, SettledState, SettledText, TextOutcome};
use traybook_app::Actor;
use traybook_app::texts::{Come, NewLink};
use traybook_domain::Kind;
use traybook_domain::value::Instant;

both!(texts_survive_a_bad_network);

/// A number with the farm of its member.
const PHONES: [(&str, &str, &str); 2] =
    [("+255700000201", "member", "cows"), ("+255700000202", "other_member", "other_cows")];

fn later(w: &World, ms: i64) {
    w.clock.set(Instant(w.app.now().0 + ms));
}

fn link(w: &World, number: &str, member: &str) {
    let actor = Actor::machine(w.a.coop.clone());
    let new = NewLink {
        number: number.to_owned(),
        member: w.a.id(member),
        farm: None,
        language: Some("sw".to_owned()),
        consent_on: "2026-03-19".parse().expect("a day"),
        purposes: [true; 3],
    };
    w.wait(w.app.link_number(&actor, new)).expect("a link");
    let sent = drain(w);
    let words = sent.iter().flat_map(|t| t.text.split(|c: char| !c.is_ascii_digit()));
    let code = words.into_iter().find(|w| w.len() == 4).expect("a code").to_owned();
    let come = come(number, &format!("code {number}"), &code, None);
    assert_eq!(w.wait(w.app.take_text(come)).expect("taken").outcome, TextOutcome::Verified);
    assert_eq!(drain(w).len(), 1, "the thanks");
}

/// Sends all that waits.
fn drain(w: &World) -> Vec<LeasedText> {
    let texts = w.wait(w.app.lease_texts("office", 10)).expect("texts").items;
    let sent = texts.iter().map(|t| SettledText { id: t.id, state: SettledState::Sent }).collect();
    w.wait(w.app.settle_texts("office", sent)).expect("settled");
    texts
}

fn come(number: &str, id: &str, text: &str, sent_at: Option<Instant>) -> Come {
    Come {
        carrier: "office".to_owned(),
        id: id.to_owned(),
        from: number.to_owned(),
        to: None,
        text: Some(text.to_owned()),
        sent_at,
    }
}

/// A carrier that hands leased texts to telephones, and dies now and then before it says so.
fn carry(w: &World, dice: &mut Rng, heard: &mut BTreeMap<String, BTreeSet<String>>) {
    let leased = w.wait(w.app.lease_texts("office", 3)).expect("texts").items;
    let dies = |dice: &mut Rng| dice.below(4) == 0;
    for LeasedText { id, to, text, .. } in leased {
        if dies(dice) {
            // Between the lease and the sending.
            continue;
        }
        heard.entry(to).or_default().insert(format!("{id} {text}"));
        if dies(dice) {
            // Between the sending and the word that it was sent.
            continue;
        }
        let state = SettledState::Sent;
        w.wait(w.app.settle_texts("office", vec![SettledText { id, state }])).expect("settled");
    }
}

fn texts_survive_a_bad_network(w: World) {
    let mut dice = Rng::of(20_261_127, 0, 0);
    for (number, member, cows) in PHONES {
        let head = json!({ "animal_group_id": w.a.id(cows), "date": "2026-01-01",
            "reason": "counted", "head": 2 });
        w.make(&w.a, Kind::HeadCount, head);
        link(&w, number, member);
    }
    let before = milk(&w).len();
    // Each telephone writes of seven days; the network has them in any order, some twice.
    let mut on_the_way = Vec::new();
    let mut meant = BTreeSet::new();
    for (n, (number, _, cows)) in PHONES.iter().enumerate() {
        for day in 14..21 {
            let litres = 10 + n * 2;
            let text = format!("maziwa {day}/3 {litres}.{}", day % 10);
            let sent_at = Instant(w.app.now().0 + i64::from(day));
            meant.insert(format!("{} 2026-03-{day} {litres}.{}", w.a.id(cows), day % 10));
            for copy in 0..1 + dice.below(3) {
                // A double has the same id, or another one from another reading of the modem.
                let id = format!("{number} {day} {}", if copy == 2 { "again" } else { "" });
                on_the_way.push(come(number, &id, &text, Some(sent_at)));
            }
        }
    }
    let mut heard = BTreeMap::new();
    let mut taken = BTreeSet::new();
    while !on_the_way.is_empty() {
        let at = dice.below(on_the_way.len());
        match dice.below(6) {
            // Lost before it came: the carrier has it still.
            0 => {}
            // Taken, and the answer is lost: the carrier sends it again.
            1 => drop(w.wait(w.app.take_text(on_the_way[at].clone())).expect("taken")),
            2 => carry(&w, &mut dice, &mut heard),
            // The clock jumps a little back, or some minutes on.
            3 => later(&w, if dice.below(3) == 0 { -5_000 } else { 150_000 }),
            _ => {
                let text = on_the_way.swap_remove(at);
                let spoken = w.wait(w.app.take_text(text.clone())).expect("taken");
                assert_eq!(spoken.outcome, TextOutcome::Record, "{text:?}");
                taken.insert((text.from, text.text));
            }
        }
    }
    let made: Vec<Json> = milk(&w);
    assert_eq!(made.len(), before + meant.len(), "one record a text");
    let said = |r: &Json| {
        format!(
            "{} {} {:.1}",
            r["animal_group_id"].as_str().unwrap_or(""),
            r["date"].as_str().unwrap_or(""),
            r["litres"].as_f64().unwrap_or(0.0)
        )
    };
    let made: BTreeSet<String> = made.iter().map(said).collect();
    assert!(meant.is_subset(&made), "{meant:?} {made:?}");
    // Everything is heard in the end, once where nobody died between sending and saying so.
    for _ in 0..200 {
        carry(&w, &mut dice, &mut heard);
        later(&w, 60_000);
    }
    for (number, ..) in PHONES {
        let own = taken.iter().filter(|(from, _)| from == number).count();
        let heard = heard.get(number).map_or(0, BTreeSet::len);
        assert_eq!(heard, own, "{number}: one answer a text");
    }
    // No number heard of the other's farm.
    for (number, texts) in &heard {
        let other = if *number == PHONES[0].0 { "lita 12" } else { "lita 10" };
        assert!(texts.iter().all(|t| !t.contains(other)), "{number}: {texts:?}");
    }
}

fn milk(w: &World) -> Vec<Json> {
    let manager = w.sign_in("manager");
    manager.get("/v1/milk-records?limit=200").expect(200).items()
}
