//! The letters of documents: DejaVu Sans Condensed, wide in Latin letters, free to embed.

use ttf_parser::Face;

/// Stands for a letter that the font lacks.
const UNKNOWN: char = '\u{fffd}';

/// One face.
pub struct Letters {
    /// The font file.
    pub data: &'static [u8],
    face: Face<'static>,
}

/// A letter placed: glyph, advance in shares of the size.
#[derive(Clone, Copy)]
pub struct Placed {
    pub glyph: u16,
    pub advance: f32,
}

impl Letters {
    /// The face, bold or not.
    ///
    /// # Errors
    /// When the embedded font can not be read; it always can.
    pub fn new(bold: bool) -> Result<Self, String> {
        let data =
            if bold { dejavu::sans_condensed::bold() } else { dejavu::sans_condensed::regular() };
        let face = Face::parse(data, 0).map_err(|e| e.to_string())?;
        Ok(Self { data, face })
    }

    /// A text that has a glyph for each character: unknown ones are replaced by U+FFFD, and those
    /// that are not to be seen by a space.
    pub fn clean(&self, text: &str) -> String {
        let known = |c: char| match c {
            c if c.is_whitespace() && !matches!(c, '\u{a0}' | '\u{202f}') => ' ',
            c if c.is_control() => ' ',
            c if self.face.glyph_index(c).is_some() => c,
            _ => UNKNOWN,
        };
        text.chars().map(known).collect()
    }

    /// A letter's glyph and advance.
    pub fn place(&self, letter: char) -> Placed {
        let glyph = self.face.glyph_index(letter).unwrap_or_default();
        let advance = f32::from(self.face.glyph_hor_advance(glyph).unwrap_or(0));
        Placed { glyph: glyph.0, advance: advance / f32::from(self.face.units_per_em()) }
    }

    /// Width of a text in points.
    pub fn width(&self, text: &str, size: f64) -> f64 {
        text.chars().map(|c| f64::from(self.place(c).advance)).sum::<f64>() * size
    }

    /// A text in lines that fit; a word that is wider than a line is broken.
    pub fn lines(&self, text: &str, size: f64, width: f64) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        let mut used = 0.0;
        let space = self.width(" ", size);
        for word in text.split(' ').filter(|w| !w.is_empty()) {
            let mut rest = word.to_owned();
            let mut wide = self.width(&rest, size);
            if !line.is_empty() && used + space + wide > width {
                lines.push(std::mem::take(&mut line));
                used = 0.0;
            }
            while wide > width && rest.chars().count() > 1 {
                let (head, tail) = self.split(&rest, size, width);
                lines.push(head);
                rest = tail;
                wide = self.width(&rest, size);
            }
            if line.is_empty() {
                used = wide;
            } else {
                line.push(' ');
                used += space + wide;
            }
            line.push_str(&rest);
        }
        if !line.is_empty() || lines.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// As much of a word as fits, at least one letter, and the rest.
    fn split(&self, word: &str, size: f64, width: f64) -> (String, String) {
        let mut head = String::new();
        let mut used = 0.0;
        let mut letters = word.chars();
        let mut rest = letters.clone();
        while let Some(letter) = letters.next() {
            used += f64::from(self.place(letter).advance) * size;
            if used > width && !head.is_empty() {
                break;
            }
            head.push(letter);
            rest = letters.clone();
        }
        (head, rest.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_the_region_have_letters() {
        let letters = Letters::new(false).unwrap();
        // Kikuyu and Kamba ĩ ũ, Luganda ŋ, Luo ŋ', Somali, French, Portuguese, Polish, Czech.
        let names = "Mũthoni Kĩmani Ŋŋombe Čapek Łukasz João Zoé Ñuño Wanjirũ ’ − €";
        assert_eq!(letters.clean(names), names);
        assert_eq!(letters.clean("a\nb\u{7}c🐄"), "a b c\u{fffd}");
    }

    #[test]
    fn lines_fit_and_lose_nothing() {
        let letters = Letters::new(true).unwrap();
        let text = "a few words and one Averyveryverylongwordthatnolinecanhold end";
        let lines = letters.lines(text, 10.0, 90.0);
        assert!(lines.len() > 3);
        for line in &lines {
            assert!(letters.width(line, 10.0) <= 90.0, "{line}");
        }
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        assert_eq!(letters.lines("", 10.0, 90.0), [""]);
        assert_eq!(letters.lines("ab", 10.0, 0.1), ["a", "b"]);
    }
}
