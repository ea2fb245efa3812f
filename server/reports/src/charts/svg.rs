//! A picture as SVG.

use super::Words;
use super::picture::{Anchor, Colour, LETTER, Picture, Shape, Stroke};
use std::fmt::Write as _;

/// The picture with its title and description.
pub fn write(picture: &Picture, words: &Words) -> String {
    let id = name(&words.id);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" role=\"img\" \
         aria-labelledby=\"{id}-title {id}-desc\" font-family=\"system-ui, sans-serif\" \
         font-size=\"{LETTER}\" fill=\"none\" stroke-linejoin=\"round\"><title id=\"{id}-title\">\
         {}</title><desc id=\"{id}-desc\">{}</desc>",
        short(picture.width()),
        short(picture.height),
        escape(&words.title),
        escape(&words.description),
    );
    for shape in &picture.shapes {
        one(&mut out, shape);
    }
    out.push_str("</svg>");
    out
}

fn one(out: &mut String, shape: &Shape) {
    match shape {
        Shape::Lines { lines, closed, fill, stroke } => {
            out.push_str("<path d=\"");
            for line in lines {
                track(out, line, *closed);
            }
            out.push('"');
            paint(out, *fill, *stroke);
            out.push_str("/>");
        }
        Shape::Circle { at, radius, fill, stroke } => {
            let (x, y, r) = (short(at.0), short(at.1), short(*radius));
            let _ = write!(out, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"");
            paint(out, *fill, *stroke);
            out.push_str("/>");
        }
        Shape::Text(t) => {
            let _ = write!(out, "<text x=\"{}\" y=\"{}\"", short(t.at.0), short(t.at.1));
            match t.anchor {
                Anchor::Start => {}
                Anchor::Middle => out.push_str(" text-anchor=\"middle\""),
                Anchor::End => out.push_str(" text-anchor=\"end\""),
            }
            if t.bold {
                out.push_str(" font-weight=\"bold\"");
            }
            let _ = write!(out, " fill=\"{}\">{}</text>", hex(t.colour), escape(&t.text));
        }
    }
}

/// Corners as path data; straight ways take the short commands.
fn track(out: &mut String, line: &[(f64, f64)], closed: bool) {
    let mut last: Option<(String, String)> = None;
    for (x, y) in line {
        let (x, y) = (short(*x), short(*y));
        match &last {
            None => {
                let _ = write!(out, "M{x} {y}");
            }
            Some((px, py)) if *px == x && *py == y => continue,
            Some((_, py)) if *py == y => {
                let _ = write!(out, "H{x}");
            }
            Some((px, _)) if *px == x => {
                let _ = write!(out, "V{y}");
            }
            Some(_) => {
                let _ = write!(out, "L{x} {y}");
            }
        }
        last = Some((x, y));
    }
    if closed {
        out.push('Z');
    }
}

fn paint(out: &mut String, fill: Option<Colour>, stroke: Option<Stroke>) {
    if let Some(fill) = fill {
        let _ = write!(out, " fill=\"{}\"", hex(fill));
    }
    if let Some(s) = stroke {
        let _ = write!(out, " stroke=\"{}\"", hex(s.colour));
        if (s.width - 1.0).abs() > 0.01 {
            let _ = write!(out, " stroke-width=\"{}\"", short(s.width));
        }
        if let Some((on, off)) = s.dash.pattern() {
            let _ = write!(out, " stroke-dasharray=\"{on} {off}\"");
        }
    }
}

fn hex(colour: Colour) -> String {
    let (r, g, b) = colour.rgb();
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// One digit after the point, and none where it is 0.
fn short(value: f64) -> String {
    let text = format!("{value:.1}");
    let text = text.strip_suffix(".0").map(str::to_owned).unwrap_or(text);
    if text == "-0" { "0".to_owned() } else { text }
}

/// Letters that an id may have.
fn name(id: &str) -> String {
    let safe = |c: char| if c.is_ascii_alphanumeric() || c == '-' || c == '_' { c } else { '_' };
    let name: String = id.chars().map(safe).collect();
    if name.starts_with(|c: char| c.is_ascii_alphabetic()) { name } else { format!("chart-{name}") }
}

/// Text that can not be mistaken for markup; characters that XML does not know are left out.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{0}'..='\u{8}'
            | '\u{b}'
            | '\u{c}'
            | '\u{e}'..='\u{1f}'
            | '\u{fffe}'
            | '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}
