//! Small groups of a year so far, beside the quarters in it: what is hidden so that nobody finds
//! what a few people did by subtracting one period from another.
//!
//! Periods that may be asked are the quarters of a year and its first quarters together. A person
//! of several quarters counts once in the year. So the year less a period in it is the people who
//! are not in that one, and periods that make up the year, added, less the year, are those in more
//! than one; whatever else can be added and subtracted is made of these, and the tests go through it.
//! A quarter of few people leaves no year so far that it is in, unless all quarters are so.

use crate::Month;
use crate::savings::small_groups::{Hidden, MEMBERS_MIN, hide};
use std::collections::HashSet;
use std::hash::Hash;

/// Quarters of a year.
pub const QUARTERS: usize = 4;
/// Months of a quarter.
const MONTHS: i32 = 3;

/// Some of a year's quarters: bit 0 is the first.
pub type Quarters = u8;

/// The first quarters.
const fn first(count: usize) -> Quarters {
    (1 << count) - 1
}

/// A period that programme readers may ask for: a quarter, or a year so far.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Period {
    /// One quarter, 0 to 3.
    Quarter(usize),
    /// The first two to four quarters.
    SoFar(usize),
}

impl Period {
    /// Those of a year, the quarters first.
    pub const ALL: [Self; 7] = [
        Self::Quarter(0),
        Self::Quarter(1),
        Self::Quarter(2),
        Self::Quarter(3),
        Self::SoFar(2),
        Self::SoFar(3),
        Self::SoFar(4),
    ];

    /// The period of some months; none for other months than whole quarters of a year from its
    /// beginning, or one quarter.
    #[must_use]
    pub fn of(from: Month, to: Month) -> Option<Self> {
        Self::ALL.into_iter().find(|p| p.months(from) == (from, to))
    }

    /// First and last month in the year of a month.
    #[must_use]
    pub fn months(self, of: Month) -> (Month, Month) {
        let after = |quarters: usize| {
            let quarters = i32::try_from(quarters).unwrap_or(0);
            of.year_start().plus(MONTHS * quarters)
        };
        match self {
            Self::Quarter(at) => (after(at), after(at + 1).plus(-1)),
            Self::SoFar(count) => (after(0), after(count).plus(-1)),
        }
    }

    #[must_use]
    pub const fn quarters(self) -> Quarters {
        match self {
            Self::Quarter(at) => 1 << at,
            Self::SoFar(count) => first(count),
        }
    }
}

/// What one person did, or has, in a group.
#[derive(Clone, Copy, Debug)]
pub struct Item<P> {
    /// Position of the group.
    pub group: usize,
    pub person: P,
    /// When it counts.
    pub quarters: Quarters,
}

/// What is hidden of a period.
#[must_use]
pub fn hide_period<P: Copy + Eq + Hash>(
    items: &[Item<P>],
    groups: usize,
    period: Period,
) -> Hidden {
    let count = |is_of: &dyn Fn(usize) -> bool, counts: &dyn Fn(Quarters) -> bool| {
        let of = items.iter().filter(|i| is_of(i.group) && counts(i.quarters));
        of.map(|i| i.person).collect::<HashSet<P>>().len()
    };
    Year { count: &count, groups }.hidden(period)
}

/// Counts people: whose groups are these, in whose quarters something holds.
type Count<'a> = dyn Fn(&dyn Fn(usize) -> bool, &dyn Fn(Quarters) -> bool) -> usize + 'a;

/// The groups of a year.
struct Year<'a> {
    count: &'a Count<'a>,
    groups: usize,
}

/// A period whose sum of all groups is shown.
struct Published {
    quarters: Quarters,
    /// Groups that are shown together alone.
    cells: Vec<bool>,
}

/// What a year so far stands beside.
struct Beside<'p> {
    /// Its quarters.
    all: Quarters,
    /// Periods inside it.
    inside: Vec<&'p Published>,
    /// Those of them that show groups.
    divided: Vec<&'p Published>,
    /// Groups whose year is their one quarter, which is shown.
    known: Vec<bool>,
}

const fn is_enough(people: usize) -> bool {
    people == 0 || people >= MEMBERS_MIN
}

impl Year<'_> {
    fn hidden(&self, period: Period) -> Hidden {
        let so_far = match period {
            Period::Quarter(at) => return hide(&self.people(1 << at), None),
            Period::SoFar(count) => count.min(QUARTERS),
        };
        let quarters: Vec<Hidden> =
            (0..so_far).map(|at| hide(&self.people(1 << at), None)).collect();
        let mut published: Vec<Published> = Vec::new();
        let of = |(at, hidden): (usize, &Hidden)| Published {
            quarters: 1 << at,
            cells: hidden.cells.clone(),
        };
        published.extend(quarters.iter().enumerate().filter(|(_, h)| !h.total).map(of));
        let mut last = Hidden { cells: vec![true; self.groups], total: true };
        for count in 2..=so_far {
            let upto = quarters.get(..count).unwrap_or_default();
            last = self.so_far(upto, &published);
            if !last.total {
                published.push(Published { quarters: first(count), cells: last.cells.clone() });
            }
        }
        last
    }

    /// People by group.
    fn people(&self, quarters: Quarters) -> Vec<usize> {
        let of = |group: usize| (self.count)(&|g| g == group, &|q| q & quarters != 0);
        (0..self.groups).map(of).collect()
    }

    /// A year so far. Quarters come first: what the sum of all, or a group, would give away beside
    /// them and beside shorter years so far is not shown.
    fn so_far(&self, quarters: &[Hidden], published: &[Published]) -> Hidden {
        let all = first(quarters.len());
        let inside: Vec<&Published> = published.iter().filter(|p| p.quarters & !all == 0).collect();
        // What shows no group gives none away.
        let divided: Vec<&Published> =
            inside.iter().copied().filter(|p| p.cells.contains(&false)).collect();
        let is_known = |group: usize| {
            let is_shown = quarters.iter().all(|h| h.cells.get(group) == Some(&false));
            let is_empty = |at: &usize| (self.count)(&|g| g == group, &|q| q & 1 << at != 0) == 0;
            is_shown && (0..quarters.len()).filter(is_empty).count() + 1 >= quarters.len()
        };
        let known = (0..self.groups).map(is_known).collect();
        let beside = Beside { all, inside, divided, known };
        let few = (0..quarters.len()).filter(|at| quarters.get(*at).is_some_and(|h| h.total));
        let few = few.fold(0, |bits: Quarters, at| bits | 1 << at);
        let everybody = vec![true; self.groups];
        let is_shown =
            self.is_safe(&everybody, &beside.inside, &beside) && self.is_several(few, &beside);
        if !is_shown {
            return Hidden { cells: everybody, total: true };
        }
        let mut cells = vec![false; self.groups];
        let mut also = |more: &[bool]| cells.iter_mut().zip(more).for_each(|(c, m)| *c |= *m);
        quarters.iter().for_each(|h| also(&h.cells));
        beside.divided.iter().for_each(|p| also(&p.cells));
        // A group alone is all.
        let cells = if self.groups > 1 { self.cells(cells, &beside) } else { vec![false] };
        Hidden { cells, total: false }
    }

    /// The groups that are hidden of a year so far whose sum is shown, beside those that are hidden
    /// in its quarters: they are shown together.
    fn cells(&self, mut cells: Vec<bool>, beside: &Beside) -> Vec<bool> {
        let people = self.people(beside.all);
        loop {
            cells = hide(&people, Some(&cells)).cells;
            let shown: Vec<usize> =
                (0..self.groups).filter(|g| cells.get(*g) == Some(&false)).collect();
            let unsafe_alone: Vec<usize> =
                shown.iter().copied().filter(|g| !self.is_safe_alone(*g, beside)).collect();
            let is_safe = !cells.contains(&true) || self.is_safe(&cells, &beside.divided, beside);
            let size = |group: &usize| people.get(*group).copied().unwrap_or(0);
            let more = match shown.iter().map(size).filter(|n| *n > 0).min() {
                _ if !unsafe_alone.is_empty() => unsafe_alone,
                Some(least) if !is_safe => {
                    shown.into_iter().filter(|group| size(group) == least).collect()
                }
                None if !is_safe => shown,
                _ => return cells,
            };
            if more.is_empty() {
                return cells;
            }
            more.iter().filter_map(|g| cells.get_mut(*g).map(|c| *c = true)).for_each(drop);
        }
    }

    /// Whether a group could be shown beside the periods that show it.
    fn is_safe_alone(&self, group: usize, beside: &Beside) -> bool {
        let of: Vec<bool> = (0..self.groups).map(|g| g == group).collect();
        let shows = |p: &&&Published| p.cells.get(group) == Some(&false);
        let known: Vec<&Published> = beside.divided.iter().filter(shows).copied().collect();
        self.leftovers(&of, beside.all, &known).iter().all(|(people, _)| is_enough(*people))
    }

    /// Whether subtraction leaves no few people of some groups together. Where it leaves nobody, it
    /// leaves nobody of each: then each number is known that the other periods show.
    /// What is known anyway is taken out first.
    fn is_safe(&self, of: &[bool], known: &[&Published], beside: &Beside) -> bool {
        let of: Vec<bool> = of.iter().zip(&beside.known).map(|(o, known)| *o && !known).collect();
        let is_alone = of.iter().filter(|o| **o).count() < 2;
        self.leftovers(&of, beside.all, known).into_iter().all(|(people, by)| {
            let gives = |group: &usize| by.iter().all(|p| p.cells.get(*group) == Some(&false));
            let mut inside = (0..self.groups).filter(|g| of.get(*g) == Some(&true));
            let is_nobody = people == 0 && !is_alone && !by.is_empty();
            is_enough(people)
                && (!is_nobody
                    || inside.all(|group| !gives(&group) || self.is_safe_alone(group, beside)))
        })
    }

    /// People of some groups whom subtraction leaves, with the periods it takes: those of the year
    /// outside a period inside it, and those in several of periods that make it up together.
    fn leftovers<'p>(
        &self,
        of: &[bool],
        all: Quarters,
        known: &[&'p Published],
    ) -> Vec<(usize, Vec<&'p Published>)> {
        let is_of = |group: usize| of.get(group) == Some(&true);
        let people = |counts: &dyn Fn(Quarters) -> bool| (self.count)(&is_of, counts);
        let mut found = vec![(people(&|q| q & all != 0), Vec::new())];
        found.extend(known.iter().map(|p| {
            let outside = people(&|q| q & all != 0 && q & p.quarters == 0);
            (outside, vec![*p])
        }));
        let count = all.count_ones();
        for begun in 1..count {
            let parts = std::iter::once((1 << begun) - 1).chain((begun..count).map(|at| 1 << at));
            let one = |part: Quarters| known.iter().find(|p| p.quarters == part).copied();
            let Some(parts) = parts.map(one).collect::<Option<Vec<&Published>>>() else { continue };
            let times = |q: Quarters| parts.iter().filter(|p| p.quarters & q != 0).count();
            found.push((people(&|q| times(q) > 1), parts.clone()));
        }
        found
    }

    /// Whether no quarter has few people that no shown year so far covers, or all have, with enough
    /// people together, and not as many as two such quarters can have: those would be the most of
    /// each.
    fn is_several(&self, few: Quarters, beside: &Beside) -> bool {
        let quarters = beside.inside.iter().map(|p| p.quarters);
        let covered = quarters.filter(|q| q.count_ones() > 1).fold(0, |bits, q| bits | q);
        let people = (self.count)(&|_| true, &|q| q & beside.all != 0);
        let is_enough = (MEMBERS_MIN..2 * (MEMBERS_MIN - 1)).contains(&people);
        few & !covered == 0 || (few == beside.all && covered == 0 && is_enough)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::{HashMap, HashSet};

    /// People by group and by the quarters in which they count: 15 patterns.
    type People = Vec<[usize; 16]>;

    fn count(
        people: &People,
        is_of: &dyn Fn(usize) -> bool,
        counts: &dyn Fn(Quarters) -> bool,
    ) -> usize {
        let of = people.iter().enumerate().filter(|(group, _)| is_of(*group));
        let patterns = of.flat_map(|(_, p)| p.iter().zip(0..).skip(1));
        patterns.filter(|(_, q)| counts(*q)).map(|(n, _)| n).sum()
    }

    fn hidden(people: &People) -> [Hidden; 7] {
        let count = |is_of: &dyn Fn(usize) -> bool, counts: &dyn Fn(Quarters) -> bool| {
            count(people, is_of, counts)
        };
        let year = Year { count: &count, groups: people.len() };
        Period::ALL.map(|p| year.hidden(p))
    }

    /// Which people a reader counts by adding and subtracting periods, and of which periods: sums
    /// with factors from -2 to 2 in which nobody counts less than nothing.
    fn derived() -> Vec<(Vec<usize>, [bool; 16])> {
        let mut all: HashMap<[bool; 16], Vec<Vec<usize>>> = HashMap::new();
        for code in 0..5_usize.pow(7) {
            let factors: Vec<i32> =
                (0..7).map(|at| (code / 5_usize.pow(at) % 5) as i32 - 2).collect();
            let of = |pattern: u8| -> i32 {
                let counts = |p: &Period| pattern & p.quarters() != 0;
                Period::ALL.iter().zip(&factors).filter(|(p, _)| counts(p)).map(|(_, f)| f).sum()
            };
            let sums: [i32; 16] = std::array::from_fn(|pattern| of(pattern as u8));
            if sums.iter().all(|s| *s >= 0) {
                let used = (0..7).filter(|at| factors[*at] != 0).collect();
                all.entry(sums.map(|s| s > 0)).or_default().push(used);
            }
        }
        let mut least = Vec::new();
        for (whom, uses) in all {
            let is_least = |used: &Vec<usize>| {
                uses.iter().all(|u| u == used || !u.iter().all(|at| used.contains(at)))
            };
            let of: HashSet<Vec<usize>> = uses.iter().filter(|u| is_least(u)).cloned().collect();
            least.extend(of.into_iter().map(|used| (used, whom)));
        }
        least
    }

    /// Groups of which a reader knows the sum in a period.
    fn is_known(hidden: &Hidden, of: &[bool]) -> bool {
        let together: Vec<bool> =
            hidden.cells.iter().zip(of).filter(|(h, _)| **h).map(|(_, o)| *o).collect();
        !hidden.total && (together.iter().all(|o| *o) || together.iter().all(|o| !o))
    }

    /// No sum of differences of periods leaves fewer people than are shown.
    fn check(people: &People, derived: &[(Vec<usize>, [bool; 16])]) {
        let hidden = hidden(people);
        for code in 1..1_usize << people.len() {
            let of: Vec<bool> = (0..people.len()).map(|group| code >> group & 1 == 1).collect();
            let known: Vec<bool> = hidden.iter().map(|h| is_known(h, &of)).collect();
            for (used, whom) in derived {
                if used.iter().all(|at| known[*at]) {
                    let left = count(people, &|g| of[g], &|q| whom[usize::from(q)]);
                    assert!(is_enough(left), "{left} of {people:?}: {used:?}, {of:?}, {hidden:?}");
                }
            }
        }
    }

    /// One group with people of these patterns.
    fn group(of: &[(usize, usize)]) -> [usize; 16] {
        let mut people = [0; 16];
        of.iter().for_each(|(pattern, n)| people[*pattern] = *n);
        people
    }

    #[test]
    fn a_year_is_shown_where_subtraction_leaves_nobody_or_enough() {
        let year = |of: &[(usize, usize)]| hidden(&vec![group(of)]).map(|h| !h.total);
        // The same people in all quarters; six who come later.
        assert_eq!(year(&[(15, 20)]), [true; 7]);
        assert_eq!(year(&[(15, 20), (14, 6)]), [true; 7]);
        // Two who come later: the year less its first quarter would be these two.
        assert_eq!(year(&[(3, 20), (2, 2)])[4..], [false, false, false]);
        // One quarter of few people would be the year less the others.
        assert_eq!(year(&[(1, 20), (2, 3)]), [true, false, true, true, false, false, false]);
        // Few people in each are enough together; eight would be four and four.
        assert_eq!(year(&[(1, 4), (2, 4)])[4..], [false, false, false]);
        assert!(year(&[(1, 4), (2, 3)])[4]);
        // Two women came later: women and men are shown together alone.
        let men = group(&[(1, 7), (3, 20), (2, 9)]);
        let so_far = &hidden(&vec![group(&[(3, 20), (2, 2)]), men, group(&[(3, 40)])])[4];
        assert_eq!((so_far.total, &*so_far.cells), (false, &[true, true, false][..]));
    }

    /// All populations of one group whose people come in up to four of the fifteen patterns.
    #[test]
    fn no_difference_of_periods_leaves_few_people() {
        let derived = derived();
        // A check that can fail: where all is shown, it does.
        assert!(derived.iter().any(|(used, _)| used.len() > 2));
        for chosen in (1_u32..1 << 15).filter(|c| c.count_ones() <= 4) {
            let patterns: Vec<usize> = (1..16).filter(|p| chosen >> (p - 1) & 1 == 1).collect();
            let sizes = if patterns.len() < 4 { &[1, 5, 9][..] } else { &[2, 6] };
            for code in 0..sizes.len().pow(chosen.count_ones()) {
                let size = |at: u32| sizes[code / sizes.len().pow(at) % sizes.len()];
                let people: Vec<_> =
                    patterns.iter().zip(0..).map(|(p, at)| (*p, size(at))).collect();
                check(&vec![group(&people)], &derived);
            }
        }
    }

    /// All populations of two groups over two quarters, many of three, and of two over three.
    #[test]
    fn no_difference_of_groups_and_periods_leaves_few_people() {
        let derived = derived();
        for (groups, patterns, sizes, step) in
            [(2, 3, &[0, 1, 5, 9][..], 1), (3, 3, &[0, 2, 6], 5), (2, 7, &[0, 3, 6], 997)]
        {
            let (cells, base) = (groups * patterns, sizes.len());
            for code in (0..base.pow(cells)).step_by(step) {
                let size = |at: u32| sizes[code / base.pow(at) % base];
                let one = |g: u32| {
                    let of = (0..patterns).map(|p| (p as usize + 1, size(g * patterns + p)));
                    group(&of.collect::<Vec<_>>())
                };
                check(&(0..groups).map(one).collect(), &derived);
            }
        }
    }

    /// What a reader sees of the periods: sums of all, and the groups that are shown.
    type Seen = Vec<(Option<usize>, Vec<Option<usize>>)>;

    fn seen(people: &People) -> Seen {
        let one = |(period, hidden): (Period, &Hidden)| {
            let sum = |is_of: &dyn Fn(usize) -> bool| {
                count(people, is_of, &|q| q & period.quarters() != 0)
            };
            let cells = hidden.cells.iter().enumerate();
            let cells = cells.map(|(group, hide)| (!hide).then(|| sum(&|g| g == group)));
            ((!hidden.total).then(|| sum(&|_| true)), cells.collect())
        };
        Period::ALL.into_iter().zip(&hidden(people)).map(one).collect()
    }

    /// Against a reader who knows this very rule: of all populations that look the same, no number
    /// of few people is the same, of whatever periods and differences of periods.
    fn no_hidden_number_is_found(groups: u32, quarters: u32, most: usize) {
        let whom: HashSet<[bool; 16]> = derived().into_iter().map(|(_, whom)| whom).collect();
        let patterns = (1_u32 << quarters) - 1;
        let of_group: Vec<[usize; 16]> = (0..(most + 1).pow(patterns))
            .map(|code| {
                let size = |at: u32| code / (most + 1).pow(at) % (most + 1);
                let of = (0..patterns).map(|p| (p as usize + 1, size(p)));
                group(&of.collect::<Vec<_>>())
            })
            .filter(|g| {
                let of = |quarter: u8| count(&vec![*g], &|_| true, &|q| q & quarter != 0);
                (0..quarters).all(|at| of(1 << at) <= most)
            })
            .collect();
        let mut alike: HashMap<Seen, Vec<People>> = HashMap::new();
        for code in 0..of_group.len().pow(groups) {
            let one = |g: u32| of_group[code / of_group.len().pow(g) % of_group.len()];
            let people: People = (0..groups).map(one).collect();
            alike.entry(seen(&people)).or_default().push(people);
        }
        for (seen, all) in alike {
            // Beyond the bound of this test there may be more that look alike.
            let is_bounded = |(total, cells): &(Option<usize>, Vec<Option<usize>>)| {
                total.is_none_or(|n| n <= most) || cells.iter().all(Option::is_some)
            };
            if !seen.iter().take(QUARTERS).all(is_bounded) {
                continue;
            }
            for code in 1..1_usize << groups {
                let is_of = |group: usize| code >> group & 1 == 1;
                for whom in &whom {
                    let of = |p: &People| count(p, &is_of, &|q| whom[usize::from(q)]);
                    let number = of(&all[0]);
                    let differs = || all.iter().any(|p| of(p) != number);
                    assert!(
                        is_enough(number) || differs(),
                        "{number} of {whom:?} in {code} of {:?}: {seen:?}",
                        all[0]
                    );
                }
            }
        }
    }

    #[test]
    fn no_hidden_number_is_found_by_who_knows_the_rule() {
        no_hidden_number_is_found(1, 2, 14);
        no_hidden_number_is_found(1, 3, 5);
        no_hidden_number_is_found(2, 2, 7);
    }
}
