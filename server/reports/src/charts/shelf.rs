//! A shed's shelves by tray age.

use super::Words;
use super::frame::{AXIS, MARGIN};
use super::picture::{Anchor, Colour, Dash, LETTER, Picture, Stroke, WIDTH, fit, text_width};
use super::scale::Scale;

/// Trays of one age.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShelfAge {
    /// The age in words.
    pub label: String,
    /// Trays of this age.
    pub trays: u32,
    /// Whether they may be harvested.
    pub ready: bool,
}

/// A shed's shelves: all trays against the places, then a row for each age.
///
/// Trays that may be harvested are hatched, and trays over the places have an outline only.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Shelf {
    /// Title and description.
    pub words: Words,
    /// Name of the row of all trays.
    pub total_label: String,
    /// Places of the shed; none where nobody said.
    pub places: Option<u32>,
    /// The places in words.
    pub places_label: String,
    /// The trays over the places in words; empty where there are none.
    pub over_label: String,
    /// What hatching means; empty where nothing is ready.
    pub ready_label: String,
    /// The most trays or places of the sheds that are shown beside it: all have one scale.
    pub most: u32,
    /// Ages, the youngest first.
    pub ages: Vec<ShelfAge>,
}

const ROW: f64 = 20.0;
const BAR: f64 = 12.0;
/// Place of the first bar: a line of text stands above it.
const TOP: f64 = 18.0;

pub fn draw(chart: &Shelf) -> Option<Picture> {
    if chart.ages.is_empty() {
        return None;
    }
    let total: f64 = chart.ages.iter().map(|a| f64::from(a.trays)).sum();
    let names = chart.ages.iter().map(|a| &a.label).chain([&chart.total_label]);
    let left = names.map(|n| text_width(n) * 1.08).fold(30.0, f64::max).min(130.0) + MARGIN + 6.0;
    let places = chart.places.map_or(0.0, f64::from);
    let most = total.max(places).max(f64::from(chart.most)).max(1.0);
    let scale = Scale::between(0.0, most, left, WIDTH - MARGIN - 44.0);
    let mut picture = Picture::default();
    let name = |picture: &mut Picture, y: f64, text: &str, bold: bool| {
        let text = fit(text, left - MARGIN - 6.0);
        picture.words((left - 6.0, y + BAR - 2.0), Anchor::End, Colour::Ink, bold, &text);
    };
    name(&mut picture, TOP, &chart.total_label, true);
    sum(&mut picture, chart, &scale, total);
    let mut y = TOP + ROW + 8.0;
    for age in &chart.ages {
        name(&mut picture, y, &age.label, false);
        let (from, to) = (scale.place(0.0), scale.place(f64::from(age.trays)));
        if age.trays > 0 {
            bar(&mut picture, from, to.max(from + 1.0), y, age.ready);
        }
        let text = age.trays.to_string();
        picture.text((to + 5.0, y + BAR - 2.0), Anchor::Start, Colour::Ink, &text);
        y += ROW;
    }
    picture.line(vec![(left, TOP - 3.0), (left, y - 4.0)], AXIS);
    if chart.ages.iter().any(|a| a.ready && a.trays > 0) && !chart.ready_label.is_empty() {
        bar(&mut picture, left, left + 20.0, y, true);
        let text = fit(&chart.ready_label, WIDTH - left - 30.0);
        picture.text((left + 26.0, y + BAR - 2.0), Anchor::Start, Colour::Soft, &text);
        y += ROW;
    }
    picture.height = y;
    Some(picture)
}

fn bar(picture: &mut Picture, from: f64, to: f64, y: f64, ready: bool) {
    let stroke = Stroke::solid(Colour::Accent, 1.2);
    if ready {
        picture.hatch((from, y), (to, y + BAR), true, 4.0, Stroke { width: 1.6, ..stroke });
        picture.rect((from, y), (to, y + BAR), None, Some(stroke));
    } else {
        picture.rect((from, y), (to, y + BAR), Some(Colour::Accent), None);
    }
}

/// The row of all trays: soft up to the places, an outline beyond them.
fn sum(picture: &mut Picture, chart: &Shelf, scale: &Scale, total: f64) {
    let places = chart.places.map(f64::from);
    let inside = places.map_or(total, |p| p.min(total));
    let (from, to, end) = (scale.place(0.0), scale.place(inside), scale.place(total));
    if inside > 0.0 {
        picture.rect((from, TOP), (to, TOP + BAR), Some(Colour::Soft), None);
    }
    if total > inside {
        let stroke = Stroke { colour: Colour::Ink, width: 1.2, dash: Dash::Short };
        picture.rect((to, TOP), (end.max(to + 2.0), TOP + BAR), None, Some(stroke));
    }
    let text = super::scale::number(total, 0);
    let beside = end.max(places.map_or(0.0, |p| scale.place(p))) + 5.0;
    picture.words((beside, TOP + BAR - 2.0), Anchor::Start, Colour::Ink, true, &text);
    let Some(places) = places else { return };
    let x = scale.place(places);
    picture.line(vec![(x, TOP - 4.0), (x, TOP + BAR + 4.0)], Stroke { width: 2.0, ..AXIS });
    let over = if total > places { chart.over_label.as_str() } else { "" };
    let gap = if over.is_empty() { "" } else { " · " };
    let text = fit(&format!("{}{gap}{over}", chart.places_label), WIDTH - 2.0 * MARGIN);
    let half = text_width(&text) / 2.0;
    let x = x.clamp(MARGIN + half, (WIDTH - MARGIN - half).max(MARGIN + half));
    picture.text((x, LETTER), Anchor::Middle, Colour::Ink, &text);
}
