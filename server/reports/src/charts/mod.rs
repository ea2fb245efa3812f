//! Charts as small SVG pictures, readable in black and white.
//!
//! Each chart takes plain numbers with texts that are already in the reader's language, and gives a
//! [`Picture`]: a list of shapes. [`svg`](svg::write) writes a picture for a page, the PDF of the
//! board draws the same one. No script, no style attribute, no outside font: the pages' policy
//! allows none. Nothing is told by colour alone: marks differ in shape, areas in hatching, lines in
//! dashes. What is no number is left out, never drawn as zero.

mod frame;
mod intervals;
mod months;
mod path;
mod picture;
mod scale;
mod shelf;
mod svg;
mod timeline;

pub use intervals::{Interval, Intervals};
pub use months::{Months, Series, Start};
pub use path::{Path, PathPoint};
pub use picture::{Anchor, Colour, Dash, LETTER, Picture, Shape, Stroke, Text};
pub use scale::number;
pub use shelf::{Shelf, ShelfAge};
pub use timeline::{Event, Lane, Mark, Now, Segment, Stage, Timeline};

/// What is said about a chart to those who can not see it, and the name that its parts go by.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Words {
    /// Unlike that of any other chart on the page: letters, digits, `-` and `_`; others are
    /// replaced.
    pub id: String,
    pub title: String,
    /// What the chart shows, in a sentence or two.
    pub description: String,
}

/// Interval bars by member, as SVG; `None` without rows.
#[must_use]
pub fn intervals(chart: &Intervals) -> Option<String> {
    intervals::draw(chart).map(|p| svg::write(&p, &chart.words))
}

/// The path of a statistic from batch to batch, as SVG; `None` without a number.
#[must_use]
pub fn path(chart: &Path) -> Option<String> {
    path::draw(chart).map(|p| svg::write(&p, &chart.words))
}

/// Lines by month, as SVG; `None` without a number.
#[must_use]
pub fn months(chart: &Months) -> Option<String> {
    months::draw(chart).map(|p| svg::write(&p, &chart.words))
}

/// A shed's shelves by tray age, as SVG; `None` without rows.
#[must_use]
pub fn shelf(chart: &Shelf) -> Option<String> {
    shelf::draw(chart).map(|p| svg::write(&p, &chart.words))
}

/// One batch's life, as SVG; `None` where nothing has a day.
#[must_use]
pub fn timeline(chart: &Timeline) -> Option<String> {
    timeline::draw(chart).map(|p| svg::write(&p, &chart.words))
}

/// The picture of [`intervals`], to draw elsewhere.
#[must_use]
pub fn intervals_picture(chart: &Intervals) -> Option<Picture> {
    intervals::draw(chart)
}

#[cfg(test)]
mod tests;
