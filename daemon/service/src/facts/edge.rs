//! The edge of an open spathe: how far out it stands, how fast it goes, and its course since the crack, as the model holds them.

use bloom_model::bench::Bench;
use bloom_model::growth::figures::Rate;
use bloom_model::opening::rim_line;
use bloom_model::time::Time;

/// The edge's rest is its mean position over so long before the first crack, h.
const REST_H: f64 = 6.0;
/// Where a gap hid those hours, the rest is the mean of so many hours before the crack.
const REST_AT_MOST_H: f64 = 60.0;
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
    /// How far it then stood out from where it rested before the crack, m.
    pub out_m: f64,
    /// How fast it goes, over the last half hour; absent where too few readings tell of it.
    pub rate: Option<Rate>,
    /// How far it stood out, m, by the quarter hour, oldest first.
    pub course: Vec<(Time, f64)>,
}

impl EdgeFacts {
    /// Of a bench with an opening before its side ranger; `None` where it has none, or where its rest was never seen.
    pub fn of(bench: &Bench) -> Option<Self> {
        let began = bench.opening_evidence()?.began;
        let rings = bench.rim().rings();
        let newest = rings.newest()?;
        let rest = |hours: f64| rings.mean_between(began.plus_hours(-hours), began);
        let (rest_m, _) = rest(REST_H).or_else(|| rest(REST_AT_MOST_H))?;
        let until = began.plus_hours(AFTER_H);
        let quarters = rings.quarters_between(began.plus_hours(-BEFORE_H), until);
        let last = Some(&newest).filter(|newest| newest.time < until);
        Some(Self {
            began,
            seen: newest.time,
            out_m: newest.position_m - rest_m,
            rate: rim_line(rings, newest.time).map(Rate::from),
            course: quarters.chain(last).map(|sample| (sample.time, sample.position_m - rest_m)).collect(),
        })
    }
}
