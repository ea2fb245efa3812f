//! What the charts have in common: grids, legends, marks.

use super::picture::{Anchor, Colour, LETTER, Picture, Stroke, WIDTH, fit, text_width};
use super::scale::Scale;

/// Room at both sides.
pub const MARGIN: f64 = 8.0;
/// Height of a line of text.
pub const LINE: f64 = 16.0;
/// Lines of a grid.
pub const GRID: Stroke = Stroke::solid(Colour::Rule, 1.0);
/// The line of zero, and axes.
pub const AXIS: Stroke = Stroke::solid(Colour::Ink, 1.0);
pub const MEASURED: Stroke = Stroke::solid(Colour::Accent, 1.6);

/// A vertical axis: grid lines from left to right with numbers before them. The scale runs down the
/// picture. The numbers need `left` of room.
pub fn rows(picture: &mut Picture, scale: &Scale, left: f64, right: f64) {
    let ticks = scale.ticks(6);
    for (value, _) in &ticks {
        let y = scale.place(*value);
        picture.line(vec![(left, y), (right, y)], GRID);
    }
    for (value, text) in &ticks {
        let y = scale.place(*value) + LETTER * 0.35;
        picture.text((left - 4.0, y), Anchor::End, Colour::Soft, text);
    }
}

/// How much room the numbers of a vertical axis take.
pub fn rows_room(scale: &Scale) -> f64 {
    let widths = scale.ticks(6).into_iter().map(|(_, text)| text_width(&text));
    MARGIN + widths.fold(8.0, f64::max) + 4.0
}

/// A horizontal axis: grid lines from top to bottom with numbers below.
pub fn columns(picture: &mut Picture, scale: &Scale, top: f64, bottom: f64) {
    let ticks = scale.ticks(6);
    for (value, _) in &ticks {
        let x = scale.place(*value);
        picture.line(vec![(x, top), (x, bottom)], GRID);
    }
    let mut free = 0.0;
    for (value, text) in &ticks {
        let (x, half) = (scale.place(*value), text_width(text) / 2.0);
        // Numbers that would run into each other are left out, not their lines.
        if x - half >= free && x + half <= WIDTH {
            picture.text((x, bottom + LETTER + 2.0), Anchor::Middle, Colour::Soft, text);
            free = x + half + 4.0;
        }
    }
}

/// Texts along a horizontal axis: the first, the last, and as many between as fit.
pub fn labels(picture: &mut Picture, places: &[(f64, &str)], y: f64) {
    let mut free = 0.0;
    let last_place = places.last();
    let last_text = last_place.map_or(String::new(), |(_, t)| fit(t, 120.0));
    let last_width = text_width(&last_text);
    let last_left =
        last_place.map_or(WIDTH, |(x, _)| (x - last_width / 2.0).min(WIDTH - 2.0 - last_width));
    let count = places.len();
    for (index, (x, text)) in places.iter().enumerate() {
        if index + 1 == count {
            picture.text((last_left, y), Anchor::Start, Colour::Soft, &last_text);
            continue;
        }
        let text = fit(text, 120.0);
        let width = text_width(&text);
        let left = (x - width / 2.0).max(2.0);
        if left >= free && left + width + 6.0 <= last_left {
            picture.text((left, y), Anchor::Start, Colour::Soft, &text);
            free = left + width + 6.0;
        }
    }
}

/// The shapes of marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dot {
    /// A filled circle.
    Filled,
    /// An open circle.
    Open,
    /// A filled diamond.
    Diamond,
    /// An open square.
    Square,
    /// A filled square.
    Block,
    /// A filled triangle that points down.
    Drop,
    /// A short upright stroke.
    Tick,
    Cross,
}

/// Draws a mark.
pub fn dot(picture: &mut Picture, (x, y): (f64, f64), dot: Dot, colour: Colour) {
    let line = Stroke::solid(colour, 1.4);
    let (fill, stroke) = (Some(colour), Some(line));
    match dot {
        Dot::Filled => picture.circle((x, y), 3.4, fill, None),
        Dot::Open => picture.circle((x, y), 3.2, None, stroke),
        Dot::Diamond => {
            let corners = vec![(x, y - 5.0), (x + 5.0, y), (x, y + 5.0), (x - 5.0, y)];
            picture.area(corners, fill, None);
        }
        Dot::Square => picture.rect((x - 2.8, y - 2.8), (x + 2.8, y + 2.8), None, stroke),
        Dot::Block => picture.rect((x - 3.4, y - 3.4), (x + 3.4, y + 3.4), fill, None),
        Dot::Drop => {
            picture.area(vec![(x - 4.4, y - 3.6), (x + 4.4, y - 3.6), (x, y + 4.4)], fill, None);
        }
        Dot::Tick => picture.line(vec![(x, y - 4.0), (x, y + 4.0)], line),
        Dot::Cross => {
            picture.line(vec![(x - 3.6, y - 3.6), (x + 3.6, y + 3.6)], line);
            picture.line(vec![(x - 3.6, y + 3.6), (x + 3.6, y - 3.6)], line);
        }
    }
}

/// A whole number as the charts compute; exact for all that is counted here.
pub fn real(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::from(u32::MAX), f64::from)
}
