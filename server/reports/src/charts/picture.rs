//! A picture as a list of shapes, apart from what it is written to.

/// Width of every picture, in its own units: what a small phone shows one to one.
pub const WIDTH: f64 = 360.0;
/// Size of letters.
pub const LETTER: f64 = 11.0;

/// The four colours. Each also differs in brightness.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Colour {
    /// Text and what matters.
    Ink,
    /// Text beside it.
    Soft,
    /// Lines of a grid, bands.
    Rule,
    Accent,
}

impl Colour {
    /// Red, green, blue.
    #[must_use]
    pub const fn rgb(self) -> (u8, u8, u8) {
        match self {
            Self::Ink => (0x1c, 0x1b, 0x18),
            Self::Soft => (0x5a, 0x56, 0x4c),
            Self::Rule => (0xcf, 0xc8, 0xb8),
            Self::Accent => (0x1f, 0x3f, 0x8f),
        }
    }
}

/// How a line is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// Unbroken.
    Solid,
    /// Long strokes.
    Long,
    /// Short strokes.
    Short,
}

impl Dash {
    /// Stroke and gap; none where unbroken.
    #[must_use]
    pub const fn pattern(self) -> Option<(f32, f32)> {
        match self {
            Self::Solid => None,
            Self::Long => Some((6.0, 3.0)),
            Self::Short => Some((2.0, 2.0)),
        }
    }
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    pub colour: Colour,
    pub width: f64,
    pub dash: Dash,
}

impl Stroke {
    /// An unbroken line.
    #[must_use]
    pub const fn solid(colour: Colour, width: f64) -> Self {
        Self { colour, width, dash: Dash::Solid }
    }
}

/// Which end of a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its beginning.
    Start,
    Middle,
    End,
}

/// A text on its base line.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    pub at: (f64, f64),
    /// Which end stands there.
    pub anchor: Anchor,
    pub colour: Colour,
    /// Whether the letters are bold.
    pub bold: bool,
    pub text: String,
}

/// One thing that is drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Lines from corner to corner.
    Lines {
        /// Each line's corners.
        lines: Vec<Vec<(f64, f64)>>,
        /// Whether the last corner joins the first.
        closed: bool,
        /// Colour inside.
        fill: Option<Colour>,
        /// How the lines are drawn.
        stroke: Option<Stroke>,
    },
    Circle {
        /// Middle.
        at: (f64, f64),
        radius: f64,
        /// Colour inside.
        fill: Option<Colour>,
        /// How its line is drawn.
        stroke: Option<Stroke>,
    },
    Text(Text),
}

/// A picture, [`WIDTH`] wide.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Picture {
    pub height: f64,
    /// Shapes, the lowest first.
    pub shapes: Vec<Shape>,
}

impl Picture {
    #[must_use]
    pub const fn width(&self) -> f64 {
        WIDTH
    }

    /// Adds a line; lines of one kind that follow each other become one shape.
    pub fn line(&mut self, corners: Vec<(f64, f64)>, stroke: Stroke) {
        if let Some(Shape::Lines { lines, closed: false, fill: None, stroke: Some(last) }) =
            self.shapes.last_mut()
            && *last == stroke
        {
            lines.push(corners);
            return;
        }
        let lines = vec![corners];
        self.shapes.push(Shape::Lines { lines, closed: false, fill: None, stroke: Some(stroke) });
    }

    /// Adds a closed shape.
    pub fn area(&mut self, corners: Vec<(f64, f64)>, fill: Option<Colour>, stroke: Option<Stroke>) {
        self.shapes.push(Shape::Lines { lines: vec![corners], closed: true, fill, stroke });
    }

    /// Adds a rectangle from one corner to the other.
    pub fn rect(
        &mut self,
        (left, top): (f64, f64),
        (right, bottom): (f64, f64),
        fill: Option<Colour>,
        stroke: Option<Stroke>,
    ) {
        let corners = vec![(left, top), (right, top), (right, bottom), (left, bottom)];
        self.area(corners, fill, stroke);
    }

    /// Hatches a rectangle with lines at 45°, rising or falling, so far apart.
    pub fn hatch(
        &mut self,
        (left, top): (f64, f64),
        (right, bottom): (f64, f64),
        rising: bool,
        apart: f64,
        stroke: Stroke,
    ) {
        let (wide, high) = (right - left, bottom - top);
        if !(wide > 0.0 && high > 0.0 && apart >= 1.0) {
            return;
        }
        let mut offset = apart;
        while offset < wide + high {
            // From the left or lower edge to the upper or right edge.
            let (x1, y1) = if offset < high { (0.0, offset) } else { (offset - high, high) };
            let (x2, y2) = if offset < wide { (offset, 0.0) } else { (wide, offset - wide) };
            let turn = |y: f64| if rising { top + y } else { bottom - y };
            self.line(vec![(left + x1, turn(y1)), (left + x2, turn(y2))], stroke);
            offset += apart;
        }
    }

    /// Adds a circle.
    pub fn circle(
        &mut self,
        at: (f64, f64),
        radius: f64,
        fill: Option<Colour>,
        stroke: Option<Stroke>,
    ) {
        self.shapes.push(Shape::Circle { at, radius, fill, stroke });
    }

    /// Adds a text; an empty one is left out.
    pub fn text(&mut self, at: (f64, f64), anchor: Anchor, colour: Colour, text: &str) {
        self.words(at, anchor, colour, false, text);
    }

    /// Adds a text that may be bold.
    pub fn words(
        &mut self,
        at: (f64, f64),
        anchor: Anchor,
        colour: Colour,
        bold: bool,
        text: &str,
    ) {
        if !text.is_empty() {
            let text = text.to_owned();
            self.shapes.push(Shape::Text(Text { at, anchor, colour, bold, text }));
        }
    }
}

/// About how wide a text is; fonts differ, so this is on the wide side.
pub fn text_width(text: &str) -> f64 {
    let letter = |c: char| match c {
        'i' | 'l' | 'j' | 't' | 'f' | 'r' | ' ' | '\u{a0}' | '\u{202f}' | '.' | ',' | ':'
        | '\'' | '(' | ')' => 0.36,
        'm' | 'w' | 'M' | 'W' | '%' | '…' => 0.92,
        c if c.is_ascii() && !c.is_ascii_uppercase() => 0.59,
        c if c.is_alphabetic() && c < '\u{2000}' => 0.68,
        '\u{2212}' => 0.68,
        c if c < '\u{2000}' => 0.68,
        _ => 1.0,
    };
    text.chars().map(letter).sum::<f64>() * LETTER
}

/// A text that fits, shortened by an ellipsis where it has to be.
pub fn fit(text: &str, width: f64) -> String {
    if text_width(text) <= width {
        return text.to_owned();
    }
    let mut short = String::new();
    let mut chars = text.chars();
    while let Some(next) = chars.next().filter(|_| text_width(&short) + 2.0 * LETTER <= width) {
        short.push(next);
    }
    format!("{}…", short.trim_end())
}
