//! Lines by month.

use super::Words;
use super::frame::{AXIS, Dot, LINE, MARGIN, MEASURED, dot, labels, real, rows, rows_room};
use super::picture::{Anchor, Colour, Dash, LETTER, Picture, Stroke, WIDTH, fit, text_width};
use super::scale::Scale;

/// One line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Series {
    pub label: String,
    /// A number for each month; none where it is missing, which leaves a gap.
    pub values: Vec<Option<f64>>,
    /// Low and high end for each month; may be empty.
    pub band: Vec<Option<(f64, f64)>>,
}

impl Series {
    /// Whether zero lies in the band of a month: then neither more nor less may be said.
    fn is_open(&self, index: usize) -> bool {
        self.band
            .get(index)
            .copied()
            .flatten()
            .is_some_and(|(a, b)| a.min(b) <= 0.0 && a.max(b) >= 0.0)
    }
}

/// The month from which things differ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Start {
    /// Which of the months, counted from 0.
    pub index: usize,
    /// What began.
    pub label: String,
}

/// Lines by month: the first unbroken with round marks, the second dashed with square ones.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Months {
    /// Title and description.
    pub words: Words,
    /// What the vertical axis counts, with its unit.
    pub axis: String,
    /// Names of the months, the oldest first.
    pub months: Vec<String>,
    /// One or two lines; more are not drawn.
    pub series: Vec<Series>,
    /// The month from which things differ.
    pub start: Option<Start>,
    /// Whether the vertical axis begins at zero.
    pub from_zero: bool,
    /// What a hollow mark means: a month whose band holds zero. Empty where all marks are filled.
    pub open_label: String,
}

const TOP: f64 = 62.0;
const BOTTOM: f64 = 190.0;

pub fn draw(chart: &Months) -> Option<Picture> {
    let count = chart.months.len();
    let shown = || chart.series.iter().take(2);
    let values = || shown().flat_map(|s| s.values.iter().take(count).flatten().copied());
    if !values().any(f64::is_finite) {
        return None;
    }
    let bands = shown().flat_map(|s| s.band.iter().take(count).flatten());
    let ends = bands.filter(|(a, b)| a.is_finite() && b.is_finite()).flat_map(|(a, b)| [*a, *b]);
    let zero = chart.from_zero.then_some(0.0);
    let scale = Scale::over(values().chain(ends).chain(zero), BOTTOM, TOP)?;
    let (left, right) = (rows_room(&scale).min(90.0), WIDTH - MARGIN - 6.0);
    let mut picture = Picture { height: BOTTOM + LINE + 4.0, shapes: Vec::new() };
    picture.text((MARGIN, LETTER + 1.0), Anchor::Start, Colour::Soft, &fit(&chart.axis, 344.0));
    let last = real(count.saturating_sub(1));
    let across = Scale::between(0.0, last.max(1.0), left + 8.0, right - 8.0);
    let place = |index: usize| if last > 0.0 { across.place(real(index)) } else { 200.0 };
    for series in shown() {
        band(&mut picture, series, count, &scale, &place);
    }
    rows(&mut picture, &scale, left, right);
    let base = if scale.holds(0.0) { scale.place(0.0) } else { BOTTOM };
    picture.line(vec![(left, base), (right, base)], AXIS);
    if let Some(start) = chart.start.as_ref().filter(|s| s.index < count) {
        mark(&mut picture, place(start.index), &start.label);
    }
    let mut x = MARGIN;
    for (index, series) in shown().enumerate() {
        let (stroke, shape) = look(index);
        let open = !chart.open_label.is_empty();
        lines(&mut picture, series, count, &scale, &place, (stroke, shape, open));
        x = legend(&mut picture, x, series, stroke, shape);
    }
    if shown().any(|s| (0..count).any(|i| s.is_open(i))) && !chart.open_label.is_empty() {
        let text = fit(&chart.open_label, (WIDTH - MARGIN - x - 16.0).max(20.0));
        dot(&mut picture, (x + 5.0, 25.0), Dot::Open, Colour::Accent);
        picture.text((x + 14.0, 29.0), Anchor::Start, Colour::Ink, &text);
    }
    let texts: Vec<_> =
        chart.months.iter().enumerate().map(|(i, m)| (place(i), m.as_str())).collect();
    labels(&mut picture, &texts, BOTTOM + LETTER + 4.0);
    Some(picture)
}

fn look(index: usize) -> (Stroke, Dot) {
    if index == 0 {
        (MEASURED, Dot::Filled)
    } else {
        (Stroke { colour: Colour::Ink, width: 1.6, dash: Dash::Long }, Dot::Square)
    }
}

fn legend(picture: &mut Picture, x: f64, series: &Series, stroke: Stroke, shape: Dot) -> f64 {
    let text = fit(&series.label, (WIDTH - MARGIN - x - 34.0).clamp(20.0, 150.0));
    picture.line(vec![(x, 25.0), (x + 28.0, 25.0)], stroke);
    dot(picture, (x + 14.0, 25.0), shape, stroke.colour);
    picture.text((x + 33.0, 29.0), Anchor::Start, Colour::Ink, &text);
    x + 33.0 + text_width(&text) + 12.0
}

fn mark(picture: &mut Picture, x: f64, label: &str) {
    let stroke = Stroke { colour: Colour::Soft, width: 1.2, dash: Dash::Short };
    picture.line(vec![(x, TOP - 12.0), (x, BOTTOM)], stroke);
    let text = fit(label, 240.0);
    let half = text_width(&text) / 2.0;
    let x = x.clamp(half + 2.0, (WIDTH - half - 2.0).max(half + 2.0));
    picture.text((x, TOP - 16.0), Anchor::Middle, Colour::Soft, &text);
}

/// Months in a row that have something.
fn runs<T: Copy>(values: impl Iterator<Item = Option<T>>) -> Vec<Vec<(usize, T)>> {
    let mut all = vec![Vec::new()];
    for (index, value) in values.enumerate() {
        match (value, all.last_mut()) {
            (Some(value), Some(run)) => run.push((index, value)),
            _ => all.push(Vec::new()),
        }
    }
    all.retain(|run| !run.is_empty());
    all
}

fn band(p: &mut Picture, s: &Series, count: usize, scale: &Scale, place: &dyn Fn(usize) -> f64) {
    let sound = |b: &Option<(f64, f64)>| b.filter(|(a, b)| a.is_finite() && b.is_finite());
    for run in runs(s.band.iter().take(count).map(sound)) {
        // A single month gets a little width to be seen.
        let wide = if run.len() == 1 { 3.0 } else { 0.0 };
        let mut corners = Vec::new();
        for (index, (a, b)) in &run {
            corners.push((place(*index) - wide, scale.place(a.max(*b))));
        }
        for (index, (a, b)) in run.iter().rev() {
            corners.push((place(*index) + wide, scale.place(a.min(*b))));
        }
        if let ([(index, (a, b))], true) = (run.as_slice(), wide > 0.0) {
            let (x, low, high) = (place(*index), scale.place(a.min(*b)), scale.place(a.max(*b)));
            corners = vec![(x - wide, high), (x + wide, high), (x + wide, low), (x - wide, low)];
        }
        p.area(corners, Some(Colour::Rule), None);
    }
}

fn lines(
    picture: &mut Picture,
    series: &Series,
    count: usize,
    scale: &Scale,
    place: &dyn Fn(usize) -> f64,
    (stroke, shape, open): (Stroke, Dot, bool),
) {
    let sound = |v: &Option<f64>| v.filter(|v| v.is_finite());
    let all = runs(series.values.iter().take(count).map(sound));
    let at = |(index, value): &(usize, f64)| (place(*index), scale.place(*value));
    for run in all.iter().filter(|r| r.len() > 1) {
        picture.line(run.iter().map(at).collect(), stroke);
    }
    // A month between two gaps would not be seen without its mark.
    let crowded = count > 18;
    for point in all.iter().filter(|r| !crowded || r.len() == 1).flatten() {
        let shape = if open && series.is_open(point.0) { Dot::Open } else { shape };
        dot(picture, at(point), shape, stroke.colour);
    }
}
