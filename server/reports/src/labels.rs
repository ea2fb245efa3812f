//! Labels for sheds and batches: QR codes (ISO/IEC 18004) as SVG.

use qrcode::{Color, EcLevel, QrCode};
use std::fmt::Write as _;

/// Modules of quiet zone on each side (ISO/IEC 18004, 6.3.8).
const QUIET: usize = 4;
/// Longest text: what fits a code that a telephone reads from a label of a few centimetres.
pub const TEXT_BYTES_MAX: usize = 300;
/// Smallest and largest module, in pixels.
const MODULE_PX: std::ops::RangeInclusive<u32> = 1..=64;

/// A text as QR code: black on white, a module so many pixels wide, with its quiet zone.
///
/// Errors are corrected to a quarter of the code (level Q): labels hang in wet sheds. The picture
/// has no words of its own; whoever shows it says what it is.
///
/// # Errors
/// A text that says what to change: an empty or too long text, or a module that is too small or too
/// large.
pub fn qr_svg(text: &str, module_px: u32) -> Result<String, String> {
    if text.is_empty() || text.len() > TEXT_BYTES_MAX {
        return Err(format!("give a text of 1 to {TEXT_BYTES_MAX} bytes"));
    }
    if !MODULE_PX.contains(&module_px) {
        let (least, most) = (MODULE_PX.start(), MODULE_PX.end());
        return Err(format!("give modules of {least} to {most} pixels"));
    }
    let code = QrCode::with_error_correction_level(text.as_bytes(), EcLevel::Q)
        .map_err(|e| e.to_string())?;
    let width = code.width();
    let side = width + 2 * QUIET;
    let pixels = u32::try_from(side).unwrap_or(0).saturating_mul(module_px);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{pixels}\" height=\"{pixels}\" \
         viewBox=\"0 0 {side} {side}\" shape-rendering=\"crispEdges\">\
         <path fill=\"#fff\" d=\"M0 0h{side}v{side}H0z\"/><path d=\""
    );
    let colors = code.to_colors();
    for (y, row) in colors.chunks(width.max(1)).enumerate() {
        runs(&mut out, row, y + QUIET);
    }
    out.push_str("\"/></svg>");
    Ok(out)
}

/// The dark modules of a row, those side by side as one rectangle.
fn runs(out: &mut String, row: &[Color], y: usize) {
    let mut from: Option<usize> = None;
    let ends = row.iter().copied().chain([Color::Light]).enumerate();
    for (x, color) in ends {
        match (color, from) {
            (Color::Dark, None) => from = Some(x),
            (Color::Light, Some(start)) => {
                let long = x - start;
                let _ = write!(out, "M{} {y}h{long}v1h-{long}z", start + QUIET);
                from = None;
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The picture's modules, read from the SVG alone; true is dark.
    fn modules(svg: &str) -> (usize, Vec<bool>) {
        let tree = roxmltree::Document::parse(svg).unwrap();
        let view = tree.root_element().attribute("viewBox").unwrap();
        let side: usize = view.rsplit(' ').next().unwrap().parse().unwrap();
        let dark = tree.descendants().filter(|n| n.has_tag_name("path")).nth(1);
        let data = dark.or_else(|| tree.root_element().last_element_child()).unwrap();
        let mut grid = vec![false; side * side];
        for run in data.attribute("d").unwrap().split('M').filter(|r| !r.is_empty()) {
            let (at, rest) = run.split_once('h').unwrap();
            let (x, y) = at.split_once(' ').unwrap();
            let long: usize = rest.split_once('v').unwrap().0.parse().unwrap();
            let start = y.parse::<usize>().unwrap() * side + x.parse::<usize>().unwrap();
            grid[start..start + long].fill(true);
        }
        (side, grid)
    }

    /// Reads a code as a camera would, by `rqrr`, which shares nothing with the encoder.
    fn read(svg: &str) -> String {
        let (side, grid) = modules(svg);
        let scale = 4;
        let dark = |x: usize, y: usize| grid[(y / scale) * side + x / scale];
        let shade = |x: usize, y: usize| if dark(x, y) { 0 } else { 255 };
        let mut image =
            rqrr::PreparedImage::prepare_from_greyscale(side * scale, side * scale, shade);
        let codes = image.detect_grids();
        assert_eq!(codes.len(), 1);
        codes[0].decode().unwrap().1
    }

    #[test]
    fn another_program_reads_what_was_written() {
        for text in [
            "https://traybook.example/s/0198b7c2-7c1e-7b7e-9d5a-0c8f4c1f2a33",
            "B0001",
            "Shed Mũthoni, habari? ✓",
            &"x".repeat(TEXT_BYTES_MAX),
        ] {
            assert_eq!(read(&qr_svg(text, 3).unwrap()), text);
        }
    }

    #[test]
    fn four_modules_around_the_code_stay_white() {
        let (side, grid) = modules(&qr_svg("quiet", 1).unwrap());
        assert_eq!(side, 21 + 8, "version 1 has 21 modules (ISO/IEC 18004, 6.3.1)");
        for y in 0..side {
            for x in 0..side {
                let outside = x < 4 || y < 4 || x >= side - 4 || y >= side - 4;
                assert!(!(outside && grid[y * side + x]), "{x} {y}");
            }
        }
        // The finder's corner is dark (6.3.3.1).
        assert!(grid[4 * side + 4]);
    }

    #[test]
    fn what_can_not_be_read_is_refused() {
        assert!(qr_svg("", 3).is_err());
        assert!(qr_svg(&"x".repeat(TEXT_BYTES_MAX + 1), 3).is_err());
        assert!(qr_svg("a", 0).is_err());
        assert!(qr_svg("a", 65).is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        #[test]
        fn any_text_survives(text in "[\\PC]{1,60}") {
            let svg = qr_svg(&text, 2).unwrap();
            prop_assert!(!svg.contains("style"));
            prop_assert_eq!(read(&svg), text);
        }
    }
}
