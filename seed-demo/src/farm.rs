//! A farm as it lives through the months.

use crate::batches::Growing;
use crate::calendar::at;
use crate::generate::{Plan, World};
use crate::herd::{self, Group};
use crate::names;
use crate::random::Rng;
use crate::store::SeedStore;
use crate::story::Story;
use crate::visits::Open;
use crate::writes::Out;
use chrono::{Datelike, NaiveDate};
use serde_json::json;
use traybook_domain::Kind;
use traybook_domain::kinds::{Farm as FarmRecord, Member, Shed};
use uuid::Uuid;

/// A farm with what has become of it so far.
pub(crate) struct Farm {
    /// What it is like.
    pub(crate) story: Story,
    pub(crate) id: Uuid,
    /// Its member's record.
    pub(crate) member: Uuid,
    /// Its member's name.
    pub(crate) member_name: String,
    /// Its shed, once it has one.
    pub(crate) shed: Option<Uuid>,
    /// Animal groups; the main one first.
    pub(crate) groups: Vec<Group>,
    /// Seed on the farm and batches.
    pub(crate) growing: Growing,
    /// Follow-ups that are open.
    pub(crate) follow_ups: Vec<Open>,
    /// What carries over from month to month in output, log scale.
    pub(crate) noise: f64,
    /// Whether the day without a decimal point was written.
    pub(crate) has_slipped: bool,
    /// Feed that was not bought last month, g, by feed.
    pub(crate) feed_short: Vec<i64>,
    /// Streams of numbers, one for each part of the farm's life.
    pub(crate) streams: Streams,
}

/// Streams of numbers.
pub(crate) struct Streams {
    /// Head counts.
    pub(crate) herd: Rng,
    /// Milk and eggs.
    pub(crate) output: Rng,
    pub(crate) batches: Rng,
    pub(crate) costs: Rng,
    pub(crate) visits: Rng,
}

impl Farm {
    /// A farm that is not enrolled yet.
    pub(crate) fn new(plan: &Plan, story: Story) -> Self {
        let stream = |topic: &str| Rng::of(plan.seed, topic, story.number);
        Self {
            id: Uuid::nil(),
            member: Uuid::nil(),
            member_name: String::new(),
            shed: None,
            groups: Vec::new(),
            growing: Growing::default(),
            follow_ups: Vec::new(),
            noise: 0.0,
            has_slipped: false,
            feed_short: vec![0; crate::prices::FeedKind::ALL.len()],
            streams: Streams {
                herd: stream("herd"),
                output: stream("output"),
                batches: stream("batches"),
                costs: stream("costs"),
                visits: stream("visits"),
            },
            story,
        }
    }

    /// Makes the member, the farm and its animals.
    pub(crate) fn enrol(&mut self, world: &World, out: &mut Out) {
        let story = &self.story;
        let mut rng = Rng::of(world.plan.seed, "member", story.number);
        let day = world.calendar.day(story.enrolled, 1);
        let area_id = world.catalog.area(story.area);
        let member = member(story, area_id, day, &mut rng);
        self.member_name.clone_from(&member.name);
        self.member = out.add(at(day, 8 * 60), member);
        let farm = FarmRecord {
            code: story.code.clone(),
            member_id: self.member,
            area_id,
            place: Some(names::place(&mut rng)),
            latitude: None,
            longitude: None,
            water_source: Some(story.water.to_owned()),
            fodder_started_on: None,
        };
        self.id = out.add(at(day, 8 * 60), farm);
        let feed = |f| world.catalog.feed(f);
        self.groups = herd::enrol(story, self.id, day, feed, &mut self.streams.herd, out);
    }

    /// Head of the main group at the beginning of a month.
    pub(crate) fn main_head(&self, day: NaiveDate) -> i64 {
        self.groups.first().map_or(0, |g| g.head_on(day))
    }

    /// Writes a month of the farm's records.
    pub(crate) fn month(
        &mut self,
        world: &World,
        number: usize,
        store: &mut SeedStore,
        out: &mut Out,
    ) {
        if number < self.story.enrolled {
            return;
        }
        if number > self.story.enrolled {
            for group in &mut self.groups {
                group.month(&world.calendar, number, &mut self.streams.herd, out);
            }
        }
        let begins = self.story.start.filter(|(month, _)| *month == number);
        if let Some((_, day)) = begins.filter(|(_, day)| *day <= world.calendar.today) {
            self.begin(world, day, out);
        }
        self.receive_seed(world, number, store, out);
        self.grow(world, number, out);
        self.give(world, number, out);
        self.spend(world, number, out);
        self.be_visited(world, number, out);
    }

    /// The first soak: the farm's day of start, the shed and what it cost.
    fn begin(&mut self, world: &World, day: NaiveDate, out: &mut Out) {
        let start = json!(day.to_string());
        out.correct(Kind::Farm, self.id, vec![("fodder_started_on", start)], None);
        let (_, trays) = self.story.batch(self.main_head(day));
        let places = self.places(world, trays);
        let shed = Shed {
            code: format!("S{:04}", self.story.number + 1),
            farm_id: self.id,
            tray_places: places,
            tray_load_kg: None,
            note: self.story.bad_shed.then(|| "Stands in a hollow; little air moves".to_owned()),
        };
        self.shed = Some(out.add(at(day, 7 * 60), shed));
        self.build(world, day, places, out);
    }
}

fn member(story: &Story, area_id: Uuid, enrolled: NaiveDate, rng: &mut Rng) -> Member {
    let (name, sex) = names::person(rng);
    let earlier = if story.enrolled == 0 { rng.int(20, 900).unsigned_abs() } else { 0 };
    let joined_on = enrolled - chrono::Days::new(earlier);
    let consent = rng.chance(0.96);
    let age = rng.int(22, 68);
    Member {
        number: format!("NV-{:04}", story.number + 1),
        name,
        area_id,
        sex: if rng.chance(0.02) { "not_stated" } else { sex }.to_owned(),
        birth_year: rng.chance(0.95).then(|| i64::from(enrolled.year()) - age),
        phone: rng.chance(0.9).then(|| format!("+2550001{:05}", story.number + 1)),
        language: if rng.chance(0.9) { "sw" } else { "en" }.to_owned(),
        consent,
        consent_on: Some(joined_on),
        joined_on,
        left_on: None,
    }
}
