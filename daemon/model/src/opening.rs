//! The opening: the spathe rim leaves the plant's own recent level, at a rate that bud growth cannot make.
//!
//! Two figures are held against the profile: the advance over the lowest level of the last half day, and the rate over the
//! last half hour. Either can carry the decision alone (a slow opening by its advance, a fast one by its rate); together they
//! decide sooner. What else is known moves the bar and never decides: the hour of the day, growth that has slowed, the
//! signs booked, the heat of the spadix, air that cannot be corrected, a spathe that may hang slack in great heat.

use serde::{Deserialize, Serialize};

use crate::event::FullOpenTimes;
use crate::growth::line::{self, Line};
use crate::growth::onset::{self, Onset};
use crate::profile::Profile;
use crate::time::Time;
use crate::track::ring::{Rings, Sample};

/// The plant's own recent level is the lowest of this many hours.
const BASELINE_H: f64 = 12.0;
/// Span over which the rate is taken, h.
const RATE_OVER_H: f64 = 0.5;
/// The decision must hold this long, h.
const SUSTAINED_H: f64 = 10.0 / 60.0;
/// A blind span over which the rim moved may have hidden the start this long after its end, h.
const FOUND_FRESH_H: f64 = 2.0;
/// A plant that cannot well be ripe is found open only after it has stayed so for this long, h: crowds come and go.
const UNRIPE_FOUND_H: f64 = 6.0;
/// And this long where the bud is known to grow at full rate: longer than anybody's doings before the ranger look like a rim.
const FULL_GROWTH_SUSTAINED_H: f64 = 1.0;
/// An opening that has not yet come this far is no opening, m: below it the air and the noise have the say.
const LEAST_ADVANCE_M: f64 = 0.012;
/// Blocks over which a rise must be spread, and their length, h.
const BLOCKS: usize = 5;
const BLOCK_H: f64 = 9.0 / 60.0;
/// Blocks that must hold a sample.
const LEAST_BLOCKS: usize = 3;
/// The greatest share of the rise that one step from block to block may have.
const LARGEST_SHARE: f64 = 0.55;
/// A bud that grows at full rate is found open only this many times as far out as another: knocks and echoes move it, too.
const FULL_GROWTH_FOUND: f64 = 2.0;
/// The beginning of an opening is looked for this far back, h.
const ONSET_WITHIN_H: f64 = 9.0;
/// Minutes are looked at this far back, h; before, quarter hours will do.
const ONSET_MINUTES_H: f64 = 2.0;
/// Within this many hours,
const UNDER_WAY_H: f64 = 3.0;
/// an opening that is under way has made at least this share of its advance.
const UNDER_WAY_SHARE: f64 = 0.3;
/// Great heat begins to count so far below the temperature at which a spathe may hang slack, K.
const HEAT_MARGIN_K: f64 = 3.0;
/// A fall of which one step from block to block has more than this share was made at once.
const FALL_SHARE: f64 = 0.8;
/// A rim found open does not go back faster than this within minutes, m/h.
const HOLDS_OUT_M_H: f64 = 0.02;
/// A retreat of the rim of this much after an alarm is a turn, m.
const TURN_M: f64 = 0.01;
/// And this share of its advance.
const TURN_SHARE: f64 = 0.25;
/// Least residual standard deviation believed, m.
const NOISE_FLOOR_M: f64 = 0.0005;

/// What is known beside the rim itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circumstances {
    /// Local hour of the day.
    pub local_hour: f64,
    /// Growth over the last day as a share of its peak, where known.
    pub growth_share: Option<f64>,
    /// Days since the bud was seen, where it was.
    pub bud_age_d: Option<f64>,
    /// A sign of ripeness was booked in the last days: last bract fallen, edge loose, scent.
    pub ripe_by_sign: bool,
    /// The air between ranger and rim is known.
    pub air_known: bool,
    /// Air temperature, °C, where known.
    pub temperature_c: Option<f64>,
    /// Spadix above air, K, where measured.
    pub spadix_above_air_k: Option<f64>,
}

impl Circumstances {
    /// The factor on the bar: above one asks for more evidence, below one for less.
    fn bar(&self, profile: &Profile) -> f64 {
        let mut bar = 1.0;
        bar *= if hour_within(self.local_hour, profile.crack_from_hour - 1.0, profile.crack_until_hour + 2.0)
        {
            0.95
        } else {
            1.1
        };
        if !self.may_be_ripe(profile) {
            bar *= 1.35;
        }
        if self.ripe_by_sign {
            bar *= 0.9;
        }
        // a thermometer that fails hides both what the air does to the range and the heat that slackens a spathe
        if !self.air_known {
            bar *= 1.5;
        }
        // a thermometer may read low, and the rim may be in warmer air than it
        let heat =
            self.temperature_c.map_or(0.0, |celsius| (celsius - profile.slack_above_c) / HEAT_MARGIN_K + 1.0);
        bar *= 1.0 + 0.6 * heat.clamp(0.0, 1.0);
        if self.spadix_above_air_k.is_some_and(|kelvin| kelvin >= 2.0) {
            bar *= 0.8;
        }
        bar
    }
}

impl Circumstances {
    /// Whether growth and age allow an opening: buds have opened neither at full growth nor in their first half.
    fn may_be_ripe(&self, profile: &Profile) -> bool {
        !self.grows_fully(profile)
            && self.bud_age_d.is_none_or(|days| days >= 0.5 * profile.emergence_to_opening_earliest_d)
    }

    /// Whether it is known to grow as it does at its peak.
    fn grows_fully(&self, profile: &Profile) -> bool {
        self.growth_share.is_some_and(|share| share > profile.unripe_growth_share)
    }
}

fn hour_within(hour: f64, from: f64, until: f64) -> bool {
    (hour - from).rem_euclid(24.0) <= (until - from).rem_euclid(24.0)
}

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

/// Rim level and rate over the last half hour.
pub fn rim_line(rings: &Rings, now: Time) -> Option<Line> {
    let points: Vec<(f64, f64)> = rings
        .minutes_from(now.plus_hours(-RATE_OVER_H))
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
        let (first, last) = (
            quarters.clone().next()?,
            quarters
                .clone()
                .find(|quarter| {
                    // up to where the lowest level was last near: the rate before anything began
                    quarter.position_m >= lowest + LEAST_ADVANCE_M
                })
                .or(quarters.clone().next_back())?,
        );
        let span_h = last.time.hours_since(first.time);
        let rate = if span_h >= 1.0 { (last.position_m - first.position_m) / span_h } else { 0.0 };
        Some((lowest, rate))
    }

    /// Looks at the rim after a trusted sample; gives the evidence once an opening is established.
    pub fn look(
        &mut self,
        rings: &Rings,
        now: Time,
        around: &Circumstances,
        profile: &Profile,
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
            far_out && now.hours_since(until) >= ripe_after_h && holds_out(rings, until, now)
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
        let onset = self.onset(rings, now);
        self.over_since = None;
        let began = onset.map_or(now.plus_hours(-1.0), |onset| now.plus_hours(onset.began_h));
        let found_open = hidden.is_some_and(|(before, until)| began <= until && before < until);
        let began = match hidden {
            Some((before, until)) if found_open => {
                middle(began.clamp(before, until), before, until, advance_m, profile)
            }
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

    /// How and when the rim set out, on a clock that stands at zero now.
    fn onset(&self, rings: &Rings, now: Time) -> Option<Onset> {
        let from =
            now.plus_hours(-ONSET_WITHIN_H).max(self.baseline_from.unwrap_or(Time::from_unix_ms(i64::MIN)));
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

/// Whether the rim found far out stays there: a person who steps away does not.
fn holds_out(rings: &Rings, since: Time, now: Time) -> bool {
    let points: Vec<(f64, f64)> =
        rings.minutes_from(since).map(|sample| (sample.time.hours_since(now), sample.position_m)).collect();
    line::fit(&points, NOISE_FLOOR_M).is_some_and(|line| line.rate_m_h > -HOLDS_OUT_M_H)
}

/// Whether a rim that has come so far may still go back: a gap, or the air, and not yet an opening beyond doubt.
pub fn may_close(advance_m: f64, profile: &Profile) -> bool {
    advance_m * 100.0 < profile.sure_open_advance_cm
}

/// Whether enough of the advance was made lately: an opening does not stand still for hours, what was knocked or hung in the beam
/// does.
fn is_under_way(rings: &Rings, now: Time, lowest_m: f64, advance_m: f64) -> bool {
    let then = now.plus_hours(-UNDER_WAY_H);
    let mut around = rings.quarters_between(then.plus_hours(-0.25), then.plus_hours(0.25));
    around
        .next_back()
        .is_none_or(|quarter| quarter.position_m - lowest_m <= (1.0 - UNDER_WAY_SHARE) * advance_m)
}

/// Whether the rise of the last three quarters of an hour is spread over them. A hand, a knock or a neighbour's echo does in a
/// minute what an opening takes the whole time for.
pub fn rises_throughout(rings: &Rings, now: Time) -> bool {
    let medians = block_medians(rings, now);
    // a bench that reports every ten minutes leaves blocks empty
    let (Some(first), Some(last)) = (medians.first(), medians.last()) else { return false };
    if medians.len() < LEAST_BLOCKS {
        return false;
    }
    let largest = medians.windows(2).map(|pair| pair[1] - pair[0]).fold(0.0, f64::max);
    let share = LARGEST_SHARE.max(1.3 / (medians.len() as f64 - 1.0));
    last > first && largest <= share * (last - first)
}

/// Whether the fall of the last three quarters of an hour was made in one step, as by somebody who came between: a gap takes
/// its time to close.
fn falls_at_once(rings: &Rings, now: Time) -> bool {
    let medians = block_medians(rings, now);
    let highest = medians.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let Some(last) = medians.last() else { return false };
    let largest = medians.windows(2).map(|pair| pair[0] - pair[1]).fold(0.0, f64::max);
    largest > FALL_SHARE * (highest - last)
}

/// The medians of the blocks of the last three quarters of an hour that hold a sample, oldest first.
fn block_medians(rings: &Rings, now: Time) -> Vec<f64> {
    let mut medians = Vec::with_capacity(BLOCKS);
    let mut positions: Vec<f64> = Vec::with_capacity(32);
    for place in (1..=BLOCKS).rev() {
        let from = now.plus_hours(-BLOCK_H * place as f64);
        let until = from.plus_hours(BLOCK_H);
        positions.clear();
        positions.extend(
            rings
                .minutes_from(from)
                .take_while(|sample| sample.time <= until)
                .map(|sample| sample.position_m),
        );
        if !positions.is_empty() {
            let middle = positions.len() / 2;
            medians.push(*positions.select_nth_unstable_by(middle, f64::total_cmp).1);
        }
    }
    medians
}

/// The crack of an opening that a blind span hid: no later than the advance could be made, else half way.
fn middle(guess: Time, before: Time, until: Time, advance_m: f64, profile: &Profile) -> Time {
    let fastest_h = advance_m * 100.0 / profile.rim_speed_max_cm_hour;
    let latest = until.plus_hours(-fastest_h);
    let half = before.plus_hours(until.hours_since(before) / 2.0);
    guess.min(latest).min(half.max(before)).max(before)
}

/// Hours from crack to full opening of a rim that sets out on such a curve.
///
/// With the rim at `A·(1 − cos(πt/T))/2` the advance starts as `c·t²` with `c = A·(π/2T)²`, so that `T = (π/2)·√(A/c)`.
fn curved_h(curve_m_h2: f64, profile: &Profile) -> f64 {
    std::f64::consts::FRAC_PI_2 * (profile.full_advance_cm / 100.0 / curve_m_h2).sqrt()
}

/// When it will be fully open, from what openings of this kind take and from how this one has curved so far: both are combined
/// as normal distributions of ln T, each by its precision.
pub fn full_open_times(evidence: &Evidence, now: Time, profile: &Profile) -> FullOpenTimes {
    let prior_mean = profile.crack_to_full_likely_h.ln();
    let prior_sd = (profile.crack_to_full_latest_h / profile.crack_to_full_earliest_h).ln() / 2.563;
    let gone_h = now.hours_since(evidence.began).max(0.1);
    let (mean, sd) = if let Some(curve_m_h2) = evidence.curve_m_h2 {
        // half the relative spread of the full advance, and 0.45 for the shape and the unsure crack (judgement)
        let curved_sd = (0.5 * profile.full_advance_sd_cm / profile.full_advance_cm).hypot(0.45);
        let (wp, wc) = (prior_sd.powi(-2), curved_sd.powi(-2));
        ((wp * prior_mean + wc * curved_h(curve_m_h2, profile).ln()) / (wp + wc), (wp + wc).powf(-0.5))
    } else {
        (prior_mean, prior_sd)
    };
    let at = |z: f64| {
        let hours = (mean + z * sd).exp();
        // an opening still under way at `now` has not been full before it
        evidence.began.plus_hours(hours.max(gone_h)).max(now).to_the_minute()
    };
    // one that began like the others may slow down half way (Ohio State 2011: 84 cm across in 5 h, 112 cm the next morning)
    let slow = evidence.began.plus_hours(profile.crack_to_full_latest_h).to_the_minute();
    FullOpenTimes { earliest: at(-1.2816), likely: at(0.0), latest: at(1.2816).max(slow) }
}

/// Whether the rim has levelled off far enough out: its rate over the last three quarters of an hour is a small share of its
/// fastest.
pub fn levelled_off(rings: &Rings, now: Time, fastest_m_h: f64, least_m: f64) -> bool {
    let points: Vec<(f64, f64)> = rings
        .minutes_from(now.plus_hours(-0.75))
        .map(|sample| (sample.time.hours_since(now), sample.position_m))
        .collect();
    let covers = points.first().is_some_and(|(hours, _)| *hours <= -0.6);
    covers
        && line::fit(&points, NOISE_FLOOR_M)
            .is_some_and(|line| line.level_m >= least_m && line.rate_m_h.abs() < 0.1 * fastest_m_h)
}
