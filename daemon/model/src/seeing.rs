//! Whether the side ranger sees a living bud. From above the opening is not seen, so a side ranger that speaks and looks elsewhere
//! is the quietest way of missing one.
//!
//! Five things would be otherwise if it saw the edge: its figures would lie where an edge can be; its target would not have jumped
//! by more than a mount is knocked; something that moves as an edge does could be followed; readings would come often enough to
//! fill the rate of an opening; and over two days the bud would swell or sway. That a figure changes at all is asked beside these
//! ([`FigureWatch`]), for one that does not comes from a ranger that hangs.

use serde::{Deserialize, Serialize};

use crate::time::Time;
use crate::track::{Finding, Track};

/// At most this share of figures may lie where no edge can be.
const IMPOSSIBLE_SHARE: f64 = 0.2;
/// Figures are counted by the quarter of an hour, ms.
const QUARTER_MS: i64 = 900_000;
/// A quarter hour of fewer figures than this may hold one stray figure and nothing else. Only two such in a row say that no edge is met
/// (judged).
const FIGURES_AT_LEAST: u32 = 5;
/// Quarter after quarter with more than that share, for this long, h: fog and drops on the face last up to an hour (common
/// practice), and one misting may follow another.
const IMPOSSIBLE_FOR_H: f64 = 2.5;
/// A pause of more than this ends the count, h: fog before it and fog after it say nothing of the time between.
const IMPOSSIBLE_GAP_H: f64 = 1.0;
/// A target that jumped by this much is another one, m: a knock moves a mount in its clamp by some centimetres (judgement).
const JUMP_M: f64 = 0.1;
/// A target that jumped by this much may be another one, m: a wall close behind the edge, or a mount that a knock has left aimed elsewhere
/// (judgement).
const SMALL_JUMP_M: f64 = 0.04;
/// The edge was measured to be where the mount's distance says, to within this, m: a tape is read to a centimetre (judgement).
const MEASURED_M: f64 = 0.02;
/// A jump is told when it has stayed for this long, h: what stood before the ranger goes away.
const JUMP_STAYS_H: f64 = 1.0;
/// A jump is told when it has stayed for so many readings.
const JUMP_READINGS: f64 = 12.0;
/// Nothing that moves as an edge does for this long, h: crowds stand before a ranger for an hour or two (judgement).
const RESTLESS_FOR_H: f64 = 4.0;
/// What is found after figures where no edge can be is trusted after so long without such figures, h: longer than most people stand before
/// a ranger (judgement).
const TRUSTED_AFTER_H: f64 = 1.0;
/// A target is followed if a sample of it was trusted within this long, h.
const FOLLOWED_WITHIN_H: f64 = 0.5;
/// Readings further apart than this cannot show the rate of an opening, s: that wants three within an hour or so.
pub const FAR_APART_S: f64 = 1500.0;
/// From day to day the edge of a bud moves: it swells by 1 to 6 mm a day (girths of Como 2008, Houston 2010, Ohio 2011). Less
/// than this in two days, m, is no swelling.
const SWELLS_M: f64 = 0.0008;
/// What stands further out by this much, m, for a whole day, than on the day after a mere knock is a bud that swells: the air moves the
/// figure of a wall by less (judgement).
const SWELLED_M: f64 = 0.01;
/// A spread of the quarter hours below this, m, is no sway: what the air leaves uncorrected has as much (judgement).
const SWAYS_M: f64 = 0.0012;
/// Quarter hours that each of three days must hold.
const DAY_QUARTERS: usize = 48;

/// Why the side ranger is held not to see the edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Cause {
    /// Figures lie where no edge can be, or at the end of its range: this share of them.
    Impossible(f64),
    /// The target jumped by so many metres, towards the ranger if above zero, and stays there.
    Jumped(f64),
    /// Nothing can be followed.
    Restless,
    /// Readings are so many seconds apart.
    FarApart(f64),
    /// Neither swelling nor sway: so many metres in two days.
    Still(f64),
}

impl Cause {
    /// Whether it may be a mere knock.
    pub fn may_be_a_knock(self) -> bool {
        matches!(self, Self::Jumped(by_m) if by_m.abs() < JUMP_M)
    }

    /// The word in the details of the event.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Impossible(_) => "impossible-figures",
            Self::Jumped(_) => "target-jumped",
            Self::Restless => "nothing-to-follow",
            Self::FarApart(_) => "readings-far-apart",
            Self::Still(_) => "no-swelling-no-sway",
        }
    }
}

/// Figures counted over a span.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
struct Tally {
    figures: u32,
    impossible: u32,
}

impl Tally {
    fn share(self) -> f64 {
        f64::from(self.impossible) / f64::from(self.figures.max(1))
    }
}

/// What stands told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ToldUnseen {
    /// The id of the event.
    pub id: String,
    /// It was told as an alarm.
    pub alarm: bool,
    /// What was told, and since when.
    pub cause: Cause,
    /// Since when that held.
    pub since: Time,
    /// Since when nothing has been found wrong.
    pub well_since: Option<Time>,
}

/// A target that jumped.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Jump {
    time: Time,
    /// Where the target was before it, as the mount stands, m.
    from_m: f64,
    /// How far it jumped, m, towards the ranger if above zero.
    by_m: f64,
    /// The mean of the track over the day after it, m, when that is over.
    day_after_m: Option<f64>,
}

impl Jump {
    /// None yet: a target that stands there, as the mount stands.
    const fn none(from_m: f64) -> Self {
        Self { time: Time::from_unix_ms(0), from_m, by_m: 0.0, day_after_m: None }
    }
}

/// The watch on what one side ranger sees.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct EdgeWatch {
    quarter: i64,
    filling: Tally,
    /// Since when every quarter hour had too many impossible figures, and how many in all.
    impossible: Option<(Time, Tally)>,
    /// Since when no quarter hour had.
    possible_since: Option<Time>,
    /// The jump after which the target is held for another one.
    jumped: Option<Jump>,
    /// Readings have come without a gap of hours since.
    speaks_since: Option<Time>,
    newest: Option<Time>,
    /// What was told and is not over.
    pub told: Option<ToldUnseen>,
}

impl EdgeWatch {
    /// Takes note of a figure, whether an edge can be there.
    pub fn take(&mut self, time: Time, possible: bool) {
        let gap_h = self.newest.map_or(f64::INFINITY, |newest| time.hours_since(newest));
        if gap_h > RESTLESS_FOR_H / 2.0 {
            self.speaks_since = Some(time);
        }
        self.newest = Some(time);
        let quarter = time.unix_ms().div_euclid(QUARTER_MS);
        if quarter != self.quarter {
            self.close();
            self.quarter = quarter;
        }
        if gap_h > IMPOSSIBLE_GAP_H {
            self.impossible = None;
        }
        self.filling.figures += 1;
        self.filling.impossible += u32::from(!possible);
    }

    fn close(&mut self) {
        let filled = std::mem::take(&mut self.filling);
        if filled.figures == 0 {
            return;
        }
        let began = Time::from_unix_ms(self.quarter * QUARTER_MS);
        if filled.share() <= IMPOSSIBLE_SHARE {
            self.impossible = None;
            self.possible_since.get_or_insert(began);
            return;
        }
        if filled.figures >= FIGURES_AT_LEAST || self.impossible.is_some() {
            self.possible_since = None;
        }
        let (_, all) = self.impossible.get_or_insert((began, Tally::default()));
        all.figures = all.figures.saturating_add(filled.figures);
        all.impossible = all.impossible.saturating_add(filled.impossible);
    }

    /// Takes note of what a sample meant, and of where the target was before it as the mount stands, m.
    pub fn found(&mut self, finding: Finding, before_m: Option<f64>, track: &Track, time: Time) {
        let (Some(before_m), Some(after_m)) = (before_m, track.raw_m()) else { return };
        // where the edge was measured to be it may be, whatever was followed before
        let elsewhere = |from_m: f64| (after_m - from_m).abs() >= SMALL_JUMP_M && after_m.abs() >= MEASURED_M;
        if self.jumped.is_some_and(|jump| !elsewhere(jump.from_m)) {
            self.jumped = None;
        } else if finding == Finding::Stepped
            && let Some(jump) = self.jumped.or_else(|| elsewhere(before_m).then_some(Jump::none(before_m)))
        {
            self.jumped =
                Some(Jump { time, by_m: jump.by_m + after_m - before_m, day_after_m: None, ..jump });
        }
    }

    /// Looks whether what stands there since a jump swells as a bud does: then it is the edge.
    pub fn look_for_swelling(&mut self, track: &Track, now: Time) {
        let Some(jump) = &mut self.jumped else { return };
        let since_h = now.hours_since(jump.time);
        if since_h < 24.0 || jump.by_m.abs() >= JUMP_M {
            return;
        }
        let Some(day_after_m) = jump.day_after_m else {
            jump.day_after_m = day_mean_m(track, now);
            return;
        };
        let day = track.rings().quarters_between(now.plus_hours(-24.0), now);
        let lowest_m = day.clone().map(|quarter| quarter.position_m).fold(f64::INFINITY, f64::min);
        if day.count() >= DAY_QUARTERS && lowest_m - day_after_m >= SWELLED_M {
            self.jumped = None;
        }
    }

    /// What was taken for an opening since then was none. The target now stands so many metres further out than the edge did: where that is
    /// more than a small jump, it is another target, and stays one until it is gone.
    pub fn deny(&mut self, since: Time, out_m: f64, track: &Track) {
        if let Some(raw_m) = track.raw_m().filter(|_| out_m >= SMALL_JUMP_M) {
            self.jumped = Some(Jump { time: since, by_m: out_m, ..Jump::none(raw_m - out_m) });
        }
    }

    /// What stands there has moved as an edge does.
    pub fn forget_jump(&mut self) {
        self.jumped = None;
    }

    /// A person hung the ranger anew: what was before tells nothing any more.
    pub fn hang_anew(&mut self) {
        *self = Self { told: self.told.take(), ..Self::default() };
    }

    /// Whether figures have lain where an edge can be for so long, h, and are followed.
    pub fn has_seen_for(&self, hours: f64, track: &Track, now: Time) -> bool {
        self.possible_since.is_some_and(|since| now.hours_since(since) >= hours)
            && track.newest().is_some_and(|newest| now.hours_since(newest.time) < FOLLOWED_WITHIN_H)
    }

    /// Whether what is found far out after a span without readings can be the edge. Before a ranger that meets another target, or whose figures
    /// lay lately where no edge can be, it may be somebody who stands there.
    pub fn trusts_what_it_finds(&self, now: Time) -> bool {
        self.jumped.is_none()
            && self.possible_since.is_some_and(|since| now.hours_since(since) >= TRUSTED_AFTER_H)
    }

    /// Whether it is held not to see the edge, and since when.
    pub fn cause(&self, track: &Track, now: Time) -> Option<(Cause, Time)> {
        if let (Some((since, tally)), Some(newest)) = (self.impossible, self.newest)
            && newest.hours_since(since) >= IMPOSSIBLE_FOR_H
        {
            return Some((Cause::Impossible(tally.share()), since));
        }
        let stays_h = JUMP_STAYS_H.max(JUMP_READINGS * track.interval_s() / 3600.0);
        if let Some(jump) = self.jumped.filter(|jump| now.hours_since(jump.time) >= stays_h) {
            return Some((Cause::Jumped(jump.by_m), jump.time));
        }
        if track.interval_s() > FAR_APART_S {
            return Some((Cause::FarApart(track.interval_s()), self.speaks_since?));
        }
        let speaks_since = self.speaks_since?;
        let followed = track.newest().map_or(speaks_since, |newest| newest.time.max(speaks_since));
        let speaks = self.newest.is_some_and(|newest| now.hours_since(newest) < 1.0);
        if speaks && now.hours_since(followed) >= RESTLESS_FOR_H {
            return Some((Cause::Restless, followed));
        }
        still_m(track, now).map(|moved_m| (Cause::Still(moved_m), now.plus_hours(-72.0)))
    }
}

/// The mean position of the day until then, m; `None` where too little of it was heard.
fn day_mean_m(track: &Track, until: Time) -> Option<f64> {
    let (mean_m, quarters) = track.rings().mean_between(until.plus_hours(-24.0), until)?;
    (quarters >= DAY_QUARTERS).then_some(mean_m)
}

/// By how much an edge has moved in two days that neither swells nor sways, m; `None` where it does either, or too little is known.
fn still_m(track: &Track, now: Time) -> Option<f64> {
    let day = |days_ago: f64| day_mean_m(track, now.plus_hours(-24.0 * days_ago));
    let (today, yesterday, before) = (day(0.0)?, day(1.0)?, day(2.0)?);
    let moved_m = today - before;
    if moved_m.abs() >= SWELLS_M || (yesterday - before).abs() >= SWELLS_M {
        return None;
    }
    let mean_m = (today + yesterday + before) / 3.0;
    let quarters = track.rings().quarters_between(now.plus_hours(-72.0), now);
    let (sum, count) = quarters
        .fold((0.0, 0.0), |(sum, count), quarter| (sum + (quarter.position_m - mean_m).powi(2), count + 1.0));
    ((sum / f64::max(count, 1.0)).sqrt() < SWAYS_M).then_some(moved_m)
}

/// A figure that is repeated for less than this is in order whatever the noise, h.
const FROZEN_AFTER_H: f64 = 1.0;
/// A figure that is repeated less often is in order whatever the noise: readings may come minutes apart.
const FROZEN_READINGS: u32 = 12;
/// A run this many times as long as the longest of the last days is no chance any more: of geometric runs one in some thousand
/// days (judgement).
const LONGER_THAN_EVER: f64 = 2.0;
/// The longest run is known after so many hours of readings.
const KNOWN_AFTER_H: f64 = 24.0;
/// To be known it also needs so many readings.
const KNOWN_READINGS: u32 = 400;
/// A noisy ranger is known sooner: after so many changes, if every other reading brought one.
const NOISY_CHANGES: u32 = 12;
/// It is forgotten with this time constant, h.
const FORGOTTEN_H: f64 = 120.0;
/// The least step of a ranger's figures, m, until a smaller one is seen.
const STEP_M: f64 = 0.001;
/// The air moves a figure for sure when it should have by a step and so many standard deviations of the noise.
const AIR_SD: f64 = 3.0;
/// Of which no more than this is believed, m: while a ranger hangs, what the air corrects passes for noise.
const AIR_NOISE_AT_MOST_M: f64 = 0.0015;

/// How long a ranger repeats one figure in good health, learnt from this ranger: one with 0.3 mm of noise and steps of 1 mm shows
/// the same for the better part of an hour, one with 2 mm for a few readings.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct FigureWatch {
    since: Option<Time>,
    newest: Option<Time>,
    value_m: f64,
    run: u32,
    longest_h: f64,
    watched_h: f64,
    readings: u32,
    changes: u32,
    /// Speeds of sound met during the run, m/s.
    slowest_m_s: f64,
    fastest_m_s: f64,
}

impl FigureWatch {
    /// Takes a figure, with the speed of sound where the ranger does not correct for it by itself.
    pub fn take(&mut self, time: Time, value_m: f64, speed_m_s: Option<f64>) {
        let (Some(since), Some(newest)) = (self.since, self.newest) else {
            self.begin(time, value_m, speed_m_s);
            return;
        };
        let step_h = time.hours_since(newest).clamp(0.0, 1.0);
        self.watched_h = (self.watched_h + step_h).min(2.0 * KNOWN_AFTER_H);
        self.readings = self.readings.saturating_add(1);
        self.longest_h *= (-step_h / FORGOTTEN_H).exp();
        if value_m.to_bits() != self.value_m.to_bits() {
            self.changes = self.changes.saturating_add(1);
            let (ended_h, limit_h) =
                (newest.hours_since(since), FROZEN_AFTER_H.max(LONGER_THAN_EVER * self.longest_h));
            // a hang must not teach that hanging is health; if it was none after all, a little is learnt each time
            let hung = self.is_known() && ended_h >= limit_h;
            let healthy_h = if hung { 1.25 * self.longest_h } else { ended_h.min(limit_h) };
            self.longest_h = self.longest_h.max(healthy_h);
            self.begin(time, value_m, speed_m_s);
            return;
        }
        self.newest = Some(time);
        self.run = self.run.saturating_add(1);
        if let Some(speed) = speed_m_s {
            self.slowest_m_s = self.slowest_m_s.min(speed);
            self.fastest_m_s = self.fastest_m_s.max(speed);
        }
    }

    const fn is_known(&self) -> bool {
        self.watched_h >= KNOWN_AFTER_H && self.readings >= KNOWN_READINGS
    }

    fn begin(&mut self, time: Time, value_m: f64, speed_m_s: Option<f64>) {
        let speed = speed_m_s.unwrap_or_default();
        (self.since, self.newest, self.value_m, self.run) = (Some(time), Some(time), value_m, 1);
        (self.slowest_m_s, self.fastest_m_s) = (speed, speed);
    }

    /// Whether it hangs: its figure should have changed, by its own noise as learnt (m), by what it did before, or by the air.
    pub fn is_frozen(&self, noise_m: f64, noisy: bool) -> bool {
        let (Some(since), Some(newest)) = (self.since, self.newest) else { return false };
        let run_h = newest.hours_since(since);
        if run_h < FROZEN_AFTER_H || self.run < FROZEN_READINGS / 2 {
            return false;
        }
        let often = self.run >= FROZEN_READINGS;
        let restless =
            self.changes >= NOISY_CHANGES && self.changes >= self.readings.saturating_sub(self.run) / 2;
        let known = self.is_known() || (noisy && restless);
        let longer = run_h >= LONGER_THAN_EVER * self.longest_h;
        let by_air_m = if self.slowest_m_s > 0.0 {
            self.value_m * (self.fastest_m_s / self.slowest_m_s - 1.0)
        } else {
            0.0
        };
        (often && known && longer) || by_air_m > STEP_M + AIR_SD * noise_m.min(AIR_NOISE_AT_MOST_M)
    }
}
