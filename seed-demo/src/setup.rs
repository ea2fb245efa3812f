//! What a co-operative sets up before records come in: areas, feeds, suppliers, questions, people.

use crate::calendar::{Calendar, at};
use crate::farm::Farm;
use crate::generate::Plan;
use crate::names;
use crate::prices::FeedKind;
use crate::random::Rng;
use crate::story::{AREAS, Class};
use crate::writes::Out;
use traybook_domain::kinds::{
    Area, ChecklistItem, Feed, GrowingGuideValue, OfficerArea, Person, Supplier,
};
use traybook_domain::value::Instant;
use uuid::Uuid;

/// A question of the checklist.
pub(crate) struct Question {
    pub(crate) id: Uuid,
    /// What it is about.
    pub(crate) topic: &'static str,
    /// What is agreed on when the answer is no.
    pub(crate) action: &'static str,
}

/// Somebody who can sign in.
pub(crate) struct User {
    /// Record of the person.
    pub(crate) id: Uuid,
    /// Role as it stands in records.
    pub(crate) role: &'static str,
    /// E-mail address.
    pub(crate) email: &'static str,
    pub(crate) password: &'static str,
    pub(crate) name: String,
}

/// Records that others refer to.
pub(crate) struct Catalog {
    /// Areas, in the order of their names in the story.
    pub(crate) areas: Vec<Uuid>,
    /// Feeds, in their order.
    pub(crate) feeds: Vec<Uuid>,
    /// Seed suppliers.
    pub(crate) suppliers: Vec<Uuid>,
    /// Officers, by area.
    pub(crate) officers: Vec<Uuid>,
    /// Checklist.
    pub(crate) questions: Vec<Question>,
    /// Who can sign in.
    pub(crate) users: Vec<User>,
}

impl Catalog {
    /// Record of a feed.
    pub(crate) fn feed(&self, feed: FeedKind) -> Uuid {
        self.feeds.get(feed.index()).copied().unwrap_or_default()
    }
    /// Record of an area.
    pub(crate) fn area(&self, index: usize) -> Uuid {
        self.areas.get(index).copied().unwrap_or_default()
    }
    /// Officer of an area.
    pub(crate) fn officer(&self, area: usize) -> Uuid {
        self.officers.get(area).copied().unwrap_or_default()
    }
    /// Record of a supplier.
    pub(crate) fn supplier(&self, index: usize) -> Uuid {
        let count = self.suppliers.len().max(1);
        self.suppliers.get(index % count).copied().unwrap_or_default()
    }
}

/// Code, topic, question, and what is agreed on when the answer is no.
const QUESTIONS: [(&str, &str, &str, &str); 14] = [
    (
        "seed-clean",
        "seed",
        "Is the seed untreated, clean and without a musty smell, with its lot number on the bag?",
        "Set the doubtful seed aside and bring the bag to the store",
    ),
    (
        "seed-dry",
        "seed",
        "Does the seed stand dry, off the floor and safe from rats?",
        "Put the seed bags on a pallet",
    ),
    (
        "water-clean",
        "water",
        "Is the water fit to drink and the tank covered?",
        "Cover the tank and scrub it out",
    ),
    (
        "soak-water",
        "water",
        "Is the soak water thrown away and not poured on trays?",
        "Throw the soak water away after each soak",
    ),
    (
        "disinfectant",
        "disinfection",
        "Is the disinfectant in date, measured and rinsed off?",
        "Measure the disinfectant with the marked cup and rinse twice",
    ),
    (
        "trays-scrubbed",
        "trays",
        "Are emptied trays scrubbed and dried before they are used again?",
        "Scrub and sun-dry the trays after each harvest",
    ),
    (
        "drain-holes",
        "trays",
        "Are all drain holes open and free of roots?",
        "Clear the drain holes and leave a hand's width free at that end",
    ),
    (
        "slope",
        "shelves",
        "Does water run off within an hour of watering?",
        "Raise the back of the shelf so that water runs off",
    ),
    (
        "depth",
        "seed_depth",
        "Is the seed spread evenly, about two fingers deep at most?",
        "Spread less seed on a tray and level it by hand",
    ),
    (
        "shade-air",
        "shed",
        "Is the shed shaded, with air moving through?",
        "Open the shade net on the side away from the wind",
    ),
    (
        "pests",
        "pests",
        "Is the shed free of rats, birds and flies?",
        "Mend the net and set traps outside the shed",
    ),
    (
        "hands",
        "people",
        "Are hands and boots washed before work in the shed?",
        "Put a bucket and soap at the door of the shed",
    ),
    (
        "spoiled-away",
        "spoiled_trays",
        "Are spoiled trays counted and buried away from animals on the same day?",
        "Dig a pit for spoiled fodder and write the trays down",
    ),
    (
        "records-agree",
        "records",
        "Do the records agree with the trays on the shelf?",
        "Write each batch down on the day it is soaked",
    ),
];

/// Makes what all farms need; the first records of all.
pub(crate) fn catalog(plan: &Plan, calendar: &Calendar, out: &mut Out) -> Catalog {
    let begin = at(calendar.first_day(), 8 * 60);
    let mut rng = Rng::of(plan.seed, "people", 0);
    let top = Area { name: "Nyota Valley".to_owned(), parent_id: None };
    let top = out.add(begin, top);
    let area = |name: &&str| Area { name: (*name).to_owned(), parent_id: Some(top) };
    let areas: Vec<Uuid> = AREAS.iter().map(|name| out.add(begin, area(name))).collect();
    let feeds = FeedKind::ALL.iter().map(|f| out.add(begin, feed(*f))).collect();
    let questions = questions(calendar, begin, out);
    guide(calendar, begin, out);
    let suppliers = suppliers(begin, out);
    let (users, officers) = users(&areas, begin, &mut rng, out);
    Catalog { areas, feeds, suppliers, officers, questions, users }
}

fn feed(feed: FeedKind) -> Feed {
    let (dry_matter, protein, energy) = feed.values();
    Feed {
        name: feed.name().to_owned(),
        dry_matter_percent: Some(dry_matter),
        crude_protein_percent: Some(protein),
        energy_mj_per_kg: Some(energy),
        source: Some("demo value, not a measurement".to_owned()),
    }
}

fn questions(calendar: &Calendar, begin: Instant, out: &mut Out) -> Vec<Question> {
    let mut all = Vec::new();
    for (code, topic, question, action) in QUESTIONS {
        let item = ChecklistItem {
            code: code.to_owned(),
            topic: topic.to_owned(),
            question: question.to_owned(),
            valid_from: calendar.first_day(),
            valid_to: None,
        };
        all.push(Question { id: out.add(begin, item), topic, action });
    }
    all
}

/// After some months the co-operative plans with its own yield.
fn guide(calendar: &Calendar, begin: Instant, out: &mut Out) {
    let own = GrowingGuideValue {
        name: "fresh_kg_per_kg_seed".to_owned(),
        animal_class: None,
        value: 5_200,
        valid_from: calendar.month(calendar.months / 2).first_day(),
        note: Some("demo value: weighed on members' farms".to_owned()),
    };
    out.add(begin, own);
}

fn suppliers(begin: Instant, out: &mut Out) -> Vec<Uuid> {
    let known = [
        ("Mlima Grain Traders", "+255000000101", 4, None),
        ("Bonde Produce Store", "+255000000102", 2, Some("Delivers on market days only")),
        ("Shamba Line Millers", "+255000000103", 7, None),
    ];
    let supplier = |(name, phone, days, note): (&str, &str, i64, Option<&str>)| Supplier {
        name: name.to_owned(),
        phone: Some(phone.to_owned()),
        lead_time_days: Some(days),
        note: note.map(str::to_owned),
    };
    known.into_iter().map(|s| out.add(begin, supplier(s))).collect()
}

fn person(code: &str, name: &str, email: &str, role: &str, language: &str) -> Person {
    Person {
        code: code.to_owned(),
        name: name.to_owned(),
        email: Some(email.to_owned()),
        phone: None,
        language: language.to_owned(),
        role: role.to_owned(),
        member_id: None,
        active: true,
    }
}

/// Staff: code, role, address, password.
const STAFF: [(&str, &str, &str, &str); 7] = [
    ("manager", "manager", "manager@nyota.example", "lantern saddle nine rivers"),
    ("officer-kilima", "officer", "officer.kilima@nyota.example", OFFICER_PASSWORD),
    ("officer-bondeni", "officer", "officer.bondeni@nyota.example", OFFICER_PASSWORD),
    ("officer-msituni", "officer", "officer.msituni@nyota.example", OFFICER_PASSWORD),
    ("officer-ziwani", "officer", "officer.ziwani@nyota.example", OFFICER_PASSWORD),
    ("operator", "operator", "operator@nyota.example", "copper kettle on the hill"),
    ("programme", "programme_reader", "programme@nyota.example", "window of seven maps"),
];
const OFFICER_PASSWORD: &str = "bicycle under acacia";
const MEMBER_PASSWORD: &str = "green basket morning";
/// Addresses of the members who can sign in, and whose animals they keep.
const MEMBERS: [(&str, &str, Class); 2] = [
    ("member", "member@nyota.example", Class::Cows),
    ("member-hens", "member.hens@nyota.example", Class::Layers),
];

fn users(areas: &[Uuid], begin: Instant, rng: &mut Rng, out: &mut Out) -> (Vec<User>, Vec<Uuid>) {
    let mut users = Vec::new();
    let mut officers = Vec::new();
    for (code, role, email, password) in STAFF {
        let (name, _) = names::person(rng);
        let language = if role == "officer" { "sw" } else { "en" };
        let id = out.add(begin, person(code, &name, email, role, language));
        if role == "officer" {
            let area_id = areas.get(officers.len()).copied().unwrap_or_default();
            out.add(begin, OfficerArea { person_id: id, area_id });
            officers.push(id);
        }
        users.push(User { id, role, email, password, name });
    }
    // Members' people are made once the members are enrolled; their ids stand from now on.
    for (_, email, _) in MEMBERS {
        let (id, name) = (out.id(begin), String::new());
        users.push(User { id, role: "member", email, password: MEMBER_PASSWORD, name });
    }
    (users, officers)
}

/// Lets one dairy member and one with layers sign in.
pub(crate) fn member_logins(catalog: &mut Catalog, farms: &[Farm], out: &mut Out) {
    for (code, email, class) in MEMBERS {
        let fits = |f: &&Farm| f.story.class == class && f.story.enrolled == 0;
        let started = |f: &&Farm| f.story.start.is_some() && !f.story.bad_shed;
        let chosen = farms.iter().filter(fits).find(started).or(farms.iter().find(fits));
        let user = catalog.users.iter_mut().find(|u| u.email == email);
        let (Some(farm), Some(user)) = (chosen, user) else { continue };
        user.name.clone_from(&farm.member_name);
        let member = Person {
            member_id: Some(farm.member),
            ..person(code, &farm.member_name, email, "member", "sw")
        };
        out.add_as(user.id, member);
    }
    // Without such a farm there is nobody to sign in.
    catalog.users.retain(|u| !u.name.is_empty());
}
