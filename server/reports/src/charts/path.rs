//! The path of a statistic over time, batch by batch, with its threshold.

use super::Words;
use super::frame::{AXIS, Dot, LINE, MARGIN, MEASURED, dot, labels, rows, rows_room};
use super::picture::{Anchor, Colour, Dash, LETTER, Picture, Stroke, WIDTH, fit, text_width};
use super::scale::Scale;

/// One batch.
#[derive(Clone, Debug, PartialEq)]
pub struct PathPoint {
    /// Day, as it is read.
    pub label: String,
    /// Day, counted from any day.
    pub day: f64,
    /// Statistic after it; what is no number leaves a gap.
    pub value: f64,
    /// Whether it counts. One that does not is hollow, at the height of the path before it.
    pub counted: bool,
    /// Whether it is one of those that raised the flag.
    pub raised: bool,
}

/// A path with its threshold.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// Title and description.
    pub words: Words,
    /// What the vertical axis counts.
    pub axis: String,
    /// What runs along the horizontal axis.
    pub across: String,
    pub threshold: f64,
    pub threshold_label: String,
    /// What the marked batches did.
    pub raised_label: String,
    /// What a hollow mark means.
    pub uncounted_label: String,
    /// Batches, the oldest first.
    pub points: Vec<PathPoint>,
}

const TOP: f64 = 38.0;
const BOTTOM: f64 = 168.0;
/// Days in three thousand years: further apart stand no two batches.
const DAYS_MAX: f64 = 1_000_000.0;
/// Height of the line that names the hollow marks, below the plot.
const LEGEND: f64 = 16.0;

pub fn draw(chart: &Path) -> Option<Picture> {
    if !chart.points.iter().any(|p| p.value.is_finite()) {
        return None;
    }
    let values = chart.points.iter().map(|p| p.value).chain([0.0, chart.threshold]);
    let scale = Scale::over(values, BOTTOM, TOP)?;
    let (left, right) = (rows_room(&scale).min(90.0), WIDTH - MARGIN - 6.0);
    let mut picture = Picture { height: BOTTOM + 2.0 * LINE + 8.0, shapes: Vec::new() };
    picture.text((MARGIN, LETTER + 1.0), Anchor::Start, Colour::Soft, &fit(&chart.axis, 344.0));
    rows(&mut picture, &scale, left, right);
    let zero = scale.place(0.0);
    picture.line(vec![(left, zero), (right, zero)], AXIS);
    let days = || chart.points.iter().map(day);
    let first = days().reduce(f64::min).unwrap_or(0.0);
    let last = days().reduce(f64::max).unwrap_or(0.0);
    let across = Scale::between(first, last.max(first + 1.0), left + 6.0, right - 6.0);
    let place = |p: &PathPoint| if last > first { across.place(day(p)) } else { 200.0 };
    lines(&mut picture, chart, &scale, &place);
    if chart.threshold.is_finite() {
        let y = scale.place(chart.threshold);
        let stroke = Stroke { colour: Colour::Ink, width: 1.6, dash: Dash::Long };
        picture.line(vec![(left, y), (right, y)], stroke);
        // Its name stands above the plot, where no measured line runs through it.
        let text = fit(&chart.threshold_label, 110.0);
        let from = right - text_width(&text) - 6.0;
        picture.line(vec![(from - 26.0, 23.0), (from, 23.0)], stroke);
        picture.words((right, 27.0), Anchor::End, Colour::Ink, true, &text);
    }
    let texts = chart.points.iter().map(|p| (place(p), p.label.as_str()));
    labels(&mut picture, &texts.collect::<Vec<_>>(), BOTTOM + LETTER + 4.0);
    let y = BOTTOM + LETTER + 4.0 + LINE;
    let (middle, name) = (f64::midpoint(left, right), fit(&chart.across, right - left));
    picture.text((middle, y), Anchor::Middle, Colour::Soft, &name);
    if chart.points.iter().any(|p| p.raised && p.value.is_finite()) {
        dot(&mut picture, (MARGIN + 5.0, 23.0), Dot::Diamond, Colour::Ink);
        let text = fit(&chart.raised_label, 180.0);
        picture.text((MARGIN + 14.0, 27.0), Anchor::Start, Colour::Ink, &text);
    }
    if chart.points.iter().any(|p| !p.counted) {
        let y = picture.height + 4.0;
        dot(&mut picture, (MARGIN + 5.0, y), Dot::Open, Colour::Soft);
        let text = fit(&chart.uncounted_label, WIDTH - 2.0 * MARGIN - 20.0);
        picture.text((MARGIN + 14.0, y + 4.0), Anchor::Start, Colour::Ink, &text);
        picture.height += LEGEND;
    }
    Some(picture)
}

/// The day of a batch, within what a calendar has.
fn day(point: &PathPoint) -> f64 {
    if point.day.is_finite() { point.day.clamp(-DAYS_MAX, DAYS_MAX) } else { 0.0 }
}

fn lines(picture: &mut Picture, chart: &Path, scale: &Scale, place: &dyn Fn(&PathPoint) -> f64) {
    let mut run: Vec<(f64, f64)> = Vec::new();
    let mut runs = Vec::new();
    for point in chart.points.iter().filter(|p| p.counted) {
        if point.value.is_finite() {
            run.push((place(point), scale.place(point.value)));
        } else {
            runs.push(std::mem::take(&mut run));
        }
    }
    runs.push(run);
    for run in runs.into_iter().filter(|r| r.len() > 1) {
        picture.line(run, MEASURED);
    }
    // Over many batches the line alone is clearer.
    let crowded = chart.points.len() > 40;
    for point in chart.points.iter().filter(|p| p.value.is_finite()) {
        let at = (place(point), scale.place(point.value));
        if !point.counted {
            dot(picture, at, Dot::Open, Colour::Soft);
        } else if point.raised {
            dot(picture, at, Dot::Diamond, Colour::Ink);
        } else if !crowded {
            picture.circle(at, 2.0, Some(Colour::Accent), None);
        }
    }
}
