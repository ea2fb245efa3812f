//! How much of a long table or list a telephone shows at first. The rest is there, one tap away; a
//! wide screen and paper show all. The style sheet hides by these numbers.

use super::blocks::{Item, Table};

/// Lines of a telephone's screens that a table may take at first.
const LINES: usize = 8;
/// The same of a list, whose items say more in a line.
const LIST_LINES: usize = 30;
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

    /// Of a table: on a telephone each column is a line.
    pub fn of_table(table: &Table) -> Self {
        Self::of(table.rows.len(), table.columns.len(), LINES)
    }

    /// Of a list.
    pub fn of_list(items: &[Item]) -> Self {
        let is_entry = |i: &Item| {
            i.href.is_some() && i.mark.is_none() && i.cautions.is_empty() && i.links.is_empty()
        };
        if items.len() <= MENU && items.iter().all(is_entry) {
            return Self::whole(items.len());
        }
        let rows = |text: &String| text.chars().count().div_ceil(CHARS).max(1);
        let lines = |i: &Item| {
            let said: usize = i.lines.iter().chain(&i.cautions).map(rows).sum();
            1 + rows(&i.title) + said + 2 * i.links.len().min(1)
        };
        let all: usize = items.iter().map(lines).sum();
        Self::of(items.len(), (all / items.len().max(1)).max(3), LIST_LINES)
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
        assert_eq!(Fold::of(60, 9, LINES).shown, 1);
        assert_eq!(Fold::of(60, 4, LINES).shown, 2);
        assert_eq!(Fold::of(60, 2, LINES).shown, 3);
        assert_eq!(Fold::of(60, 1, LINES).shown, 6);
        assert_eq!(Fold::of(60, 30, LINES).shown, 1);
        assert!(Fold::of(60, 9, LINES).is_needed() && !Fold::of(2, 9, LINES).is_needed());
        let style = include_str!("../../static/style.css");
        for shown in SHOWN {
            assert!(
                style.contains(&format!("table.f{shown} > tbody > tr:nth-child(n+{})", shown + 1))
            );
        }
    }
}
