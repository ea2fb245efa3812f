//! Small groups in published totals: which cells of a total are hidden so that nobody finds what a
//! few people did, not by subtraction either.
//!
//! Source: Hundepool and others 2012, Statistical Disclosure Control, chapter 4 (threshold rule,
//! secondary suppression of tables with shown margins); from memory.

/// Fewest people behind a figure that is shown.
pub const MEMBERS_MIN: usize = 5;

/// What is hidden of a total and its cells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hidden {
    /// Whether each cell is hidden, in their order.
    pub cells: Vec<bool>,
    /// Whether the total is hidden, too.
    pub total: bool,
}

/// Hides the cells with few people, and all of the next size, until the hidden cells are safe
/// together. By subtraction from the total a reader learns of them together, and of none alone; who
/// knows this rule learns no more, since cells of one size are treated alike and not all that are
/// hidden are of one size. Where only empty cells would be left, these are hidden, too.
/// `before` are cells that are hidden already, where another figure of the same people is.
#[must_use]
pub fn hide(people: &[usize], before: Option<&[bool]>) -> Hidden {
    let is_few = |n: usize| n > 0 && n < MEMBERS_MIN;
    let was = |at: usize| before.is_some_and(|b| b.get(at) == Some(&true));
    let below = |most: usize| -> Vec<bool> {
        let hides = |(at, n): (usize, &usize)| was(at) || (*n > 0 && *n <= most);
        people.iter().enumerate().map(hides).collect()
    };
    let mut sizes: Vec<usize> = people.iter().copied().filter(|n| *n >= MEMBERS_MIN).collect();
    sizes.sort_unstable();
    let levels = std::iter::once(MEMBERS_MIN - 1).chain(sizes);
    let cells = levels.map(below).find(|cells| is_safe(people, cells));
    let is_left = |cells: &Vec<bool>| people.iter().zip(cells).any(|(n, hide)| *n > 0 && !hide);
    let is_all = |cells: &Vec<bool>| people.iter().sum::<usize>() > 0 && !is_left(cells);
    let cells = cells.filter(|cells| !is_all(cells)).unwrap_or_else(|| vec![true; people.len()]);
    Hidden { cells, total: is_few(people.iter().sum()) }
}

/// Whether nothing is learnt of one cell from the sum of those that are hidden.
fn is_safe(people: &[usize], cells: &[bool]) -> bool {
    let inside: Vec<usize> =
        people.iter().zip(cells).filter(|(n, hide)| **hide && **n > 0).map(|(n, _)| *n).collect();
    let differ = inside.iter().any(|n| Some(n) != inside.first());
    inside.is_empty() || (differ && inside.iter().sum::<usize>() >= MEMBERS_MIN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    /// What a reader sees: the cells that are shown and the total.
    fn published(people: &[usize]) -> (Vec<Option<usize>>, Option<usize>) {
        let hidden = hide(people, None);
        let cells = people.iter().zip(&hidden.cells).map(|(n, hide)| (!hide).then_some(*n));
        (cells.collect(), (!hidden.total).then(|| people.iter().sum()))
    }

    #[test]
    fn one_not_stated_hides_a_second_cell_and_not_all() {
        let hidden = hide(&[30, 27, 1], None);
        assert_eq!(hidden, Hidden { cells: vec![false, true, true], total: false });
        assert!(hide(&[30, 27, 0], None).cells.iter().all(|h| !h));
        assert_eq!(hide(&[2, 1, 0], None).cells, [true, true, true]);
        assert!(hide(&[2, 1, 0], None).total);
        assert_eq!(hide(&[2, 2, 30, 40], None).cells, [true, true, true, false]);
        // The next size is hidden whole; cells of one size alone would be found by dividing.
        assert_eq!(hide(&[8, 8, 4], None).cells, [true, true, true]);
        assert_eq!(hide(&[4, 4, 9, 20], None).cells, [true, true, true, false]);
        assert_eq!(hide(&[3, 2, 30], None).cells, [true, true, false]);
        // The people behind another figure of the same cells: what is hidden stays hidden.
        assert_eq!(hide(&[9, 8, 1], Some(&[false, true, true])).cells, [false, true, true]);
        assert_eq!(hide(&[9, 8, 0], Some(&[false, true, true])).cells, [true, true, true]);
    }

    /// Against a reader who knows this very rule: of every table that looks the same, each hidden
    /// cell holds at least two different numbers. All tables of up to four cells of 0 to 11 people.
    #[test]
    fn no_hidden_cell_is_found_by_who_knows_the_rule() {
        for width in 1..=4_u32 {
            let mut alike: HashMap<_, Vec<Vec<usize>>> = HashMap::new();
            for code in 0..12_usize.pow(width) {
                let people: Vec<usize> =
                    (0..width).map(|at| code / 12_usize.pow(at) % 12).collect();
                alike.entry(published(&people)).or_default().push(people);
            }
            for ((cells, total), tables) in alike {
                // A table whose cells reach the bound of this test may have more that look alike.
                if tables.iter().flatten().any(|n| *n == 11) {
                    continue;
                }
                for (at, cell) in cells.iter().enumerate().filter(|(_, c)| c.is_none()) {
                    let first = tables[0][at];
                    let differs = tables.iter().any(|t| t[at] != first);
                    assert!(differs, "cell {at} of {cells:?}, {total:?} is {first}: {cell:?}");
                }
            }
        }
    }

    proptest! {
        #[test]
        fn what_can_be_subtracted_holds_several_cells_and_enough_people(
            people in proptest::collection::vec(0_usize..60, 1..9),
        ) {
            let hidden = hide(&people, None);
            let inside: Vec<usize> =
                people.iter().zip(&hidden.cells).filter(|(_, h)| **h).map(|(n, _)| *n).collect();
            for (n, hide) in people.iter().zip(&hidden.cells) {
                prop_assert!(*hide || *n == 0 || *n >= MEMBERS_MIN);
            }
            let hidden_people = inside.iter().sum::<usize>();
            if !inside.is_empty() && !hidden.total {
                prop_assert!(inside.len() >= 2 || people.len() == 1);
                prop_assert!(hidden_people >= MEMBERS_MIN);
            }
            // Nothing is hidden where no cell has few people.
            let is_plain = people.iter().all(|n| *n == 0 || *n >= MEMBERS_MIN);
            prop_assert!(!is_plain || inside.is_empty());
        }
    }
}
