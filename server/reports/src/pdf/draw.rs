//! Pages as PDF, by `krilla`.

use super::font::Letters;
use super::paper::{Block, PAGE, Page, Paper, Part, What};
use crate::charts::{Colour, Shape, Stroke};
use chrono::Datelike as _;
use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point};
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke as Line, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, Node, SpanTag, TableHeaderScope, Tag, TagGroup,
    TagTree,
};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use std::collections::HashMap;
use std::num::NonZeroU16;

/// Places are far within what a single float holds.
fn short(value: f64) -> f32 {
    #[expect(clippy::as_conversions, reason = "points on a page, to a thousandth and better")]
    {
        value as f32
    }
}

/// Writes the document.
///
/// # Errors
/// A text that says what went wrong.
pub fn write(paper: &Paper) -> Result<Vec<u8>, String> {
    let settings = SerializeSettings { enable_tagging: true, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let [plain, bold] = &paper.letters;
    let font = |letters: &Letters| {
        Font::new(letters.data.to_vec().into(), 0).ok_or("the embedded font can not be read")
    };
    let fonts = [font(plain)?, font(bold)?];
    let mut marks: HashMap<Part, Vec<Identifier>> = HashMap::new();
    for page in &paper.pages {
        let size = PageSettings::from_wh(short(PAGE.0), short(PAGE.1));
        let mut sheet = document.start_page_with(size.ok_or("a page has no size")?);
        let mut surface = sheet.surface();
        one(&mut surface, paper, page, &fonts, &mut marks);
        surface.finish();
        sheet.finish();
    }
    document.set_metadata(metadata(paper));
    document.set_tag_tree(tree(paper, &mut marks));
    document.finish().map_err(|e| format!("{e:?}"))
}

fn metadata(paper: &Paper) -> Metadata {
    let about = &paper.about;
    let year = u16::try_from(about.day.year()).unwrap_or(0);
    let part = |n: u32| u8::try_from(n).unwrap_or(1);
    let date = DateTime::new(year).month(part(about.day.month())).day(part(about.day.day()));
    Metadata::new()
        .title(about.title.clone())
        .authors(vec![about.author.clone()])
        .language(about.language.clone())
        .creator("traybook".to_owned())
        .creation_date(date.hour(0).minute(0).second(0).utc_offset_hour(0).utc_offset_minute(0))
}

/// Draws a page; what belongs to one part and stands together is marked together.
fn one(
    surface: &mut Surface,
    paper: &Paper,
    page: &Page,
    fonts: &[Font; 2],
    marks: &mut HashMap<Part, Vec<Identifier>>,
) {
    let mut open: Option<Part> = None;
    for (part, what) in page {
        if open != Some(*part) {
            if open.is_some() {
                surface.end_tagged();
            }
            let tag = match part {
                Part::Artifact => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Other)),
                _ => ContentTag::Span(SpanTag::empty()),
            };
            let id = surface.start_tagged(tag);
            if *part != Part::Artifact {
                marks.entry(*part).or_default().push(id);
            }
            open = Some(*part);
        }
        match what {
            What::Text { at, size, bold, colour, text } => {
                let [plain, heavy] = fonts;
                let font = if *bold { heavy } else { plain };
                letters(surface, paper.face(*bold), font, (*at, *size, *colour), text);
            }
            What::Shape { shape, at, scale } => draw(surface, shape, *at, *scale),
        }
    }
    if open.is_some() {
        surface.end_tagged();
    }
}

fn letters(
    surface: &mut Surface,
    face: &Letters,
    font: &Font,
    (at, size, colour): ((f64, f64), f64, Colour),
    text: &str,
) {
    let glyph = |(start, letter): (usize, char)| {
        let placed = face.place(letter);
        KrillaGlyph {
            glyph_id: GlyphId::new(u32::from(placed.glyph)),
            text_range: start..start + letter.len_utf8(),
            x_advance: placed.advance,
            x_offset: 0.0,
            y_offset: 0.0,
            y_advance: 0.0,
            location: None,
        }
    };
    let glyphs: Vec<KrillaGlyph> = text.char_indices().map(glyph).collect();
    if glyphs.is_empty() {
        return;
    }
    surface.set_stroke(None);
    surface.set_fill(Some(fill(colour)));
    let at = Point::from_xy(short(at.0), short(at.1));
    surface.draw_glyphs(at, &glyphs, font.clone(), text, short(size), false);
}

fn fill(colour: Colour) -> Fill {
    let (r, g, b) = colour.rgb();
    Fill { paint: rgb::Color::new(r, g, b).into(), opacity: NormalizedF32::ONE, ..Fill::default() }
}

fn line(stroke: Stroke, scale: f64) -> Line {
    let (r, g, b) = stroke.colour.rgb();
    let dash = stroke.dash.pattern().map(|(on, off)| StrokeDash {
        array: [on, off].map(|v| short(f64::from(v) * scale)).to_vec(),
        offset: 0.0,
    });
    let (paint, width) = (rgb::Color::new(r, g, b).into(), short(stroke.width * scale));
    Line { paint, width, dash, ..Line::default() }
}

/// Draws a shape that is no text.
fn draw(surface: &mut Surface, shape: &Shape, (x, y): (f64, f64), scale: f64) {
    let at = |(a, b): (f64, f64)| (short(x + a * scale), short(y + b * scale));
    let (path, inside, stroke) = match shape {
        Shape::Lines { lines, closed, fill, stroke } => {
            let mut path = PathBuilder::new();
            for corners in lines {
                for (index, corner) in corners.iter().enumerate() {
                    let (x, y) = at(*corner);
                    if index == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
                }
                if *closed {
                    path.close();
                }
            }
            (path.finish(), *fill, *stroke)
        }
        Shape::Circle { at: middle, radius, fill, stroke } => {
            (circle(at(*middle), short(radius * scale)), *fill, *stroke)
        }
        Shape::Text(_) => return,
    };
    let Some(path) = path else { return };
    surface.set_fill(inside.map(fill));
    surface.set_stroke(stroke.map(|s| line(s, scale)));
    surface.draw_path(&path);
}

/// Four curves that stay within a thousandth of a circle.
fn circle((x, y): (f32, f32), r: f32) -> Option<Path> {
    // Distance of the control points, as a share of the radius: 4/3 (√2 − 1).
    let k = r * 0.552_284_8;
    let mut path = PathBuilder::new();
    path.move_to(x + r, y);
    path.cubic_to(x + r, y + k, x + k, y + r, x, y + r);
    path.cubic_to(x - k, y + r, x - r, y + k, x - r, y);
    path.cubic_to(x - r, y - k, x - k, y - r, x, y - r);
    path.cubic_to(x + k, y - r, x + r, y - k, x + r, y);
    path.close();
    path.finish()
}

/// The parts of the document in the order of reading.
fn tree(paper: &Paper, marks: &mut HashMap<Part, Vec<Identifier>>) -> TagTree {
    let mut tree = TagTree::new().with_lang(Some(paper.about.language.clone()));
    let mut leaves = |part: Part| -> Vec<Node> {
        marks.remove(&part).unwrap_or_default().into_iter().map(Node::Leaf).collect()
    };
    for (index, block) in paper.blocks.iter().enumerate() {
        let group = match block {
            Block::Heading(level, text) => {
                let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
                let tag = Tag::Hn(level, Some(text.clone()));
                TagGroup::with_children(tag, leaves(Part::Block(index)))
            }
            Block::Paragraph => TagGroup::with_children(Tag::P, leaves(Part::Block(index))),
            Block::Figure(alt) => {
                let tag = Tag::Figure(Some(alt.clone()));
                TagGroup::with_children(tag, leaves(Part::Block(index)))
            }
            Block::Table(rows) => {
                let mut table = TagGroup::new(Tag::Table);
                for (number, (cells, is_head)) in rows.iter().enumerate() {
                    let mut row = TagGroup::new(Tag::TR);
                    for cell in 0..*cells {
                        let children = leaves(Part::Cell(index, number, cell));
                        row.push(if *is_head {
                            TagGroup::with_children(Tag::TH(TableHeaderScope::Column), children)
                        } else {
                            TagGroup::with_children(Tag::TD, children)
                        });
                    }
                    table.push(row);
                }
                table
            }
        };
        tree.push(group);
    }
    tree
}
