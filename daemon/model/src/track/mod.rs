//! One ranger's target through time: what is movement of the plant, and what is an echo, a person or a knocked mount.
//!
//! Samples that continue the track are trusted. Others wait as a candidate: if the old track returns they were an echo or
//! a person; if they stay, they are judged. A level that jumped from one minute to the next cannot be growth: the mount moved,
//! and the offset takes it up. A level that changed over a blind span (no readings, fog, people in the beam) within what the
//! plant can do is movement if it is large, or if it goes on.

mod candidates;
mod contested;
mod heard;
mod minute;
mod motion;
pub mod ring;

use serde::{Deserialize, Serialize};

use crate::growth::filter::LevelRateFilter;
use crate::growth::line::{self, Line};
use crate::time::Time;
use candidates::Candidates;
use contested::Contested;
use heard::Heard;
use minute::MinuteBin;
use motion::GATE_FLOOR_M;
pub use motion::Motion;
use ring::{Rings, Sample};

/// A sample is out of the gate beyond this many standard deviations,
const GATE_SD: f64 = 4.0;
/// and beyond this in any case, m: a hand or a neighbour's echo is nearer than that to no plant.
const GATE_CEILING_M: f64 = 0.03;
/// While strange samples come between, the gate is this many standard deviations of the noise alone.
const DOUBTFUL_SD: f64 = 3.0;
/// A level is judged by a straight line through its newest samples of this span, h.
const STRAIGHT_H: f64 = 0.7;
/// Without a trusted sample for this long the track is blind, h.
const BLIND_AFTER_H: f64 = 10.0 / 60.0;
/// Spread within which waiting samples count as one level, m.
const CANDIDATE_SPREAD_M: f64 = 0.015;
/// And as a multiple of the target's own noise: a person is more restless than a spathe.
const CANDIDATE_NOISE: f64 = 1.8;
/// A level that came after a span without readings is judged after this long, h: well inside the first quarter of an hour.
const RETURN_CONFIRMED_H: f64 = 11.0 / 60.0;
/// One that stands still far out is believed after this long, h: a ranger that sends medians shows a person just as still as a spathe.
const RETURN_FAR_CONFIRMED_H: f64 = 40.0 / 60.0;
/// A small change over a span without readings is given this long to show that it goes on, h.
const RETURN_UNDECIDED_H: f64 = 45.0 / 60.0;
/// A level that came while people or echoes hid the target is judged after this long, h: people stand still, too.
const HIDDEN_CONFIRMED_H: f64 = 75.0 / 60.0;
/// One that goes on as the plant would is judged after this long, h.
const HIDDEN_GOES_ON_H: f64 = 30.0 / 60.0;
/// Readings that resumed count as the end of a span without readings for this long, h.
const RESUMED_FOR_H: f64 = 20.0 / 60.0;
/// A level that jumped is taken for a moved mount after this long, h; people seldom stand still longer.
const STEP_CONFIRMED_H: f64 = 25.0 / 60.0;
/// And one that does not stand still after this long, h.
const UNSTEADY_CONFIRMED_H: f64 = 2.0;
/// A level that no target of this ranger can have is believed only after this long, h: rangers without an echo report their
/// furthest, for as long as the fog lasts; a mount hung elsewhere and not booked stays.
const STRANGE_CONFIRMED_H: f64 = 24.0;
/// A level before a step is remembered this long, h, in case what stood in the beam goes away.
const PARKED_FOR_H: f64 = 24.0;
/// The hours over which a target's middle is taken.
const MEAN_OVER_H: f64 = 2.0;
/// A rim goes back no further than it has been within this many hours.
const BEHIND_WITHIN_H: f64 = 24.0;
/// A jump back is one to a level that the target held within this many hours.
const HELD_WITHIN_H: f64 = 12.0;
/// It held a level if it was no further from it than this, m.
const NEAR_M: f64 = 2.0 * GATE_FLOOR_M;
/// A level further out than the one followed now counts as held if the target was there in so many quarter hours (judged).
const HELD_FOR_LONG: usize = 16;
/// A jump back is believed after this long, h.
const WENT_BACK_H: f64 = 5.0 / 60.0;
/// Where the target is known to be on its way, a jump back is believed after this long, h.
const ON_ITS_WAY_WENT_BACK_H: f64 = 15.0 / 60.0;
/// A figure repeated this often is stale,
const STALE_REPEATS: u32 = 6;
/// if the ranger's own noise is more than this, m: a quiet ranger of coarse resolution repeats itself in good health.
const STALE_NOISE_M: f64 = 0.0009;
/// A level that begins where the target was within this long before, h,
const SET_OUT_WITHIN_H: f64 = 0.5;
/// and is followed this long, h, in this share of the samples, is the target that sets out.
const SET_OUT_H: f64 = 10.0 / 60.0;
const SET_OUT_SHARE: f64 = 0.6;
/// The least share of the samples since its first that a level must have to be the target's.
const SHARE: f64 = 0.4;
/// And the least to be a mount that was moved: a target that sways is at either end of its swing no more than half the time.
const STEP_SHARE: f64 = 0.75;
/// Bounds of the noise that is learnt, m.
const NOISE_M: std::ops::RangeInclusive<f64> = 0.0007..=0.02;

/// An echo is the target's if it lies where that can have moved within this long at the most, h: half an hour of a fast rim would
/// take in whatever else there is.
const HEARD_MOVES_H: f64 = 0.1;

/// What a sample meant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Finding {
    /// The track goes on.
    Moved,
    /// After a blind span the target is somewhere else, and got there by itself.
    Returned {
        /// Last trusted sample before.
        before: Sample,
        /// First sample after.
        after: Sample,
    },
    /// The mount was moved, or something took its place in the beam: positions go on as if nothing had happened.
    Stepped,
    /// The target jumped back to where it had been some hours before: something else had been followed meanwhile.
    WentBack,
}

/// The offset before a step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Parked {
    offset_m: f64,
    /// Where the target was then.
    level_m: f64,
    since: Time,
}

/// The state of one ranger's track.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Track {
    bin: MinuteBin,
    filter: Option<LevelRateFilter>,
    noise_variance_m2: f64,
    /// Added to a position as the mount stands, so that steps of the mount are no movement.
    offset_m: f64,
    waiting: Candidates,
    doubt: Option<Contested>,
    parked: Option<Parked>,
    /// The newest sample that a target can have, trusted or not.
    newest_plausible: Option<Time>,
    /// When samples came again after the last span without any.
    resumed: Option<Time>,
    rings: Rings,
    heard: Heard,
}

impl Track {
    /// The cleaned positions.
    pub fn rings(&self) -> &Rings {
        &self.rings
    }

    /// How often the target was heard.
    pub fn heard(&self) -> &Heard {
        &self.heard
    }

    /// The newest trusted sample.
    pub fn newest(&self) -> Option<Sample> {
        self.rings.newest()
    }

    /// The smoothed rate now, m/h, from the filter.
    pub fn rate_m_h(&self) -> Option<f64> {
        self.filter.as_ref().map(LevelRateFilter::rate)
    }

    /// Takes a position as the mount stands; gives what the samples meant that it completed, oldest first.
    pub fn take(&mut self, time: Time, position_m: f64, motion: &Motion) -> [Option<Finding>; 2] {
        if self.is_of_the_target(time, position_m, motion) {
            self.heard.count(time);
        }
        self.bin.push(time, position_m).map(|sample| self.judge(sample?, motion))
    }

    /// Where the target was at the newest trusted sample, as the mount stands, m.
    pub fn raw_m(&self) -> Option<f64> {
        self.newest().map(|newest| newest.position_m - self.offset_m)
    }

    /// Smoothed time between readings, s, half an hour at most; zero before the second.
    pub fn interval_s(&self) -> f64 {
        self.bin.interval_s()
    }

    /// The ranger's own noise as learnt, m, no less than 0.7 mm.
    pub fn noise_m(&self) -> f64 {
        self.noise_variance_m2.sqrt()
    }

    /// Whether the ranger's noise is more than that of a quiet one, which repeats itself in good health.
    pub fn is_noisy(&self) -> bool {
        self.noise_variance_m2 > STALE_NOISE_M * STALE_NOISE_M
    }

    /// Whether an echo came from just where the target was last, or can have moved since.
    fn is_of_the_target(&self, time: Time, position_m: f64, motion: &Motion) -> bool {
        self.newest().is_some_and(|last| {
            let moves_m = motion.towards_m_h * time.hours_since(last.time).clamp(0.0, HEARD_MOVES_H);
            (position_m + self.offset_m - last.position_m).abs() <= GATE_CEILING_M + moves_m
        })
    }

    /// Whether a ranger that repeats one figure this often has stopped timing echoes: a target's own noise changes the figure.
    pub fn is_stale(&self, repeats: u32) -> bool {
        repeats >= STALE_REPEATS && self.is_noisy()
    }

    /// The ranger was hung anew by a person: positions go on from where they were.
    pub fn hang_anew(&mut self) {
        // the next sample starts the track again with the offset that joins it to the old level
        self.filter = None;
        self.waiting.clear();
        self.doubt = None;
        self.parked = None;
        self.bin = MinuteBin::default();
    }

    fn judge(&mut self, raw: Sample, motion: &Motion) -> Option<Finding> {
        let blind_after_h = BLIND_AFTER_H.max(4.0 * self.bin.interval_s() / 3600.0);
        let plausible = motion.is_plausible(raw.position_m);
        let before = self.newest_plausible;
        if plausible {
            if before.is_some_and(|newest| raw.time.hours_since(newest) > blind_after_h) {
                self.resumed = Some(raw.time);
            }
            self.newest_plausible = Some(raw.time);
        } else if before.is_some_and(|newest| raw.time.hours_since(newest) < STRANGE_CONFIRMED_H) {
            // what a ranger reports when it hears nothing is no reading
            return None;
        }
        let Some(filter) = self.filter else { return self.first_contact(raw, motion) };
        let last = self.newest()?;
        let sample = Sample { position_m: raw.position_m + self.offset_m, ..raw };
        let step_h = sample.time.hours_since(last.time);
        if step_h <= 0.0 {
            return None;
        }
        let blind = step_h > blind_after_h;
        let mut ahead = filter;
        ahead.predict(step_h, motion.rate_change_m_h * motion.rate_change_m_h);
        let difference = sample.position_m - ahead.level();
        let gate = (GATE_FLOOR_M + GATE_SD * (ahead.level_variance() + self.noise_variance_m2).sqrt())
            .min(GATE_CEILING_M + motion.towards_m_h * step_h);
        let continues = if blind {
            (sample.position_m - last.position_m).abs() <= GATE_FLOOR_M
        } else if let Some(doubt) = &self.doubt {
            // something else is about: only what comes back to just where the target must be is the target
            (sample.position_m - doubt.expected_m(sample.time)).abs()
                <= GATE_FLOOR_M + DOUBTFUL_SD * self.noise_variance_m2.sqrt()
        } else {
            difference.abs() <= gate
        };
        if continues {
            self.waiting.clear();
            let filter = self.trust(ahead, sample);
            self.doubt = self.doubt.take().and_then(|doubt| doubt.less(sample.time, &filter));
            return Some(Finding::Moved);
        }
        if plausible || motion.is_plausible(sample.position_m) {
            self.doubt = Some(match self.doubt {
                Some(doubt) => doubt.more(),
                None => Contested::begin(last.time, &filter),
            });
        }
        let place = self.waiting.put(raw, motion.towards_m_h, 4.0 * self.bin.interval_s() / 3600.0);
        self.decide(place, last, motion)
    }

    /// The first sample ever, or since a mount was hung anew: it joins the old level if there is one.
    ///
    /// One that no target can have is waited out; if nothing else comes, the mount distance cannot be right, and positions
    /// count from here.
    fn first_contact(&mut self, raw: Sample, motion: &Motion) -> Option<Finding> {
        let joined = self.newest().map(|last| last.position_m - raw.position_m);
        let plausible = motion.is_plausible(raw.position_m);
        if joined.is_none() && !plausible {
            let place = self.waiting.put(raw, motion.towards_m_h, STRANGE_CONFIRMED_H);
            let (first, _) = self.waiting.level(place)?.ends()?;
            if raw.time.hours_since(first.time) < STRANGE_CONFIRMED_H {
                return None;
            }
        }
        self.waiting.clear();
        self.offset_m = joined.unwrap_or(if plausible { 0.0 } else { -raw.position_m });
        self.start(raw, None);
        Some(Finding::Moved)
    }

    fn start(&mut self, raw: Sample, line: Option<&Line>) {
        if self.noise_variance_m2 <= 0.0 {
            self.noise_variance_m2 = 0.003 * 0.003;
        }
        let rate = line.map_or(0.0, |line| line.rate_m_h);
        let position_m = raw.position_m + self.offset_m;
        self.filter = Some(LevelRateFilter::start(position_m, rate, self.noise_variance_m2, 0.01 * 0.01));
        self.rings.push(Sample { position_m, ..raw });
    }

    fn trust(&mut self, mut ahead: LevelRateFilter, sample: Sample) -> LevelRateFilter {
        let innovation = sample.position_m - ahead.level();
        ahead.update(sample.position_m, self.noise_variance_m2);
        // the product of what the sample surprised by before and after it was taken in has the noise variance as its mean
        let surprise = innovation * (sample.position_m - ahead.level());
        let capped = surprise.min(9.0 * self.noise_variance_m2);
        self.noise_variance_m2 = (self.noise_variance_m2 + (capped - self.noise_variance_m2) / 60.0)
            .clamp(NOISE_M.start() * NOISE_M.start(), NOISE_M.end() * NOISE_M.end());
        self.filter = Some(ahead);
        self.rings.push(sample);
        ahead
    }

    /// Whether the level that a waiting sample was put to is the target.
    fn decide(&mut self, place: usize, last: Sample, motion: &Motion) -> Option<Finding> {
        let level = self.waiting.level(place)?;
        let (first, newest) = level.ends()?;
        let waited_h = newest.time.hours_since(first.time);
        if level.samples.len() < 3 || self.waiting.share(level) < SHARE {
            return None;
        }
        // an opening that went on unseen has curved: the newest part of it is straight
        let from = newest.time.plus_hours(-STRAIGHT_H);
        let recent = &level.samples[level.samples.partition_point(|sample| sample.time < from)..];
        let line = line_through(if recent.len() >= 3 { recent } else { &level.samples }, newest.time)?;
        if line.residual_sd_m
            > CANDIDATE_SPREAD_M.min(CANDIDATE_NOISE * self.noise_variance_m2.sqrt() + 0.0015)
        {
            return None;
        }

        if let Some(parked) = self.parked
            && waited_h >= 2.0 / 60.0
        {
            // what stood in the beam has gone: the old frame holds again, with the movement made meanwhile
            let moved = line.level_m + parked.offset_m - parked.level_m;
            let away_h = newest.time.hours_since(parked.since);
            let differs = (parked.offset_m - self.offset_m).abs() > 2.0 * GATE_FLOOR_M;
            let unmoved = moved.abs() <= 2.0 * GATE_FLOOR_M;
            let moved_on =
                waited_h >= HIDDEN_GOES_ON_H && motion.allows(moved, away_h) && motion.goes_on(&line, moved);
            if away_h > PARKED_FOR_H {
                self.parked = None;
            } else if differs && (unmoved || moved_on) {
                self.offset_m = parked.offset_m;
                self.parked = None;
                self.accept(place, &line);
                let before = Sample { time: parked.since, position_m: parked.level_m };
                return Some(if unmoved { Finding::WentBack } else { self.moved_over(before, moved) });
            }
        }

        if motion.jumps_back_tell
            && waited_h >= if motion.on_its_way { ON_ITS_WAY_WENT_BACK_H } else { WENT_BACK_H }
            // in the frame of something that stands in the beam, a target on its way passes through every earlier level
            && (self.parked.is_none() || !motion.on_its_way)
            && self.held_before(line.level_m + self.offset_m, last)
        {
            self.accept(place, &line);
            return Some(Finding::WentBack);
        }

        if self.sets_out(first, last, &line, waited_h, motion)
            && self.waiting.level(place).is_some_and(|level| self.waiting.share(level) >= SET_OUT_SHARE)
        {
            self.accept(place, &line);
            return Some(Finding::Moved);
        }

        let blind_h = first.time.hours_since(last.time);
        let level_m = line.level_m + self.offset_m;
        let moved = level_m - last.position_m;
        let possible =
            motion.allows(moved, blind_h + waited_h) && !self.is_behind_all(level_m, moved, last, motion);
        let plausible = motion.is_plausible(level_m) || motion.is_plausible(line.level_m);
        let was_blind = blind_h > BLIND_AFTER_H.max(4.0 * self.bin.interval_s() / 3600.0);
        if was_blind && possible && plausible {
            let unread = self.resumed.is_some_and(|resumed| {
                resumed > last.time && first.time.hours_since(resumed) <= RESUMED_FOR_H
            });
            let (confirmed_h, undecided_h) = if unread {
                (RETURN_CONFIRMED_H, RETURN_UNDECIDED_H)
            } else {
                (HIDDEN_GOES_ON_H, HIDDEN_CONFIRMED_H)
            };
            if waited_h < confirmed_h {
                return None;
            }
            let goes_on = motion.goes_on(&line, moved);
            let far_confirmed_h = if unread { RETURN_FAR_CONFIRMED_H } else { undecided_h };
            let far = moved.abs() >= motion.found_moved_m && waited_h >= far_confirmed_h;
            if far || goes_on || moved.abs() <= 1.5 * GATE_FLOOR_M {
                self.accept(place, &line);
                return Some(self.moved_over(last, moved));
            }
            if waited_h < undecided_h {
                return None;
            }
        } else if waited_h < if plausible { STEP_CONFIRMED_H } else { STRANGE_CONFIRMED_H } {
            return None;
        }
        // a target that swayed is back in its middle, from whichever end of the swing was trusted last
        if !motion.jumps_back_tell && self.near_its_mean(line.level_m + self.offset_m, last) {
            self.accept(place, &line);
            return Some(Finding::Moved);
        }
        // what goes on as the plant would is the target, though somebody stood near it when it began
        if possible && plausible && waited_h >= HIDDEN_CONFIRMED_H && motion.goes_on(&line, moved) {
            self.accept(place, &line);
            return Some(self.moved_over(last, moved));
        }
        // a mount that was knocked stands still again; what goes on moving is no mount
        let steady = (line.rate_m_h * waited_h).abs() <= GATE_FLOOR_M;
        let alone = self.waiting.level(place).is_some_and(|level| self.waiting.share(level) >= STEP_SHARE);
        if !(steady && alone && !motion.on_its_way) && waited_h < UNSTEADY_CONFIRMED_H {
            return None;
        }
        // what comes forward to where the target was for hours lately is the target: something behind it had been followed meanwhile
        if motion.jumps_back_tell && moved > 0.0 && self.held_for_long(level_m, last) {
            self.accept(place, &line);
            return Some(Finding::WentBack);
        }
        self.parked = Some(Parked { offset_m: self.offset_m, level_m: last.position_m, since: last.time });
        self.offset_m = last.position_m - first.position_m;
        self.accept(place, &line);
        Some(Finding::Stepped)
    }

    /// Takes the waiting samples into the track.
    fn accept(&mut self, place: usize, line: &Line) {
        self.doubt = None;
        let Some(level) = self.waiting.take(place) else { return };
        for (index, raw) in level.samples.iter().enumerate() {
            if index + 1 == level.samples.len() {
                self.start(*raw, Some(line));
            } else {
                self.rings.push(Sample { position_m: raw.position_m + self.offset_m, ..*raw });
            }
        }
    }

    fn moved_over(&self, before: Sample, moved_m: f64) -> Finding {
        match self.newest() {
            Some(after) if moved_m.abs() > 1.5 * GATE_FLOOR_M => Finding::Returned { before, after },
            _ => Finding::Moved,
        }
    }

    /// Whether a level began where the target was just before and moves as only the target does. While people are about, the
    /// gate is too narrow for a rim that sets out; a person does not step into the beam just at the rim and creep on from there.
    fn sets_out(&self, first: Sample, last: Sample, line: &Line, waited_h: f64, motion: &Motion) -> bool {
        let began_m = first.position_m + self.offset_m - last.position_m;
        let moved_m = line.level_m + self.offset_m - last.position_m;
        waited_h >= SET_OUT_H
            && first.time.hours_since(last.time) <= SET_OUT_WITHIN_H
            && began_m.abs() <= 2.0 * GATE_FLOOR_M
            && motion.goes_on(line, moved_m)
    }

    /// Whether a rim would have gone back further than it has been for a day: it goes back to where it came from and no further.
    fn is_behind_all(&self, level_m: f64, moved_m: f64, last: Sample, motion: &Motion) -> bool {
        let held = self.rings.quarters_between(last.time.plus_hours(-BEHIND_WITHIN_H), last.time);
        let lowest = held.map(|quarter| quarter.position_m).fold(f64::INFINITY, f64::min);
        motion.jumps_back_tell && moved_m < 0.0 && level_m < lowest - 2.0 * GATE_FLOOR_M
    }

    /// Whether a level is that of the last two hours.
    fn near_its_mean(&self, level_m: f64, last: Sample) -> bool {
        let mean = self.rings.mean_between(last.time.plus_hours(-MEAN_OVER_H), last.time);
        mean.is_some_and(|(mean, quarters)| quarters >= 3 && (level_m - mean).abs() <= 1.5 * GATE_FLOOR_M)
    }

    /// Whether a level is not where the target was last, but where it was within the last half day. A mount that is knocked
    /// comes to rest anywhere; what had stood in the beam and left gives back just the old level.
    fn held_before(&self, level_m: f64, last: Sample) -> bool {
        level_m < last.position_m - 2.0 * NEAR_M && self.quarters_held(level_m, last) >= 2
    }

    /// Whether a level is where the target was for hours lately.
    fn held_for_long(&self, level_m: f64, last: Sample) -> bool {
        self.quarters_held(level_m, last) >= HELD_FOR_LONG
    }

    /// In how many quarter hours of the last half day the target was near a level.
    fn quarters_held(&self, level_m: f64, last: Sample) -> usize {
        self.rings
            .quarters_between(last.time.plus_hours(-HELD_WITHIN_H), last.time)
            .filter(|quarter| (quarter.position_m - level_m).abs() <= NEAR_M)
            .count()
    }
}

fn line_through(samples: &[Sample], at: Time) -> Option<Line> {
    let points: Vec<(f64, f64)> =
        samples.iter().map(|sample| (sample.time.hours_since(at), sample.position_m)).collect();
    line::fit(&points, *NOISE_M.start())
}
