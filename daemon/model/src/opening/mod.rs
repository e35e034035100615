//! The opening: the spathe rim leaves the plant's own recent level, at a rate that bud growth cannot make.
//!
//! Two figures are held against the profile: the advance over the lowest level of the last half day, and the rate over the
//! last half hour. Either can carry the decision alone (a slow opening by its advance, a fast one by its rate); together they
//! decide sooner. What else is known moves the bar and never decides: the hour of the day, growth that has slowed, the
//! signs booked, the heat of the spadix, air that cannot be corrected, a spathe that may hang slack in great heat.

pub mod belief;
mod circumstances;
mod full_open;
mod shape;
#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};

pub use circumstances::Circumstances;
pub use full_open::{full_open_times, levelled_off};
pub use shape::rises_throughout;
use shape::{falls_at_once, holds_out, is_under_way};
#[cfg(test)]
pub(crate) use tests::titan_arum;

use crate::growth::line::{self, Line};
use crate::growth::onset::{self, Onset};
use crate::profile::Profile;
use crate::time::Time;
use crate::track::ring::{Rings, Sample};

/// The plant's own recent level is the lowest of this many hours.
const BASELINE_H: f64 = 12.0;
/// The rate is taken over this span, h.
const RATE_OVER_H: f64 = 0.5;
/// Of readings that come minutes apart the rate is taken over so many: a line needs three samples, and one may be lost.
const RATE_SPACINGS: f64 = 3.3;
/// The rate is never taken over more than this, h: what is older tells no rate of an opening.
const RATE_OVER_AT_MOST_H: f64 = 1.2;
/// The decision must hold this long, h.
const SUSTAINED_H: f64 = 10.0 / 60.0;
/// A blind span over which the rim moved may have hidden the start this long after its end, h.
const FOUND_FRESH_H: f64 = 2.0;
/// A plant that cannot well be ripe is found open only after it has stayed so for this long, h: crowds come and go.
const UNRIPE_FOUND_H: f64 = 6.0;
/// The decision must hold this long where the bud is known to grow at full rate, h: nothing that a person does before the ranger looks
/// like a rim for so long.
const FULL_GROWTH_SUSTAINED_H: f64 = 1.0;
/// An opening that has not yet come this far is no opening, m: below it the air and the noise have the say.
const LEAST_ADVANCE_M: f64 = 0.012;
/// A level within this of the lowest one is where the rim was at rest, m.
const AT_REST_WITHIN_M: f64 = 0.012;
/// A bud that grows at full rate is found open only this many times as far out as another: knocks and echoes move it, too.
const FULL_GROWTH_FOUND: f64 = 2.0;
/// The beginning of an opening is looked for this far back, h.
const ONSET_WITHIN_H: f64 = 9.0;
/// It is also looked for from so long before a blind span, h.
const ONSET_BEFORE_HIDDEN_H: f64 = 1.0;
/// Minutes are looked at this far back, h; before, quarter hours will do.
const ONSET_MINUTES_H: f64 = 2.0;
/// After an alarm the rim has turned back when it has gone back by this much, m.
const TURN_M: f64 = 0.01;
/// To have turned back it must also have gone back by this share of its advance.
const TURN_SHARE: f64 = 0.25;
/// Least residual standard deviation believed, m.
const NOISE_FLOOR_M: f64 = 0.0005;

/// The evidence on which an opening alarm stands.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// Advance over the plant's own recent level, m.
    pub advance_m: f64,
    /// Rate, m/h.
    pub rate_m_h: f64,
    /// The plant's own rate before, m/h.
    pub baseline_m_h: f64,
    /// How the advance curves: it is this times the square of the hours since the crack, m/h², where that could be seen.
    pub curve_m_h2: Option<f64>,
    /// First crack, as estimated.
    pub began: Time,
    /// Whether a blind span hid the start.
    pub found_open: bool,
}

/// The watch on one rim.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct OpeningWatch {
    /// Since when the bar has been reached without a break.
    over_since: Option<Time>,
    /// Levels before this instant are no baseline: a person said that it is not opening.
    baseline_from: Option<Time>,
    /// The last blind span over which the rim moved.
    hidden: Option<(Time, Time)>,
}

/// Rim level and rate over the last half hour, or the last four readings that come minutes apart.
pub fn rim_line(rings: &Rings, now: Time) -> Option<Line> {
    let span_h = RATE_OVER_H.max((RATE_SPACINGS * rings.spacing_h()).min(RATE_OVER_AT_MOST_H));
    let points: Vec<(f64, f64)> = rings
        .minutes_from(now.plus_hours(-span_h))
        .map(|sample| (sample.time.hours_since(now), sample.position_m))
        .collect();
    line::fit(&points, NOISE_FLOOR_M)
}

impl OpeningWatch {
    /// The rim came back from a blind span somewhere else.
    pub fn returned(&mut self, before: Sample, after: Sample) {
        self.hidden = Some((before.time, after.time));
    }

    /// A person said that it is not opening: what the rim did until now is its level from here on.
    pub fn rest_at(&mut self, now: Time) {
        self.baseline_from = Some(now);
        self.over_since = None;
        self.hidden = None;
    }

    /// A person takes back that it was not opening: what the rim did before counts again.
    pub fn watch_on(&mut self) {
        self.baseline_from = None;
    }

    /// The lowest level of the last half day and the plant's own rate over it.
    fn baseline(&self, rings: &Rings, now: Time) -> Option<(f64, f64)> {
        let floor = self.baseline_from.unwrap_or(Time::from_unix_ms(i64::MIN));
        let recent = now.plus_hours(-0.25);
        let mut from = now.plus_hours(-BASELINE_H).max(floor);
        if rings.quarters_between(from, recent).count() < 4 {
            // after a long blind span the last levels before it stand for the plant's own
            from = rings.quarters_between(floor, recent).rev().nth(7).map_or(floor, |quarter| quarter.time);
        }
        let quarters = rings.quarters_between(from, recent);
        let lowest = quarters.clone().map(|quarter| quarter.position_m).min_by(f64::total_cmp)?;
        let first = quarters.clone().next()?;
        // up to where the lowest level was last near: the rate before anything began
        let last = quarters
            .take_while(|quarter| quarter.position_m < lowest + AT_REST_WITHIN_M)
            .last()
            .unwrap_or(first);
        let span_h = last.time.hours_since(first.time);
        let rate = if span_h >= 1.0 { (last.position_m - first.position_m) / span_h } else { 0.0 };
        Some((lowest, rate))
    }

    /// Looks at the rim after a trusted sample; gives the evidence once an opening is established. `trusts_found` is whether what came
    /// out while it was hidden can be the rim before it has moved on.
    pub fn look(
        &mut self,
        rings: &Rings,
        now: Time,
        around: &Circumstances,
        profile: &Profile,
        trusts_found: bool,
    ) -> Option<Evidence> {
        let line = rim_line(rings, now)?;
        let (lowest, baseline_m_h) = self.baseline(rings, now)?;
        let advance_m = line.level_m - lowest;
        let moving_m_h = (line.rate_m_h - 1.5 * line.rate_sd_m_h).max(0.0);
        let score = advance_m * 100.0 / profile.opening_advance_cm
            + moving_m_h * 100.0 / profile.opening_rate_cm_hour;
        let ripe_after_h = if around.may_be_ripe(profile) { 0.0 } else { UNRIPE_FOUND_H };
        let hidden = self.hidden.filter(|(_, until)| now.hours_since(*until) <= FOUND_FRESH_H + ripe_after_h);
        let grows_fully = around.grows_fully(profile);
        let found_from_cm = profile.found_open_advance_cm * if grows_fully { FULL_GROWTH_FOUND } else { 1.0 };
        let far_out = advance_m * 100.0 >= found_from_cm;
        let found = hidden.is_some_and(|(_, until)| {
            trusts_found && far_out && now.hours_since(until) >= ripe_after_h && holds_out(rings, until, now)
        });
        let over = advance_m >= LEAST_ADVANCE_M
            && score >= around.bar(profile)
            && (found
                || (moving_m_h > 0.0
                    && is_under_way(rings, now, lowest, advance_m)
                    && rises_throughout(rings, now)));
        if !over {
            self.over_since = None;
            return None;
        }
        let since = *self.over_since.get_or_insert(now);
        let sustained_h = if grows_fully { FULL_GROWTH_SUSTAINED_H } else { SUSTAINED_H };
        if !found && now.hours_since(since) < sustained_h {
            return None;
        }
        let onset = self.onset(rings, now, hidden.map(|(before, _)| before));
        self.over_since = None;
        let began = onset.map_or(now.plus_hours(-1.0), |onset| now.plus_hours(onset.began_h));
        let found_open = hidden.is_some_and(|(_, until)| began <= until);
        let began = match hidden {
            Some((before, until)) if found_open => middle(began, before, until, advance_m, profile),
            _ => began,
        };
        Some(Evidence {
            advance_m,
            rate_m_h: line.rate_m_h,
            baseline_m_h,
            curve_m_h2: onset.filter(|_| !found_open).map(|onset| onset.curve_m_h2),
            began: began.to_the_minute(),
            found_open,
        })
    }

    /// How and when the rim set out, on a clock that stands at zero now; looked for back to before a span that may have hidden it.
    fn onset(&self, rings: &Rings, now: Time, hidden_from: Option<Time>) -> Option<Onset> {
        let lately = now.plus_hours(-ONSET_WITHIN_H);
        let from = hidden_from
            .map_or(lately, |before| lately.min(before.plus_hours(-ONSET_BEFORE_HIDDEN_H)))
            .max(self.baseline_from.unwrap_or(Time::from_unix_ms(i64::MIN)));
        let by_the_minute = now.plus_hours(-ONSET_MINUTES_H);
        let weighed =
            |weight: f64| move |sample: &Sample| (sample.time.hours_since(now), sample.position_m, weight);
        let samples: Vec<(f64, f64, f64)> = rings
            .quarters_between(from, by_the_minute.max(from))
            .map(weighed(15.0))
            .chain(rings.minutes_from(by_the_minute.max(from)).map(weighed(1.0)))
            .collect();
        onset::fit(&samples, from.hours_since(now), -SUSTAINED_H)
    }

    /// Whether the rim has turned back so early and so far that the gap is closing again.
    pub fn turned_back(
        &self,
        rings: &Rings,
        now: Time,
        highest_m: f64,
        advance_m: f64,
        profile: &Profile,
    ) -> bool {
        let Some(line) = rim_line(rings, now) else { return false };
        let retreat_m = highest_m - line.level_m;
        may_close(advance_m, profile)
            && line.rate_m_h < -2.0 * line.rate_sd_m_h
            && retreat_m >= TURN_M.max(TURN_SHARE * advance_m)
            && !falls_at_once(rings, now)
    }
}

/// Whether a rim that has come so far may still go back: a gap, or the air, and not yet an opening beyond doubt.
pub fn may_close(advance_m: f64, profile: &Profile) -> bool {
    advance_m * 100.0 < profile.sure_open_advance_cm
}

/// The crack of an opening that a blind span hid: within it, no later than the advance could be made, else half way.
fn middle(guess: Time, before: Time, until: Time, advance_m: f64, profile: &Profile) -> Time {
    let fastest_h = advance_m * 100.0 / profile.rim_speed_max_cm_hour;
    let latest = until.plus_hours(-fastest_h);
    let half = before.plus_hours(until.hours_since(before) / 2.0);
    guess.min(latest).min(half).max(before)
}
