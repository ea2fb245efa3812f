//! A text in pieces: words, figures and the codes of the member's own farms, groups and batches.

use crate::figures::{Figure, Number, part};
use crate::words::{Word, cut, fold, meaning};
use unicode_normalization::UnicodeNormalization as _;

/// What a code names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Code {
    Farm(String),
    Group(String),
    Batch(String),
}

/// A piece of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    Word(Word),
    Figure(Figure),
    Code(Code),
    /// Not understood.
    Unknown(String),
}

/// Most pieces that are read: a text of ten parts has fewer.
const PIECES_MAX: usize = 200;

/// The pieces of a text. `code` says what a folded word names, if it is a code.
#[must_use]
pub fn pieces(text: &str, code: &dyn Fn(&str) -> Option<Code>) -> Vec<Piece> {
    let mut text = text.to_owned();
    for (sign, plain) in [("½", " 1/2"), ("¼", " 1/4"), ("¾", " 3/4")] {
        text = text.replace(sign, plain);
    }
    let text: String = text.nfkc().map(|c| if c == '\u{2044}' { '/' } else { c }).collect();
    let mut out = Vec::new();
    for chunk in text.split_whitespace() {
        let folded = fold(chunk);
        if let Some(code) = code(&folded) {
            out.push(Piece::Code(code));
        } else {
            chunk_pieces(chunk, &mut out);
        }
        if out.len() > PIECES_MAX {
            break;
        }
    }
    join_parts(out)
}

fn chunk_pieces(chunk: &str, out: &mut Vec<Piece>) {
    let chars: Vec<char> = chunk.chars().collect();
    let mut at = 0;
    while let Some(c) = chars.get(at).copied() {
        let end = figure_end(&chars, at);
        if end > at {
            out.push(Piece::Figure(figure(&chars, at, end)));
            at = end;
        } else if c.is_alphabetic() || is_apostrophe(c) {
            let mut end = at;
            while chars.get(end).is_some_and(|c| c.is_alphabetic() || is_apostrophe(*c))
                && figure_end(&chars, end) == end
            {
                end += 1;
            }
            word(chars.get(at..end.max(at + 1)).unwrap_or_default(), out);
            at = end.max(at + 1);
        } else {
            at += 1;
        }
    }
}

const fn is_apostrophe(c: char) -> bool {
    matches!(c, '\'' | '’' | '‘' | '`' | 'ʼ' | '´')
}

fn word(letters: &[char], out: &mut Vec<Piece>) {
    let raw: String = letters.iter().collect();
    let folded = fold(&raw);
    if folded.is_empty() {
        return;
    }
    match (meaning(&folded), cut(&folded)) {
        (Some(word), _) => out.push(Piece::Word(word)),
        (None, Some((first, second))) => {
            out.extend([Piece::Word(first), Piece::Word(second)]);
        }
        (None, None) => out.push(Piece::Unknown(raw)),
    }
}

/// Where a figure that begins here ends. An O or l is a digit beside digits; a last l is litres.
fn figure_end(chars: &[char], from: usize) -> usize {
    let digit = |at: usize| chars.get(at).is_some_and(char::is_ascii_digit);
    let letter = |at: usize| chars.get(at).is_some_and(|c| c.is_alphabetic());
    let like = |at: usize, of: &str| chars.get(at).is_some_and(|c| of.contains(*c));
    // A letter before the first digit: only where nothing but it stands before.
    let leads = like(from, "OolI") && digit(from + 1) && (from == 0 || !letter(from - 1));
    if !digit(from) && !leads {
        return from;
    }
    let mut at = from + 1;
    loop {
        let is_inside = like(at, "OolI") && digit(at + 1);
        let is_last_o = like(at, "Oo") && !letter(at + 1) && !digit(at + 1);
        let is_mark = like(at, ".,/") && (digit(at + 1) || (like(at + 1, "OolI") && digit(at + 2)));
        let is_odd = like(at, "-+*:=") && digit(at + 1);
        if digit(at) || is_inside || is_last_o || is_mark || is_odd {
            at += 1;
        } else {
            return at;
        }
    }
}

fn figure(chars: &[char], from: usize, end: usize) -> Figure {
    let digit = |c: &char| match c {
        'O' | 'o' => '0',
        'l' | 'I' => '1',
        other => *other,
    };
    let read: String = chars.get(from..end).unwrap_or_default().iter().map(digit).collect();
    let sign = from.checked_sub(1).and_then(|at| chars.get(at)).copied();
    let is_signed = sign.is_some_and(|c| "-+*".contains(c))
        || chars.get(end).is_some_and(|c| "%°".contains(*c));
    match is_signed {
        true => Figure { raw: format!("{}{read}", sign.unwrap_or_default()), number: Number::Odd },
        false => Figure::read(&read),
    }
}

/// A whole number and a half that stand beside each other are one figure.
fn join_parts(pieces: Vec<Piece>) -> Vec<Piece> {
    let mut out: Vec<Piece> = Vec::with_capacity(pieces.len());
    for piece in pieces {
        let (more, raw) = match &piece {
            Piece::Figure(Figure { raw, number: Number::Stroke(up, down) }) => {
                (part(*up, *down), raw.clone())
            }
            Piece::Word(Word::Half) => (Some(500), "1/2".to_owned()),
            Piece::Word(Word::Quarter) => (Some(250), "1/4".to_owned()),
            _ => (None, String::new()),
        };
        let Some(more) = more else {
            out.push(piece);
            continue;
        };
        // "12 na nusu", "12 and a half": what says nothing may stand between.
        let words = out.iter().rev().take_while(|p| matches!(p, Piece::Word(Word::Filler))).count();
        let whole = out.len().checked_sub(words + 1).and_then(|at| out.get(at));
        let whole = match whole {
            Some(Piece::Figure(figure)) => figure.whole().map(|n| (n, figure.raw.clone())),
            _ => None,
        };
        let number = match whole {
            Some((n, before)) => {
                out.truncate(out.len() - words - 1);
                Figure { raw: format!("{before} {raw}"), number: Number::Plain(n * 1_000 + more) }
            }
            None if matches!(piece, Piece::Figure(_)) => {
                out.push(piece);
                continue;
            }
            None => Figure { raw, number: Number::Plain(more) },
        };
        out.push(Piece::Figure(number));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::{Opening, Unit};

    fn read(text: &str) -> Vec<String> {
        let code = |word: &str| (word == "f3").then(|| Code::Farm("F3".to_owned()));
        let of = |piece: Piece| match piece {
            Piece::Word(word) => format!("{word:?}"),
            Piece::Figure(f) => f.quantity().map_or(format!("?{}", f.raw), |q| q.to_string()),
            Piece::Code(code) => format!("{code:?}"),
            Piece::Unknown(word) => format!("!{word}"),
        };
        pieces(text, &code).into_iter().map(of).collect()
    }

    #[test]
    fn letters_and_figures_part() {
        let milk = format!("{:?}", Word::Opening(Opening::Milk));
        let litre = format!("{:?}", Word::Unit(Unit::Litre));
        assert_eq!(read("maziwa12,5L"), [milk.clone(), "12500".to_owned(), litre.clone()]);
        assert_eq!(read("MAZIWA 1O.5 l"), [milk.clone(), "10500".to_owned(), litre.clone()]);
        assert_eq!(read("4O"), ["40000"]);
        assert_eq!(read("l2"), ["12000"]);
        assert_eq!(read("2l0"), ["210000"]);
        assert_eq!(read("4l"), ["4000".to_owned(), litre]);
        assert_eq!(read("F3 maziwa"), [r#"Farm("F3")"#.to_owned(), milk]);
        assert_eq!(read("zzz9"), ["!zzz", "9000"]);
    }

    #[test]
    fn halves_join_the_number_before_them() {
        for text in ["12 1/2", "12½", "12 na nusu", "12 and a half"] {
            assert_eq!(read(text), ["12500"], "{text}");
        }
        assert_eq!(read("nusu"), ["500"]);
        assert_eq!(read("121/2"), ["?121/2"]);
        assert_eq!(read("-5"), ["?-5"]);
        assert_eq!(read("2-3"), ["?2-3"]);
    }
}
