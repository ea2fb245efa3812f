//! How much of a long table or list a telephone shows at first. The rest is there, one tap away; a
//! wide screen and paper show all. The style sheet hides by these numbers.

use super::blocks::{Block, Item, Table};

/// Lines of a telephone that all long tables and lists of a page take at first, and the least that
/// one of them gets.
const PAGE_LINES: usize = 40;
const LINES_MIN: usize = 6;
/// Letters in a line of a telephone.
const CHARS: usize = 34;
/// Items of a menu that is shown whole.
const MENU: usize = 16;
/// The numbers that the style sheet knows.
const SHOWN: [usize; 5] = [1, 2, 3, 6, 12];

/// What is shown at first.
pub(super) struct Fold {
    /// Rows or items shown.
    pub shown: usize,
    /// Rows or items.
    pub all: i64,
}

impl Fold {
    fn of(all: usize, lines_each: usize, most: usize) -> Self {
        let fits = most / lines_each.max(1);
        if all * lines_each <= most {
            return Self::whole(all);
        }
        let shown = SHOWN.iter().rev().find(|n| **n <= fits).copied().unwrap_or(SHOWN[0]);
        Self { shown, all: i64::try_from(all).unwrap_or(i64::MAX) }
    }

    fn whole(all: usize) -> Self {
        Self { shown: all, all: i64::try_from(all).unwrap_or(i64::MAX) }
    }

    /// Lines for each long block of a page: the fewer there are, the more each shows.
    pub fn lines(blocks: &[Block]) -> usize {
        let is_long = |b: &&Block| match b {
            Block::Table(t) => Self::of_table(t, LINES_MIN).is_needed(),
            Block::List(items) => Self::of_list(items, LINES_MIN).is_needed(),
            _ => false,
        };
        (PAGE_LINES / blocks.iter().filter(is_long).count().max(1)).max(LINES_MIN)
    }

    /// Of a table: on a telephone each column is a line.
    pub fn of_table(table: &Table, lines: usize) -> Self {
        Self::of(table.rows.len(), table.columns.len(), lines)
    }

    pub fn of_list(items: &[Item], lines: usize) -> Self {
        let is_short = |i: &Item| i.title.chars().count() <= CHARS && i.lines.len() <= 1;
        let is_entry = |i: &Item| {
            i.href.is_some() && i.cautions.is_empty() && i.links.is_empty() && is_short(i)
        };
        if items.len() <= MENU && items.iter().all(is_entry) {
            return Self::whole(items.len());
        }
        let rows = |text: &String| text.chars().count().div_ceil(CHARS).max(1);
        let lines_of = |i: &Item| {
            let said: usize = i.lines.iter().chain(&i.cautions).map(rows).sum();
            1 + rows(&i.title) + said + 2 * i.links.len().min(1)
        };
        let all: usize = items.iter().map(lines_of).sum();
        // An item says more in a line than a row does.
        Self::of(items.len(), (all / items.len().max(1)).max(3), lines + lines / 2)
    }

    /// Whether something is hidden. One row more is shown rather than hidden.
    pub fn is_needed(&self) -> bool {
        usize::try_from(self.all).is_ok_and(|all| all > self.shown + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_rows_show_fewer() {
        assert_eq!(Fold::of(60, 9, LINES_MIN).shown, 1);
        assert_eq!(Fold::of(60, 3, LINES_MIN).shown, 2);
        assert_eq!(Fold::of(60, 2, LINES_MIN).shown, 3);
        assert_eq!(Fold::of(60, 1, LINES_MIN).shown, 6);
        assert_eq!(Fold::of(60, 30, LINES_MIN).shown, 1);
        assert!(Fold::of(60, 9, LINES_MIN).is_needed() && !Fold::of(2, 9, LINES_MIN).is_needed());
        let style = include_str!("../../static/style.css");
        for shown in SHOWN {
            assert!(
                style.contains(&format!("table.f{shown} > tbody > tr:nth-child(n+{})", shown + 1))
            );
        }
    }
}
