//! One batch's life along its days.

use super::Words;
use super::frame::{AXIS, Dot, LINE, MARGIN, columns, dot};
use super::picture::{Anchor, Colour, Dash, LETTER, Picture, Stroke, WIDTH, fit, text_width};
use super::scale::Scale;

/// Stages of a batch, each with a pattern of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// In water.
    Soaked,
    /// Drained, kept dark.
    Incubating,
    /// Spread on trays.
    OnTrays,
    /// May be harvested.
    Ready,
    /// Nothing is left of it.
    Finished,
}

/// Time in one stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    pub stage: Stage,
    pub label: String,
    /// Day on which it begins; parts of days are allowed.
    pub from: f64,
    /// Day on which it ends.
    pub to: f64,
}

/// Kinds of events, each with a mark of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// Put in water.
    Soaked,
    /// Spread on trays.
    Spread,
    Watered,
    Harvested,
    Fed,
    /// Thrown away.
    Discarded,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Day; parts of days are allowed.
    pub day: f64,
    /// What to say of it; may be empty.
    pub text: String,
}

/// Events of one kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Lane {
    /// Kind.
    pub mark: Mark,
    pub label: String,
    pub events: Vec<Event>,
}

/// The present.
#[derive(Clone, Debug, PartialEq)]
pub struct Now {
    pub day: f64,
    pub label: String,
}

/// One batch's life: stages along days, events below.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    /// Title and description.
    pub words: Words,
    /// What the horizontal axis counts.
    pub axis: String,
    /// Stages in order.
    pub segments: Vec<Segment>,
    /// Events by kind.
    pub lanes: Vec<Lane>,
    /// The present, while the batch grows.
    pub now: Option<Now>,
}

const BAR: f64 = 18.0;
const TOP: f64 = 18.0;

pub fn draw(chart: &Timeline) -> Option<Picture> {
    let stages = chart.segments.iter().flat_map(|s| [s.from, s.to]);
    let events = chart.lanes.iter().flat_map(|l| l.events.iter().map(|e| e.day));
    let days = stages.chain(events).chain(chart.now.as_ref().map(|n| n.day));
    let names = chart.lanes.iter().map(|l| text_width(&l.label));
    let left = names.fold(0.0, f64::max).min(110.0) + MARGIN + 20.0;
    let scale = Scale::over(days, left, WIDTH - MARGIN - 8.0)?;
    let mut picture = Picture::default();
    // What is known of the heights decides how far the grid reaches.
    let lanes: Vec<(f64, Vec<Placed>)> = chart.lanes.iter().map(|l| lane(l, &scale)).collect();
    let bottom = TOP + BAR + 6.0 + lanes.iter().map(|(height, _)| height).sum::<f64>();
    columns(&mut picture, &scale, TOP, bottom);
    for segment in chart.segments.iter().filter(|s| s.from.is_finite() && s.to.is_finite()) {
        let (a, b) = (scale.place(segment.from), scale.place(segment.to));
        pattern(&mut picture, (a.min(b), TOP), (a.max(b), TOP + BAR), segment.stage);
    }
    let mut y = TOP + BAR + 6.0;
    for (l, (height, placed)) in chart.lanes.iter().zip(&lanes) {
        events_of(&mut picture, l, placed, y);
        y += height;
    }
    if let Some(now) = chart.now.as_ref().filter(|n| n.day.is_finite()) {
        let x = scale.place(now.day);
        let stroke = Stroke { colour: Colour::Ink, width: 1.4, dash: Dash::Short };
        picture.line(vec![(x, TOP - 4.0), (x, bottom)], stroke);
        let text = fit(&now.label, 200.0);
        let half = text_width(&text) / 2.0;
        let x = x.min(WIDTH - MARGIN - half).max(half + 2.0);
        picture.text((x, LETTER), Anchor::Middle, Colour::Ink, &text);
    }
    let y = bottom + LETTER + 2.0 + LINE;
    let axis = fit(&chart.axis, WIDTH - left);
    picture.text((f64::midpoint(left, WIDTH), y), Anchor::Middle, Colour::Soft, &axis);
    picture.height = legend(&mut picture, chart, y + 8.0);
    Some(picture)
}

/// Names of the stages beside their patterns, each once.
fn legend(picture: &mut Picture, chart: &Timeline, top: f64) -> f64 {
    let (mut x, mut y) = (MARGIN, top);
    let mut said: Vec<Stage> = Vec::new();
    for segment in &chart.segments {
        if said.contains(&segment.stage) || segment.label.is_empty() {
            continue;
        }
        said.push(segment.stage);
        let text = fit(&segment.label, 150.0);
        let wide = 30.0 + text_width(&text) + 10.0;
        if x > MARGIN && x + wide > WIDTH {
            (x, y) = (MARGIN, y + LINE + 2.0);
        }
        pattern(picture, (x, y), (x + 24.0, y + 12.0), segment.stage);
        picture.text((x + 29.0, y + 10.0), Anchor::Start, Colour::Ink, &text);
        x += wide;
    }
    if said.is_empty() { top } else { y + LINE + 2.0 }
}

fn pattern(picture: &mut Picture, from: (f64, f64), to: (f64, f64), stage: Stage) {
    let line = Stroke::solid(Colour::Accent, 1.2);
    match stage {
        Stage::Soaked => picture.rect(from, to, Some(Colour::Ink), None),
        Stage::Incubating => picture.hatch(from, to, true, 3.0, line),
        Stage::OnTrays => picture.hatch(from, to, false, 7.0, line),
        Stage::Ready => picture.rect(from, to, Some(Colour::Accent), None),
        Stage::Finished => {}
    }
    picture.rect(from, to, None, Some(AXIS));
}

/// An event's place, and the row and left edge of its text.
struct Placed {
    x: f64,
    text: String,
    row: f64,
    left: f64,
}

/// Height of a lane, and its events with texts that do not run into each other.
fn lane(lane: &Lane, scale: &Scale) -> (f64, Vec<Placed>) {
    let mut free: Vec<f64> = Vec::new();
    let mut placed = Vec::new();
    let mut events: Vec<&Event> = lane.events.iter().filter(|e| e.day.is_finite()).collect();
    events.sort_by(|a, b| a.day.total_cmp(&b.day));
    for event in events {
        let x = scale.place(event.day);
        let text = fit(&event.text, 150.0);
        let wide = text_width(&text);
        let left = (x - wide / 2.0).min(WIDTH - 4.0 - wide).max(0.0);
        let mut row = 0.0;
        if !text.is_empty() {
            let index = free.iter().position(|f| *f <= left).unwrap_or(free.len());
            match free.get_mut(index) {
                Some(slot) => *slot = left + wide + 5.0,
                None => free.push(left + wide + 5.0),
            }
            row = super::frame::real(index);
        }
        placed.push(Placed { x, text, row, left });
    }
    (LINE + 2.0 + super::frame::real(free.len()) * 13.0, placed)
}

fn events_of(picture: &mut Picture, lane: &Lane, placed: &[Placed], top: f64) {
    let (shape, colour) = match lane.mark {
        Mark::Soaked => (Dot::Drop, Colour::Ink),
        Mark::Spread => (Dot::Block, Colour::Ink),
        Mark::Watered => (Dot::Tick, Colour::Accent),
        Mark::Harvested => (Dot::Filled, Colour::Accent),
        Mark::Fed => (Dot::Open, Colour::Accent),
        Mark::Discarded => (Dot::Cross, Colour::Ink),
    };
    let y = top + 9.0;
    dot(picture, (MARGIN + 5.0, y), shape, colour);
    let name = fit(&lane.label, 110.0);
    picture.text((MARGIN + 14.0, y + 4.0), Anchor::Start, Colour::Ink, &name);
    for event in placed {
        dot(picture, (event.x, y), shape, colour);
    }
    for event in placed {
        let at = (event.left, y + 15.0 + event.row * 13.0);
        picture.text(at, Anchor::Start, Colour::Ink, &event.text);
    }
}
