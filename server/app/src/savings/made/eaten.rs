//! From a farm's book to what its animals ate: purchases become series of a feed and a class of
//! animals, and series become months.

use super::axis::Axis;
use super::books::{Book, Group};
use super::holes::{Hole, Why, holes};
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use traybook_analytics::eaten::{
    LotSeen, MonthUse, Piece, Purchase, Rule, Rules, Series, Spread, StoreCount, month_use, spread,
};
use traybook_domain::Month;
use traybook_domain::value::real;
use traybook_storage::savings::saving_rows::{PurchaseRow, RationRow};
use uuid::Uuid;

/// Purchases in the 12 months ending with a month from which on a feed that is in no ration is
/// needed all the same.
const OFTEN: usize = 4;
/// Days for which a purchase that names no animals leaves the farm without a number.
const UNNAMED_DAYS: i32 = 31;

/// What a farm's animals ate, by class.
#[derive(Default)]
pub(super) struct FarmUse {
    pub enterprises: Vec<Enterprise>,
    pub findings: Vec<FeedFinding>,
    /// Purchases whose animals nobody named: the days that they leave open.
    pub unnamed: Vec<(i32, i32, Uuid, Uuid)>,
    pub has_uncounted_group: bool,
}

/// One class of animals of a farm.
pub(super) struct Enterprise {
    pub class: String,
    /// Head × days of each month, as far as it is known; none where nobody counted.
    pub animal_days: Option<Vec<f64>>,
    /// First day of a head count.
    pub counted_from: Option<i32>,
    pub feeds: Vec<FeedUse>,
    /// Month in which the ration was stated.
    pub ration_month: Option<Month>,
    /// Share of purchase records found as gaps, before and after the start.
    pub gap_share: [f64; 2],
}

/// One feed of a class of animals.
pub(super) struct FeedUse {
    pub feed: Uuid,
    pub uses: Vec<MonthUse>,
    /// Head × days of the groups that eat it, by month.
    pub days: Vec<f64>,
    pub is_needed: Vec<bool>,
    /// Stated ration, kg per head and day of the class.
    pub ration: Option<f64>,
    pub holes: Vec<Hole>,
    /// What covers the days, by day.
    pub lots: Vec<Lot>,
}

/// Days that a lot covers, with its purchase.
#[derive(Clone, Copy)]
pub(super) struct Lot {
    pub piece: Piece,
    pub purchase: Option<PurchaseRow>,
}

/// Something about a purchase or a count that somebody should look at.
#[derive(Clone, Debug)]
pub(super) struct FeedFinding {
    pub rule: Rule,
    pub feed: Uuid,
    pub on: chrono::NaiveDate,
    pub purchase: Option<PurchaseRow>,
    /// The co-operative's median price, minor units a kg.
    pub median: Option<f64>,
    /// How the lot went beside what is usual.
    pub lot: Option<LotSeen>,
    /// Left in store by the count, kg.
    pub left: Option<f64>,
    /// What there was at most by then, kg.
    pub most: Option<f64>,
    /// First and last day that are not counted for it.
    pub uncounted: Option<(chrono::NaiveDate, chrono::NaiveDate)>,
}

/// What does not depend on the farm.
pub(super) struct Ground<'a> {
    pub axis: &'a Axis,
    /// Median price by feed and month, minor units a kg.
    pub medians: &'a HashMap<Uuid, Vec<Option<f64>>>,
    pub accepted: &'a HashSet<Uuid>,
    pub rules: &'a Rules,
    /// Whether the lots are wanted as well: for one farm's account.
    pub keeps_lots: bool,
}

/// Animals that eat a series: of one class, or of several by what their rations say.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Eaters {
    Class(String),
    Shared,
}

/// A farm in the making.
struct Farm<'a> {
    book: &'a Book,
    ground: &'a Ground<'a>,
    start: Option<i32>,
    /// Ration by group and feed, g per head and day.
    rations: HashMap<(Uuid, Uuid), RationRow>,
    uses: BTreeMap<(String, Uuid), FeedUse>,
    /// Purchase records and gaps by class, before and after the start.
    records: BTreeMap<String, [[u32; 2]; 2]>,
    out: FarmUse,
}

/// What one farm's animals ate.
pub(super) fn farm_use(book: &Book, ground: &Ground<'_>) -> FarmUse {
    let start = book.farm.started_on.map(|d| ground.axis.day(d));
    let mut farm = Farm {
        book,
        ground,
        start,
        rations: stated(book),
        uses: BTreeMap::new(),
        records: BTreeMap::new(),
        out: FarmUse::default(),
    };
    farm.out.has_uncounted_group = book.groups.iter().any(|g| g.runs.is_empty());
    let feeds: BTreeSet<Uuid> = book
        .purchases
        .iter()
        .map(|p| p.feed)
        .chain(book.counts.iter().map(|c| c.feed))
        .chain(farm.rations.keys().map(|(_, feed)| *feed))
        .collect();
    for feed in feeds {
        farm.feed(feed);
    }
    farm.finish()
}

/// Each group's ration: the latest that was recorded up to the start, else the earliest later one;
/// of one day the last that was entered.
fn stated(book: &Book) -> HashMap<(Uuid, Uuid), RationRow> {
    let start = book.farm.started_on;
    let known: HashSet<Uuid> = book.groups.iter().map(|g| g.id).collect();
    let mut chosen: HashMap<(Uuid, Uuid), RationRow> = HashMap::new();
    for row in book.rations.iter().filter(|r| known.contains(&r.group)) {
        let is_early = |r: &RationRow| start.is_none_or(|s| r.on <= s);
        let slot = chosen.entry((row.group, row.feed)).or_insert(*row);
        // Rows come by day and entry.
        if is_early(row) || slot.on == row.on {
            *slot = *row;
        }
    }
    chosen.retain(|_, r| r.grams > 0);
    chosen
}

/// Head × days before each day: `weight` of each group times its heads.
fn cumulative(groups: &[(&Group, f64)], days: usize) -> Vec<f64> {
    let mut daily = vec![0.0; days];
    for (group, weight) in groups {
        let ends = group.runs.iter().skip(1).map(|r| r.0).chain([i32::MAX]);
        for ((from, head), to) in group.runs.iter().zip(ends) {
            let at = |day: i32| usize::try_from(day).unwrap_or(0).min(days);
            let span = daily.get_mut(at(*from)..at(to).max(at(*from)));
            span.into_iter().flatten().for_each(|d| *d += weight * head);
        }
    }
    let mut sum = 0.0;
    let mut before = Vec::with_capacity(days + 1);
    before.push(0.0);
    for day in daily {
        sum += day;
        before.push(sum);
    }
    before
}

/// Sums of months.
fn by_month(before: &[f64], axis: &Axis) -> Vec<f64> {
    let at = |day: i32| {
        let place = usize::try_from(day).unwrap_or(0).min(before.len().saturating_sub(1));
        before.get(place).copied().unwrap_or(0.0)
    };
    (0..axis.months()).map(|t| axis.span(t)).map(|(from, to)| at(to.max(from)) - at(from)).collect()
}

impl<'a> Farm<'a> {
    fn days(&self) -> usize {
        usize::try_from(self.ground.axis.as_of).unwrap_or(0)
    }

    fn classes(&self) -> BTreeSet<&'a str> {
        self.book.groups.iter().map(|g| g.class.as_str()).collect()
    }

    /// Classes that may have animals: not those of which only 0 was ever counted.
    fn with_animals(&self) -> BTreeSet<&'a str> {
        let may_eat = |g: &&Group| g.runs.is_empty() || g.runs.iter().any(|r| r.1 > 0.0);
        self.book.groups.iter().filter(may_eat).map(|g| g.class.as_str()).collect()
    }

    /// Groups whose ration names a feed.
    fn eaters(&self, feed: Uuid) -> Vec<(&'a Group, f64)> {
        let ration = |g: &Group| self.rations.get(&(g.id, feed)).map(|r| real(r.grams) / 1000.0);
        self.book.groups.iter().filter_map(|g| Some((g, ration(g)?))).collect()
    }

    /// Whose series a record of a feed belongs to; none where nobody said it.
    fn series_of(&self, feed: Uuid, group: Option<Uuid>) -> Option<Eaters> {
        let named = group.and_then(|id| self.book.groups.iter().find(|g| g.id == id));
        if let Some(group) = named {
            return Some(Eaters::Class(group.class.clone()));
        }
        let eaters = self.eaters(feed);
        let classes: BTreeSet<&str> = eaters.iter().map(|(g, _)| g.class.as_str()).collect();
        let classes = if classes.is_empty() { self.with_animals() } else { classes };
        match (classes.len(), eaters.is_empty()) {
            (1, _) => classes.first().map(|c| Eaters::Class((*c).to_owned())),
            (0, _) | (_, true) => None,
            _ => Some(Eaters::Shared),
        }
    }

    /// All series of a feed.
    fn feed(&mut self, feed: Uuid) {
        let mut series: BTreeMap<Eaters, (Vec<PurchaseRow>, Vec<StoreCount>)> = BTreeMap::new();
        for p in self.book.purchases.iter().filter(|p| p.feed == feed) {
            match self.series_of(feed, p.group) {
                Some(of) => series.entry(of).or_default().0.push(*p),
                None if p.grams > 0 && self.with_animals().len() > 1 => {
                    let from = self.ground.axis.day(p.on);
                    self.out.unnamed.push((from, from + UNNAMED_DAYS, feed, p.id));
                }
                None => {}
            }
        }
        for c in self.book.counts.iter().filter(|c| c.feed == feed) {
            if let Some(of) = self.series_of(feed, c.group) {
                let day = self.ground.axis.day(c.on);
                let count = StoreCount { day, kg: real(c.grams) / 1000.0 };
                series.entry(of).or_default().1.push(count);
            }
        }
        // A feed of a ration is looked for even if it was never bought for these animals.
        if !series.contains_key(&Eaters::Shared) {
            for (group, _) in self.eaters(feed) {
                series.entry(Eaters::Class(group.class.clone())).or_default();
            }
        }
        for (of, (bought, counts)) in series {
            self.spread_series(feed, &of, &bought, &counts);
        }
    }

    /// The groups that eat a series, by class, each with the weight of a head.
    fn parts(&self, feed: Uuid, of: &Eaters) -> Vec<(String, Vec<(&'a Group, f64)>)> {
        let eaters = self.eaters(feed);
        match of {
            Eaters::Class(class) => {
                let of_class = |g: &&Group| g.class == *class;
                let mut some: Vec<(&'a Group, f64)> =
                    eaters.iter().map(|e| e.0).filter(of_class).map(|g| (g, 1.0)).collect();
                if some.is_empty() {
                    some = self.book.groups.iter().filter(of_class).map(|g| (g, 1.0)).collect();
                }
                vec![(class.clone(), some)]
            }
            Eaters::Shared => {
                let mut by_class: BTreeMap<String, Vec<(&'a Group, f64)>> = BTreeMap::new();
                for eater in &eaters {
                    by_class.entry(eater.0.class.clone()).or_default().push(*eater);
                }
                by_class.into_iter().collect()
            }
        }
    }

    /// Spreads one series and adds it to the months of its classes.
    fn spread_series(
        &mut self,
        feed: Uuid,
        of: &Eaters,
        bought: &[PurchaseRow],
        counts: &[StoreCount],
    ) {
        let axis = self.ground.axis;
        let parts = self.parts(feed, of);
        let all: Vec<(&Group, f64)> = parts.iter().flat_map(|p| p.1.iter().copied()).collect();
        let heads = cumulative(&all, self.days());
        let Some(first) = all.iter().filter_map(|(g, _)| g.runs.first()).map(|r| r.0).min() else {
            self.without_heads(feed, &parts);
            return;
        };
        let first = first.max(0);
        let is_in = |day: i32| day >= first && day < axis.as_of;
        let rows: Vec<&PurchaseRow> = bought.iter().filter(|p| is_in(axis.day(p.on))).collect();
        let counts: Vec<StoreCount> = counts.iter().copied().filter(|c| is_in(c.day)).collect();
        let purchases: Vec<Purchase> = rows.iter().map(|p| self.purchase(p)).collect();
        let series = Series {
            purchases: &purchases,
            counts: &counts,
            animal_days: &heads,
            start: self.start,
            as_of: axis.as_of,
        };
        let made = spread(&series, self.ground.rules);
        let holes = holes(&made, &rows, (first, axis.as_of));
        let lots = if self.ground.keeps_lots { self.lots(&made, &rows) } else { Vec::new() };
        self.count_gaps(&made, &rows, parts.iter().map(|p| p.0.as_str()).collect());
        for (class, groups) in &parts {
            let weighted = cumulative(groups, self.days());
            let mut uses = month_use(&made.pieces, &weighted, &axis.starts, self.start);
            let plain: Vec<(&Group, f64)> = groups.iter().map(|g| (g.0, 1.0)).collect();
            let days = by_month(&cumulative(&plain, self.days()), axis);
            in_head_days(&mut uses, &by_month(&weighted, axis), &days);
            let is_needed = often(&rows, axis);
            let (holes, lots) = (holes.clone(), lots.clone());
            let made = FeedUse { feed, uses, days, is_needed, ration: None, holes, lots };
            self.add(class, made);
        }
        self.note((feed, &holes), &made, &rows, (&purchases, &counts));
    }

    /// Keeps what somebody should look at.
    fn note(
        &mut self,
        (feed, holes): (Uuid, &[Hole]),
        made: &Spread,
        rows: &[&PurchaseRow],
        (purchases, counts): (&[Purchase], &[StoreCount]),
    ) {
        let axis = self.ground.axis;
        for f in &made.findings {
            let purchase = f.purchase.and_then(|at| rows.get(at)).map(|p| **p);
            let median = purchase.as_ref().and_then(|p| self.median(p));
            let of_lot =
                |l: &&LotSeen| if f.rule == Rule::Gap { l.from == f.day } else { l.day == f.day };
            let lot = made.lots.iter().find(of_lot).copied();
            let left = counts.iter().find(|c| c.day == f.day && f.rule == Rule::Stock);
            let most = left.and_then(|c| most_left(purchases, counts, made, c.day));
            let (on, left) = (axis.date(f.day), left.map(|c| c.kg));
            let id = purchase.as_ref().map(|p| p.id);
            let of_it = |h: &&Hole| match f.rule {
                Rule::Price | Rule::Kg => h.purchase.is_some_and(|p| Some(p.0) == id),
                Rule::Gap => h.why == Why::Missing && h.last == Some(f.day),
                Rule::Stock => false,
            };
            let hole = holes.iter().find(of_it);
            let uncounted = hole.map(|h| (axis.date(h.from), axis.date(h.to - 1)));
            self.out.findings.push(FeedFinding {
                rule: f.rule,
                uncounted,
                feed,
                on,
                purchase,
                median,
                lot,
                left,
                most,
            });
        }
    }

    /// Pieces with the purchase of the day on which they begin.
    fn lots(&self, made: &Spread, rows: &[&PurchaseRow]) -> Vec<Lot> {
        let of = |piece: &Piece| {
            let day = made.lots.iter().find(|l| l.from == piece.from).map_or(piece.from, |l| l.day);
            let mut of_day = rows.iter().filter(|p| self.ground.axis.day(p.on) == day);
            Lot { piece: *piece, purchase: of_day.find(|p| p.grams > 0).map(|p| **p) }
        };
        made.pieces.iter().map(of).collect()
    }

    fn purchase(&self, p: &PurchaseRow) -> Purchase {
        Purchase {
            day: self.ground.axis.day(p.on),
            kg: real(p.grams) / 1000.0,
            cost: real(p.minor),
            median: self.median(p),
            is_accepted: self.ground.accepted.contains(&p.id),
        }
    }

    fn median(&self, p: &PurchaseRow) -> Option<f64> {
        let t = self.ground.axis.at(Month::of(p.on))?;
        *self.ground.medians.get(&p.feed)?.get(t)?
    }

    /// A feed of animals that nobody counted: nothing is known of it.
    fn without_heads(&mut self, feed: Uuid, parts: &[(String, Vec<(&Group, f64)>)]) {
        let months = self.ground.axis.months();
        let classes: Vec<String> = parts.iter().map(|p| p.0.clone()).collect();
        for class in classes {
            let nothing = vec![MonthUse::default(); months];
            self.add(
                &class,
                FeedUse {
                    feed,
                    uses: nothing,
                    days: vec![0.0; months],
                    is_needed: vec![false; months],
                    ration: None,
                    holes: Vec::new(),
                    lots: Vec::new(),
                },
            );
        }
    }

    /// Adds a series to its class; `is_needed` says where it was bought often.
    fn add(&mut self, class: &str, mut new: FeedUse) {
        let feed = new.feed;
        if self.eaters(feed).iter().any(|(g, _)| g.class == class) {
            new.is_needed.fill(true);
        }
        match self.uses.entry((class.to_owned(), feed)) {
            std::collections::btree_map::Entry::Vacant(empty) => {
                empty.insert(new);
            }
            // The same feed for one class by itself and shared with others: both count.
            std::collections::btree_map::Entry::Occupied(mut known) => {
                let known = known.get_mut();
                for (a, b) in known.uses.iter_mut().zip(&new.uses) {
                    a.kg += b.kg;
                    a.cost += b.cost;
                    a.covered = a.covered.max(b.covered);
                    a.open = a.open.max(b.open);
                    a.mixed = a.mixed.max(b.mixed);
                }
                for (a, b) in known.days.iter_mut().zip(&new.days) {
                    *a = a.max(*b);
                }
                for (a, b) in known.is_needed.iter_mut().zip(&new.is_needed) {
                    *a |= *b;
                }
                known.holes.extend(new.holes);
                known.lots.extend(new.lots);
            }
        }
    }

    fn count_gaps(&mut self, made: &Spread, rows: &[&PurchaseRow], classes: Vec<&str>) {
        let side = |day: i32| usize::from(self.start.is_some_and(|s| day >= s));
        let mut counted = [[0_u32; 2]; 2];
        for p in rows {
            if let Some(slot) = counted[0].get_mut(side(self.ground.axis.day(p.on))) {
                *slot += 1;
            }
        }
        for gap in made.findings.iter().filter(|f| f.rule == Rule::Gap) {
            if let Some(slot) = counted[1].get_mut(side(gap.day)) {
                *slot += 1;
            }
        }
        for class in classes {
            let all = self.records.entry(class.to_owned()).or_default();
            for (sum, more) in all.iter_mut().flatten().zip(counted.iter().flatten()) {
                *sum += more;
            }
        }
    }

    fn finish(mut self) -> FarmUse {
        let (axis, days) = (self.ground.axis, self.days());
        let classes: Vec<String> = self.classes().into_iter().map(str::to_owned).collect();
        for class in classes {
            let groups: Vec<&Group> =
                self.book.groups.iter().filter(|g| g.class == class).collect();
            let counted: Vec<(&Group, f64)> =
                groups.iter().filter(|g| !g.runs.is_empty()).map(|g| (*g, 1.0)).collect();
            let animal_days =
                (!counted.is_empty()).then(|| by_month(&cumulative(&counted, days), axis));
            let (ration_month, ration) = self.ration(&groups);
            let records = self.records.get(&class).copied().unwrap_or_default();
            let [[before, after], [gaps_before, gaps_after]] = records;
            let share = |gaps: u32, all: u32| f64::from(gaps) / f64::from(all.max(1));
            let keys: Vec<(String, Uuid)> =
                self.uses.keys().filter(|(c, _)| *c == class).cloned().collect();
            let mut feeds: Vec<FeedUse> = keys.iter().filter_map(|k| self.uses.remove(k)).collect();
            for feed in &mut feeds {
                feed.ration = ration.get(&feed.feed).copied();
            }
            self.out.enterprises.push(Enterprise {
                class,
                animal_days,
                counted_from: counted.iter().filter_map(|(g, _)| g.runs.first()).map(|r| r.0).min(),
                feeds,
                ration_month,
                gap_share: [share(gaps_before, before), share(gaps_after, after)],
            });
        }
        self.out
    }

    /// The ration of a class: each group's, weighted by its head × days of the month in which the
    /// latest was recorded. kg per head and day by feed.
    fn ration(&self, groups: &[&Group]) -> (Option<Month>, HashMap<Uuid, f64>) {
        let of = |g: &Group| self.rations.values().filter(|r| r.group == g.id).collect::<Vec<_>>();
        let month = groups.iter().flat_map(|g| of(g)).map(|r| Month::of(r.on)).max();
        let Some(month) = month else { return (None, HashMap::new()) };
        let axis = self.ground.axis;
        let head_days = |g: &Group| {
            let days = by_month(&cumulative(&[(g, 1.0)], self.days()), axis);
            axis.at(month).and_then(|t| days.get(t).copied()).unwrap_or(0.0)
        };
        let mut weights: Vec<f64> = groups.iter().map(|g| head_days(g)).collect();
        if weights.iter().sum::<f64>() <= 0.0 {
            // Stated before anybody counted: by the first count.
            let first = |g: &&Group| g.runs.iter().map(|r| r.1).find(|h| *h > 0.0).unwrap_or(0.0);
            weights = groups.iter().map(first).collect();
        }
        let all: f64 = weights.iter().sum();
        let mut ration: HashMap<Uuid, f64> = HashMap::new();
        for (group, weight) in groups.iter().zip(weights) {
            let share = if all > 0.0 { weight / all } else { 1.0 / real_count(groups.len()) };
            for row in of(group) {
                *ration.entry(row.feed).or_default() += share * real(row.grams) / 1000.0;
            }
        }
        (Some(month), ration)
    }
}

/// Turns animal-days that were weighted by rations into head × days: a class has one unit, whether
/// a purchase names it or is shared.
fn in_head_days(uses: &mut [MonthUse], weighted: &[f64], plain: &[f64]) {
    for ((of, weighted), plain) in uses.iter_mut().zip(weighted).zip(plain) {
        let unit = if *weighted > 0.0 { plain / weighted } else { 1.0 };
        of.covered *= unit;
        of.open *= unit;
        of.mixed *= unit;
    }
}

fn real_count(count: usize) -> f64 {
    real(i64::try_from(count.max(1)).unwrap_or(1))
}

/// Whether a feed was bought often in the 12 months ending with each month.
fn often(rows: &[&PurchaseRow], axis: &Axis) -> Vec<bool> {
    let mut counts = vec![0_usize; axis.months()];
    for p in rows.iter().filter(|p| p.grams > 0) {
        if let Some(slot) = axis.at(Month::of(p.on)).and_then(|t| counts.get_mut(t)) {
            *slot += 1;
        }
    }
    let year = |t: usize| counts.iter().take(t + 1).rev().take(12).sum::<usize>() >= OFTEN;
    (0..axis.months()).map(year).collect()
}

/// What there was of a feed at most on the morning of a day, kg: the lot in use, or what a count
/// since then left of it.
fn most_left(bought: &[Purchase], counts: &[StoreCount], made: &Spread, day: i32) -> Option<f64> {
    let bought = bought.iter().filter(|p| p.kg > 0.0 && p.day < day);
    let last = bought.clone().map(|p| p.day).max()?;
    let is_wrong =
        |c: &StoreCount| made.findings.iter().any(|f| f.rule == Rule::Stock && f.day == c.day);
    let since = counts.iter().filter(|c| c.day > last && c.day < day && !is_wrong(c));
    let left = since.max_by_key(|c| c.day).map(|c| c.kg);
    Some(left.unwrap_or_else(|| bought.filter(|p| p.day == last).map(|p| p.kg).sum()))
}
