//! The alphabet of text messages and how long a text is: 3GPP TS 23.038, default alphabet without
//! national tables, and UCS-2 for what it lacks; TS 23.040 for texts in several parts.

use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;

/// The default alphabet in the order of its codes, 0 to 127. Code 27 leads to [`EXTENSION`].
pub const BASIC: &str = "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞ\u{1b}ÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?\
    ¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà";
/// Characters behind code 27: they take two septets.
pub const EXTENSION: &str = "\u{c}^{}\\[~]|€";
/// Septets of a text that is one message.
pub const SEGMENT: usize = 160;
/// Septets of each part of a longer one: the others number the parts.
pub const PART: usize = 153;
/// 16-bit units of a UCS-2 text that is one message.
pub const UCS2_SEGMENT: usize = 70;
/// 16-bit units of each part of a longer one.
pub const UCS2_PART: usize = 67;
/// Septets of one step of a menu: 160 bytes of 8 bits (TS 23.038, USSD).
pub const MENU: usize = 182;

/// Septets that a character takes; none where the alphabet lacks it.
#[must_use]
pub fn septets_of(c: char) -> Option<usize> {
    match c {
        '\u{1b}' => None,
        ' '..='Z' if c != '`' => Some(1),
        'a'..='z' => Some(1),
        _ if BASIC.contains(c) => Some(1),
        _ if EXTENSION.contains(c) => Some(2),
        _ => None,
    }
}

/// Septets of a text; none where the alphabet lacks a character of it.
#[must_use]
pub fn septets(text: &str) -> Option<usize> {
    text.chars().map(septets_of).sum()
}

/// Messages that a text is sent as. A character is never cut in two.
#[must_use]
pub fn segments(text: &str) -> usize {
    match septets(text) {
        Some(all) => parts(text.chars().filter_map(septets_of), all, (SEGMENT, PART)),
        None => {
            let all = text.encode_utf16().count();
            parts(text.chars().map(char::len_utf16), all, (UCS2_SEGMENT, UCS2_PART))
        }
    }
}

fn parts(sizes: impl Iterator<Item = usize>, all: usize, (one, part): (usize, usize)) -> usize {
    if all <= one {
        return 1;
    }
    let (mut parts, mut used) = (1, 0);
    for size in sizes {
        if used + size > part {
            parts += 1;
            used = 0;
        }
        used += size;
    }
    parts
}

/// The text in characters of the alphabet: accents fall where the letter has none there, quotation
/// marks and dashes become plain ones, the rest a question mark.
#[must_use]
pub fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let known = match c {
            '’' | '‘' | 'ʼ' | '`' | '´' => "'",
            '“' | '”' | '«' | '»' => "\"",
            '–' | '—' | '−' | '‑' => "-",
            '…' => "...",
            '½' => "1/2",
            '¼' => "1/4",
            '¾' => "3/4",
            '\t' | '\u{a0}' | '\u{202f}' => " ",
            _ => "",
        };
        if known.is_empty() {
            match septets_of(c) {
                Some(_) => out.push(c),
                None => out.push_str(&bare(c)),
            }
        } else {
            out.push_str(known);
        }
    }
    out
}

/// A character without its accents, or a question mark.
fn bare(c: char) -> String {
    let letters = std::iter::once(c).nfkd().filter(|c| !is_combining_mark(*c));
    letters.map(|c| septets_of(c).map_or('?', |_| c)).collect()
}

/// The text in the alphabet and within so many septets, cut at a word where it is longer.
#[must_use]
pub fn fit(text: &str, most: usize) -> String {
    let text = plain(text);
    if septets(&text).is_some_and(|n| n <= most) {
        return text;
    }
    let (mut used, mut cut) = (0, String::new());
    for c in text.chars() {
        used += septets_of(c).unwrap_or(1);
        if used > most.saturating_sub(2) {
            break;
        }
        cut.push(c);
    }
    let whole = cut.rsplit_once(' ').map_or(cut.as_str(), |(whole, _)| whole);
    format!("{}..", whole.trim_end_matches([' ', ';', ',', '.', ':']))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 3GPP TS 23.038, section 6.2.1 (READ from memory: the codes of single characters, MEM).
    #[test]
    fn the_alphabet_is_that_of_the_standard() {
        let all: Vec<char> = BASIC.chars().collect();
        assert_eq!(all.len(), 128);
        for (code, c) in [
            (0x00, '@'),
            (0x02, '$'),
            (0x0a, '\n'),
            (0x0d, '\r'),
            (0x10, 'Δ'),
            (0x11, '_'),
            (0x1b, '\u{1b}'),
            (0x20, ' '),
            (0x24, '¤'),
            (0x27, '\''),
            (0x30, '0'),
            (0x40, '¡'),
            (0x41, 'A'),
            (0x5b, 'Ä'),
            (0x5f, '§'),
            (0x60, '¿'),
            (0x61, 'a'),
            (0x7f, 'à'),
        ] {
            assert_eq!(all[code], c, "{code:#x}");
        }
        assert_eq!(EXTENSION.chars().count(), 10);
        assert_eq!(
            [septets("["), septets("€"), septets("`"), septets("ê")],
            [Some(2), Some(2), None, None]
        );
        assert_eq!(septets("Mayai 40, ng'ombe 3?"), Some(20));
    }

    #[test]
    fn texts_are_cut_into_parts_as_the_standard_says() {
        assert_eq!(segments(""), 1);
        assert_eq!([160, 161, 306, 307].map(|n| segments(&"a".repeat(n))), [1, 2, 2, 3]);
        assert_eq!([70, 71, 134, 135].map(|n| segments(&"ŵ".repeat(n))), [1, 2, 2, 3]);
        // 80 euro signs fill 160 septets; of 153 the last can not hold half of one.
        assert_eq!([80, 152, 153].map(|n| segments(&"€".repeat(n))), [1, 2, 3]);
    }

    #[test]
    fn every_answer_is_brought_into_one_segment() {
        assert_eq!(plain("ng’ombe ½ – ŵĩ Ê…"), "ng'ombe 1/2 - wi E...");
        let long = fit(&"maziwa lita 12; ".repeat(20), SEGMENT);
        assert!(septets(&long).is_some_and(|n| n <= SEGMENT) && long.ends_with(".."), "{long}");
        assert_eq!(fit(&"a".repeat(160), SEGMENT).len(), 160);
    }
}
