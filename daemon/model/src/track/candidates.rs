//! Samples that do not continue the track, sorted by the levels that they may belong to: a person, a neighbour's echo, the
//! target after a step. Which of them is the target, the track decides.

use serde::{Deserialize, Serialize};

use crate::time::Time;
use crate::track::ring::Sample;

/// Levels followed side by side; at one more the one not heard of for longest gives way.
const MOST_LEVELS: usize = 4;
/// Samples kept of each; beyond, the older half is thinned out, for the span counts and not every sample.
const MOST_SAMPLES: usize = 64;
/// Two samples belong together within this, m, and what the target can move meanwhile.
const TOGETHER_M: f64 = 0.03;
/// A level not heard of for this long is gone, h.
const GONE_AFTER_H: f64 = 0.5;

/// One level and the samples at it, as the mount stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Level {
    /// The samples, oldest first; never empty.
    pub(super) samples: Vec<Sample>,
    count: u32,
    heard_before: u32,
}

impl Level {
    /// The first and the newest sample.
    pub(super) fn ends(&self) -> Option<(Sample, Sample)> {
        Some((*self.samples.first()?, *self.samples.last()?))
    }
}

/// The levels that wait.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Candidates {
    levels: Vec<Level>,
    /// Samples heard since the track was last trusted.
    heard: u32,
}

impl Candidates {
    /// Puts a sample to the level it belongs to, or to one of its own; gives that level's place.
    pub(super) fn put(&mut self, raw: Sample, fastest_m_h: f64, gone_after_h: f64) -> usize {
        let gone_after_h = gone_after_h.max(GONE_AFTER_H);
        self.levels.retain(|level| {
            level.ends().is_some_and(|(_, newest)| raw.time.hours_since(newest.time) <= gone_after_h)
        });
        self.heard = self.heard.saturating_add(1);
        let distance = |level: &Level| {
            let (_, newest) = level.ends()?;
            let apart = (raw.position_m - newest.position_m).abs();
            (apart <= TOGETHER_M + fastest_m_h * raw.time.hours_since(newest.time)).then_some(apart)
        };
        let nearest = self
            .levels
            .iter()
            .enumerate()
            .filter_map(|(place, level)| Some((place, distance(level)?)))
            .min_by(|(_, a), (_, b)| a.total_cmp(b));
        if let Some((place, _)) = nearest
            && let Some(level) = self.levels.get_mut(place)
        {
            if level.samples.len() == MOST_SAMPLES {
                let mut index = 0;
                level.samples.retain(|_| {
                    index += 1;
                    index > MOST_SAMPLES / 2 || index % 2 == 1
                });
            }
            level.samples.push(raw);
            level.count = level.count.saturating_add(1);
            return place;
        }
        if self.levels.len() == MOST_LEVELS
            && let Some(oldest) = (0..MOST_LEVELS).min_by_key(|place| self.newest_of(*place))
        {
            self.levels.remove(oldest);
        }
        self.levels.push(Level { samples: vec![raw], count: 1, heard_before: self.heard - 1 });
        self.levels.len() - 1
    }

    fn newest_of(&self, place: usize) -> Option<Time> {
        self.levels.get(place)?.ends().map(|(_, newest)| newest.time)
    }

    /// The level at a place.
    pub(super) fn level(&self, place: usize) -> Option<&Level> {
        self.levels.get(place)
    }

    /// The share of all samples heard since a level's first that belong to it.
    pub(super) fn share(&self, level: &Level) -> f64 {
        f64::from(level.count) / f64::from((self.heard - level.heard_before).max(1))
    }

    /// Takes a level out and forgets the others.
    pub(super) fn take(&mut self, place: usize) -> Option<Level> {
        let taken = (place < self.levels.len()).then(|| self.levels.swap_remove(place));
        self.clear();
        taken
    }

    /// The track is trusted again: nothing waits.
    pub(super) fn clear(&mut self) {
        self.levels.clear();
        self.heard = 0;
    }
}
