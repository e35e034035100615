//! The edge of an open spathe: how far out it stands, how fast it goes, and its course since the crack, as the model holds them.

use bloom_model::bench::Bench;
use bloom_model::event::{Details, OpeningDetails};
use bloom_model::growth::figures::Rate;
use bloom_model::opening::rim_line;
use bloom_model::time::Time;

/// The course begins so long before the first crack, h.
const BEFORE_H: f64 = 1.0;
/// The course ends so long after the first crack at the latest, h: by then the edge has come to rest.
const AFTER_H: f64 = 36.0;

/// The edge since the first crack.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeFacts {
    /// The first crack, as estimated.
    pub began: Time,
    /// When the edge was seen last.
    pub seen: Time,
    /// How far it stands out from where it rested before the crack, m.
    pub out_m: f64,
    /// How fast it goes, over the last half hour; absent where too few readings tell of it.
    pub rate: Option<Rate>,
    /// How far it stood out, m, by the quarter hour, oldest first.
    pub course: Vec<(Time, f64)>,
}

impl EdgeFacts {
    /// Of a bench with an opening whose edge is seen; its figures are those of the alarm that stands.
    pub fn of(bench: &Bench, now: Time) -> Option<Self> {
        let Details::Opening(OpeningDetails { began, moment, .. }) = bench.opening_alarm(now)?.details else {
            return None;
        };
        let rings = bench.rim().rings();
        let newest = rings.newest()?;
        let line = rim_line(rings, now);
        let rest_m = line.map_or(newest.position_m, |line| line.level_m) - moment.advance_m;
        let until = began.plus_hours(AFTER_H);
        let quarters = rings.quarters_between(began.plus_hours(-BEFORE_H), until);
        let last = Some(&newest).filter(|newest| newest.time < until);
        Some(Self {
            began,
            seen: newest.time,
            out_m: moment.advance_m,
            rate: line.map(Rate::from),
            course: quarters.chain(last).map(|sample| (sample.time, sample.position_m - rest_m)).collect(),
        })
    }
}
