//! Today's soaks where losses are planned for, and what the days ahead can count on.

use super::asks::{Ask, At, grams};
use super::places::Places;
use super::{Feed, Plan, Sized, TOP_UP_PERCENT, YOUNG_DAYS_MAX};
use crate::farm::Day;
use crate::sizing::{self, Asked, Risk, base_share, fit, fit_well, real};
use std::collections::BTreeMap;

/// Today's soak of one group before places are looked at.
struct Wanted {
    ask: Ask,
    asked: Asked,
    /// What is owed over what is needed a day: who has most comes first.
    share: f64,
}

impl At<'_> {
    /// Takes today's asks of groups whose losses are planned for out of `asks`, and grants them
    /// with their reserve and what is owed to the days before. Soaks that a rest day moved to
    /// today are granted first: they stand for their own day.
    pub(super) fn size_today(&self, asks: &mut Vec<Ask>, places: &mut Places, made: &mut Plan) {
        let today = self.span.first;
        let is_sized =
            |a: &Ask| a.soak.day == today && self.mode(a.soak.group, today).risk.is_some();
        let (sized, others): (Vec<Ask>, Vec<Ask>) =
            std::mem::take(asks).into_iter().partition(is_sized);
        *asks = others;
        let mut last: BTreeMap<usize, Ask> = BTreeMap::new();
        let mut moved: BTreeMap<usize, Vec<(Day, i64)>> = BTreeMap::new();
        // By feeding day: the last one is the day that is soaked for.
        for ask in sized {
            if let Some(earlier) = last.insert(ask.soak.group, ask) {
                let those = moved.entry(earlier.soak.group).or_default();
                those.extend(self.grant_moved(earlier, places, made));
            }
        }
        let mut wanted: Vec<Wanted> = Vec::new();
        for (group, ask) in last {
            let those = moved.get(&group).map_or(&[][..], Vec::as_slice);
            wanted.extend(self.wanted(ask, those));
        }
        wanted.sort_by(|a, b| b.share.total_cmp(&a.share));
        for each in wanted {
            self.grant_sized(each, places, made);
        }
    }

    fn grant_moved(
        &self,
        mut ask: Ask,
        places: &mut Places,
        made: &mut Plan,
    ) -> Option<(Day, i64)> {
        places.want(&ask.soak);
        ask.soak.trays = ask.soak.trays.min(places.free(&ask.soak));
        ask.soak.seed_g = ask.soak.seed_g.min(ask.soak.trays * ask.most_g);
        let soaked = (ask.soak.feed_on, ask.soak.seed_g);
        (ask.soak.trays > 0).then(|| {
            places.take(&ask.soak);
            super::grant(made, ask);
            soaked
        })
    }

    /// What a group asks for today. `moved` is what else is soaked for it today.
    fn wanted(&self, ask: Ask, moved: &[(Day, i64)]) -> Option<Wanted> {
        let (group, feed_on) = (ask.soak.group, ask.soak.feed_on);
        let today = self.span.first;
        let mode = self.mode(group, today);
        let risk = mode.risk?;
        let mut need: Vec<f64> = Vec::new();
        let mut standing: Vec<f64> = Vec::new();
        for day in today..feed_on {
            let of_day = self.need(group, day);
            need.push(of_day.map_or(0.0, |n| if n.when.is_ramp { 0.0 } else { real(n.grams) }));
            let soaked = moved.iter().filter(|(on, _)| *on == day).map(|(_, g)| g).sum::<i64>();
            standing.push(real(self.growing_for(group, day) + soaked));
        }
        need.push(real(self.need(group, feed_on)?.grams));
        let is_ramp = self.need(group, today).is_some_and(|n| n.when.is_ramp);
        let load = real(ask.load_g);
        let of =
            sizing::Ask { need: &need, standing: &standing, load, light: mode.is_light, is_ramp };
        let mut asked = sizing::soak(&of, &risk);
        if ask.full {
            // Full trays hold their own reserve; whole trays that were lost are owed.
            let debt = ((asked.debt / load) + 1e-9).floor() * load;
            asked = Asked { base: real(ask.soak.seed_g), reserve: 0.0, debt, ..asked };
            asked.trays = ask.soak.trays + grams(debt / load);
        }
        let share = asked.debt / need.last().copied().unwrap_or(1.0).max(1.0);
        Some(Wanted { ask, asked, share })
    }

    fn grant_sized(&self, wanted: Wanted, places: &mut Places, made: &mut Plan) {
        let Wanted { mut ask, asked, .. } = wanted;
        let most = self.most(ask.load_g, ask.soak.day);
        let is_light = self.mode(ask.soak.group, ask.soak.day).is_light;
        let free = places.nights(&ask.soak);
        let loads = (real(ask.load_g), real(most));
        let (seed, trays) = match ask.full {
            true => fit(&asked, &free, loads.1),
            false => fit_well(&asked, &free, loads, is_light),
        };
        ask.soak.trays = trays;
        ask.soak.seed_g = if ask.full { trays * ask.load_g } else { grams(seed) };
        places.want(&ask.soak);
        let sized = Sized {
            group: ask.soak.group,
            feed_on: ask.soak.feed_on,
            need_g: grams(asked.base - asked.reserve),
            reserve_g: grams(asked.reserve),
            debt_g: grams(asked.debt),
            trays,
            trays_without_debt: sizing::trays_of(asked.base, real(ask.load_g), is_light).min(trays),
            trays_left_out: (asked.trays - trays).max(0),
        };
        if let Some(feed) = ask.feed.and_then(|at| made.feeds.get_mut(at)) {
            feed.planned_g = ask.soak.seed_g;
            if feed.short_g() * 100 > feed.need_g * TOP_UP_PERCENT {
                feed.short = Some(super::Short::NoPlaces);
            }
        }
        if trays > 0 {
            places.take_freed(&ask.soak);
            made.soaks.push(ask.soak);
        }
        made.sized.push(sized);
    }

    /// Of each group whose losses are planned for: what is kept in reserve or owed is no surplus,
    /// and a day that lacks some takes young trays of the next two days.
    pub(super) fn look_ahead(&self, feeds: &mut [Feed], loads: &[i64]) {
        // Of each group its feeding days, by day.
        let mut from = 0;
        while let Some(group) = feeds.get(from).map(|f| f.group) {
            let count = feeds.iter().skip(from).take_while(|f| f.group == group).count();
            let (days, loads) = (feeds.get_mut(from..from + count), loads.get(from..from + count));
            from += count;
            let Some(risk) = self.mode(group, self.span.first).risk else { continue };
            look_at_days(days.unwrap_or_default(), loads.unwrap_or_default(), &risk);
        }
    }
}

/// The days of one group.
fn look_at_days(feeds: &mut [Feed], loads: &[i64], risk: &Risk) {
    let have: Vec<(Day, i64)> = feeds.iter().map(|f| (f.day, f.growing_g + f.planned_g)).collect();
    let mut owed = 0;
    for (at, (feed, load)) in feeds.iter_mut().zip(loads).enumerate() {
        let last = feed.day + YOUNG_DAYS_MAX;
        let next = have.iter().skip(at + 1).take_while(|(day, _)| *day <= last);
        owed = look_at(feed, next.map(|(_, grams)| grams).sum(), (*load, risk), owed);
    }
}

/// One day, with what stands for the next; what is owed after it.
fn look_at(feed: &mut Feed, stands: i64, (load, risk): (i64, &Risk), owed: i64) -> i64 {
    let share = base_share(real(feed.need_g), real(load.max(1)), risk);
    let reserve = grams(real(feed.need_g) * (share - 1.0));
    let over = feed.growing_g + feed.planned_g - feed.need_g;
    let beyond = over - reserve - owed;
    let is_handful = beyond * 100 <= feed.need_g * TOP_UP_PERCENT;
    feed.spare_g = if is_handful { over.max(0) } else { reserve + owed };
    let is_lack = feed.short.is_some_and(super::Short::is_lack);
    if is_lack && stands > 0 {
        feed.young_g = (-over).clamp(0, stands);
        feed.short = feed.short.filter(|_| feed.short_g() > 0);
    }
    (owed - over).max(0)
}
