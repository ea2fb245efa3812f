//! The year so far: the sum that the board's paper prints, and how sure it is.

use super::Made;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use traybook_answers::wire;
use uuid::Uuid;

/// Months back of which a year so far is made: a board looks at those of a year. Each takes a sum over
/// all farms at every making.
const YEARS_MONTHS: usize = 13;

/// What the months of a year up to one say together, minor units.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct YearSoFar {
    /// The last month.
    pub month: wire::Month,
    /// Of closed months what their reports print, of open ones what stands now.
    pub saving: i64,
    /// Half width of its 95 % interval; none where it is not known of all its rows.
    pub half: Option<i64>,
}

/// What is printed of each farm, class of animals and month.
type Printed = Vec<Vec<Vec<Option<i64>>>>;

impl Made {
    /// The years so far of the last months that are over.
    pub fn years(&self) -> Vec<YearSoFar> {
        let months = self.axis.months();
        let printed = self.printed();
        let over = (months.saturating_sub(YEARS_MONTHS)..months).filter(|t| self.axis.is_over(*t));
        over.map(|t| self.year(&printed, t)).collect()
    }

    fn printed(&self) -> Printed {
        let of_class = |farm: Uuid, row: &super::ClassRows| {
            let cell = |(t, cell): (usize, &Option<super::Cell>)| {
                let month = self.axis.month(t);
                if self.past.is_closed(month) {
                    return self.past.printed(&(month, farm, row.class.clone()));
                }
                Some(cell.as_ref()?.money?.saving())
            };
            row.cells.iter().enumerate().map(cell).collect()
        };
        let all = self.farms.iter().zip(&self.rows);
        all.map(|(farm, rows)| rows.iter().map(|row| of_class(farm.farm, row)).collect()).collect()
    }

    /// A year so far. A row of a closed month that the records give no number any more, or whose
    /// farm is withdrawn, stays in the sum; how sure it is is not known then.
    fn year(&self, printed: &Printed, t: usize) -> YearSoFar {
        let month = self.axis.month(t);
        let first = self.axis.at(month.year_start()).unwrap_or(0);
        let standing: HashSet<Uuid> = self.farms.iter().map(|f| f.farm).collect();
        let (gone, gone_rows) = self.past.printed_of_others(&standing, (month.year_start(), month));
        let rows = printed.iter().flatten();
        let inside = rows.flat_map(|row| row.iter().take(t + 1).skip(first).flatten());
        let (sum, count) =
            inside.fold((0_i64, 0_usize), |(sum, rows), saving| (sum + saving, rows + 1));
        let is_on = |i: usize, class: &str| -> Vec<bool> {
            let rows = self.rows.get(i).into_iter().flatten();
            let at = rows.enumerate().find(|(_, r)| r.class == class).map(|(at, _)| at);
            let row = at.and_then(|at| printed.get(i)?.get(at));
            let of = |at: usize| {
                let has = row.and_then(|r| r.get(at)).copied().flatten().is_some();
                has && (first..=t).contains(&at)
            };
            (0..self.axis.months()).map(of).collect()
        };
        let half = self.half_of(&|_| true, &is_on);
        let is_earlier = (first..=t).any(|at| self.past.is_earlier(self.axis.month(at)));
        let is_whole = gone_rows == 0 && !is_earlier;
        let half = half.filter(|(_, rows)| is_whole && *rows == count).map(|(half, _)| half);
        YearSoFar { month: wire::Month(month), saving: sum + gone, half }
    }
}
