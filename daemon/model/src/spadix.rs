//! The heat of a spadix: a witness of the opening that needs no ranger.
//!
//! A titan arum heats its spadix from about its crack on, through the night in which its flowers are receptive: by 36 °C in 27 °C (Barthlott
//! et al. 2009), 5.6 K at the crack (Eastern Illinois University 2018), 1 to 2 K an hour after it and 4 K three hours after (Ohio State
//! University 2011). A spadix that makes no heat follows the air, and lags behind it: in an evening that cools it is warmer by that lag.

use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::condition::{Change, Condition, Delays};
use crate::time::Time;

/// A spadix over the air by this much makes heat of its own, K. Judged: between the 1 to 2 K of the first hour and the 4 K of the third of
/// Ohio State University 2011.
const WARM_BY_K: f64 = 3.0;
/// It must have been so for half an hour, that a hand or a lamp is none; and be gone for as long as the pulses of a night leave between
/// them (judged).
const DELAYS: Delays = Delays { begin: Duration::from_mins(30), end: Duration::from_hours(3) };
/// A spadix without heat of its own follows the air with this time constant, h. Judged: water 4 cm thick to its middle, in still air, would
/// take some three, and a spadix is spongy.
const FOLLOWS_AIR_H: f64 = 2.0;
/// Air that was read longer ago than this is not that of the moment, h. Judged.
const FRESH_H: f64 = 0.5;
/// Air that has shown one and the same value for so long may come from a thermometer that has stopped, while the sun warms the house and the
/// spadix with it, h. Judged: the air of a house moves by a tenth of a degree within the hour.
const MOVES_WITHIN_H: f64 = 1.0;
/// It begins to be warm so long after the crack, h. Judged: none at Eastern Illinois University 2018, two at Ohio State University 2011.
const AFTER_CRACK_H: f64 = 1.0;

/// The air about a spadix, and whether the spadix makes heat.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SpadixWatch {
    air: Option<Air>,
    warm: Condition<Time>,
    /// The estimated crack of the bloom that it is warm for, until people are told.
    untold: Option<Time>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Air {
    time: Time,
    now_c: f64,
    /// What a body that follows it slowly would have.
    followed_c: f64,
    /// Since when it has shown this value.
    unmoved_since: Time,
}

impl SpadixWatch {
    /// Takes the newest air temperature, °C.
    pub fn take_air(&mut self, time: Time, now_c: f64) {
        let followed_c = self.air.map_or(now_c, |air| {
            let kept = (-time.hours_since(air.time).max(0.0) / FOLLOWS_AIR_H).exp();
            now_c + (air.followed_c - now_c) * kept
        });
        let unmoved = self.air.filter(|air| air.now_c.total_cmp(&now_c).is_eq());
        let unmoved_since = unmoved.map_or(time, |air| air.unmoved_since);
        self.air = Some(Air { time, now_c, followed_c, unmoved_since });
    }

    /// Takes the newest temperature of the spadix, °C. Gives the estimated instant of the crack while it has been warm for long enough and
    /// nobody was told: a sign that makes the bud ripe may come hours after the warmth.
    pub fn take(&mut self, time: Time, spadix_c: f64) -> Option<Time> {
        let over_k = spadix_c - self.air_c(time)?;
        match self.warm.look(over_k >= WARM_BY_K, time, DELAYS) {
            Some(Change::Began(since)) => self.untold = Some(since.plus_hours(-AFTER_CRACK_H)),
            Some(Change::Over { .. }) => self.untold = None,
            None => {}
        }
        self.untold
    }

    /// People were told of this warmth.
    pub const fn told(&mut self) {
        self.untold = None;
    }

    /// Whether it makes heat.
    pub const fn is_warm(&self) -> bool {
        self.warm.stands()
    }

    /// The warmest that air alone can have made the spadix, °C.
    fn air_c(&self, time: Time) -> Option<f64> {
        let air = self.air.filter(|air| {
            time.hours_since(air.time) <= FRESH_H && time.hours_since(air.unmoved_since) <= MOVES_WITHIN_H
        })?;
        Some(air.now_c.max(air.followed_c))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hours, from the first, at which it is newly warm; a reading of both every five minutes.
    fn warm_at(hours: f64, air_c: impl Fn(f64) -> f64, spadix_c: impl Fn(f64) -> f64) -> Vec<f64> {
        let (begin, mut watch) = (Time::from_unix_ms(0), SpadixWatch::default());
        let readings = (0..(hours * 12.0) as i32).map(|reading| f64::from(reading) / 12.0);
        readings
            .filter(|hour| {
                let time = begin.plus_hours(*hour);
                watch.take_air(time, air_c(*hour));
                let warm = watch.take(time, spadix_c(*hour)).is_some();
                watch.told();
                warm
            })
            .collect()
    }

    /// Air that is held at 24 °C: none stands quite still.
    fn steady_c(hour: f64) -> f64 {
        24.0 + 0.05 * (17.0 * hour).sin()
    }

    #[test]
    fn a_spadix_that_follows_the_air_through_a_hot_day_is_not_warm() {
        // 22 °C at night, 35 °C at 15:00, four days
        let air_c = |hour: f64| 28.5 - 6.5 * (std::f64::consts::TAU * (hour - 3.0) / 24.0).cos();
        for lag_h in [0.5, 1.5, 2.5] {
            let angle = (std::f64::consts::TAU * lag_h / 24.0).atan();
            let lagged_c = |hour: f64| {
                28.5 - 6.5 * angle.cos() * (std::f64::consts::TAU * (hour - 3.0) / 24.0 - angle).cos()
            };
            assert_eq!(warm_at(96.0, air_c, lagged_c), [0.0; 0], "{lag_h} h behind");
        }
    }

    #[test]
    fn a_hand_or_a_span_without_air_tells_nothing() {
        let hand = |hour: f64| if (5.0..5.4).contains(&hour) { 33.0 } else { 24.0 };
        assert_eq!(warm_at(12.0, steady_c, hand), [0.0; 0]);
        let mut watch = SpadixWatch::default();
        watch.take_air(Time::from_unix_ms(0), 20.0);
        for minute in 60..240 {
            assert_eq!(watch.take(Time::from_unix_ms(minute * 60_000), 34.0), None, "air of an hour ago");
        }
    }

    #[test]
    fn a_thermometer_that_stopped_before_the_sun_came_is_no_witness() {
        // it stands at 22 °C from 06:00 on, and the spadix follows the air to 34 °C at 15:00
        let spadix_c = |hour: f64| 28.0 - 6.0 * (std::f64::consts::TAU * (hour - 3.0) / 24.0).cos();
        let air_c = |hour: f64| spadix_c(hour.min(6.0));
        assert_eq!(warm_at(20.0, air_c, spadix_c), [0.0; 0]);
    }

    #[test]
    fn a_night_of_pulses_is_told_once() {
        let pulses = |hour: f64| 24.0 + 7.0 * (std::f64::consts::TAU * hour / 2.0).sin().max(0.0).powf(0.3);
        assert_eq!(warm_at(12.0, steady_c, pulses).len(), 1);
    }
}
