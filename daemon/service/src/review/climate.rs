//! The air of a span: what it was on average, how low and how high it went, how long it lay within its limits.
//!
//! A reading counts until the next one, if that comes before the quantity counts as silent; otherwise the time up to the
//! next is not measured and counts to nothing. Deficit and spread are taken from each instant at which temperature or
//! humidity was read and the other is no older than that, and averaged afterwards: the curves bend.

use bloom_model::air;
use bloom_model::spec::{Band, Limits};
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::calendar::Step;

/// Air nearer to its dew point than this may wet a surface: what radiates to a cold roof at night is a kelvin or two colder
/// than the air (the same threshold is in use for wet leaves: Sentelhas and others 2008, Agric. For. Meteorol. 148, 392-400,
/// from memory).
pub const NEAR_DEW_POINT_K: f64 = 2.0;

/// What is told of the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(usize)]
pub enum Air {
    /// Temperature, °C.
    Temperature,
    /// Relative humidity, %.
    Humidity,
    /// Vapour-pressure deficit, kPa.
    Deficit,
    /// Temperature less dew point, K.
    Spread,
}

impl Air {
    /// All of them, in the order of their numbers.
    pub const ALL: [Self; 4] = [Self::Temperature, Self::Humidity, Self::Deficit, Self::Spread];
}

/// The limits of each [`Air`]: first those of a warning, then those of an alarm.
pub type AirLimits = [[Option<Band>; 2]; 4];

/// A bench's limits, with the nearness of the dew point as those of the spread.
pub fn limits_of(limits: &Limits) -> AirLimits {
    let apart = Band { from: NEAR_DEW_POINT_K, to: f64::INFINITY };
    [
        [limits.temperature_c, limits.alarm_temperature_c],
        [limits.humidity_pct, limits.alarm_humidity_pct],
        [limits.vpd_kpa, limits.alarm_vpd_kpa],
        [Some(apart), None],
    ]
}

/// A value and when it was first read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extreme {
    /// The value.
    pub value: f64,
    /// When.
    pub time: Time,
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
        let now = Extreme { value, time };
        if self.lowest.is_none_or(|lowest| value < lowest.value) {
            self.lowest = Some(now);
        }
        if self.highest.is_none_or(|highest| value > highest.value) {
            self.highest = Some(now);
        }
    }

    fn stretch(&mut self, hours: f64, value: f64, limits: &[Option<Band>; 2]) {
        self.measured_h += hours;
        self.integral += value * hours;
        for (beyond, band) in self.beyond.iter_mut().zip(limits) {
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
        for extreme in [later.lowest, later.highest].into_iter().flatten() {
            self.sample(extreme.time, extreme.value);
        }
    }
}

/// Adds up steps.
pub fn sum<'a>(parts: impl IntoIterator<Item = &'a [Figures; 4]>) -> [Figures; 4] {
    let mut whole = [Figures::default(); 4];
    for part in parts {
        for (mine, theirs) in whole.iter_mut().zip(part) {
            mine.add(theirs);
        }
    }
    whole
}

/// Gathers the figures of each step from readings in the order of time.
#[derive(Debug)]
pub(super) struct Gatherer<'a> {
    steps: &'a [Step],
    limits: AirLimits,
    longest: TimeDelta,
    newest: [Option<(Time, f64)>; 4],
    place: usize,
    figures: Vec<[Figures; 4]>,
}

impl<'a> Gatherer<'a> {
    /// `longest` is how long a reading counts at most.
    pub(super) fn new(steps: &'a [Step], limits: AirLimits, longest: TimeDelta) -> Self {
        let figures = vec![[Figures::default(); 4]; steps.len()];
        Self { steps, limits, longest, newest: [None; 4], place: 0, figures }
    }

    /// Takes what was read of the air at one instant, later than all before.
    pub(super) fn take(&mut self, time: Time, temperature_c: Option<f64>, humidity_pct: Option<f64>) {
        for (of, value) in [(Air::Temperature, temperature_c), (Air::Humidity, humidity_pct)] {
            if let Some(value) = value {
                self.put(of, time, value);
            }
        }
        let fresh = |of: Air| {
            self.newest[of as usize].filter(|(read, _)| time - *read <= self.longest).map(|(_, value)| value)
        };
        if let (Some(temperature_c), Some(humidity_pct)) = (fresh(Air::Temperature), fresh(Air::Humidity)) {
            self.put(Air::Deficit, time, air::vapour_pressure_deficit_kpa(temperature_c, humidity_pct));
            if let Some(dew_point_c) = air::dew_point_c(temperature_c, humidity_pct) {
                self.put(Air::Spread, time, temperature_c - dew_point_c);
            }
        }
    }

    fn put(&mut self, of: Air, time: Time, value: f64) {
        let before = self.newest[of as usize].replace((time, value));
        if let Some((since, held)) = before
            && time - since <= self.longest
        {
            self.spread(of, since, time, held);
        }
        if let Some(place) = self.step_of(time) {
            self.figures[place][of as usize].sample(time, value);
        }
    }

    /// Lays a held value over the steps that it reaches over.
    fn spread(&mut self, of: Air, since: Time, until: Time, value: f64) {
        let first = self.steps.partition_point(|step| step.until <= since);
        for (step, figures) in self.steps[first..].iter().zip(&mut self.figures[first..]) {
            if step.from >= until {
                break;
            }
            let hours = until.min(step.until).hours_since(since.max(step.from));
            figures[of as usize].stretch(hours, value, &self.limits[of as usize]);
        }
    }

    fn step_of(&mut self, time: Time) -> Option<usize> {
        let within = |step: &Step| step.from <= time && time < step.until;
        if !self.steps.get(self.place).is_some_and(within) {
            self.place = self.steps.partition_point(|step| step.until <= time);
        }
        self.steps.get(self.place).is_some_and(within).then_some(self.place)
    }

    pub(super) fn finish(self) -> Vec<[Figures; 4]> {
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
        let limits =
            limits_of(&Limits { temperature_c: Some(Band { from: 15.0, to: 25.0 }), ..Limits::default() });
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
            gatherer.take(hour(hours), Some(celsius), None);
        }
        let figures = gatherer.finish();
        let of = |place: usize| figures[place][Air::Temperature as usize];
        assert!((of(0).measured_h - 0.75).abs() < 1e-9, "{:?}", of(0));
        assert!((of(0).mean().unwrap() - (0.5 * 20.0 + 0.25 * 30.0) / 0.75).abs() < 1e-9);
        assert!((of(0).beyond[0].above_h - 0.25).abs() < 1e-9);
        assert_eq!(of(0).highest.unwrap().time, hour(0.5));
        assert!((of(1).measured_h - 0.25).abs() < 1e-9);
        assert!((of(1).beyond[0].below_h - 0.25).abs() < 1e-9);
        assert!((of(2).measured_h - 0.1).abs() < 1e-9, "cut at the end of the span");
        assert_eq!(of(2).lowest.unwrap().value.to_bits(), 12.0_f64.to_bits());
        let whole = sum(&figures)[Air::Temperature as usize];
        assert!((whole.measured_h - 1.1).abs() < 1e-9);
        assert_eq!(whole.lowest.unwrap().time, hour(1.25));
        assert_eq!(figures[0][Air::Deficit as usize], Figures::default(), "no humidity, no deficit");
    }

    #[test]
    fn deficit_and_spread_need_both_and_none_too_old() {
        let (_, steps) = steps(hour(0.0), hour(2.0), chrono_tz::UTC);
        let mut gatherer = Gatherer::new(&steps, limits_of(&Limits::default()), TimeDelta::minutes(15));
        gatherer.take(hour(0.0), Some(20.0), None);
        gatherer.take(hour(0.1), None, Some(100.0));
        gatherer.take(hour(0.2), None, Some(100.0));
        gatherer.take(hour(0.3), None, Some(100.0));
        let figures = gatherer.finish()[0];
        let spread = figures[Air::Spread as usize];
        assert!((spread.measured_h - 0.1).abs() < 1e-9, "{spread:?}");
        assert!((spread.beyond[0].below_h - 0.1).abs() < 1e-9, "saturated air is at its dew point");
        assert!((figures[Air::Humidity as usize].measured_h - 0.2).abs() < 1e-9);
    }
}
