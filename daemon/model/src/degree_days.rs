//! Degree-days: warmth above a threshold, added up over time.
//!
//! The record itself is integrated ([`RecordDegreeDays`]): temperature runs straight from sample to sample and every stretch
//! is split where it crosses a threshold. The methods that know a day by its extremes only ([`DailyMethod`]) are for
//! comparing with published thresholds: a threshold is valid with the method it was fitted with, so method, thresholds and
//! cutoff stand beside every total (their `Display`).
//!
//! All of them rest on two integrals of a course of temperature: how far, and for what share of the time, it runs above a
//! threshold. Temperatures are in °C and totals in °C·d; the arithmetic is the same in °F and °F·d.

use std::f64::consts::{FRAC_PI_2, PI};
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::time::Time;

/// The temperatures between which development runs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Thresholds {
    /// Below it nothing counts, °C.
    pub lower_c: f64,
    /// Above it the [`Cutoff`] holds, °C; at least the lower threshold.
    pub upper_c: f64,
}

/// What warmth above the upper threshold is worth (Zalom, Goodell, Wilson, Barnett & Bentley 1983, Univ. California Leaflet
/// 21373; the intermediate form as `DD(lower) - 2 DD(upper)` from memory of it and of Roltsch and others 1999).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Cutoff {
    /// As much as below it: the upper threshold is not used.
    None,
    /// No more than the upper threshold itself: the rate stays constant.
    Horizontal,
    /// The rate falls by one for every degree above, also below zero: `DD(lower) - 2 DD(upper)`.
    Intermediate,
    /// The same, but never below zero at any moment.
    IntermediateFloored,
    /// Nothing at all; a temperature just at the upper threshold counts in full.
    Vertical,
}

/// Thresholds and cutoff: the rate of development as a function of temperature.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rule {
    /// Where it starts and where it ends.
    pub thresholds: Thresholds,
    /// What holds above.
    pub cutoff: Cutoff,
}

/// A course of temperature over a unit of time.
enum Course {
    /// Straight from one temperature to another.
    Straight(f64, f64),
    /// Half a period of a sine, from one extreme to the other.
    HalfSine(f64, f64),
}

impl Course {
    /// Integral of the excess over a threshold, and share of the time strictly above it.
    fn above(&self, threshold: f64) -> (f64, f64) {
        let (Self::Straight(a, b) | Self::HalfSine(a, b)) = *self;
        let (low, high) = (a.min(b), a.max(b));
        if high <= threshold {
            (0.0, 0.0)
        } else if low >= threshold {
            (low + (high - low) / 2.0 - threshold, 1.0)
        } else {
            let (reach, span) = (high - threshold, high - low);
            match self {
                Self::Straight(..) => (reach * reach / (2.0 * span), reach / span),
                Self::HalfSine(..) => {
                    let (mean, amplitude) = (low + span / 2.0, span / 2.0);
                    let crossing = ((threshold - mean) / amplitude).asin();
                    let share = (FRAC_PI_2 - crossing) / PI;
                    ((mean - threshold) * share + amplitude * crossing.cos() / PI, share)
                }
            }
        }
    }
}

impl Rule {
    /// Mean rate of development over a course, degrees: degree-days if it lasts a day.
    fn over(&self, course: &Course) -> f64 {
        let Thresholds { lower_c, upper_c } = self.thresholds;
        let (whole, _) = course.above(lower_c);
        if self.cutoff == Cutoff::None {
            return whole;
        }
        let (excess, share) = course.above(upper_c);
        match self.cutoff {
            Cutoff::None => whole,
            Cutoff::Horizontal => whole - excess,
            Cutoff::Intermediate => whole - 2.0 * excess,
            Cutoff::IntermediateFloored => {
                let (spent, _) = course.above(2.0 * upper_c - lower_c);
                whole - 2.0 * excess + spent
            }
            Cutoff::Vertical => whole - excess - (upper_c - lower_c) * share,
        }
    }

    /// Rate of development at one temperature, degrees.
    fn at(&self, temperature_c: f64) -> f64 {
        self.over(&Course::Straight(temperature_c, temperature_c))
    }
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Thresholds { lower_c, upper_c } = self.thresholds;
        write!(f, "lower threshold {lower_c} °C, ")?;
        let cutoff = match self.cutoff {
            Cutoff::None => return f.write_str("no cutoff"),
            Cutoff::Horizontal => "horizontal cutoff",
            Cutoff::Intermediate => "intermediate cutoff",
            Cutoff::IntermediateFloored => "intermediate cutoff not below zero",
            Cutoff::Vertical => "vertical cutoff",
        };
        write!(f, "upper threshold {upper_c} °C with {cutoff}")
    }
}

/// Degree-days of a record of temperatures, sample by sample.
///
/// A stretch between two samples that is longer than the greatest gap is not counted, and the time covered says so.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RecordDegreeDays {
    rule: Rule,
    greatest_gap_h: f64,
    newest: Option<(Time, f64)>,
    degree_days: f64,
    covered_days: f64,
}

impl RecordDegreeDays {
    /// Nothing counted yet. `greatest_gap_h` is the longest time between samples, in hours, over which temperature is taken
    /// to have run straight.
    pub const fn new(rule: Rule, greatest_gap_h: f64) -> Self {
        Self { rule, greatest_gap_h, newest: None, degree_days: 0.0, covered_days: 0.0 }
    }

    /// Takes the next sample; one that is no number, or no newer than the newest, is left out.
    pub fn take(&mut self, time: Time, temperature_c: f64) {
        if !temperature_c.is_finite() {
            return;
        }
        if let Some((before, from_c)) = self.newest {
            if time <= before {
                return;
            }
            if time.hours_since(before) <= self.greatest_gap_h {
                let days = time.days_since(before);
                self.degree_days += days * self.rule.over(&Course::Straight(from_c, temperature_c));
                self.covered_days += days;
            }
        }
        self.newest = Some((time, temperature_c));
    }

    /// The total, °C·d.
    pub const fn degree_days(&self) -> f64 {
        self.degree_days
    }

    /// Days of record behind the total: those that are missing lay in gaps.
    pub const fn covered_days(&self) -> f64 {
        self.covered_days
    }

    /// What the total was counted by.
    pub const fn rule(&self) -> &Rule {
        &self.rule
    }
}

impl fmt::Display for RecordDegreeDays {
    /// Method, thresholds and cutoff, to stand beside the total.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "integral of the record, {}", self.rule)
    }
}

/// What is known of a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayExtremes {
    /// Its lowest temperature, °C.
    pub min_c: f64,
    /// Its highest temperature, °C.
    pub max_c: f64,
    /// The lowest temperature of the next day, °C; only the double methods use it.
    pub next_min_c: f64,
}

/// The published ways to count a day by its extremes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum DailyMethod {
    /// Mean of the extremes less the lower threshold, with no limit at all: a cold day takes away.
    Average,
    /// Mean of the extremes, then the limits (McMaster & Wilhelm 1997, Agric. For. Meteorol. 87, 291–300, method 1).
    AverageThenLimits,
    /// Each extreme within the limits, then their mean (method 2 there; the averaging used for maize in °F with 86 and 50).
    LimitsThenAverage,
    /// Temperature straight from the minimum to the maximum, and back the same way (Zalom and others 1983).
    SingleTriangle,
    /// Straight up to the maximum, then straight down to the next day's minimum (Zalom and others 1983).
    DoubleTriangle,
    /// Half a sine from the minimum to the maximum, and back the same way (Baskerville & Emin 1969, Ecology 50, 514–517).
    SingleSine,
    /// Half a sine up, half a sine down to the next day's minimum (Allen 1976, Environ. Entomol. 5, 388–396).
    DoubleSine,
}

impl DailyMethod {
    /// Degree-days of one day, °C·d.
    pub fn degree_days(self, rule: &Rule, day: &DayExtremes) -> f64 {
        let DayExtremes { min_c, max_c, next_min_c } = *day;
        let mean_c = min_c + (max_c - min_c) / 2.0;
        let halves = |morning, evening| (rule.over(&morning) + rule.over(&evening)) / 2.0;
        match self {
            Self::Average => mean_c - rule.thresholds.lower_c,
            Self::AverageThenLimits => rule.at(mean_c),
            Self::LimitsThenAverage => (rule.at(min_c) + rule.at(max_c)) / 2.0,
            Self::SingleTriangle => rule.over(&Course::Straight(min_c, max_c)),
            Self::DoubleTriangle => {
                halves(Course::Straight(min_c, max_c), Course::Straight(max_c, next_min_c))
            }
            Self::SingleSine => rule.over(&Course::HalfSine(min_c, max_c)),
            Self::DoubleSine => halves(Course::HalfSine(min_c, max_c), Course::HalfSine(max_c, next_min_c)),
        }
    }
}

impl fmt::Display for DailyMethod {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Average => "daily average without limits",
            Self::AverageThenLimits => "daily average, then limits",
            Self::LimitsThenAverage => "limits, then daily average",
            Self::SingleTriangle => "single triangle",
            Self::DoubleTriangle => "double triangle",
            Self::SingleSine => "single sine",
            Self::DoubleSine => "double sine",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const CUTOFFS: [Cutoff; 5] = [
        Cutoff::None,
        Cutoff::Horizontal,
        Cutoff::Intermediate,
        Cutoff::IntermediateFloored,
        Cutoff::Vertical,
    ];

    fn rule(cutoff: Cutoff) -> Rule {
        Rule { thresholds: Thresholds { lower_c: 16.0, upper_c: 30.0 }, cutoff }
    }

    fn hours(hours: f64) -> Time {
        Time::from_unix_ms(1_800_000_000_000).plus_hours(hours)
    }

    proptest! {
        /// A straight stretch counts the same however it is cut into samples.
        #[test]
        fn a_sample_on_the_line_changes_nothing(from in -5.0..45.0_f64, to in -5.0..45.0_f64, at in 1..23_i32) {
            for cutoff in CUTOFFS {
                let mut whole = RecordDegreeDays::new(rule(cutoff), 24.0);
                whole.take(hours(0.0), from);
                whole.take(hours(24.0), to);
                let mut cut = RecordDegreeDays::new(rule(cutoff), 24.0);
                cut.take(hours(0.0), from);
                cut.take(hours(f64::from(at)), from + (to - from) * f64::from(at) / 24.0);
                cut.take(hours(24.0), to);
                prop_assert!((whole.degree_days() - cut.degree_days()).abs() < 1e-9, "{cutoff:?}");
            }
        }

        /// The order of the cutoffs, and the double methods on a day like the next.
        #[test]
        fn methods_and_cutoffs_keep_their_order(a in -5.0..45.0_f64, b in -5.0..45.0_f64) {
            let day = DayExtremes { min_c: a.min(b), max_c: a.max(b), next_min_c: a.min(b) };
            for method in [DailyMethod::SingleTriangle, DailyMethod::SingleSine] {
                let [none, horizontal, intermediate, floored, vertical] =
                    CUTOFFS.map(|cutoff| method.degree_days(&rule(cutoff), &day));
                prop_assert!(none >= horizontal && horizontal >= floored && floored >= intermediate - 1e-9);
                prop_assert!(horizontal >= vertical - 1e-9 && vertical > -1e-9 && floored > -1e-9);
            }
            for cutoff in CUTOFFS {
                for (single, double) in [
                    (DailyMethod::SingleTriangle, DailyMethod::DoubleTriangle),
                    (DailyMethod::SingleSine, DailyMethod::DoubleSine),
                ] {
                    let (once, twice) =
                        (single.degree_days(&rule(cutoff), &day), double.degree_days(&rule(cutoff), &day));
                    prop_assert!((once - twice).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn gaps_are_left_out_and_told() {
        let mut record = RecordDegreeDays::new(rule(Cutoff::Horizontal), 2.0);
        for (hour, temperature_c) in [(0.0, 20.0), (2.0, 20.0), (26.0, 20.0), (28.0, 20.0)] {
            record.take(hours(hour), temperature_c);
        }
        assert!((record.covered_days() - 4.0 / 24.0).abs() < 1e-12);
        assert!((record.degree_days() - 4.0 * 4.0 / 24.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_sample_is_left_out() {
        let mut record = RecordDegreeDays::new(rule(Cutoff::Vertical), 2.0);
        record.take(hours(0.0), 20.0);
        record.take(hours(1.0), f64::NAN);
        record.take(hours(0.0), 25.0);
        record.take(hours(-3.0), 25.0);
        record.take(hours(2.0), 20.0);
        assert!((record.covered_days() - 2.0 / 24.0).abs() < 1e-12);
        assert!((record.degree_days() - 4.0 * 2.0 / 24.0).abs() < 1e-12);
    }

    #[test]
    fn restarting_in_the_middle_changes_nothing() {
        let mut record = RecordDegreeDays::new(rule(Cutoff::IntermediateFloored), 2.0);
        record.take(hours(0.0), 14.0);
        record.take(hours(1.0), 33.0);
        let mut restored: RecordDegreeDays =
            serde_json::from_str(&serde_json::to_string(&record).unwrap()).unwrap();
        assert_eq!(restored, record);
        record.take(hours(2.0), 47.0);
        restored.take(hours(2.0), 47.0);
        assert_eq!(restored, record);
    }

    #[test]
    fn a_total_says_what_it_was_counted_by() {
        let record = RecordDegreeDays::new(rule(Cutoff::Horizontal), 2.0);
        assert_eq!(
            record.to_string(),
            "integral of the record, lower threshold 16 °C, upper threshold 30 °C with horizontal cutoff"
        );
        assert_eq!(rule(Cutoff::None).to_string(), "lower threshold 16 °C, no cutoff");
        assert_eq!(DailyMethod::SingleSine.to_string(), "single sine");
    }
}
