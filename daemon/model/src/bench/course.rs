//! What the side ranger's samples tell of the course of an opening under way, and so of its end.

use super::{Bench, BenchState};
use crate::opening::belief::{Around, Belief};
use crate::spec::{BenchSpec, SiteSpec};
use crate::time::Time;
use crate::track::ring::Sample;

/// An opening began no earlier than this before its alarm, h.
const BEGAN_WITHIN_H: f64 = 9.0;
/// Where the estimated crack lies further back, an opening began no earlier than this before the crack, h.
const BEFORE_CRACK_H: f64 = 1.0;
/// What the edge did so long before is looked at, h: it tells where it stood.
const REST_H: f64 = 3.0;
/// The newest samples are taken minute by minute over some three hours, and the ones before by the quarter hour.
const QUARTERS_BY_THE_MINUTE: i64 = 11;
const QUARTER_MS: i64 = 900_000;

impl Bench {
    /// What the samples so far tell of the course, as an alarm is raised.
    pub(super) fn belief_at(&self, now: Time, crack: Time) -> Option<Belief> {
        let from = now.plus_hours(-BEGAN_WITHIN_H).min(crack.plus_hours(-BEFORE_CRACK_H));
        let rings = self.state.rim.rings();
        let quarter = now.unix_ms().div_euclid(QUARTER_MS);
        let lately = Time::from_unix_ms((quarter - QUARTERS_BY_THE_MINUTE) * QUARTER_MS);
        // how many samples a quarter hour brings, from fifteen down to one
        let count = (0.25 / rings.spacing_h().max(1.0 / 60.0)).clamp(1.0, 15.0) as u32;
        let quarters = rings.quarters_between(from.plus_hours(-REST_H), lately).map(|mean| (*mean, count));
        let minutes = rings.minutes_from(lately).map(|sample| (*sample, 1));
        let samples: Vec<(Sample, u32)> = quarters.chain(minutes).collect();
        Belief::begin(&samples, from, &around(&self.site, &self.spec, &self.state))
    }

    /// Takes the newest sample of the edge while it opens.
    pub(super) fn follow_course(&mut self) {
        let Some(newest) = self.state.rim.newest() else { return };
        let opening = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut());
        // out of the state while it takes the sample, which wants to know the rest of that
        let Some(mut belief) = opening.and_then(|opening| opening.belief.take()) else { return };
        belief.take(newest, &around(&self.site, &self.spec, &self.state));
        if let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut()) {
            opening.belief = Some(belief);
        }
    }
}

fn around<'a>(site: &SiteSpec, spec: &'a BenchSpec, state: &BenchState) -> Around<'a> {
    let outlook = state.bloom.as_ref().and_then(|bloom| bloom.outlook);
    Around {
        profile: &spec.profile,
        timezone: site.timezone,
        chance_today: outlook.map(|(_, outlook)| outlook.probability_tonight),
    }
}
