//! From what a ranger reports to where the plant is, with the air of that moment.
//!
//! A ranger times an echo and multiplies by the one speed of sound it assumes. At 1 m, 10 K of air shift that by 18 to 19 mm,
//! several hours of growth; so the distance is reckoned anew with the speed by Cramer 1993 in the air at the bench.

use serde::{Deserialize, Serialize};

use crate::air;
use crate::spec::Mount;
use crate::time::Time;

/// Air assumed until the bench has reported its own: a bloom house by day (common practice, no source).
const USUAL_TEMPERATURE_C: f64 = 25.0;
/// Humidity assumed with it.
const USUAL_HUMIDITY_PCT: f64 = 75.0;
/// A value older than this no longer speaks for the air between ranger and plant. Judgement.
const STALE_AFTER_H: f64 = 1.0;
/// A thermometer that repeats one value for this long, through the noise of real air, is not measuring. Judgement.
const FROZEN_AFTER_H: f64 = 3.0;
/// How often it must have repeated it. Judgement.
const FROZEN_READINGS: u32 = 18;

/// A value with the time it was read and since when it has been exactly this.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Held {
    /// The value.
    pub value: f64,
    /// Its newest reading.
    pub time: Time,
    /// The first of the unbroken run of readings with just this value.
    pub since: Time,
    /// The length of that run.
    pub run: u32,
}

impl Held {
    /// A first reading.
    pub const fn new(value: f64, time: Time) -> Self {
        Self { value, time, since: time, run: 1 }
    }

    /// Takes the next reading.
    pub fn take(&mut self, value: f64, time: Time) {
        if value.to_bits() == self.value.to_bits() {
            self.run = self.run.saturating_add(1);
        } else {
            (self.value, self.since, self.run) = (value, time, 1);
        }
        self.time = time;
    }

    /// Takes a reading into a place that may be empty.
    pub fn take_into(place: &mut Option<Self>, value: f64, time: Time) {
        match place {
            Some(held) => held.take(value, time),
            None => *place = Some(Self::new(value, time)),
        }
    }

    fn fresh_at(&self, time: Time) -> bool {
        time.hours_since(self.time) <= STALE_AFTER_H
    }
}

/// The newest air of a bench.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct AirNow {
    /// Temperature, °C.
    pub temperature_c: Option<Held>,
    /// Relative humidity, %.
    pub humidity_pct: Option<Held>,
}

impl AirNow {
    /// Temperature and humidity read within the last hour, if both are there.
    pub fn fresh(&self, time: Time) -> Option<(f64, f64)> {
        let (temperature, humidity) = (self.temperature_c?, self.humidity_pct?);
        (temperature.fresh_at(time) && humidity.fresh_at(time)).then_some((temperature.value, humidity.value))
    }

    /// Whether the air can correct a range: a temperature read within the hour by a thermometer that is not stuck.
    pub fn is_known(&self, time: Time) -> bool {
        self.temperature_c.is_some_and(|held| {
            held.fresh_at(time)
                && !(held.run >= FROZEN_READINGS && held.time.hours_since(held.since) >= FROZEN_AFTER_H)
        })
    }

    /// Speed of sound in this air, m/s; values that are missing are taken from the last known or the usual ones.
    pub fn speed_of_sound_m_s(&self, pressure_kpa: f64) -> f64 {
        air::speed_of_sound_m_s(
            self.temperature_c.map_or(USUAL_TEMPERATURE_C, |held| held.value),
            self.humidity_pct.map_or(USUAL_HUMIDITY_PCT, |held| held.value),
            pressure_kpa,
        )
    }
}

/// True distance behind a reported range, m, in air with the given speed of sound.
pub fn true_distance_m(reported_m: f64, mount: &Mount, speed_of_sound_m_s: f64) -> f64 {
    match mount.assumed_speed_m_s {
        Some(assumed) => reported_m * speed_of_sound_m_s / assumed,
        None => reported_m,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_repeated_value_is_stuck_only_after_long() {
        let start = Time::from_unix_ms(0);
        let mut air = AirNow::default();
        for minute in 0..=200 {
            Held::take_into(&mut air.temperature_c, 24.5, start.plus_hours(f64::from(minute) / 60.0));
        }
        assert!(!air.is_known(start.plus_hours(3.4)), "the same value for 200 minutes");
        Held::take_into(&mut air.temperature_c, 24.6, start.plus_hours(3.5));
        assert!(air.is_known(start.plus_hours(3.6)));
        assert!(!air.is_known(start.plus_hours(4.6)), "the last reading is over an hour old");
    }

    #[test]
    fn a_ranger_that_compensates_is_left_alone() {
        let own = Mount { distance_m: 3.1, assumed_speed_m_s: None };
        assert!((true_distance_m(1.25, &own, 350.0) - 1.25).abs() < 1e-12);
        let plain = Mount { distance_m: 3.1, assumed_speed_m_s: Some(350.0) };
        assert!((true_distance_m(1.25, &plain, 343.0) - 1.225).abs() < 1e-12);
    }
}
