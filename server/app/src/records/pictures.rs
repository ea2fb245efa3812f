//! Picture files, made anew of the parts that show the picture, without decoding it. Everything else
//! goes: what cameras and programs write beside the picture, and what stands behind its end.
//!
//! JPEG: ITU-T T.81, table B.1. PNG: ISO/IEC 15948, 5.3 and 11. WebP: RFC 9649. Which way up: Exif
//! (JEITA CP-3451), tag 0x0112.

use flate2::Crc;
use traybook_domain::limits::{PHOTO_PIXELS_MAX, PHOTO_SIDE_MAX};

/// What a picture file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Jpeg,
    Png,
    WebP,
}

impl Kind {
    pub(super) const fn media_type(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
            Self::WebP => "image/webp",
        }
    }
}

/// Why a file is not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wrong {
    /// It is no picture that can be shown.
    NoPicture,
    /// Shown it would take too much memory: points across and down.
    TooManyPoints(u32, u32),
}

/// A picture that can be shown, and nothing beside it. With `keep_exif` what the camera said of it
/// stays, the place among it.
pub(super) fn clean(bytes: &[u8], keep_exif: bool) -> Result<(Kind, Vec<u8>), Wrong> {
    let read = Reader { bytes };
    let (kind, made) = if bytes.starts_with(&[0xFF, 0xD8]) {
        (Kind::Jpeg, jpeg(read, keep_exif))
    } else if bytes.starts_with(PNG) {
        (Kind::Png, png(read, keep_exif))
    } else if bytes.starts_with(b"RIFF") && read.part(8, 4) == Some(b"WEBP") {
        (Kind::WebP, webp(read, keep_exif))
    } else {
        return Err(Wrong::NoPicture);
    };
    let Made { bytes, size } = made.ok_or(Wrong::NoPicture)?;
    let (wide, high) = size;
    if wide == 0 || high == 0 {
        return Err(Wrong::NoPicture);
    }
    let points = u64::from(wide) * u64::from(high);
    if points > PHOTO_PIXELS_MAX || wide.max(high) > PHOTO_SIDE_MAX {
        return Err(Wrong::TooManyPoints(wide, high));
    }
    Ok((kind, bytes))
}

struct Made {
    bytes: Vec<u8>,
    size: (u32, u32),
}

#[derive(Clone, Copy)]
struct Reader<'a> {
    bytes: &'a [u8],
}

impl<'a> Reader<'a> {
    fn part(self, at: usize, count: usize) -> Option<&'a [u8]> {
        self.bytes.get(at..at.checked_add(count)?)
    }
    fn byte(self, at: usize) -> Option<u8> {
        self.bytes.get(at).copied()
    }
    fn be16(self, at: usize) -> Option<u32> {
        let [a, b] = self.part(at, 2)? else { return None };
        Some(u32::from(u16::from_be_bytes([*a, *b])))
    }
    fn be32(self, at: usize) -> Option<u32> {
        Some((self.be16(at)? << 16) | self.be16(at.checked_add(2)?)?)
    }
    fn le(self, at: usize, count: usize) -> Option<u32> {
        let bytes = self.part(at, count)?.iter().rev();
        Some(bytes.fold(0, |sum, byte| (sum << 8) | u32::from(*byte)))
    }
}

const EXIF: &[u8] = b"Exif\0\0";

/// Segments that show the picture: frames, tables, restarts, lines, scans.
const fn is_shown(marker: u8) -> bool {
    matches!(marker, 0xC0..=0xC7 | 0xC9..=0xCF | 0xDA..=0xDD)
}

fn jpeg(read: Reader<'_>, keep_exif: bool) -> Option<Made> {
    let mut out = vec![0xFF, 0xD8];
    let (mut size, mut at, mut has_exif, mut has_scan) = (None, 2, false, false);
    // A file that was cut off is shown as far as it goes.
    while let Some(marker) = next_marker(read, &mut at) {
        if marker == 0xD9 {
            break;
        }
        let length = usize::try_from(read.be16(at)?).ok().filter(|length| *length >= 2)?;
        let Some(segment) = read.part(at, length) else { break };
        let body = segment.get(2..).unwrap_or_default();
        if matches!(marker, 0xC0..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF) {
            let of = Reader { bytes: body };
            size = size.or(Some((of.be16(3)?, of.be16(1)?)));
        }
        let exif = body.strip_prefix(EXIF).filter(|_| marker == 0xE1 && !has_exif);
        // JFIF says how bright and blue are told; Adobe's segment whether they are at all.
        let is_base = marker == 0xE0 && body.starts_with(b"JFIF\0");
        let is_colour = marker == 0xEE && body.starts_with(b"Adobe") && body.len() == 12;
        if let Some(exif) = exif {
            has_exif = true;
            put_segment(&mut out, 0xE1, &exif_to_keep(exif, keep_exif)?);
        } else if is_base {
            put_segment(&mut out, marker, &jfif(body)?);
        } else if is_shown(marker) || is_colour {
            put_segment(&mut out, marker, body);
        }
        at += length;
        if marker == 0xDA {
            has_scan = true;
            let from = at;
            at = end_of_scan(read, at);
            out.extend(read.part(from, at - from)?);
        }
    }
    out.extend([0xFF, 0xD9]);
    size.filter(|_| has_scan).map(|size| Made { bytes: out, size })
}

/// The next marker, fill bytes before it passed over.
fn next_marker(read: Reader<'_>, at: &mut usize) -> Option<u8> {
    if read.byte(*at)? != 0xFF {
        return None;
    }
    while read.byte(*at)? == 0xFF {
        *at += 1;
    }
    let marker = read.byte(*at)?;
    *at += 1;
    Some(marker)
}

/// Where the bytes of a scan end: at a marker that is no restart.
fn end_of_scan(read: Reader<'_>, from: usize) -> usize {
    let mut at = from;
    while let Some(byte) = read.byte(at) {
        if byte == 0xFF && !matches!(read.byte(at + 1), Some(0x00 | 0xD0..=0xD7 | 0xFF) | None) {
            return at;
        }
        at += 1;
    }
    at
}

fn put_segment(out: &mut Vec<u8>, marker: u8, body: &[u8]) {
    // A body that came in a segment, or a smaller one.
    let length = u16::try_from(body.len() + 2).unwrap_or(u16::MAX).to_be_bytes();
    out.extend([0xFF, marker]);
    out.extend(length);
    out.extend(body);
}

/// The header without its small picture.
fn jfif(body: &[u8]) -> Option<Vec<u8>> {
    let mut header = body.get(..12)?.to_vec();
    header.extend([0, 0]);
    Some(header)
}

/// Exif as it stays: whole, or only which way up the picture is.
fn exif_to_keep(tiff: &[u8], keep: bool) -> Option<Vec<u8>> {
    let tiff = if keep { tiff.to_vec() } else { upright(tiff) };
    Some([EXIF, &tiff].concat())
}

/// A TIFF header with one entry: the orientation of the given one, 1 where it has none.
fn upright(tiff: &[u8]) -> Vec<u8> {
    let way = orientation(tiff).unwrap_or(1);
    let mut out = b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01".to_vec();
    out.extend([0, way, 0, 0, 0, 0, 0, 0]);
    out
}

/// Which way up the picture is: 1 to 8.
fn orientation(tiff: &[u8]) -> Option<u8> {
    let read = Reader { bytes: tiff };
    let is_little = tiff.starts_with(b"II*\0");
    if !is_little && !tiff.starts_with(b"MM\0*") {
        return None;
    }
    let short = |at: usize| if is_little { read.le(at, 2) } else { read.be16(at) };
    let first = if is_little { read.le(4, 4) } else { read.be32(4) };
    let first = usize::try_from(first?).ok()?;
    for entry in 0..usize::try_from(short(first)?).ok()? {
        let at = first.checked_add(2 + entry * 12)?;
        if short(at)? == 0x0112 {
            return u8::try_from(short(at.checked_add(8)?)?).ok().filter(|w| (1..=8).contains(w));
        }
    }
    None
}

const PNG: &[u8] = b"\x89PNG\r\n\x1A\n";

fn png(read: Reader<'_>, keep_exif: bool) -> Option<Made> {
    let mut out = PNG.to_vec();
    let (mut size, mut at, mut has_picture) = (None, PNG.len(), false);
    while let Some(length) = read.be32(at) {
        let length = usize::try_from(length).ok()?;
        let (name, body) = (read.part(at + 4, 4)?, read.part(at + 8, length));
        let Some(body) = body else { break };
        match name {
            b"IHDR" => {
                let of = Reader { bytes: body };
                size = Some((of.be32(0)?, of.be32(4)?)).filter(|_| length == 13);
                put_chunk(&mut out, name, body);
            }
            b"IEND" => break,
            b"IDAT" => {
                has_picture = true;
                put_chunk(&mut out, name, body);
            }
            // What colours are shown by; profiles may carry text, and go.
            b"PLTE" | b"tRNS" | b"gAMA" | b"cHRM" | b"sRGB" => put_chunk(&mut out, name, body),
            b"eXIf" if keep_exif => put_chunk(&mut out, name, body),
            b"eXIf" => put_chunk(&mut out, name, &upright(body)),
            _ => {}
        }
        at = at.checked_add(12)?.checked_add(length)?;
    }
    put_chunk(&mut out, b"IEND", &[]);
    size.filter(|_| has_picture).map(|size| Made { bytes: out, size })
}

fn put_chunk(out: &mut Vec<u8>, name: &[u8], body: &[u8]) {
    let mut sum = Crc::new();
    sum.update(name);
    sum.update(body);
    out.extend(u32::try_from(body.len()).unwrap_or(u32::MAX).to_be_bytes());
    out.extend(name);
    out.extend(body);
    out.extend(sum.sum().to_be_bytes());
}

/// Flags of the extended header: a profile, transparency, Exif, XMP, animation.
const ALPHA: u8 = 0x10;
const HAS_EXIF: u8 = 0x08;
const ANIMATION: u8 = 0x02;

fn webp(read: Reader<'_>, keep_exif: bool) -> Option<Made> {
    let end = usize::try_from(read.le(4, 4)?).ok()?.checked_add(8)?.min(read.bytes.len());
    let (mut canvas, mut picture, mut alpha, mut exif) = (None, None, None, None);
    let mut at = 12_usize;
    while at.checked_add(8)? <= end {
        let name = read.part(at, 4)?;
        let length = usize::try_from(read.le(at + 4, 4)?).ok()?;
        let Some(body) = read.part(at + 8, length) else { break };
        match name {
            b"VP8X" => canvas = Some(body),
            b"VP8 " | b"VP8L" if picture.is_none() => picture = Some((name, body)),
            b"ALPH" => alpha = Some(body),
            b"EXIF" => exif = Some(body),
            _ => {}
        }
        at = at.checked_add(8)?.checked_add(length)?.checked_add(length % 2)?;
    }
    // One that moves has its frames elsewhere, and is no photo.
    let (name, body) = picture?;
    let mut out = b"RIFF\0\0\0\0WEBP".to_vec();
    let size = if let Some(header) = canvas {
        let flags = *header.first()?;
        let kept_exif = exif.map(|exif| {
            let tiff = exif.strip_prefix(EXIF).unwrap_or(exif);
            if keep_exif { tiff.to_vec() } else { upright(tiff) }
        });
        if flags & ANIMATION != 0 {
            return None;
        }
        let mut new = vec![flags & ALPHA, 0, 0, 0];
        if kept_exif.is_some() {
            new = vec![(flags & ALPHA) | HAS_EXIF, 0, 0, 0];
        }
        new.extend(header.get(4..10)?);
        put_riff(&mut out, b"VP8X", &new);
        if let Some(alpha) = alpha {
            put_riff(&mut out, b"ALPH", alpha);
        }
        put_riff(&mut out, name, body);
        if let Some(exif) = kept_exif {
            put_riff(&mut out, b"EXIF", &exif);
        }
        let of = Reader { bytes: header };
        (of.le(4, 3)? + 1, of.le(7, 3)? + 1)
    } else {
        put_riff(&mut out, name, body);
        still_size(name, Reader { bytes: body })?
    };
    let length = u32::try_from(out.len() - 8).ok()?.to_le_bytes();
    out.get_mut(4..8)?.copy_from_slice(&length);
    Some(Made { bytes: out, size })
}

/// The size of a picture without an extended header.
fn still_size(name: &[u8], body: Reader<'_>) -> Option<(u32, u32)> {
    if name == b"VP8L" {
        let bits = body.le(1, 4).filter(|_| body.byte(0) == Some(0x2F))?;
        return Some(((bits & 0x3FFF) + 1, ((bits >> 14) & 0x3FFF) + 1));
    }
    let is_key = body.part(3, 3) == Some(&[0x9D, 0x01, 0x2A]);
    is_key.then(|| Some((body.le(6, 2)? & 0x3FFF, body.le(8, 2)? & 0x3FFF))).flatten()
}

fn put_riff(out: &mut Vec<u8>, name: &[u8], body: &[u8]) {
    out.extend(name);
    out.extend(u32::try_from(body.len()).unwrap_or(u32::MAX).to_le_bytes());
    out.extend(body);
    out.extend(std::iter::repeat_n(0, body.len() % 2));
}
