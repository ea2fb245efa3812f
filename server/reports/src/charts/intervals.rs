//! Interval bars, one row a member.

use super::Words;
use super::frame::{AXIS, Dot, LINE, MARGIN, columns, dot, real};
use super::picture::{Anchor, Colour, LETTER, Picture, Stroke, WIDTH, fit, text_width};
use super::scale::Scale;

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Interval {
    pub label: String,
    /// The number in words, or why there is none.
    pub text: String,
    /// Estimate, low end, high end; none where there is no number.
    pub number: Option<(f64, f64, f64)>,
}

/// Interval bars around a thick line at zero.
///
/// The mark is filled where the whole interval lies on one side of zero and open where zero lies
/// inside, that is, where it can not be told whether there was a change.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Intervals {
    /// Title and description.
    pub words: Words,
    /// What the horizontal axis counts, with its unit.
    pub axis: String,
    /// Rows from top to bottom, in the order of the caller.
    pub rows: Vec<Interval>,
}

/// Height of a row: a line of text, and the bar below.
const ROW: f64 = 29.0;
/// Between a name and its number.
const GAP: f64 = 6.0;
/// How much wider bold letters are.
const BOLD: f64 = 1.12;

pub fn draw(chart: &Intervals) -> Option<Picture> {
    if chart.rows.is_empty() {
        return None;
    }
    let known = |row: &Interval| {
        row.number.filter(|(a, b, c)| a.is_finite() && b.is_finite() && c.is_finite())
    };
    let numbers: Vec<_> = chart.rows.iter().map(known).collect();
    let ends = numbers.iter().flatten().flat_map(|(a, b, c)| [*a, *b, *c]).chain([0.0]);
    let scale = Scale::over(ends, MARGIN + 4.0, WIDTH - MARGIN - 4.0)?;
    // Bold letters are a little wider. A name is never cut for the sake of its number: where one
    // row has no room for both, the numbers of all rows stand on a line of their own.
    let both = |row: &Interval| BOLD * text_width(&row.label) + text_width(&row.text) + GAP;
    let is_tall = chart.rows.iter().any(|row| both(row) > WIDTH - 2.0 * MARGIN);
    let more = if is_tall { LINE } else { 0.0 };
    let row_height = ROW + more;
    let bottom = real(chart.rows.len()) * row_height + 4.0;
    let has_numbers = numbers.iter().any(Option::is_some);
    let foot = if has_numbers { LETTER + 6.0 + LINE } else { 4.0 };
    let mut picture = Picture { height: bottom + foot, shapes: Vec::new() };
    if has_numbers {
        columns(&mut picture, &scale, 0.0, bottom);
        let zero = scale.place(0.0);
        // Beside the bars only: behind letters it would make them hard to read.
        for row in 0..chart.rows.len() {
            let y = real(row) * row_height + 21.0 + more;
            picture.line(vec![(zero, y - 6.0), (zero, y + 7.0)], Stroke { width: 2.8, ..AXIS });
        }
        let y = bottom + LETTER + 2.0 + LINE;
        let axis = fit(&chart.axis, WIDTH - 2.0 * MARGIN);
        picture.text((WIDTH / 2.0, y), Anchor::Middle, Colour::Soft, &axis);
    }
    let mut top = 0.0;
    for (row, number) in chart.rows.iter().zip(numbers) {
        let y = top + LETTER + 2.0;
        let room = WIDTH - 2.0 * MARGIN;
        let right = fit(&row.text, room);
        let beside = if is_tall { 0.0 } else { text_width(&right) + GAP };
        let left = fit(&row.label, (room - beside) / BOLD);
        picture.words((MARGIN, y), Anchor::Start, Colour::Ink, true, &left);
        let colour = if number.is_some() { Colour::Ink } else { Colour::Soft };
        picture.text((WIDTH - MARGIN, y + more), Anchor::End, colour, &right);
        if let Some(number) = number {
            bar(&mut picture, &scale, number, top + 21.0 + more);
        }
        top += row_height;
    }
    Some(picture)
}

fn bar(picture: &mut Picture, scale: &Scale, (middle, a, b): (f64, f64, f64), y: f64) {
    let (low, high) = (a.min(b), a.max(b));
    let open = low <= 0.0 && high >= 0.0;
    let (x1, x, x2) = (scale.place(low), scale.place(middle), scale.place(high));
    let stroke = Stroke::solid(Colour::Accent, 2.0);
    // The line stops before the mark, so that an open mark is seen to be open.
    if x - 3.2 > x1 {
        picture.line(vec![(x1, y), (x - 3.2, y)], stroke);
    }
    if x2 > x + 3.2 {
        picture.line(vec![(x + 3.2, y), (x2, y)], stroke);
    }
    for end in [x1, x2] {
        picture.line(vec![(end, y - 3.5), (end, y + 3.5)], stroke);
    }
    dot(picture, (x, y), if open { Dot::Open } else { Dot::Filled }, Colour::Accent);
}
