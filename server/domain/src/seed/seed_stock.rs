//! How long seed lasts and when to order it: safety stock, reorder point, whole bags.
//!
//! Pure arithmetic on grams and days; where the use comes from (soaks recorded, or a plan) and
//! what is in stock is the caller's affair.

use crate::value::real;
use chrono::NaiveDate;

/// Days of use below which its variation is not known well enough: two weeks hold every day of the
/// week twice.
pub const HISTORY_DAYS_MIN: usize = 14;
/// Days between two looks at the stock. It may fall below the reorder point on any day and is
/// seen at that day's end, so an order covers one day more than the lead time.
pub const REVIEW_DAYS: i64 = 1;

/// Seed used by day over a stretch of days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DailyUse {
    days: i64,
    sum_g: i64,
    /// Days × sum of squares − square of the sum: the variance's numerator, exact.
    spread: i128,
}

impl DailyUse {
    /// From the grams used on each day in turn; a day without use is a 0 and counts.
    ///
    /// # Shape
    /// None with fewer than [`HISTORY_DAYS_MIN`] days.
    #[must_use]
    pub fn of(history: &[i64]) -> Option<Self> {
        if history.len() < HISTORY_DAYS_MIN {
            return None;
        }
        let days = i64::try_from(history.len()).ok()?;
        let sum: i128 = history.iter().map(|g| i128::from(*g)).sum();
        let squares: i128 = history.iter().map(|g| i128::from(*g) * i128::from(*g)).sum();
        let spread = i128::from(days) * squares - sum * sum;
        Some(Self { days, sum_g: i64::try_from(sum).ok()?, spread })
    }

    /// Mean use of a day, grams, rounded.
    #[must_use]
    pub fn mean_g(&self) -> i64 {
        crate::savings::money::mul_div(self.sum_g, 1, self.days).unwrap_or(0)
    }

    /// Standard deviation of a day's use (divisor days − 1), grams, rounded.
    #[must_use]
    pub fn sd_g(&self) -> i64 {
        whole(self.sd().round())
    }

    /// Grams that are used in so many days on average, rounded up.
    #[must_use]
    pub fn expected_g(&self, days: i64) -> i64 {
        let grams = i128::from(self.sum_g) * i128::from(days.max(0));
        let per = i128::from(self.days.max(1));
        i64::try_from((grams + per - 1).div_euclid(per)).unwrap_or(i64::MAX)
    }

    fn sd(&self) -> f64 {
        let pairs = real(self.days) * real(self.days - 1);
        let spread = self.spread.max(0) as f64;
        (spread / pairs).sqrt()
    }
}

/// The grams used on each day from `from` to `to`, days without use as 0.
///
/// # Shape
/// One number a day; uses outside the days are left out; empty when `to` is before `from`.
#[must_use]
pub fn daily_history(
    uses: impl IntoIterator<Item = (NaiveDate, i64)>,
    from: NaiveDate,
    to: NaiveDate,
) -> Vec<i64> {
    let days = usize::try_from((to - from).num_days() + 1).unwrap_or(0);
    let mut history = vec![0_i64; days];
    for (day, grams) in uses {
        let at = usize::try_from((day - from).num_days()).ok();
        if let Some(slot) = at.and_then(|at| history.get_mut(at)) {
            *slot += grams;
        }
    }
    history
}

/// Seed kept beyond the mean use of the lead time, so that it lasts until the new seed comes in
/// `service` of a hundred orders.
///
/// `z · s · √(P (1 + P / n))`, with `P` the lead time plus [`REVIEW_DAYS`], `s` the standard
/// deviation of a day's use in `n` days of history and `z` the normal point of the service level;
/// the second term is there because the mean is itself known from `n` days only. Days are taken as
/// independent, which farms that soak in a weekly rhythm are not: for them it keeps a little more
/// than is needed. A level of 50 per cent keeps nothing.
///
/// # Units
/// `service` in thousandths of a per cent (95,000 for 95 per cent); grams, rounded up.
///
/// # Source
/// Silver, Pyke & Thomas, Inventory and Production Management in Supply Chains: safety stock
/// `k σ_L`, for periodic review over review plus lead time \[MEM\]; the term `P / n` is that of the
/// prediction of a sum of future values, any statistics text \[MEM\].
#[must_use]
pub fn safety_stock_g(usage: &DailyUse, lead_days: i64, service: i64) -> i64 {
    let protection = real(lead_days.max(0) + REVIEW_DAYS);
    let sd = usage.sd() * (protection * (1.0 + protection / real(usage.days))).sqrt();
    let share = real(service.clamp(50_000, 99_999)) / 100_000.0;
    whole((normal_point(share) * sd).ceil())
}

/// Whole days of a plan that a stock covers, from its first day on; none where it covers them all.
#[must_use]
pub fn days_covered(stock_g: i64, plan_g: &[i64]) -> Option<usize> {
    let mut left = stock_g.max(0);
    plan_g.iter().position(|need| {
        left -= need;
        left < 0
    })
}

/// Whole bags that hold at least so much seed; 0 where none is needed.
#[must_use]
pub fn bags(need_g: i64, bag_g: i64) -> i64 {
    let (need, bag) = (need_g.max(0), bag_g.max(1));
    need / bag + i64::from(need % bag > 0)
}

/// The point below which a standard normal value lies with probability `share`, from 0.5 to 1;
/// wrong by less than 0.00045.
///
/// # Source
/// Abramowitz & Stegun 1964, formula 26.2.23 \[MEM\].
fn normal_point(share: f64) -> f64 {
    if share <= 0.5 {
        return 0.0;
    }
    let t = (-2.0 * (1.0 - share).ln()).sqrt();
    let above = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let below = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    (t - above / below).max(0.0)
}

fn whole(value: f64) -> i64 {
    value as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Stock at which seed would be ordered if days were alike: what the simulation holds to the
    /// service level. The forecast takes the planned issues instead of the mean.
    fn reorder_point_g(usage: &DailyUse, lead_days: i64, service: i64) -> i64 {
        let mean = usage.expected_g(lead_days.max(0) + REVIEW_DAYS);
        mean.saturating_add(safety_stock_g(usage, lead_days, service))
    }

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a day")
    }

    #[test]
    fn mean_and_deviation_meet_a_general_library() {
        // [DATA] Python 3 statistics.mean and statistics.stdev of these fourteen numbers:
        // 3021.428571…, 1252.184904…
        let history = [
            4_000, 4_000, 2_000, 4_000, 4_000, 0, 2_500, 4_000, 3_800, 2_000, 4_000, 3_000, 1_500,
            3_500,
        ];
        let usage = DailyUse::of(&history).expect("two weeks");
        assert_eq!((usage.mean_g(), usage.sd_g()), (3_021, 1_252));
        assert_eq!(usage.expected_g(14), history.iter().sum::<i64>());
        assert_eq!(DailyUse::of(&history[1..]), None);
    }

    #[test]
    fn normal_points_meet_the_printed_table() {
        // Table of the standard normal distribution, any statistics text [MEM].
        for (share, point) in [
            (0.5, 0.0),
            (0.8, 0.8416),
            (0.9, 1.2816),
            (0.95, 1.6449),
            (0.99, 2.3263),
            (0.999, 3.0902),
        ] {
            assert!((normal_point(share) - point).abs() < 5e-4, "{share}");
        }
    }

    #[test]
    fn steady_use_needs_no_safety_stock() {
        // [ARITH] 4 kg a day, 7 days of lead and one of looking: 32 kg.
        let usage = DailyUse::of(&[4_000; 28]).expect("use");
        assert_eq!(safety_stock_g(&usage, 7, 95_000), 0);
        assert_eq!(reorder_point_g(&usage, 7, 95_000), 32_000);
    }

    #[test]
    fn whole_bags_and_planned_days() {
        let bags_of_50 = [(0, 0), (-1, 0), (1, 1), (50_000, 1), (50_001, 2)];
        for (need, want) in bags_of_50 {
            assert_eq!(bags(need, 50_000), want, "{need}");
        }
        assert_eq!(days_covered(10_000, &[4_000, 4_000, 4_000]), Some(2));
        assert_eq!(days_covered(12_000, &[4_000, 4_000, 4_000]), None);
        assert_eq!(days_covered(-1, &[4_000]), Some(0));
        let uses = [(day("2026-03-02"), 5), (day("2026-03-02"), 6), (day("2026-03-09"), 7)];
        let history = daily_history(uses, day("2026-03-01"), day("2026-03-03"));
        assert_eq!(history, vec![0, 11, 0]);
    }

    struct Draws(u64);
    impl Draws {
        /// SplitMix64, Steele et al. 2014 [MEM].
        fn share(&mut self) -> f64 {
            self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
        }
        /// Trays of 2 kg started by up to eight farms, each with its own chance.
        fn day(&mut self) -> i64 {
            (1..=8).map(|i| if self.share() < 0.1 * f64::from(i) { 2_000 } else { 0 }).sum()
        }
    }

    /// Share of orders after which seed lasted until the new seed came, simulated day by day; the
    /// history is drawn anew for each order.
    fn served(lead: i64, history_days: usize, service: i64) -> f64 {
        let mut draws = Draws(20_260_320 + u64::try_from(lead).expect("days"));
        let orders = 4_000;
        let mut good = 0;
        for _ in 0..orders {
            let history: Vec<i64> = (0..history_days).map(|_| draws.day()).collect();
            let usage = DailyUse::of(&history).expect("use");
            let point = reorder_point_g(&usage, lead, service);
            let mut stock = point + 1 + (draws.share() * 8_000.0) as i64;
            while stock > point {
                stock -= draws.day();
            }
            // Seen at the end of that day; the seed comes at the end of the last day of the lead.
            for _ in 0..lead {
                stock -= draws.day();
            }
            good += i64::from(stock >= 0);
        }
        real(good) / f64::from(orders)
    }

    #[test]
    fn the_wanted_service_level_is_met() {
        // Binomial sampling error of 4,000 orders at 95 %: 0.34 points; three of them are allowed.
        for (lead, days) in [(3, 28), (7, 28), (7, 90), (21, 60)] {
            for service in [80_000, 95_000, 99_000] {
                let (got, want) = (served(lead, days, service), real(service) / 100_000.0);
                let error = 3.0 * (want * (1.0 - want) / 4_000.0).sqrt();
                assert!(got >= want - error, "{lead} {days} {service}: {got}");
            }
        }
        // And not by keeping a mountain: 80 % stays well below certainty.
        assert!(served(21, 60, 80_000) < 0.93);
    }

    proptest! {
        #[test]
        fn more_lead_more_service_and_more_scale_never_order_later(
            history in proptest::collection::vec(0_i64..20_000, 14..60), lead in 0_i64..60,
            service in 50_000_i64..99_000
        ) {
            let usage = DailyUse::of(&history).expect("use");
            let point = reorder_point_g(&usage, lead, service);
            prop_assert!(point <= reorder_point_g(&usage, lead + 1, service));
            prop_assert!(point <= reorder_point_g(&usage, lead, service + 900));
            let twice: Vec<i64> = history.iter().map(|g| g * 2).collect();
            let double = reorder_point_g(&DailyUse::of(&twice).expect("use"), lead, service);
            prop_assert!((double - 2 * point).abs() <= 2, "{double} {point}");
        }
    }
}
