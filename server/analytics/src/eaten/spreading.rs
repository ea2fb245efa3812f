//! Lots to pieces.

use super::lots::lots;
use super::rates::{Timeline, timeline};
use super::{Finding, LotSeen, Piece, Rule, Rules, Series, Spread, ZERO_DAYS};

/// Spreads the purchases of one farm and feed over the days until the next purchase.
///
/// A purchase whose price or kg cannot be right is held: its days are not covered. A gap is not
/// a saving: the lot before it lasts as long as usual, and the rest is not covered.
///
/// # Units
/// Days, kg, money; rates per animal-day.
///
/// # Shape
/// Days before the first lot and days from `as_of` on are in no piece.
///
/// # Source
/// SPEC C1.
pub fn spread(series: &Series, rules: &Rules) -> Spread {
    let mut zeros: Vec<i32> =
        series.purchases.iter().filter(|p| p.kg <= 0.0).map(|p| p.day).collect();
    zeros.sort_unstable();
    let mut found = Vec::new();
    let lots = lots(series, rules, &mut found);
    let mut answer = Spread::default();
    if lots.is_empty() {
        answer.pieces = nothing_bought(&zeros, series.as_of);
    } else {
        let line = timeline(series, &lots, &zeros, rules, &mut found);
        let mut work = Work { series, rules, zeros: &zeros, line, found, answer };
        work.run(&lots.iter().map(|l| l.purchase).collect::<Vec<_>>());
        (answer, found) = (work.answer, work.found);
    }
    found.sort_unstable();
    found.dedup();
    answer.findings = found;
    answer
}

/// Recorded zeros without any lot: none eaten, known for 31 days each.
fn nothing_bought(zeros: &[i32], as_of: i32) -> Vec<Piece> {
    let end = |i: usize| {
        let next = zeros.get(i + 1).copied().unwrap_or(as_of);
        zeros[i].saturating_add(ZERO_DAYS).min(next).min(as_of)
    };
    let pieces = (0..zeros.len()).map(|i| none_eaten(zeros[i], end(i)));
    pieces.filter(|p| p.from < p.to).collect()
}

fn none_eaten(from: i32, to: i32) -> Piece {
    Piece { from, to, kg_per_animal_day: 0.0, cost_per_animal_day: 0.0, is_open: false }
}

struct Work<'a> {
    series: &'a Series<'a>,
    rules: &'a Rules,
    zeros: &'a [i32],
    line: Timeline,
    found: Vec<Finding>,
    answer: Spread,
}

impl Work<'_> {
    fn run(&mut self, purchases: &[Option<usize>]) {
        self.answer.lots = self.seen();
        let made_up = self.make_up();
        for j in 0..=self.line.last() {
            let (from, to) = (self.line.days[j], self.line.days[j + 1]);
            if self.line.is_held[j] || to <= from {
                continue;
            }
            if j < self.line.last() {
                self.settled(j, made_up[j], purchases[j]);
            } else {
                self.in_use(j, purchases[j]);
            }
        }
        let first = self.line.days.first().copied();
        let until = self.answer.waits_from;
        self.answer.waiting = match (first, until) {
            (Some(first), Some(until)) => self.covers(first, until),
            _ => false,
        };
    }

    /// How each lot went, before anything is made up for.
    fn seen(&self) -> Vec<LotSeen> {
        let line = &self.line;
        let lot = |j: usize| LotSeen {
            from: line.days[j],
            day: line.days[line.source[j]],
            days: line.intervals[j],
            rate: line.rate[j],
            usual: line.usual_of(j).map(|u| (u.interval, u.rate)),
        };
        (0..line.kg.len()).map(lot).collect()
    }

    fn covers(&self, from: i32, to: i32) -> bool {
        let mut day = from;
        for piece in self.answer.pieces.iter().filter(|p| p.from < p.to) {
            if piece.from > day {
                break;
            }
            day = day.max(piece.to);
        }
        day >= to
    }

    /// A late or an early bulk purchase makes up for a gap: both are one lot.
    ///
    /// Gives, lot by lot, the money a kg of the pair.
    fn make_up(&mut self) -> Vec<Option<f64>> {
        let line = &mut self.line;
        let mut price = vec![None; line.kg.len()];
        for j in 0..line.last() {
            let Some(u) = line.usual_of(j).filter(|_| line.is_gap[j]) else {
                continue;
            };
            for other in [Some(j + 1), j.checked_sub(1)].into_iter().flatten() {
                let is_fit = other < line.last()
                    && line.is_usable[other]
                    && !line.is_held[other]
                    && !line.is_gap[other]
                    && line.animal_days[other] > 0.0;
                let kg = line.kg[j] + line.kg[other];
                let rate = kg / (line.animal_days[j] + line.animal_days[other]);
                let is_bulk = line.rate[other] > self.rules.double * u.rate;
                if is_fit && is_bulk && rate >= self.rules.make_up * u.rate {
                    let unit = (line.cost[j] + line.cost[other]) / kg;
                    for k in [j, other] {
                        line.rate[k] = rate;
                        price[k] = Some(unit);
                    }
                    line.is_gap[j] = false;
                    line.is_usable[other] = false;
                    break;
                }
            }
        }
        price
    }

    /// A lot's whole amount eaten between two days.
    fn whole(&mut self, lot: (f64, f64), from: i32, to: i32, is_open: bool) {
        let days = self.series.before(to) - self.series.before(from);
        if to > from && days > 0.0 {
            self.answer.pieces.push(Piece {
                from,
                to,
                kg_per_animal_day: lot.0 / days,
                cost_per_animal_day: lot.1 / days,
                is_open,
            });
        }
    }

    fn none(&mut self, from: i32, to: i32) {
        if from < to {
            self.answer.pieces.push(none_eaten(from, to));
        }
    }

    /// Day on which an amount is eaten up at a rate.
    fn eaten_up(&self, from: i32, kg: f64, rate: f64) -> i32 {
        // Without animals on the days before, nothing is eaten up on an earlier day.
        self.series.day_of(self.series.before(from) + kg / rate).max(from)
    }

    /// A lot that another lot follows.
    fn settled(&mut self, j: usize, made_up: Option<f64>, purchase: Option<usize>) {
        let (from, to) = (self.line.days[j], self.line.days[j + 1]);
        let lot = (self.line.kg[j], self.line.cost[j]);
        let usual = self.line.usual_of(j);
        if self.line.animal_days[j] <= 0.0 {
            self.none(from, to);
            return;
        }
        if let Some(u) = usual.filter(|_| self.line.is_gap[j]) {
            self.found.push(Finding { day: from, rule: Rule::Gap, purchase });
            // Without a usual rate of its own side nothing is guessed.
            if u.is_own {
                let end = self.eaten_up(from, lot.0, u.rate).min(to);
                self.whole(lot, from, end, false);
            }
            return;
        }
        let is_confirmed = self.zeros.iter().any(|z| from < *z && *z < to);
        let end = match usual.filter(|_| is_confirmed && made_up.is_none()) {
            Some(u) => self.eaten_up(from, 2.0 * lot.0, u.rate).min(to),
            None => to,
        };
        if end < to {
            self.whole(lot, from, end, false);
            self.none(end, to);
        } else {
            let rate = self.line.rate[j];
            let unit = made_up.unwrap_or(if lot.0 > 0.0 { lot.1 / lot.0 } else { 0.0 });
            self.push_rate(from, to, rate, unit, false);
        }
    }

    fn push_rate(&mut self, from: i32, to: i32, rate: f64, unit: f64, is_open: bool) {
        self.answer.pieces.push(Piece {
            from,
            to,
            kg_per_animal_day: rate,
            cost_per_animal_day: rate * unit,
            is_open,
        });
    }

    /// The lot in use.
    fn in_use(&mut self, j: usize, purchase: Option<usize>) {
        let (from, as_of) = (self.line.days[j], self.series.as_of);
        let lot = (self.line.kg[j], self.line.cost[j]);
        let usual = self.line.usual_of(j);
        let last_zero = self.zeros.last().copied();
        if let Some(zero) = last_zero.filter(|z| *z >= from && lot.0 <= 0.0) {
            // Counted empty, and nothing bought: there is no lot.
            self.none(from, zero.saturating_add(ZERO_DAYS).min(as_of));
        } else if let Some((zero, u)) = last_zero.filter(|z| *z > from).zip(usual) {
            let stop = zero.saturating_add(ZERO_DAYS).min(as_of);
            let end = self.eaten_up(from, 2.0 * lot.0, u.rate).min(stop);
            self.whole(lot, from, end, false);
            self.none(end, stop);
        } else if let Some(open) = usual.and_then(|u| u.open) {
            self.at_usual_rate(j, open, purchase);
        } else {
            self.answer.waits_from = Some(from);
        }
    }

    /// As usual, while the lot is not much older than usual.
    fn at_usual_rate(&mut self, j: usize, usual: (f64, f64), purchase: Option<usize>) {
        let (interval, usual_rate) = usual;
        let (from, as_of) = (self.line.days[j], self.series.as_of);
        let (mut kg, cost) = (self.line.kg[j], self.line.cost[j]);
        let unit = if kg > 0.0 { cost / kg } else { 0.0 };
        let (days, passed) = (self.line.animal_days[j], self.line.intervals[j]);
        if self.line.tops_up {
            // Not replaced yet: used as usual.
            kg = if passed <= self.rules.gap * interval {
                usual_rate * days.max(interval * days / passed.max(1.0))
            } else {
                usual_rate * interval * days / passed
            };
        }
        let lasts = kg / usual_rate;
        if days <= self.rules.gap * lasts {
            let rate = if days > 0.0 { kg / lasts.max(days) } else { usual_rate };
            self.push_rate(from, as_of, rate, unit, true);
        } else {
            self.found.push(Finding { day: from, rule: Rule::Gap, purchase });
            let end = self.eaten_up(from, kg, usual_rate).min(as_of);
            self.whole((kg, cost), from, end, true);
        }
    }
}
