//! One ranger's target through time: what is movement of the plant, and what is an echo, a person or a knocked mount.
//!
//! Samples that continue the track are trusted. Others wait as a candidate: if the old track returns they were an echo or
//! a person; if they stay, they are judged. A level that jumped from one minute to the next cannot be growth: the mount moved,
//! and the offset takes it up. A level that changed over a blind span (no readings, fog, people in the beam) within what the
//! plant can do is movement if it is large, or if it goes on.

mod candidates;
mod contested;
mod decide;
mod heard;
mod minute;
mod motion;
pub mod ring;

use serde::{Deserialize, Serialize};

use crate::growth::filter::LevelRateFilter;
use crate::growth::line::Line;
use crate::time::Time;
use candidates::Candidates;
use contested::Contested;
use heard::Heard;
use minute::MinuteBin;
use motion::GATE_FLOOR_M;
pub use motion::Motion;
use ring::{Rings, Sample};

/// A sample is out of the gate beyond this many standard deviations.
const GATE_SD: f64 = 4.0;
/// It is out of the gate beyond this distance in any case, m: a hand or a neighbour's echo is nearer than that to no plant.
const GATE_CEILING_M: f64 = 0.03;
/// While strange samples come between, the gate is this many standard deviations of the noise alone.
const DOUBTFUL_SD: f64 = 3.0;
/// Without a trusted sample for this long the track is blind, h, or for four of the ranger's own intervals if these are longer.
const BLIND_AFTER_H: f64 = 10.0 / 60.0;
/// A level that no target of this ranger can have is believed only after this long, h: rangers without an echo report their
/// furthest, for as long as the fog lasts; a mount hung elsewhere and not booked stays.
const STRANGE_CONFIRMED_H: f64 = 24.0;
/// A figure that a noisy ranger repeats this often is stale.
const STALE_REPEATS: u32 = 6;
/// A ranger is noisy if its own noise is more than this, m: a quiet ranger of coarse resolution repeats itself in good health.
const STALE_NOISE_M: f64 = 0.0009;
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

    /// Without a trusted sample for this long the track is blind, h.
    fn blind_after_h(&self) -> f64 {
        BLIND_AFTER_H.max(4.0 * self.bin.interval_s() / 3600.0)
    }

    fn judge(&mut self, raw: Sample, motion: &Motion) -> Option<Finding> {
        let blind_after_h = self.blind_after_h();
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
}
