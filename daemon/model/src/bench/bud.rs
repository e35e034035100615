//! While in bud: the hourly look at growth, and the morning bulletin.

use super::Bench;
use super::growth::{corrected, is_sure};
use super::raise::rounded;
use crate::event::{
    BudSeenDetails, Details, Event, EventKind, GivenUp, GrowsAgain, MorningDetails, SlowingDetails,
    SlowingOverDetails,
};
use crate::forecast::Grown;
use crate::growth::figures::{self, Rate};
use crate::stage::{Stage, Turn};
use crate::time::Time;

/// A day's growth is held against that of a day which ended at least so long before, h. Judged.
const CONFIRMED_BY_H: f64 = 16.0;
/// A day's growth is believed as the peak up to so many times that of the day before. Judged.
const MOST_FASTER: f64 = 1.5;
/// Quarter hours that the mean of a day must rest on: half of them.
const DAY_QUARTERS: usize = 48;
/// Quarter hours that the mean of six hours must rest on: half of them.
const SIX_HOUR_QUARTERS: usize = 12;

impl Bench {
    pub(super) fn look_at_the_hour(&mut self, now: Time, events: &mut Vec<Event>) {
        self.look_for_stuck(now, events);
        self.state.edge.look_for_swelling(&self.state.rim, now);
        self.look_whether_the_edge_is_seen(now, events);
        match self.stage() {
            None | Some(Stage::Aborted) if !self.is_resting(now) => self.look_for_bud(now, events),
            Some(stage) if stage.in_bud() => {
                self.note_growth(now);
                self.look_at_growth(now, events);
                self.forget_chances_passed(now);
            }
            Some(stage) if stage.is_open() || stage == Stage::Closed => {
                self.look_whether_it_is_shown(now, events);
                self.look_whether_it_grows_on(now, events);
            }
            _ => {}
        }
    }

    fn look_for_bud(&mut self, now: Time, events: &mut Vec<Event>) {
        let least_m_d = self.spec.profile.bud_growth_cm_day / 100.0;
        let by_tape = self
            .state
            .taped
            .rate(now, 4.0, self.spec.profile.bud_growth_max_cm_day)
            .filter(|rate| rate.m_h * 24.0 >= least_m_d && rate.m_h > 3.0 * rate.sd_m_h);
        let told_by = if self.rises_by_ranger(now, least_m_d) {
            "tip-range"
        } else if by_tape.is_some() {
            "height"
        } else {
            return;
        };
        self.tell_bud(now, told_by, events);
    }

    /// Whether the tip rises day by day, or so fast that every six hours show it. Levels are compared at the same hours of the
    /// day, or must rise without a break, so that the daily swing of the air is no growth.
    fn rises_by_ranger(&self, now: Time, least_m_d: f64) -> bool {
        let rings = self.state.tip.rings();
        let mean = |from_h: f64, until_h: f64, least: usize| {
            rings
                .mean_between(now.plus_hours(-from_h), now.plus_hours(-until_h))
                .filter(|(_, count)| *count >= least)
                .map(|(mean, _)| mean)
        };
        let day = |number: f64| mean(24.0 * (number + 1.0), 24.0 * number, DAY_QUARTERS);
        if let (Some(today), Some(yesterday), Some(before)) = (day(0.0), day(1.0), day(2.0))
            && today - yesterday >= least_m_d
            && yesterday - before >= 0.6 * least_m_d
        {
            return true;
        }
        let six: Vec<f64> = (0..4)
            .filter_map(|n| mean(6.0 * f64::from(n + 1), 6.0 * f64::from(n), SIX_HOUR_QUARTERS))
            .collect();
        // 18 hours lie between the first and the last of four means
        six.len() == 4
            && six.windows(2).all(|pair| pair[0] - pair[1] >= 0.25 * least_m_d)
            && six[0] - six[3] >= 2.5 * least_m_d
    }

    pub(super) fn tell_bud(&mut self, now: Time, told_by: &'static str, events: &mut Vec<Event>) {
        let slowing = self.state.bloom.as_ref().is_some_and(|bloom| bloom.slow_since.is_some());
        let taken_up = self.turn(Turn::IsTakenUp { slowing });
        if taken_up {
            self.watch_the_bud_again(now);
        } else {
            self.start_bloom(now);
        }
        let height_m = self.height_m(now).map(|height| rounded(height, 3));
        let growth_cm_day = self.daily_growth(now).map(|rate| rounded(rate.m_h * 2400.0, 2));
        let outlook = self.outlook_to_tell(now);
        let details = BudSeenDetails { height_m, growth_cm_day, told_by, taken_up, outlook };
        let event = self.event(now, EventKind::BudSeen, Details::BudSeen(details));
        events.push(event);
        self.plan_test(now, events);
    }

    fn look_at_growth(&mut self, now: Time, events: &mut Vec<Event>) {
        let Some(growth) = self.daily_growth(now) else { return };
        let profile = &self.spec.profile;
        let (slowing_fraction, slowing_peak) =
            (profile.slowing_fraction, profile.slowing_peak_cm_day / 2400.0);
        let patience_d = profile.stopped_until_aborted_d;
        let (slowing_holds_h, recovered_share, stopped_share) =
            (profile.slowing_holds_h, profile.recovered_share, profile.stopped_share);
        // a day by itself may be an odd one: the peak and its end are of two. The tape's rate is of two days already
        let by_ranger = self.daily_growth_by_ranger(now).is_some();
        let over_two_days = if by_ranger {
            self.alive_tip(now).and_then(|rings| figures::two_daily(rings, now))
        } else {
            Some(growth)
        };
        let Some(bloom) = &mut self.state.bloom else { return };
        let sure = is_sure(growth);
        let confirmed = sure && peak_is_confirmed(&bloom.growth, now, growth);
        // a ranger may have been hung on the last day at the peak: the watch on the opening takes the first day as it is
        let fastest = (sure && (confirmed || bloom.peak_m_h.is_none())).then_some(growth.m_h);
        bloom.peak_m_h = higher(bloom.peak_m_h, fastest);
        if let Some(peak) = bloom.peak_m_h.filter(|_| by_ranger && sure) {
            // what is not yet confirmed is not its peak either
            bloom.peak_by_ranger_m_h = higher(bloom.peak_by_ranger_m_h, Some(growth.m_h.min(peak)));
        }
        let lasting = over_two_days.filter(|_| confirmed).map(|rate| rate.m_h.min(growth.m_h));
        bloom.lasting_peak_m_h = higher(bloom.lasting_peak_m_h, lasting);
        let Some(peak) = bloom.lasting_peak_m_h else { return };
        if peak < slowing_peak {
            return;
        }
        let share = growth.m_h / peak;
        let slows = over_two_days.is_some_and(|rate| share.max(rate.m_h / peak) < slowing_fraction);
        if slows {
            let since = *bloom.slow_since.get_or_insert(now);
            let may_slow = bloom.stage.after(Turn::GrowthSlows).is_some();
            if may_slow && now.hours_since(since) >= slowing_holds_h && self.opening_is_near(now) {
                self.turn(Turn::GrowthSlows);
                self.tell_slowing(now, growth, peak, events);
            }
        } else if share > recovered_share {
            bloom.slow_since = None;
            if bloom.turn(Turn::GrowthRecovers) {
                self.tell_slowing_over(now, GrowsAgain::Recovered, Some(growth), events);
            }
        }
        let Some(bloom) = &mut self.state.bloom else { return };
        if share < stopped_share {
            let since = *bloom.stopped_since.get_or_insert(now);
            if now.days_since(since) >= patience_d {
                self.tell_aborted(now, GivenUp::NoGrowth(patience_d), events);
            }
        } else if share > 2.0 * stopped_share {
            bloom.stopped_since = None;
        }
    }

    /// Whether growth that falls can be the slowing before an opening: the plant is tall enough to open, and its own forecast has
    /// the opening within the days that slowing buds have taken.
    fn opening_is_near(&self, now: Time) -> bool {
        let profile = &self.spec.profile;
        let tall = self.height_m(now).is_none_or(|height_m| height_m >= profile.slowing_height_m);
        tall && self.forecast(now).is_some_and(|forecast| {
            let ahead = forecast.opens.earliest - now.local_date(self.site.timezone);
            ahead.num_days() as f64 <= profile.slowing_to_opening_latest_d
        })
    }

    /// Chances that a bud passes over tell against it only while its growth is next to nothing, or where nobody measures it: one
    /// that still grows has not stopped, it is a slow one.
    fn forget_chances_passed(&mut self, now: Time) {
        let grows = self.daily_growth(now).is_some();
        if let Some(bloom) = self.state.bloom.as_mut().filter(|bloom| grows && bloom.stopped_since.is_none())
        {
            bloom.waited = 0.0;
        }
    }

    fn tell_slowing(&mut self, now: Time, growth: Rate, peak_m_h: f64, events: &mut Vec<Event>) {
        let outlook = self.outlook_to_tell(now);
        let details = SlowingDetails {
            growth_cm_day: rounded(growth.m_h * 2400.0, 2),
            peak_cm_day: rounded(peak_m_h * 2400.0, 2),
            outlook,
        };
        let event = self.event(now, EventKind::Slowing, Details::Slowing(details));
        events.push(event);
        self.plan_test(now, events);
    }

    fn tell_slowing_over(
        &mut self,
        now: Time,
        why: GrowsAgain,
        growth: Option<Rate>,
        events: &mut Vec<Event>,
    ) {
        let outlook = self.outlook_to_tell(now);
        let growth_cm_day = growth.map(|growth| rounded(growth.m_h * 2400.0, 2));
        let details = Details::SlowingOver(SlowingOverDetails { why, growth_cm_day, outlook });
        let event = self.event(now, EventKind::SlowingOver, details);
        events.push(event);
    }

    pub(super) fn tell_aborted(&mut self, now: Time, why: GivenUp, events: &mut Vec<Event>) {
        let event = self.event(now, EventKind::Aborted, Details::GivenUp { why });
        events.push(event);
        self.turn(Turn::IsGivenUp);
        if let Some(bloom) = &mut self.state.bloom {
            bloom.closed = Some(now);
        }
        self.state.next_morning = None;
        self.state.test_due = None;
        // it may still open: the rim stays watched, from where it is now
        self.state.opening_watch.rest_at(now);
    }

    pub(super) fn tell_the_morning(&mut self, now: Time, events: &mut Vec<Event>) {
        if !self.stage().is_some_and(Stage::in_bud) {
            return;
        }
        let growth = self.growth_figures(now);
        let outlook = self.outlook_to_tell(now);
        if let (Some(bloom), Some(outlook)) = (&mut self.state.bloom, &outlook) {
            bloom.waited -= (1.0 - outlook.probability_tonight).max(0.01).ln();
        }
        self.forget_chances_passed(now);
        let details = Details::Morning(MorningDetails { growth, heat: self.heat_figures(), outlook });
        let event = self.event(now, EventKind::Morning, details);
        events.push(event);
    }

    /// What a taped height did that was taken back is reckoned anew without it: the ranger's correction, the peak that the tape
    /// showed, and a slowing against that peak.
    pub(super) fn forget_taped(&mut self, now: Time, events: &mut Vec<Event>) {
        self.state.tape_over_ranger_m =
            self.state.taped.over_ranger_m().fold(None, |known, over_m| Some(corrected(known, over_m)));
        let Some(bloom) = &self.state.bloom else { return };
        let peak = bloom.peak_by_ranger_m_h.or_else(|| self.peak_by_tape(bloom.seen, now));
        let Some(bloom) = &mut self.state.bloom else { return };
        bloom.peak_m_h = peak;
        bloom.lasting_peak_m_h = bloom.lasting_peak_m_h.zip(peak).map(|(lasting, peak)| lasting.min(peak));
        let (slowing_fraction, stopped_share) =
            (self.spec.profile.slowing_fraction, self.spec.profile.stopped_share);
        let slowing_peak_m_h = self.spec.profile.slowing_peak_cm_day / 2400.0;
        let growth = self.daily_growth(now);
        // without a peak, or without growth to hold against it, nothing says that it slows
        let share = growth
            .zip(peak)
            .filter(|(_, peak)| *peak >= slowing_peak_m_h)
            .map(|(growth, peak)| growth.m_h / peak);
        let Some(bloom) = &mut self.state.bloom else { return };
        if share.is_none_or(|share| share >= slowing_fraction) {
            bloom.slow_since = None;
            bloom.waited = 0.0;
            if bloom.turn(Turn::GrowthRecovers) {
                self.tell_slowing_over(now, GrowsAgain::TapeTakenBack, growth, events);
            }
        }
        let Some(bloom) = &mut self.state.bloom else { return };
        if share.is_none_or(|share| share >= stopped_share) {
            bloom.stopped_since = None;
        }
    }
}

fn higher(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    [one, other].into_iter().flatten().max_by(f64::total_cmp)
}

/// Whether one of the days before shows that growth of this size is not made up by one odd day.
fn peak_is_confirmed(days: &[Grown], now: Time, growth: Rate) -> bool {
    let before = days.iter().rev().find(|day| now.hours_since(day.until) >= CONFIRMED_BY_H);
    before.is_none_or(|day| growth.m_h * 2400.0 <= MOST_FASTER * day.rate_cm_day + growth.sd_m_h * 2400.0)
}
