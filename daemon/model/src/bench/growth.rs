//! How tall the plant is and how fast it grows, by ranger and tape.

use super::Bench;
use super::raise::rounded;
use crate::event::GrowthFigures;
use crate::forecast::Grown;
use crate::growth::figures::{self, Rate, TAPE_SLIP_M};
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
/// Growth is sure if its standard deviation is at most this share of it. Judged.
const SURE_SHARE: f64 = 0.2;

impl Bench {
    /// Growth over the last day, by the overhead ranger if it is alive, else by the tape.
    pub(super) fn daily_growth(&self, now: Time) -> Option<Rate> {
        self.daily_growth_by_ranger(now).or_else(|| self.daily_growth_by_tape(now))
    }

    fn daily_growth_by_tape(&self, now: Time) -> Option<Rate> {
        self.state.taped.rate(now, TAPE_OVER_D, self.spec.profile.bud_growth_max_cm_day)
    }

    pub(super) fn daily_growth_by_ranger(&self, now: Time) -> Option<Rate> {
        figures::daily(self.alive_tip(now)?, now)
    }

    /// What the overhead ranger told, as long as it still tells.
    pub(super) fn alive_tip(&self, now: Time) -> Option<&Rings> {
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

    /// The fastest sure growth that the hourly looks have had from the tape.
    pub(super) fn peak_by_tape(&self, seen: Time, now: Time) -> Option<f64> {
        let hours = now.hours_since(seen).max(0.0).min(24.0 * MOST_DAYS as f64) as u32;
        let rates =
            (0..=hours).filter_map(|hour| self.daily_growth_by_tape(now.plus_hours(-f64::from(hour))));
        rates.filter(|rate| is_sure(*rate)).map(|rate| rate.m_h).reduce(f64::max)
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

    /// Growth of the bloom day by day up to now: by the overhead ranger, and by the tape where the ranger told nothing.
    pub(super) fn growth_by_day(&self, now: Time) -> Vec<Grown> {
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
    pub(super) fn note_growth(&mut self, now: Time) {
        let Some(rate) = self.daily_growth_by_ranger(now) else { return };
        let Some(bloom) = &mut self.state.bloom else { return };
        if bloom.growth.last().is_none_or(|day| now.hours_since(day.until) >= 24.0) {
            bloom.growth.push(grown(now.plus_hours(-24.0), now, rate));
            if bloom.growth.len() > MOST_DAYS {
                bloom.growth.remove(0);
            }
        }
    }
}

/// Whether growth is known well beside its size.
pub(super) fn is_sure(growth: Rate) -> bool {
    growth.sd_m_h <= SURE_SHARE * growth.m_h
}

/// What the tape reads over the ranger, half way to the newest difference.
pub(super) fn corrected(known_m: Option<f64>, over_m: f64) -> f64 {
    known_m.map_or(over_m, |known_m| known_m + TAPE_GAIN * (over_m - known_m))
}

fn grown(from: Time, until: Time, rate: Rate) -> Grown {
    Grown { from, until, rate_cm_day: rate.m_h * 2400.0, sd_cm_day: rate.sd_m_h * 2400.0 }
}
