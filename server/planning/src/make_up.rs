//! Whole trays that are harvested early today because today's harvest falls short.

/// Share of the need that may be missing without anybody noticing at the trough.
pub const TOLERANCE: f64 = 0.10;
/// Share of a tray's fodder that must be missing before the tray is taken.
const WORTH: f64 = 0.30;

/// The trays to take, by position, and what is fed with them.
///
/// `trays` are whole good trays with the days that they are early (`young_most` at the most) and
/// the fodder that they give today, tomorrow's first. Never one with mould: the caller leaves those
/// out.
#[must_use]
pub fn make_up(
    need: f64,
    got: f64,
    left: f64,
    trays: &[(i32, f64)],
    young_most: i32,
) -> (Vec<usize>, f64) {
    let (mut taken, mut got) = (Vec::new(), got);
    for (at, (early, fresh)) in trays.iter().enumerate() {
        let missing = need - got - left;
        if missing <= TOLERANCE * need {
            break;
        }
        if *early <= young_most && missing >= WORTH * fresh {
            taken.push(at);
            got += fresh;
        }
    }
    (taken, got)
}

/// The trays to ask for now: those of [`make_up`] but the last, which is asked for once these are
/// weighed.
///
/// A tray too many is missing on each of the next days, whose trays are then younger too: with all
/// asked for at once, 2.4 days of 100 are more than a tenth short, not 1.0 (`NOTES.md`).
#[must_use]
pub fn early(need: f64, got: f64, left: f64, trays: &[(i32, f64)], young_most: i32) -> Vec<usize> {
    let (mut taken, _) = make_up(need, got, left, trays, young_most);
    if taken.len() > 1 {
        taken.pop();
    }
    taken
}
