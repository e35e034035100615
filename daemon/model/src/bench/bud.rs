//! While in bud: the hourly look at growth, and the morning bulletin.

use super::Bench;
use super::say::rounded;
use crate::event::{
    BudSeenDetails, DegreeDayFigures, Details, Doubt, Event, EventKind, GivenUp, GrowsAgain, GrowthFigures,
    MorningDetails, NotOpening, SlowingDetails, SlowingOverDetails,
};
use crate::forecast::{EarlierBloom, Evidence, Forecast, Grown, Outlook, Spans, forecast};
use crate::growth::figures::{self, Rate, TAPE_SLIP_M};
use crate::sign::PlainSign;
use crate::stage::{Stage, Turn};
use crate::time::Time;
use crate::track::ring::Rings;

/// A track whose newest sample is older than this says nothing of growth now, h.
const TRACK_STALE_H: f64 = 6.0;
/// A taped height is held against what the ranger read within this long of it, h.
const TAPE_WITHIN_H: f64 = 0.75;
/// What part of the newest difference is taken. Judgement: a tape is read to a centimetre, and so is a ranger's mount.
const TAPE_GAIN: f64 = 0.5;
/// Days over which taped heights make a rate. Judgement.
const TAPE_OVER_D: f64 = 2.0;
/// The part of a day that is worth a figure of its own, h.
const LEAST_OF_A_DAY_H: f64 = 6.0;
/// Days of growth kept for a bloom.
const MOST_DAYS: usize = 60;
/// Earlier blooms kept for a bench: two decades of yearly ones.
const MOST_EARLIER: usize = 20;
/// Growth is sure if its standard deviation is at most this share of it.
const SURE_SHARE: f64 = 0.2;
/// A day's growth is held against that of a day which ended at least so long before, h,
const CONFIRMED_BY_H: f64 = 16.0;
/// and is believed as the peak up to this many times as fast.
const MOST_FASTER: f64 = 1.5;
/// Growth behind an opening alarm is looked at this long after the crack, h: the same hours of a day, all after it. Judgement.
const GROWS_ON_AFTER_H: f64 = 34.0;
/// A flower that has opened hardly grows (tests/reference/series/disney_2004.csv: 1.2 cm in the three days after; Fairchild 2003 says
/// that its plants grew on); more than this share of the peak a day and a half later is a bud's growth (judgement).
const GROWS_ON_SHARE: f64 = 0.4;
/// A peak of fewer days than these before the crack may have been anything: the ranger was hung late.
const PEAK_DAYS: usize = 3;
/// Then growth of more than this, cm a day, is worth a look: more than three times that of Disney 2004 (judgement).
const GROWS_ON_CM_DAY: f64 = 1.5;
/// And of more than this is a bud's for sure: a tip that was knocked or sways grows by as much as two (judgement; the weakest published
/// peak is 5.1, Disney 2005).
const SURELY_GROWS_ON_CM_DAY: f64 = 4.0;
/// Quarter hours of a day, of a quarter of a day, that a mean must rest on.
const DAY_QUARTERS: usize = 48;
const SIX_HOUR_QUARTERS: usize = 12;

impl Bench {
    /// Growth over the last day, by the overhead ranger if it is alive, else by the tape.
    pub(super) fn daily_growth(&self, now: Time) -> Option<Rate> {
        self.daily_growth_by_ranger(now).or_else(|| self.daily_growth_by_tape(now))
    }

    fn daily_growth_by_tape(&self, now: Time) -> Option<Rate> {
        self.state.taped.rate(now, TAPE_OVER_D, self.spec.profile.bud_growth_max_cm_day)
    }

    fn daily_growth_by_ranger(&self, now: Time) -> Option<Rate> {
        figures::daily(self.alive_tip(now)?, now)
    }

    /// What the overhead ranger told, as long as it still tells.
    fn alive_tip(&self, now: Time) -> Option<&Rings> {
        let tip = &self.state.tip;
        let alive = tip.newest().is_some_and(|newest| now.hours_since(newest.time) <= TRACK_STALE_H);
        alive.then(|| tip.rings())
    }

    /// Growth over the last day as a share of the bloom's peak. A bud that has not yet grown as fast as one that slows has grown
    /// is at full growth, however slow that is.
    pub(super) fn growth_share(&self, now: Time) -> Option<f64> {
        let peak = self.state.bloom.as_ref()?.peak_m_h?;
        let share = self.daily_growth(now)?.m_h / peak;
        let before_its_peak = peak * 2400.0 < self.spec.profile.slowing_peak_cm_day;
        Some(if before_its_peak { share.max(1.0) } else { share })
    }

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
        let sure = growth.sd_m_h <= SURE_SHARE * growth.m_h;
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

    /// A flower that is open hardly grows. A bud that goes on as before behind an opening alarm was taken for open: by a person in
    /// the beam, by a mount that was knocked. While it may be open this is said and no more; once its hours are over the bud is
    /// watched again.
    fn look_whether_it_grows_on(&mut self, now: Time, events: &mut Vec<Event>) {
        if self.stage() == Some(Stage::Closed) {
            if self.surely_grows_on(now) {
                self.stand_down_grown_on(now, events);
            }
        } else if self.grows_on(now, GROWS_ON_CM_DAY) {
            self.doubt(now, Doubt::GrowsOn, events);
        }
    }

    /// The hours of an opening are over, and it was none.
    pub(super) fn stand_down_grown_on(&mut self, now: Time, events: &mut Vec<Event>) {
        self.stand_down(now, NotOpening::GrowsOn, events);
        self.state.opening_watch.rest_at(now);
    }

    /// Whether it is sure that what opened goes on as a bud.
    pub(super) fn surely_grows_on(&self, now: Time) -> bool {
        self.grows_on(now, SURELY_GROWS_ON_CM_DAY)
    }

    /// Whether the plant grows on a day and a half behind the crack, and nobody saw it open. Where its peak is not known well, it
    /// must grow by so much.
    fn grows_on(&self, now: Time, least_cm_day: f64) -> bool {
        let Some((bloom, opening)) = self.state.bloom.as_ref().zip(self.opening()) else { return false };
        let began = opening.evidence.began;
        // by then a day's growth is growth after the crack alone
        if self.seen_open(began) || now.hours_since(began) < GROWS_ON_AFTER_H {
            return false;
        }
        let Some(growth) = self.daily_growth_by_ranger(now) else { return false };
        let days_before = bloom.growth.iter().filter(|day| day.until <= began).count();
        let least_m_h = match bloom.peak_m_h {
            Some(peak) if days_before >= PEAK_DAYS => GROWS_ON_SHARE * peak,
            peak => (GROWS_ON_SHARE * peak.unwrap_or_default()).max(least_cm_day / 2400.0),
        };
        growth.m_h > least_m_h
            && growth.m_h * 2400.0 >= 2.0 * self.spec.profile.bud_growth_cm_day
            && growth.sd_m_h <= SURE_SHARE * growth.m_h
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

    /// Height by the overhead ranger if it is alive, else the newest taped.
    pub(super) fn height_m(&self, now: Time) -> Option<f64> {
        let by_ranger =
            self.state.tip.newest().filter(|newest| now.hours_since(newest.time) <= TRACK_STALE_H);
        by_ranger.map(|sample| sample.position_m + self.state.tape_over_ranger_m.unwrap_or_default()).or_else(
            || {
                let newest = self.state.taped.newest(now, self.spec.profile.bud_growth_max_cm_day);
                newest.map(|(_, height)| height)
            },
        )
    }

    /// A taped height corrects the ranger's: half way each time, for a tape errs too. A slip of the tape corrects nothing.
    pub(super) fn hold_ranger_against_tape(&mut self, over_m: Option<f64>) {
        if let Some(over_m) = over_m.filter(|over_m| over_m.abs() <= TAPE_SLIP_M) {
            self.state.tape_over_ranger_m = Some(corrected(self.state.tape_over_ranger_m, over_m));
        }
    }

    /// Height by the overhead ranger about an instant, m, by its own distance alone.
    pub fn ranger_height_m(&self, time: Time) -> Option<f64> {
        let around = (time.plus_hours(-TAPE_WITHIN_H), time.plus_hours(TAPE_WITHIN_H));
        self.state.tip.rings().mean_between(around.0, around.1).map(|(level_m, _)| level_m)
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

    /// The fastest sure growth that the hourly looks have had from the tape.
    fn peak_by_tape(&self, seen: Time, now: Time) -> Option<f64> {
        let hours = now.hours_since(seen).max(0.0).min(24.0 * MOST_DAYS as f64) as u32;
        let rates =
            (0..=hours).filter_map(|hour| self.daily_growth_by_tape(now.plus_hours(-f64::from(hour))));
        rates.filter(|rate| rate.sd_m_h <= SURE_SHARE * rate.m_h).map(|rate| rate.m_h).reduce(f64::max)
    }

    pub(super) fn growth_figures(&self, now: Time) -> GrowthFigures {
        let daily = self.daily_growth(now);
        let hourly = figures::hourly(self.state.tip.rings(), now);
        GrowthFigures {
            height_m: self.height_m(now).map(|height| rounded(height, 3)),
            growth_cm_day: daily.map(|rate| rounded(rate.m_h * 2400.0, 2)),
            growth_cm_day_sd: daily.map(|rate| rounded(rate.sd_m_h * 2400.0, 2)),
            growth_cm_hour: hourly.map(|rate| rounded(rate.m_h * 100.0, 3)),
            growth_cm_hour_sd: hourly.map(|rate| rounded(rate.sd_m_h * 100.0, 3)),
        }
    }

    /// Degree-days since the bud was seen, with what they were counted by.
    pub(super) fn heat_figures(&self) -> Option<DegreeDayFigures> {
        let (total, covered) = self.state.bloom.as_ref()?.heat_before;
        Some(DegreeDayFigures {
            degree_days: rounded(self.state.heat.degree_days() - total, 1),
            degree_days_by: format!("integral of the record, {}", self.state.heat.rule()),
            degree_days_covered: rounded(self.state.heat.covered_days() - covered, 2),
        })
    }

    /// The forecast of a bud at an instant, to be told. It is remembered: page, sheets and calendar show what was told, not another
    /// one of their own hour.
    pub(super) fn outlook_to_tell(&mut self, now: Time) -> Option<Outlook> {
        if !self.stage().is_some_and(Stage::in_bud) {
            return None;
        }
        let forecast = self.forecast(now)?;
        let outlook = Outlook {
            opens: forecast.opens,
            probability_tonight: rounded(forecast.chance_today, 3),
            probability_never: rounded(forecast.probability_never, 3),
        };
        let bloom = self.state.bloom.as_mut()?;
        bloom.outlook = Some((now, outlook));
        Some(outlook)
    }

    pub(super) fn forecast(&self, now: Time) -> Option<Forecast> {
        let bloom = self.state.bloom.as_ref()?;
        let growth = self.growth_by_day(now);
        let (heat, covered_d) = bloom.heat_before;
        let covered_d = self.state.heat.covered_days() - covered_d;
        let most_covered = covered_d >= 3.0 && covered_d >= 0.8 * now.days_since(bloom.seen);
        let earlier: Vec<EarlierBloom> =
            self.spec.earlier.iter().chain(&self.state.earlier).copied().collect();
        let evidence = Evidence {
            seen: (bloom.seen, bloom.seen_height_m),
            signs: &self.state.signs,
            growth: &growth,
            height_m: self.height_m(now),
            degree_days_a_day: most_covered.then(|| (self.state.heat.degree_days() - heat) / covered_d),
            stopped: bloom.stopped_since.is_some(),
            waited: bloom.waited,
            earlier: &earlier,
        };
        Some(forecast(&evidence, now, &self.spec.profile, self.site.timezone))
    }

    /// Growth of the bloom day by day up to now: by the overhead ranger, and by the tape where the ranger told nothing.
    fn growth_by_day(&self, now: Time) -> Vec<Grown> {
        let Some(bloom) = &self.state.bloom else { return Vec::new() };
        let mut days = bloom.growth.clone();
        let since = days.last().map(|day| day.until);
        if let Some(rate) = self.daily_growth_by_ranger(now) {
            let from = since.map_or(now.plus_hours(-24.0), |until| until.max(now.plus_hours(-24.0)));
            if now.hours_since(from) >= LEAST_OF_A_DAY_H {
                days.push(grown(from, now, rate));
            }
        }
        let by_tape = self.state.taped.grown(now, self.spec.profile.bud_growth_max_cm_day).into_iter();
        let alone = |span: &Grown| days.iter().all(|day| span.until <= day.from || day.until <= span.from);
        let by_tape: Vec<Grown> = by_tape.filter(alone).collect();
        days.extend(by_tape);
        days.sort_by_key(|day| day.until);
        days
    }

    /// Writes down the growth of a day, once a day.
    fn note_growth(&mut self, now: Time) {
        let Some(rate) = self.daily_growth_by_ranger(now) else { return };
        let Some(bloom) = &mut self.state.bloom else { return };
        if bloom.growth.last().is_none_or(|day| now.hours_since(day.until) >= 24.0) {
            bloom.growth.push(grown(now.plus_hours(-24.0), now, rate));
            if bloom.growth.len() > MOST_DAYS {
                bloom.growth.remove(0);
            }
        }
    }

    /// What the bloom took from the signs to the opening moves the forecast of the bench's next one.
    pub(super) fn learn_from_the_bloom(&mut self) {
        let Some(bloom) = &self.state.bloom else { return };
        let Some(opening) = &bloom.opening else { return };
        let began = opening.evidence.began;
        let first = |sign: PlainSign| {
            let times = self.state.signs.iter().filter(|(_, seen)| *seen == sign).map(|(time, _)| *time);
            times.min().map(|time| began.days_since(time)).filter(|days| *days > 0.0)
        };
        let spans = Spans {
            emergence_to_opening_d: first(PlainSign::Emerged),
            spadix_to_opening_d: first(PlainSign::SpadixVisible),
            slowing_to_opening_d: bloom
                .slow_since
                .map(|since| began.days_since(since))
                .filter(|days| *days > 0.0),
        };
        if spans != Spans::default() {
            self.state.earlier.push(EarlierBloom { of_this_plant: true, spans });
            if self.state.earlier.len() > MOST_EARLIER {
                self.state.earlier.remove(0);
            }
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

/// What the tape reads over the ranger, half way to the newest difference.
fn corrected(known_m: Option<f64>, over_m: f64) -> f64 {
    known_m.map_or(over_m, |known_m| known_m + TAPE_GAIN * (over_m - known_m))
}

fn grown(from: Time, until: Time, rate: Rate) -> Grown {
    Grown { from, until, rate_cm_day: rate.m_h * 2400.0, sd_cm_day: rate.sd_m_h * 2400.0 }
}
