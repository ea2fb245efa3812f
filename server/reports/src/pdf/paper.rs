//! Laying out pages: what comes next stands below what came before.

use super::font::Letters;
use super::table::{Align, Row, Table};
use crate::charts::{Anchor, Colour, Dash, Picture, Shape, Stroke, Text};
use chrono::NaiveDate;

/// A4, points.
pub const PAGE: (f64, f64) = (595.28, 841.89);
/// Left and right edge.
pub const LEFT: f64 = 42.0;
/// Width between the edges.
pub const WIDTH: f64 = PAGE.0 - 2.0 * LEFT;
const TOP: f64 = 46.0;
const BOTTOM: f64 = PAGE.1 - 50.0;
/// Size of letters in paragraphs.
const SIZE: f64 = 10.0;
/// Size of small letters.
const SMALL: f64 = 8.5;
/// Points of a cell that stay empty beside its letters.
pub const PADDING: f64 = 6.0;
/// Height of a line in tables, as a multiple of the size of letters.
const CELL_LINE: f64 = 1.3;

/// What a document says of itself.
#[derive(Clone, Debug)]
pub struct About {
    pub title: String,
    pub author: String,
    /// Language, BCP 47.
    pub language: String,
    /// The day that it is of; no clock is asked.
    pub day: NaiveDate,
    /// Words for "page 2 of 5", with `{page}` and `{pages}`.
    pub page_of: String,
}

/// What part of the document something drawn belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Part {
    /// None: rules, page numbers, repeated heads.
    Artifact,
    /// A heading, paragraph or picture.
    Block(usize),
    /// A cell of a table: block, row, cell.
    Cell(usize, usize, usize),
}

/// The parts in the order of reading.
#[derive(Clone, Debug)]
pub enum Block {
    /// A heading with its depth and text.
    Heading(u16, String),
    Paragraph,
    /// A picture and what it shows.
    Figure(String),
    /// A table: for each row how many cells, and whether it is a head.
    Table(Vec<(usize, bool)>),
}

/// Something drawn.
#[derive(Clone, Debug)]
pub enum What {
    /// A text from its left end.
    Text {
        /// Left end of the base line.
        at: (f64, f64),
        /// Size of letters.
        size: f64,
        /// Whether they are bold.
        bold: bool,
        colour: Colour,
        /// The text, with letters that the font has.
        text: String,
    },
    /// A shape, moved and made larger.
    Shape {
        /// The shape; no text.
        shape: Shape,
        /// Where its origin stands.
        at: (f64, f64),
        /// How much larger.
        scale: f64,
    },
}

/// A page: what is drawn, in order.
pub type Page = Vec<(Part, What)>;

/// A document in the making.
pub struct Paper {
    /// What it says of itself.
    pub about: About,
    /// Letters: plain and bold.
    pub letters: [Letters; 2],
    pub pages: Vec<Page>,
    /// Parts.
    pub blocks: Vec<Block>,
    y: f64,
}

impl Paper {
    /// An empty document.
    ///
    /// # Errors
    /// When the embedded fonts can not be read; they always can.
    pub fn new(about: About) -> Result<Self, String> {
        let letters = [Letters::new(false)?, Letters::new(true)?];
        Ok(Self { about, letters, pages: vec![Vec::new()], blocks: Vec::new(), y: TOP })
    }

    /// The letters, bold or not.
    #[must_use]
    pub fn face(&self, bold: bool) -> &Letters {
        let [plain, heavy] = &self.letters;
        if bold { heavy } else { plain }
    }

    /// Begins a new page, unless this one is empty.
    pub fn new_page(&mut self) {
        if self.y > TOP {
            self.pages.push(Vec::new());
            self.y = TOP;
        }
    }

    /// Leaves room.
    pub fn space(&mut self, height: f64) {
        self.y += height;
    }

    /// Begins a new page where less than this is left.
    pub fn need(&mut self, height: f64) {
        if self.y + height > BOTTOM {
            self.new_page();
        }
    }

    fn add(&mut self, part: Part, what: What) {
        if let Some(page) = self.pages.last_mut() {
            page.push((part, what));
        }
    }

    fn block(&mut self, block: Block) -> usize {
        self.blocks.push(block);
        self.blocks.len() - 1
    }

    /// A heading: 1 the document's, 2 a part's.
    pub fn heading(&mut self, level: u16, text: &str) {
        let size = if level == 1 { 18.0 } else { 12.5 };
        if level > 1 {
            self.space(8.0);
        }
        // A heading stays with what it is above.
        self.need(size * 1.4 + 40.0);
        let block = self.block(Block::Heading(level, text.to_owned()));
        self.flow(Part::Block(block), text, size, true, Colour::Ink, (LEFT, WIDTH));
        self.space(2.0);
    }

    pub fn paragraph(&mut self, text: &str) {
        self.set(text, SIZE, false, Colour::Ink);
    }

    /// A paragraph of softer colour.
    pub fn aside(&mut self, text: &str) {
        self.set(text, SMALL, false, Colour::Soft);
    }

    /// A paragraph that stands out.
    pub fn strong(&mut self, text: &str) {
        self.set(text, 13.0, true, Colour::Ink);
    }

    fn set(&mut self, text: &str, size: f64, bold: bool, colour: Colour) {
        let block = self.block(Block::Paragraph);
        self.flow(Part::Block(block), text, size, bold, colour, (LEFT, WIDTH));
        self.space(4.0);
    }

    /// A text in lines from here downwards.
    fn flow(
        &mut self,
        part: Part,
        text: &str,
        size: f64,
        bold: bool,
        colour: Colour,
        (left, width): (f64, f64),
    ) {
        let text = self.face(bold).clean(text);
        for line in self.face(bold).lines(&text, size, width) {
            self.need(size * 1.35);
            let at = (left, self.y + size);
            self.add(part, What::Text { at, size, bold, colour, text: line });
            self.y += size * 1.35;
        }
    }

    /// A picture, so much larger than its own units, with what it shows in words.
    pub fn picture(&mut self, picture: &Picture, scale: f64, alt: &str) {
        self.need(picture.height * scale);
        let block = self.block(Block::Figure(alt.to_owned()));
        let (part, at) = (Part::Block(block), (LEFT, self.y));
        for shape in &picture.shapes {
            let what = match shape {
                Shape::Text(text) => self.letter(text, at, scale),
                shape => What::Shape { shape: shape.clone(), at, scale },
            };
            self.add(part, what);
        }
        self.space(picture.height * scale + 6.0);
    }

    /// A picture's text, by the true width of its letters.
    fn letter(&self, text: &Text, (x, y): (f64, f64), scale: f64) -> What {
        let size = crate::charts::LETTER * scale;
        let face = self.face(text.bold);
        let words = face.clean(&text.text);
        let width = face.width(&words, size);
        let shift = match text.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => width / 2.0,
            Anchor::End => width,
        };
        let at = (x + text.at.0 * scale - shift, y + text.at.1 * scale);
        What::Text { at, size, bold: text.bold, colour: text.colour, text: words }
    }

    /// A table; its head stands on each page that it reaches.
    pub fn table(&mut self, table: &Table) {
        let block = self.block(Block::Table(Vec::new()));
        let mut shape = Vec::new();
        let head = table.head();
        if let Some(head) = &head {
            self.need(60.0);
            shape.push((head.cells.len(), true));
            self.row(table, head, (block, Some(0)));
        }
        for row in &table.rows {
            // A row that begins a group stays with the next one.
            let more = if row.stays { 3.0 * CELL_LINE * table.size } else { 0.0 };
            if self.y + self.height(table, row) + more > BOTTOM {
                self.new_page();
                if let Some(head) = &head {
                    self.row(table, head, (block, None));
                }
            }
            self.row(table, row, (block, Some(shape.len())));
            shape.push((row.cells.len(), false));
        }
        if let Some(Block::Table(rows)) = self.blocks.get_mut(block) {
            *rows = shape;
        }
        self.space(6.0);
    }

    /// The cells of a row in lines, with left edge and width of each.
    fn cells(&self, table: &Table, row: &Row) -> Vec<Placed> {
        let mut columns = table.columns.iter();
        let mut x = LEFT;
        let face = self.face(row.bold);
        let mut all = Vec::new();
        for cell in &row.cells {
            let first = columns.next();
            let align =
                first.map_or(Align::Left, |c| if cell.span > 1 { Align::Left } else { c.align });
            let more = columns.by_ref().take(cell.span.saturating_sub(1)).map(|c| c.width);
            let width = first.map_or(0.0, |c| c.width) + more.sum::<f64>();
            let text = face.clean(&cell.text);
            all.push((x, width, align, face.lines(&text, table.size, (width - PADDING).max(4.0))));
            x += width;
        }
        all
    }

    fn height(&self, table: &Table, row: &Row) -> f64 {
        height_of(&self.cells(table, row), table) + row.room
    }

    /// Draws a row; without a number of its own it is a head that was drawn before.
    fn row(&mut self, table: &Table, row: &Row, (block, number): (usize, Option<usize>)) {
        let cells = self.cells(table, row);
        let height = height_of(&cells, table) + row.room;
        for (index, (x, width, align, lines)) in cells.into_iter().enumerate() {
            let part = number.map_or(Part::Artifact, |n| Part::Cell(block, n, index));
            let mut y = self.y + table.size + 2.0;
            for text in lines {
                let free = width - 6.0 - self.face(row.bold).width(&text, table.size);
                let shift = if align == Align::Right { free } else { 0.0 };
                let at = (x + 3.0 + shift, y);
                let (size, bold, colour) = (table.size, row.bold, Colour::Ink);
                self.add(part, What::Text { at, size, bold, colour, text });
                y += CELL_LINE * table.size;
            }
        }
        self.y += height;
        let colour = if row.ruled { Colour::Ink } else { Colour::Rule };
        let stroke = Stroke { colour, width: if row.ruled { 0.9 } else { 0.5 }, dash: Dash::Solid };
        let corners = vec![vec![(LEFT, self.y), (LEFT + table.width(), self.y)]];
        let shape =
            Shape::Lines { lines: corners, closed: false, fill: None, stroke: Some(stroke) };
        self.add(Part::Artifact, What::Shape { shape, at: (0.0, 0.0), scale: 1.0 });
    }

    /// The document as bytes.
    pub fn finish(mut self) -> Result<Vec<u8>, String> {
        let count = self.pages.len();
        for number in 0..count {
            let words = self.about.page_of.replace("{pages}", &count.to_string());
            let words = words.replace("{page}", &(number + 1).to_string());
            let title = self.face(false).clean(&self.about.title);
            let (size, y) = (8.0, PAGE.1 - 28.0);
            let x = LEFT + WIDTH - self.face(false).width(&words, size);
            let line =
                |x, text| What::Text { at: (x, y), size, bold: false, colour: Colour::Soft, text };
            if let Some(page) = self.pages.get_mut(number) {
                page.push((Part::Artifact, line(LEFT, title)));
                page.push((Part::Artifact, line(x, words)));
            }
        }
        super::draw::write(&self)
    }
}

/// A cell of a row: left edge, width, side, lines.
type Placed = (f64, f64, Align, Vec<String>);

/// How high a row of these cells is.
fn height_of(cells: &[Placed], table: &Table) -> f64 {
    let lines = cells.iter().map(|c| c.3.len()).max().unwrap_or(1);
    u32::try_from(lines).map_or(1.0, f64::from) * CELL_LINE * table.size + 4.0
}
