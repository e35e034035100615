//! What the sensors and the people of a bench say, in time order.

use std::collections::VecDeque;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;

pub use crate::bookings::Observation;
use crate::dice::{Concern, Dice};
use crate::edge::Heard;
use crate::ranger::{RUN_SALT, RangerRun};
use crate::season::Season;

/// A spadix without heat of its own follows the air with this time constant, h: some half of what water 8 cm across takes in still air, for a
/// spadix is spongy (reckoned, not measured).
const SPADIX_FOLLOWS_H: f64 = 2.5;

/// An iterator over everything that is said in a season.
#[derive(Debug)]
pub struct Observations<'a> {
    season: &'a Season,
    tip: Option<RangerRun<'a>>,
    rim: Option<RangerRun<'a>>,
    air_noise: Dice,
    edge: Dice,
    lagged_c: Option<(f64, f64)>,
    /// The hour, and the temperature of a spadix that makes no heat.
    followed_c: Option<(f64, f64)>,
    frozen_c: Option<f64>,
    said_c: f64,
    interval_h: f64,
    tick: u64,
    ticks: u64,
    booked: usize,
    waiting: VecDeque<Observation>,
}

impl Season {
    /// Everything that sensors and people say, in time order.
    pub fn observations(&self) -> Observations<'_> {
        Observations::new(self)
    }
}

impl<'a> Observations<'a> {
    pub(crate) fn new(season: &'a Season) -> Self {
        let interval_s = season.options.interval_s.clamp(1, 3600);
        Self {
            season,
            tip: season.tip.as_ref().map(|ranger| RangerRun::new(ranger, season.seed)),
            rim: season.rim.as_ref().map(|ranger| RangerRun::new(ranger, season.seed)),
            air_noise: Dice::new(season.seed ^ RUN_SALT, Concern::AirNoise),
            edge: Dice::new(season.seed ^ RUN_SALT, Concern::Edge),
            lagged_c: None,
            followed_c: None,
            frozen_c: None,
            said_c: f64::NAN,
            interval_h: f64::from(interval_s) / 3600.0,
            tick: 0,
            ticks: season.hours as u64 * 3600 / u64::from(interval_s),
            booked: 0,
            waiting: VecDeque::with_capacity(16),
        }
    }

    /// Everything said up to the next tick of the sensors.
    fn fill(&mut self) {
        let season = self.season;
        let hour = self.tick as f64 * self.interval_h;
        let time = season.calendar.time(hour);
        self.tick += 1;
        while let Some(booking) = season.bookings.get(self.booked).filter(|booking| booking.time <= time) {
            self.waiting.push_back(*booking);
            self.booked += 1;
        }

        // every sensor is asked at every tick, so that its draws do not hang on what else happens
        let air = season.house.air(hour);
        let thermometer_c = self.thermometer_c(hour, air.bench_c);
        let humidity_pct = air.humidity_pct + 0.4 * self.air_noise.normal();
        let spadix_c = self.spadix_without_heat_c(hour, air.bench_c)
            + season.spadix_above_air_k(hour)
            + 0.15 * self.air_noise.normal();
        let tip_m = self.tip.as_mut().and_then(|tip| {
            tip.report(hour, Heard::Plant(season.height_at_m(hour)), air.overhead_speed_m_s())
        });
        let heard = season.hearing.at(hour, &season.spathe, &mut self.edge);
        let rim_m = self.rim.as_mut().and_then(|rim| rim.report(hour, heard, air.side_speed_m_s()));
        let hangs = hour >= season.hung_h;
        if season.power_cuts.at(hour).is_some() {
            return;
        }

        let options = &season.options;
        let said = [
            (Quantity::Temperature, options.temperature.then_some(thermometer_c)),
            (Quantity::Humidity, options.humidity.then(|| (humidity_pct * 10.0).round() / 10.0)),
            (Quantity::TipRange, tip_m.filter(|_| hangs)),
            (Quantity::RimRange, rim_m.filter(|_| hangs)),
            (Quantity::SpadixTemperature, options.spadix_temperature.then(|| hundredths(spadix_c))),
        ];
        for (quantity, value) in said {
            if let Some(value) = value.and_then(|value| quantity.possible(value.min(most(quantity))).ok()) {
                self.waiting.push_back(Observation { time, observed: Observed::Value(quantity, value) });
            }
        }
    }

    /// A spadix follows the air as a body of its mass does.
    fn spadix_without_heat_c(&mut self, hour: f64, bench_c: f64) -> f64 {
        let (at_h, was_c) = self.followed_c.unwrap_or((hour, bench_c));
        let followed_c = bench_c + (was_c - bench_c) * (-(hour - at_h) / SPADIX_FOLLOWS_H).exp();
        self.followed_c = Some((hour, followed_c));
        followed_c
    }

    fn thermometer_c(&mut self, hour: f64, bench_c: f64) -> f64 {
        let thermometer = &self.season.thermometer;
        let (at_h, was_c) = self.lagged_c.unwrap_or((hour, bench_c));
        let felt_c = if thermometer.lag_h > 0.0 {
            bench_c + (was_c - bench_c) * (-(hour - at_h) / thermometer.lag_h).exp()
        } else {
            bench_c
        };
        self.lagged_c = Some((hour, felt_c));
        let fresh_c = hundredths(felt_c + thermometer.bias_c + 0.03 * self.air_noise.normal());
        if thermometer.stuck.at(hour).is_some() {
            let last_c = if self.said_c.is_nan() { fresh_c } else { self.said_c };
            return *self.frozen_c.get_or_insert(last_c);
        }
        self.frozen_c = None;
        self.said_c = fresh_c;
        fresh_c
    }
}

fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// A hygrometer in saturated air reads 100 at most.
const fn most(quantity: Quantity) -> f64 {
    if matches!(quantity, Quantity::Humidity) { 100.0 } else { f64::INFINITY }
}

impl Iterator for Observations<'_> {
    type Item = Observation;

    fn next(&mut self) -> Option<Observation> {
        while self.waiting.is_empty() && self.tick < self.ticks {
            self.fill();
        }
        self.waiting.pop_front().or_else(|| {
            let booking = self.season.bookings.get(self.booked).copied();
            self.booked += 1;
            booking
        })
    }
}
