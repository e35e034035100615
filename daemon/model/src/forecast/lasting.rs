//! How long such blooms have taken from one thing seen to the opening, by the published spreads and by earlier blooms.

use serde::{Deserialize, Serialize};

use crate::profile::Profile;
use crate::sign::PlainSign;
use crate::time::Time;

/// Standard normal deviate of the 90th percentile.
pub(super) const Z90: f64 = 1.2816;
/// Durations are taken as log-normal from this many days before the thing was seen, so that a sign seen an hour ago does not make
/// the next hour the likeliest of all.
const SEEN_LATE_D: f64 = 1.0;
/// The part of the spread that lies between plants, and not between the blooms of one plant. Not published: judged.
const OF_PLANT: f64 = 0.5;
/// The part of the spread that lies between houses. Not published: judged.
const OF_HOUSE: f64 = 0.25;
/// A colder or warmer house than the published ones shifts the days from emergence by this power of its degree-days a day:
/// less than in proportion, for the day of emergence and the plant count more (judgement).
const WARMTH_POWER: f64 = 0.3;

/// A duration, or another positive figure, as a two-piece log-normal: one in ten is lower, half, one in ten is higher.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    middle_ln: f64,
    below: f64,
    above: f64,
}

impl Span {
    /// From the 10th, 50th and 90th percentiles.
    pub(super) fn new(low: f64, likely: f64, high: f64) -> Self {
        let (low, likely) = (low.max(1e-3), likely.max(1e-3));
        Self {
            middle_ln: likely.ln(),
            below: ((likely / low).ln() / Z90).max(0.04),
            above: ((high / likely).ln() / Z90).max(0.04),
        }
    }

    /// Days counted from `SEEN_LATE_D` before the thing was seen.
    fn days(low: f64, likely: f64, high: f64) -> Self {
        Self::new(low + SEEN_LATE_D, likely + SEEN_LATE_D, high + SEEN_LATE_D)
    }

    fn deviate(self, value: f64) -> f64 {
        let off = value.max(1e-6).ln() - self.middle_ln;
        off / if off < 0.0 { self.below } else { self.above }
    }

    /// The value so many standard deviations from the middle.
    pub(super) fn at(self, deviate: f64) -> f64 {
        (self.middle_ln + deviate * if deviate < 0.0 { self.below } else { self.above }).exp()
    }

    /// Logarithm of the normal density of the value's logarithm, up to a constant.
    pub(super) fn log_normal(self, value: f64) -> f64 {
        let z = self.deviate(value);
        -0.5 * z * z
    }

    /// Logarithm of the density of a duration of `days`, up to a constant.
    pub(super) fn log_density(self, days: f64) -> f64 {
        let days = days.max(0.0) + SEEN_LATE_D;
        self.log_normal(days) - days.ln()
    }

    /// Shifted and narrowed by earlier values: the best linear prediction where values share `common` of their variance
    /// (Henderson 1975, best linear unbiased prediction, for equal covariances; from memory).
    fn learnt(self, earlier: &[f64], common: f64) -> Self {
        let count = earlier.len() as f64;
        if earlier.is_empty() {
            return self;
        }
        let mean = earlier.iter().map(|value| value.max(1e-3).ln() - self.middle_ln).sum::<f64>() / count;
        let trust = count * common / (1.0 + (count - 1.0) * common);
        let narrowed = (1.0 - trust * common).sqrt();
        Self {
            middle_ln: self.middle_ln + trust * mean,
            below: self.below * narrowed,
            above: self.above * narrowed,
        }
    }
}

/// What an earlier bloom took, in days; what was not seen is left out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Spans {
    /// From emergence to opening.
    pub emergence_to_opening_d: Option<f64>,
    /// From the spadix tip showing to opening.
    pub spadix_to_opening_d: Option<f64>,
    /// From growth falling below the slowing share to opening.
    pub slowing_to_opening_d: Option<f64>,
}

/// An earlier bloom.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EarlierBloom {
    /// Of this plant; else of another in the same house.
    pub of_this_plant: bool,
    /// What it took.
    pub spans: Spans,
}

/// The durations of this kind of plant, as this plant and this house have shown them.
pub(super) struct Lasting<'a> {
    profile: &'a Profile,
    earlier: &'a [EarlierBloom],
    warmth: f64,
}

/// What is known to have been seen: days gone since, and what such blooms take from there.
pub(super) struct Known {
    pub(super) start: (f64, Span),
    pub(super) signs: Vec<(f64, Span)>,
}

impl<'a> Lasting<'a> {
    pub(super) fn new(
        profile: &'a Profile,
        earlier: &'a [EarlierBloom],
        degree_days_a_day: Option<f64>,
    ) -> Self {
        let warmth = degree_days_a_day.map_or(1.0, |warm| {
            (profile.usual_degree_days_a_day / warm.max(0.5)).powf(WARMTH_POWER).clamp(0.7, 1.5)
        });
        Self { profile, earlier, warmth }
    }

    fn learnt(&self, span: Span, later_by: f64, value: impl Fn(&Spans) -> Option<f64>) -> Span {
        let of = |plant: bool| -> Vec<f64> {
            let those = self.earlier.iter().filter(|bloom| bloom.of_this_plant == plant);
            those.filter_map(|bloom| value(&bloom.spans)).map(|days| days + later_by).collect()
        };
        span.learnt(&of(false), OF_HOUSE).learnt(&of(true), OF_PLANT)
    }

    fn emergence(&self) -> Span {
        let p = self.profile;
        let [low, likely, high] = [
            p.emergence_to_opening_earliest_d,
            p.emergence_to_opening_likely_d,
            p.emergence_to_opening_latest_d,
        ]
        .map(|days| days * self.warmth);
        self.learnt(Span::days(low, likely, high), SEEN_LATE_D, |spans| spans.emergence_to_opening_d)
    }

    fn spadix(&self) -> Span {
        let p = self.profile;
        let span = Span::days(
            p.spadix_to_opening_earliest_d,
            p.spadix_to_opening_likely_d,
            p.spadix_to_opening_latest_d,
        );
        self.learnt(span, SEEN_LATE_D, |spans| spans.spadix_to_opening_d)
    }

    /// From growth falling below the slowing share, without a plateau. Not counted as [`Span::days`] are.
    pub(super) fn slowing(&self) -> Span {
        let p = self.profile;
        let span = Span::new(
            p.slowing_to_opening_earliest_d,
            p.slowing_to_opening_likely_d,
            p.slowing_to_opening_latest_d,
        );
        self.learnt(span, 0.0, |spans| spans.slowing_to_opening_d)
    }

    /// What was seen when, up to `now`.
    pub(super) fn known(
        &self,
        seen: (Time, Option<f64>),
        new_bud_m: f64,
        signs: &[(Time, PlainSign)],
        now: Time,
    ) -> Known {
        let p = self.profile;
        let first = |sign: PlainSign| {
            let times = signs.iter().filter(|(time, seen)| *seen == sign && *time <= now);
            times.map(|(time, _)| now.days_since(*time)).max_by(f64::total_cmp)
        };
        let start = match first(PlainSign::Emerged) {
            Some(gone) => (gone, self.emergence()),
            None if seen.1.is_none_or(|height_m| height_m <= new_bud_m) => {
                // a bud that was seen to grow had been above the soil for some days
                let span = self.emergence();
                (now.days_since(seen.0) + p.emergence_to_seen_d, span)
            }
            None => (
                now.days_since(seen.0),
                Span::days(
                    p.tall_to_opening_earliest_d,
                    p.tall_to_opening_likely_d,
                    p.tall_to_opening_latest_d,
                ),
            ),
        };
        let spans = [
            (PlainSign::SpadixVisible, self.spadix()),
            (
                PlainSign::EdgeColoured,
                Span::days(
                    p.colour_to_opening_earliest_d,
                    p.colour_to_opening_likely_d,
                    p.colour_to_opening_latest_d,
                ),
            ),
            (
                PlainSign::BractDropped,
                Span::days(
                    p.bract_to_opening_earliest_d,
                    p.bract_to_opening_likely_d,
                    p.bract_to_opening_latest_d,
                ),
            ),
            (
                PlainSign::LastBractDropped,
                Span::days(
                    p.last_bract_to_opening_earliest_d,
                    p.last_bract_to_opening_likely_d,
                    p.last_bract_to_opening_latest_d,
                ),
            ),
            (
                PlainSign::EdgeLoose,
                Span::days(
                    p.loose_to_opening_earliest_d,
                    p.loose_to_opening_likely_d,
                    p.loose_to_opening_latest_d,
                ),
            ),
            (
                PlainSign::Scent,
                Span::days(
                    p.scent_to_opening_earliest_d,
                    p.scent_to_opening_likely_d,
                    p.scent_to_opening_latest_d,
                ),
            ),
            (
                PlainSign::Flies,
                Span::days(
                    p.flies_to_opening_earliest_d,
                    p.flies_to_opening_likely_d,
                    p.flies_to_opening_latest_d,
                ),
            ),
        ];
        let signs = spans.into_iter().filter_map(|(sign, span)| Some((first(sign)?, span))).collect();
        Known { start, signs }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_are_those_given() {
        let span = Span::new(10.0, 13.0, 16.0);
        assert!((span.at(-Z90) - 10.0).abs() < 1e-9);
        assert!((span.at(0.0) - 13.0).abs() < 1e-9);
        assert!((span.at(Z90) - 16.0).abs() < 1e-9);
    }

    /// With half of the variance shared, one earlier value moves the middle half way and leaves three quarters of the variance;
    /// many move it all the way and leave half (intraclass correlation; Searle, Variance Components, 1992; from memory).
    #[test]
    fn earlier_blooms_shift_the_published_spread_by_what_they_deserve() {
        let published = Span::new(36.0, 48.0, 64.0);
        let one = published.learnt(&[60.0], 0.5);
        assert!((one.at(0.0) - (48.0_f64 * 60.0).sqrt()).abs() < 1e-9);
        assert!((one.above / published.above - 0.75_f64.sqrt()).abs() < 1e-12);
        let many = published.learnt(&[60.0; 1000], 0.5);
        assert!((many.at(0.0) - 60.0).abs() < 0.05);
        assert!((many.above / published.above - 0.5_f64.sqrt()).abs() < 1e-3);
        assert_eq!(published.learnt(&[], 0.5), published);
    }
}
