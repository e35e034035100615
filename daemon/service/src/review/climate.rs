//! The climate of a span: what it was on average, how low and how high it went, how long it lay within its limits.
//!
//! A reading counts until the next one, if that comes before the quantity counts as silent; otherwise the time up to the
//! next is not measured and counts to nothing. Deficit and spread are taken from each instant at which temperature or
//! humidity was read and the other is no older than that, and averaged afterwards: the curves bend.
//!
//! Days of a long span come in hours, each with its least, mean and greatest (`brief`). How long such an hour lay beyond a limit that it
//! crossed is reckoned from the three.

use bloom_model::quantity::by::ByVariable;
use bloom_model::quantity::{Derived, Quantity, Variable};
use bloom_model::spec::{Band, Bands, Limits};
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::calendar::Step;
use crate::store::{Hour, Hours};

/// Air nearer to its dew point than this may wet a surface: what radiates to a cold roof at night is a kelvin or two colder
/// than the air (the same threshold is in use for wet leaves: Sentelhas and others 2008, Agric. For. Meteorol. 148, 392-400,
/// from memory).
pub const NEAR_DEW_POINT_K: f64 = 2.0;

/// A bench's limits, with the nearness of the dew point as those of the spread.
pub fn limits_of(limits: &Limits) -> Limits {
    let apart = Band { from: NEAR_DEW_POINT_K, to: f64::INFINITY };
    let mut limits = *limits;
    limits[Variable::SPREAD] = Bands { warning: Some(apart), alarm: None };
    limits
}

/// A value and when it was first read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extreme {
    /// The value.
    pub value: f64,
    /// When.
    pub time: Time,
    /// Known only to lie in the hour that begins then.
    pub(super) within_hour: bool,
}

/// Hours on either side of a pair of limits.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Beyond {
    /// Hours below.
    pub below_h: f64,
    /// Hours above.
    pub above_h: f64,
}

/// One quantity over some time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Figures {
    /// The lowest reading.
    pub lowest: Option<Extreme>,
    /// The highest reading.
    pub highest: Option<Extreme>,
    /// Hours measured.
    pub measured_h: f64,
    /// Value times hours.
    integral: f64,
    /// Hours outside the warning's and the alarm's limits.
    pub beyond: [Beyond; 2],
}

impl Figures {
    /// The mean over the time measured.
    pub fn mean(&self) -> Option<f64> {
        (self.measured_h > 0.0).then(|| self.integral / self.measured_h)
    }

    fn sample(&mut self, time: Time, value: f64) {
        let now = Extreme { value, time, within_hour: false };
        self.extremes(now, now);
    }

    fn extremes(&mut self, low: Extreme, high: Extreme) {
        if self.lowest.is_none_or(|lowest| low.value < lowest.value) {
            self.lowest = Some(low);
        }
        if self.highest.is_none_or(|highest| high.value > highest.value) {
            self.highest = Some(high);
        }
    }

    /// Takes in an hour in brief.
    fn hour(&mut self, begins: Time, hour: &Hour, limits: &Bands) {
        let extreme = |value| Extreme { value, time: begins, within_hour: true };
        self.extremes(extreme(hour.least), extreme(hour.greatest));
        self.measured_h += 1.0;
        self.integral += hour.mean;
        for (beyond, band) in self.beyond.iter_mut().zip([limits.warning, limits.alarm]) {
            let Some(band) = band else { continue };
            beyond.below_h += share_below(hour, band.from);
            beyond.above_h += 1.0 - share_below(hour, band.to.next_up());
        }
    }

    fn stretch(&mut self, hours: f64, value: f64, limits: &Bands) {
        self.measured_h += hours;
        self.integral += value * hours;
        for (beyond, band) in self.beyond.iter_mut().zip([limits.warning, limits.alarm]) {
            match band {
                Some(band) if value < band.from => beyond.below_h += hours,
                Some(band) if value > band.to => beyond.above_h += hours,
                _ => {}
            }
        }
    }

    /// Adds what lies later.
    pub fn add(&mut self, later: &Self) {
        self.measured_h += later.measured_h;
        self.integral += later.integral;
        for (mine, theirs) in self.beyond.iter_mut().zip(&later.beyond) {
            mine.below_h += theirs.below_h;
            mine.above_h += theirs.above_h;
        }
        if let (Some(lowest), Some(highest)) = (later.lowest, later.highest) {
            self.extremes(lowest, highest);
        }
    }
}

/// The share of an hour in which a value lay below a bound, by its least, mean and greatest: spread evenly from the least to the mean
/// and from there to the greatest, as much on either side as makes that mean.
fn share_below(hour: &Hour, bound: f64) -> f64 {
    let Hour { least, mean, greatest, .. } = *hour;
    if bound <= least {
        0.0
    } else if bound > greatest {
        1.0
    } else {
        let lower = (greatest - mean) / (greatest - least);
        if bound <= mean {
            lower * (bound - least) / (mean - least)
        } else {
            lower + (1.0 - lower) * (bound - mean) / (greatest - mean)
        }
    }
}

/// The figures of all quantities over some time.
pub type ClimateFigures = ByVariable<Figures>;

/// Adds up steps.
pub fn sum<'a>(parts: impl IntoIterator<Item = &'a ClimateFigures>) -> ClimateFigures {
    let mut whole = ClimateFigures::default();
    for part in parts {
        for of in Variable::pictured() {
            whole[of].add(&part[of]);
        }
    }
    whole
}

/// Gathers the figures of each step from readings in the order of time.
#[derive(Debug)]
pub(super) struct Gatherer<'a> {
    steps: &'a [Step],
    limits: Limits,
    longest: TimeDelta,
    newest: ByVariable<Option<(Time, f64)>>,
    place: usize,
    figures: Vec<ClimateFigures>,
}

impl<'a> Gatherer<'a> {
    /// `longest` is how long a reading counts at most.
    pub(super) fn new(steps: &'a [Step], limits: Limits, longest: TimeDelta) -> Self {
        let figures = vec![ClimateFigures::default(); steps.len()];
        Self { steps, limits, longest, newest: ByVariable::default(), place: 0, figures }
    }

    /// Takes what was read at one instant, later than all before.
    pub(super) fn take(&mut self, time: Time, read: &[(Quantity, f64)]) {
        for (quantity, value) in read {
            if Variable::from(*quantity).picture().is_some() {
                self.put((*quantity).into(), time, *value);
            }
        }
        for derived in Derived::ALL {
            let [one, other] = derived.parts();
            let fresh = |of: Quantity| {
                self.newest[of].filter(|(read, _)| time - *read <= self.longest).map(|(_, value)| value)
            };
            if read.iter().any(|(quantity, _)| derived.parts().contains(quantity))
                && let (Some(one), Some(other)) = (fresh(one), fresh(other))
                && let Some(value) = derived.of_air(one, other)
            {
                self.put(derived.into(), time, value);
            }
        }
    }

    fn put(&mut self, of: Variable, time: Time, value: f64) {
        let before = self.newest[of].replace((time, value));
        if let Some((since, held)) = before
            && time - since <= self.longest
        {
            self.spread(of, since, time, held);
        }
        if let Some(place) = self.step_of(time) {
            self.figures[place][of].sample(time, value);
        }
    }

    /// Takes an hour in brief, which lies within one step.
    pub(super) fn take_hour(&mut self, begins: Time, place: usize, day: &ByVariable<Hours>) {
        for of in Variable::pictured() {
            let Some(hour) = &day[of][place] else { continue };
            let before = self.newest[of].replace((begins.plus_hours(1.0), hour.mean));
            if let Some((since, held)) = before
                && begins - since <= self.longest
            {
                self.spread(of, since, begins, held);
            }
            if let Some(step) = self.step_of(begins) {
                self.figures[step][of].hour(begins, hour, &self.limits[of]);
            }
        }
    }

    /// Lays a held value over the steps that it reaches over.
    fn spread(&mut self, of: Variable, since: Time, until: Time, value: f64) {
        let first = self.first_after(since);
        for (step, figures) in self.steps[first..].iter().zip(&mut self.figures[first..]) {
            if step.from >= until {
                break;
            }
            let hours = until.min(step.until).hours_since(since.max(step.from));
            figures[of].stretch(hours, value, &self.limits[of]);
        }
    }

    /// The first step that ends after an instant, which is hardly ever far from the present one.
    fn first_after(&self, time: Time) -> usize {
        let ends_after = |place: usize| self.steps.get(place).is_some_and(|step| step.until > time);
        let mut place = self.place;
        while place > 0 && ends_after(place - 1) {
            place -= 1;
        }
        while place < self.steps.len() && !ends_after(place) {
            place += 1;
        }
        place
    }

    fn step_of(&mut self, time: Time) -> Option<usize> {
        let within = |step: &Step| step.from <= time && time < step.until;
        if !self.steps.get(self.place).is_some_and(within) {
            self.place = self.steps.partition_point(|step| step.until <= time);
        }
        self.steps.get(self.place).is_some_and(within).then_some(self.place)
    }

    pub(super) fn finish(self) -> Vec<ClimateFigures> {
        self.figures
    }
}

#[cfg(test)]
mod tests {
    use super::super::calendar::steps;
    use super::*;

    fn hour(hours: f64) -> Time {
        Time::from_unix_ms(1_811_808_000_000).plus_hours(hours)
    }

    /// Three hours: 20 °C for half an hour, 30 °C for a quarter, 30 minutes without a reading, then 10 °C past the end.
    #[test]
    fn a_reading_counts_until_the_next_and_a_gap_for_nothing() {
        let (_, steps) = steps(hour(0.0), hour(3.0), chrono_tz::UTC);
        let mut limits = Limits::default();
        limits[Variable::TEMPERATURE].warning = Some(Band { from: 15.0, to: 25.0 });
        let mut gatherer = Gatherer::new(&steps, limits, TimeDelta::minutes(15));
        for (hours, celsius) in [
            (-0.1, 20.0),
            (0.1, 20.0),
            (0.25, 20.0),
            (0.5, 30.0),
            (0.75, 20.0),
            (1.25, 10.0),
            (1.5, 10.0),
            (2.9, 12.0),
            (3.1, 12.0),
        ] {
            gatherer.take(hour(hours), &[(Quantity::Temperature, celsius)]);
        }
        let figures = gatherer.finish();
        let of = |place: usize| figures[place][Variable::TEMPERATURE];
        assert!((of(0).measured_h - 0.75).abs() < 1e-9, "{:?}", of(0));
        assert!((of(0).mean().unwrap() - (0.5 * 20.0 + 0.25 * 30.0) / 0.75).abs() < 1e-9);
        assert!((of(0).beyond[0].above_h - 0.25).abs() < 1e-9);
        assert_eq!(of(0).highest.unwrap().time, hour(0.5));
        assert!((of(1).measured_h - 0.25).abs() < 1e-9);
        assert!((of(1).beyond[0].below_h - 0.25).abs() < 1e-9);
        assert!((of(2).measured_h - 0.1).abs() < 1e-9, "cut at the end of the span");
        assert_eq!(of(2).lowest.unwrap().value.to_bits(), 12.0_f64.to_bits());
        let whole = sum(&figures)[Variable::TEMPERATURE];
        assert!((whole.measured_h - 1.1).abs() < 1e-9);
        assert_eq!(whole.lowest.unwrap().time, hour(1.25));
        assert_eq!(figures[0][Variable::DEFICIT], Figures::default(), "no humidity, no deficit");
    }

    #[test]
    fn an_hour_that_crosses_a_limit_lies_beyond_it_in_part() {
        let hour = Hour { readings: 360, least: 10.0, mean: 12.0, greatest: 20.0, silent_min: 1 };
        let share = |bound: f64| share_below(&hour, bound);
        assert!(share(10.0).abs() < 1e-12 && (share(20.1) - 1.0).abs() < 1e-12);
        assert!((share(12.0) - 0.8).abs() < 1e-12, "as much on either side as makes the mean");
        assert!((share(11.0) - 0.4).abs() < 1e-12 && (share(16.0) - 0.9).abs() < 1e-12);
        let steady = Hour { least: 15.0, mean: 15.0, greatest: 15.0, ..hour };
        assert!(share_below(&steady, 15.0).abs() < 1e-12, "at the limit is within");
        let mut figures = Figures::default();
        let bands = Bands { warning: Some(Band { from: 15.0, to: 15.0 }), alarm: None };
        figures.hour(self::hour(0.0), &steady, &bands);
        assert_eq!(figures.beyond[0], Beyond::default());
    }

    #[test]
    fn deficit_and_spread_need_both_and_none_too_old() {
        let (_, steps) = steps(hour(0.0), hour(2.0), chrono_tz::UTC);
        let mut gatherer = Gatherer::new(&steps, limits_of(&Limits::default()), TimeDelta::minutes(15));
        gatherer.take(hour(0.0), &[(Quantity::Temperature, 20.0)]);
        for hours in [0.1, 0.2, 0.3] {
            gatherer.take(hour(hours), &[(Quantity::Humidity, 100.0)]);
        }
        let figures = gatherer.finish()[0];
        let spread = figures[Variable::SPREAD];
        assert!((spread.measured_h - 0.1).abs() < 1e-9, "{spread:?}");
        assert!((spread.beyond[0].below_h - 0.1).abs() < 1e-9, "saturated air is at its dew point");
        assert!((figures[Variable::HUMIDITY].measured_h - 0.2).abs() < 1e-9);
    }
}
