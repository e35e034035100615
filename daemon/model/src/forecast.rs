//! Days ahead: when it will open, as a distribution over the coming days.
//!
//! Each anchor that is known (emergence, the spadix tip showing, growth slowing, the last bract) says how long such blooms have
//! taken from there, as a two-piece log-normal through the profile's published earliest, likely and latest. The densities are
//! multiplied, conditioned on "not yet", and mixed with a flat share, for growth that stops is no proof of opening.

use chrono::Days;
use chrono_tz::Tz;

use crate::event::OpeningDates;
use crate::profile::Profile;
use crate::time::Time;

/// Days ahead that are weighed.
const HORIZON_D: usize = 150;
/// Share of the distribution that no anchor can take away, spread over `FLAT_D` days.
const FLAT_SHARE: f64 = 0.06;
const FLAT_D: usize = 30;
/// Standard normal deviate of the 90th percentile.
const Z90: f64 = 1.2816;
/// Chance of opening today, tomorrow, … while growth is still near its peak: in eight published series the last day's growth
/// was 0 to 0.5 of the peak, so full growth today leaves little for the next days (judgement on those series).
const WHILE_GROWING: [f64; 4] = [0.04, 0.12, 0.35, 0.7];

/// What the forecast goes by.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Anchors {
    /// The bud came through the soil.
    pub emerged: Option<Time>,
    /// Growth was established by a sensor or the tape; stands in for emergence where that was not booked.
    pub seen: Option<Time>,
    /// The spadix tip shows.
    pub spadix_visible: Option<Time>,
    /// Growth fell below the slowing share of its peak.
    pub slowed: Option<Time>,
    /// The last bract fell.
    pub last_bract: Option<Time>,
    /// Growth over the last day as a share of its peak.
    pub growth_share: Option<f64>,
}

/// The forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// The 80 % window.
    pub opens: OpeningDates,
    /// Chance of opening within the coming day.
    pub probability_tonight: f64,
}

/// Days taken in such blooms: one in ten fewer than the first, half fewer than the second, one in ten more than the third.
#[derive(Debug, Clone, Copy)]
struct Taken(f64, f64, f64);

impl Taken {
    /// Logarithm of the density at `days`, up to a constant.
    fn log_density(self, days: f64) -> f64 {
        let Self(early, likely, late) = self;
        let days = days.max(0.05);
        let sd = if days < likely { (likely / early.max(0.1)).ln() } else { (late / likely).ln() } / Z90;
        let z = (days / likely).ln() / sd.max(0.05);
        -0.5 * z * z - days.ln()
    }
}

/// Weighs the anchors. `None` where nothing is known to go by.
pub fn forecast(anchors: &Anchors, now: Time, profile: &Profile, zone: Tz) -> Option<Forecast> {
    let p = profile;
    let emergence = Taken(
        p.emergence_to_opening_earliest_d,
        p.emergence_to_opening_likely_d,
        p.emergence_to_opening_latest_d,
    );
    // a bud that a sensor saw had been above the soil for a week or so, more or less
    let seen = Taken(emergence.0 * 0.6, emergence.1 * 0.85, emergence.2);
    let spadix =
        Taken(p.spadix_to_opening_earliest_d, p.spadix_to_opening_likely_d, p.spadix_to_opening_latest_d);
    let slowing =
        Taken(p.slowing_to_opening_earliest_d, p.slowing_to_opening_likely_d, p.slowing_to_opening_latest_d);
    let bract = Taken(0.3, p.last_bract_to_opening_likely_d, p.last_bract_to_opening_latest_d);

    let known: Vec<(Time, Taken)> = [
        (anchors.emerged, emergence),
        (if anchors.emerged.is_none() { anchors.seen } else { None }, seen),
        (anchors.spadix_visible, spadix),
        (anchors.slowed, slowing),
        (anchors.last_bract, bract),
    ]
    .into_iter()
    .filter_map(|(time, taken)| Some((time?, taken)))
    .collect();
    if known.is_empty() {
        return None;
    }

    let mut weights: Vec<f64> = (0..HORIZON_D)
        .map(|day| {
            known
                .iter()
                .map(|(from, taken)| taken.log_density(now.days_since(*from) + day as f64 + 0.5))
                .sum()
        })
        .collect();
    let highest = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    for (day, weight) in weights.iter_mut().enumerate() {
        *weight = (*weight - highest).exp();
        if anchors.growth_share.is_some_and(|share| share > 0.75)
            && let Some(factor) = WHILE_GROWING.get(day)
        {
            *weight *= factor;
        }
    }
    let total: f64 = weights.iter().sum();
    for (day, weight) in weights.iter_mut().enumerate() {
        let flat = if day < FLAT_D { FLAT_SHARE / FLAT_D as f64 } else { 0.0 };
        *weight = (1.0 - FLAT_SHARE) * *weight / total + flat;
    }

    let day_at = |share: f64| {
        let mut sum = 0.0;
        weights
            .iter()
            .position(|weight| {
                sum += weight;
                sum >= share
            })
            .unwrap_or(HORIZON_D - 1)
    };
    let today = now.local_date(zone);
    let date = |share: f64| today + Days::new(day_at(share) as u64);
    Some(Forecast {
        opens: OpeningDates { earliest: date(0.1), likely: date(0.5), latest: date(0.9) },
        probability_tonight: weights.first().copied().unwrap_or_default(),
    })
}
