//! The plant through a span, as the model follows it: height, growth, the rim.
//!
//! Readings of the span, and of three days before it so that the model has settled, go through the same code as the
//! service's; what it has cleaned of echoes, people and knocks is read off at the end of each step. On days that a long span tells by their
//! hours (`brief`) a height is that of the hour's mean, growth is told over a day only, and hours in which the range swung are left out.

use std::sync::Arc;

use bloom_model::bench::{Bench, degree_day_counter};
use bloom_model::degree_days::{RecordDegreeDays, Rule};
use bloom_model::growth::figures::{self, Rate};
use bloom_model::quantity::Quantity;
use bloom_model::quantity::by::ByVariable;
use bloom_model::ranging::{AirNow, Held, true_distance_m};
use bloom_model::reading::Observed;
use bloom_model::sign::{MovedMounts, Sign};
use bloom_model::spec::{BenchSpec, Mount, SiteSpec};
use bloom_model::time::Time;
use bloom_model::track::ring::{Rings, Sample};

use super::record::{BookedSign, Value};
use crate::store::Hours;

/// The model is told the readings of so long before the span, h.
pub(super) const SETTLING_H: f64 = 72.0;
/// A position at the end of a step is the mean over this time, h.
const POSITION_OVER_H: f64 = 10.0 / 60.0;
/// A position this old says nothing of the end of a step, h.
const POSITION_STALE_H: f64 = 1.0;
/// The rim's rest is its mean position over so long before the first crack, h.
const REST_H: f64 = 6.0;
/// The rim is shown from this time on, counted from the first crack, h.
const RIM_FROM_H: f64 = -12.0;
/// The rim is shown until this time, counted from the first crack, h.
const RIM_UNTIL_H: f64 = 48.0;

/// An hour in which the tip's range swung further than this is no hour of its plant alone, m: somebody stood below the ranger. Judgement:
/// many times its noise.
const ROUGH_M: f64 = 0.1;

/// What the plant was like at the end of a step. What is not known is `None`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct PlantFigures {
    /// Height, m.
    pub height_m: Option<f64>,
    /// Growth over the last hour.
    pub hour: Option<Rate>,
    /// Growth over the last day.
    pub day: Option<Rate>,
    /// How far the rim stands out, m, from the closed one.
    pub rim_m: Option<f64>,
    /// Advance of the rim over the last hour.
    pub rim_hour: Option<Rate>,
    /// Degree-days since counting began, °C·d.
    pub degree_days: Option<f64>,
    /// Days of record behind them.
    pub covered_days: f64,
}

/// Since when the bench is told its readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Since {
    /// Throughout.
    Ever,
    /// The hours of days in brief are the newest that is known.
    NotNow,
    /// From a reading on.
    Then(Time),
}

/// Follows a bench through its readings.
#[derive(Debug)]
pub(super) struct Follower {
    site: Arc<SiteSpec>,
    spec: BenchSpec,
    bench: Bench,
    /// How the rangers were hung anew, and how many of that the bench was told.
    moved: Vec<BookedSign>,
    told: usize,
    /// Heights by the hours in brief, and by the bench in between.
    course: Rings,
    since: Since,
    heat: RecordDegreeDays,
    heat_from: Time,
    began: Option<Time>,
    rim: Vec<Sample>,
}

impl Follower {
    /// A bench as configured, with the signs booked up to the end of the span.
    pub(super) fn new(
        site: &Arc<SiteSpec>,
        spec: &BenchSpec,
        signs: Vec<BookedSign>,
        heat_from: Time,
        began: Option<Time>,
    ) -> Self {
        // where the rangers hang is all that the signs are needed for
        let moved: Vec<BookedSign> =
            signs.into_iter().filter(|booked| matches!(booked.sign, Sign::MountMoved(_))).collect();
        Self {
            site: Arc::clone(site),
            spec: spec.clone(),
            bench: Bench::new(site, spec.clone()),
            moved,
            told: 0,
            course: Rings::default(),
            since: Since::Ever,
            heat: degree_day_counter(&spec.profile),
            heat_from,
            began,
            rim: Vec::new(),
        }
    }

    /// Takes a reading, in the order of time.
    pub(super) fn take(&mut self, reading: Value) {
        // the model's events are in the record already
        let mut events = Vec::new();
        if self.since == Since::NotNow {
            // what it held of the plant is of long ago
            self.bench = Bench::new(&self.site, self.spec.clone());
            self.told = 0;
            self.since = Since::Then(reading.time);
        }
        while let Some(booked) = self.moved.get(self.told).filter(|booked| booked.time <= reading.time) {
            self.bench.take(booked.time, &Observed::Sign(booked.sign), &mut events);
            self.told += 1;
        }
        self.bench.take(reading.time, &Observed::Value(reading.quantity, reading.value), &mut events);
        if let (Since::Then(_), Quantity::TipRange) = (self.since, reading.quantity)
            && let Some(newest) = self.bench.tip().rings().newest()
            && self.course.newest().is_none_or(|known| newest.time.hours_since(known.time) >= 0.25)
        {
            self.course.push(newest);
        }
        match reading.quantity {
            Quantity::Temperature if reading.time >= self.heat_from => {
                self.heat.take(reading.time, reading.value);
            }
            Quantity::RimRange => self.watch_rim(),
            _ => {}
        }
    }

    /// Takes an hour in brief, later than all before: the height by the mean of its ranges and of its air.
    pub(super) fn take_hour(&mut self, begins: Time, place: usize, day: &ByVariable<Hours>) {
        let middle = begins.plus_hours(0.5);
        let mean = |quantity: Quantity| day[quantity][place].map(|hour| hour.mean);
        if let Some(celsius) = mean(Quantity::Temperature).filter(|_| begins >= self.heat_from) {
            self.heat.take(middle, celsius);
        }
        self.since = Since::NotNow;
        let Some(range) = day[Quantity::TipRange][place] else { return };
        let moved_m = self.moved.iter().rev().filter(|booked| booked.time <= begins).find_map(|booked| {
            match booked.sign {
                Sign::MountMoved(MovedMounts { tip_m, .. }) => tip_m,
                _ => None,
            }
        });
        if let Some(mount) = self.spec.tip
            && range.greatest - range.least <= ROUGH_M
        {
            let mount = Mount { distance_m: moved_m.unwrap_or(mount.distance_m), ..mount };
            let held = |value: f64| Held::new(value, middle);
            let air = AirNow {
                temperature_c: mean(Quantity::Temperature).map(held),
                humidity_pct: mean(Quantity::Humidity).map(held),
            };
            let speed_m_s = air.speed_of_sound_m_s(self.site.pressure_kpa);
            let position_m = mount.distance_m - true_distance_m(range.mean, &mount, speed_m_s);
            let newest = self.course.newest().filter(|newest| middle.hours_since(newest.time) < 1.5);
            let from_m = newest.map_or(position_m, |newest| newest.position_m);
            // straight from the hour before to this one: growth over a day is told by quarters of an hour
            for share in [0.25, 0.5, 0.75, 1.0] {
                let time = middle.plus_hours(share - 1.0);
                if newest.map_or(share >= 1.0, |newest| newest.time < time) {
                    self.course.push(Sample { time, position_m: from_m + share * (position_m - from_m) });
                }
            }
        }
    }

    /// Keeps the rim's course about the first crack.
    fn watch_rim(&mut self) {
        let Some(began) = self.began else { return };
        let known = self
            .rim
            .last()
            .map_or(began.plus_hours(RIM_FROM_H), |sample| Time::from_unix_ms(sample.time.unix_ms() + 1));
        let until = began.plus_hours(RIM_UNTIL_H);
        self.rim.extend(
            self.bench.rim().rings().minutes_from(known).take_while(|sample| sample.time <= until).copied(),
        );
    }

    /// What the plant is like at the end of a step, all readings before it taken.
    pub(super) fn look(&self, now: Time) -> PlantFigures {
        let (tip, rim) = (self.bench.tip().rings(), self.bench.rim().rings());
        let settled = match self.since {
            Since::Ever => true,
            Since::NotNow => false,
            Since::Then(since) => now.hours_since(since) >= SETTLING_H,
        };
        let day = figures::daily(if settled { tip } else { &self.course }, now);
        let of_plant = if self.since == Since::NotNow {
            PlantFigures { height_m: position(&self.course, now), day, ..PlantFigures::default() }
        } else {
            PlantFigures {
                height_m: position(tip, now),
                hour: figures::hourly(tip, now),
                day,
                rim_m: position(rim, now),
                rim_hour: figures::hourly(rim, now),
                ..PlantFigures::default()
            }
        };
        PlantFigures {
            degree_days: (now > self.heat_from && self.heat.covered_days() > 0.0)
                .then(|| self.heat.degree_days()),
            covered_days: self.heat.covered_days(),
            ..of_plant
        }
    }

    /// The rim's course about the first crack, and where it rested before it.
    pub(super) fn rim(self) -> RimCourse {
        let rest_m = self.began.and_then(|began| {
            let rest: Vec<f64> = self
                .rim
                .iter()
                .filter(|sample| sample.time < began && sample.time >= began.plus_hours(-REST_H))
                .map(|sample| sample.position_m)
                .collect();
            (!rest.is_empty()).then(|| rest.iter().sum::<f64>() / rest.len() as f64)
        });
        RimCourse { samples: self.rim, rest_m }
    }

    /// How degree-days are counted.
    pub(super) const fn heat_rule(&self) -> Rule {
        *self.heat.rule()
    }
}

/// The rim about the first crack.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RimCourse {
    /// Its positions, minute by minute.
    pub samples: Vec<Sample>,
    /// Its mean position over the six hours before the first crack, m.
    pub rest_m: Option<f64>,
}

/// The mean of the ten minutes up to the newest position, if that is young enough.
fn position(rings: &Rings, now: Time) -> Option<f64> {
    let newest = rings.newest().filter(|newest| now.hours_since(newest.time) <= POSITION_STALE_H)?;
    let (sum, count) = rings
        .minutes_from(newest.time.plus_hours(-POSITION_OVER_H))
        .fold((0.0, 0_u32), |(sum, count), sample| (sum + sample.position_m, count + 1));
    (count > 0).then(|| sum / f64::from(count))
}

/// How growth over a day comes about.
pub(super) const DAILY_GROWTH: &str = "Growth over a day is how much higher the overhead ranger saw the tip over its last eight \
                                       hours than over the same hours of the day before, the median of all quarter hours.";
