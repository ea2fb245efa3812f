//! Even days in a shed that is too small for all its groups.

use crate::sizing::{floor, real};

/// Days that a group without any tray a day may be harvested young.
const YOUNG: [i64; 2] = [1, 2];

/// What a group may soak in a short shed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Steady {
    /// Trays every day.
    pub trays: i64,
    /// Days that a tray stands.
    pub stands: i64,
    /// Trays more in every `cycle` days.
    pub extra: i64,
    pub cycle: i64,
}

/// Shares places out among groups, each with the trays that it needs a day and the days that a tray
/// stands.
///
/// # Method
/// A tray a day more, again and again, to the group with the smallest share of its need (of equal
/// ones the first) while it fits. A group that gets none may be harvested one or two days young,
/// if then one tray a day fits. Places left give the neediest group some trays more in every so
/// many days. So no group is fed richly on one day and not at all on the next.
#[must_use]
pub fn steady_trays(places: i64, groups: &[(f64, i64)]) -> Vec<Steady> {
    let want: Vec<i64> = groups.iter().map(|(need, _)| floor((need - 1e-9).ceil())).collect();
    let start =
        |(_, stands): &(f64, i64)| Steady { trays: 0, stands: *stands, extra: 0, cycle: *stands };
    let mut made: Vec<Steady> = groups.iter().map(start).collect();
    let mut free = places;
    let neediest = |made: &[Steady], fits: &dyn Fn(&Steady) -> bool| {
        let open = made.iter().zip(&want).zip(groups).enumerate();
        let open = open.filter(|(_, ((m, want), _))| m.trays < **want && fits(m));
        let share = open.map(|(at, ((m, _), (need, _)))| (at, real(m.trays) / need));
        share.min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0))).map(|(at, _)| at)
    };
    while let Some(at) = neediest(&made, &|m| m.stands <= free) {
        let Some(group) = made.get_mut(at) else { break };
        group.trays += 1;
        free -= group.stands;
    }
    for (group, want) in made.iter_mut().zip(&want) {
        if group.trays > 0 || *want == 0 {
            continue;
        }
        let young = YOUNG.iter().map(|days| group.stands - days);
        if let Some(stands) = young.clone().find(|stands| *stands >= 1 && *stands <= free) {
            *group = Steady { trays: 1, stands, extra: 0, cycle: stands };
            free -= stands;
        }
    }
    if let Some(at) = neediest(&made, &|_| free > 0)
        && let Some(group) = made.get_mut(at)
    {
        group.extra = free.min(group.stands);
    }
    made
}

/// Trays that a group may soak on a day (its number from the common era on): the extra ones are
/// spread evenly over the cycle.
#[must_use]
pub fn trays_on(day: i64, of: &Steady) -> i64 {
    let cycle = of.cycle.max(1);
    let until = |day: i64| (day * of.extra).div_euclid(cycle);
    of.trays + until(day + 1) - until(day)
}
