//! Forty benches, three quantities every ten seconds, with the noise of sensors.
//!
//! Temperature to 0.01 °C with noise of 0.02 °C, humidity to 0.1 % with noise of 0.2 %, range to 1 mm with noise of 2 mm:
//! typical sensors by their data sheets' resolution and repeatability, from memory. Days, weather and growth under it.

use std::sync::Arc;

use bloom_model::quantity::Quantity;
use bloom_model::time::Time;

use crate::dice::{Concern, Dice};

/// Benches in the house.
pub(super) const BENCHES: usize = 40;
/// What each of them measures.
pub(super) const QUANTITIES: [Quantity; 3] = [Quantity::Temperature, Quantity::Humidity, Quantity::TipRange];
/// From one round to the next.
pub(super) const ROUND_MS: i64 = 10_000;
/// Readings of the house in a day.
pub(super) const READINGS_A_DAY: u64 = (BENCHES * QUANTITIES.len()) as u64 * 8_640;
/// Milliseconds in a day.
pub(super) const DAY_MS: i64 = 86_400_000;

/// The midnight (UTC) so many days before the last one: the data end now, as they do in a house.
pub(super) fn days_ago(days: u32) -> i64 {
    chrono::Utc::now().timestamp_millis().div_euclid(DAY_MS) * DAY_MS - i64::from(days) * DAY_MS
}

/// Where a reading's time comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Stamps {
    /// The sensor's own, in whole seconds.
    Whole,
    /// The arrival of its line, in milliseconds: a poll that drifts, and some milliseconds of jitter.
    Arrival,
}

/// One bench.
#[derive(Debug)]
pub(super) struct Bench {
    pub(super) id: Arc<str>,
    offset: [f64; 3],
}

/// The house.
#[derive(Debug)]
pub(super) struct Benches {
    benches: Vec<Bench>,
    dice: Dice,
    stamps: Stamps,
    start_ms: i64,
    weather: f64,
}

impl Benches {
    /// So many benches over the last days.
    pub(super) fn new(count: usize, stamps: Stamps, days: u32) -> Self {
        let mut dice = Dice::new(7, Concern::AirNoise);
        let benches = (1..=count)
            .map(|number| Bench {
                id: format!("bench-{number:02}").into(),
                offset: [dice.between(-1.0, 1.0), dice.between(-4.0, 4.0), dice.between(-0.3, 0.3)],
            })
            .collect();
        Self { benches, dice, stamps, start_ms: days_ago(days), weather: 0.0 }
    }

    /// Tells the pack of every bench in a round.
    pub(super) fn round(&mut self, round: i64, mut tell: impl FnMut(&Bench, Time, [f64; 3])) {
        let days = round as f64 * ROUND_MS as f64 / 86_400_000.0;
        let sun = (days * std::f64::consts::TAU).sin();
        // wanders by 3 °C, and back within two days or so
        self.weather += 0.018 * self.dice.normal() - self.weather / 17_280.0;
        for bench in &self.benches {
            let jitter = match self.stamps {
                Stamps::Whole => 0.0,
                // a poll that is 80 ppm slow
                Stamps::Arrival => 20.0 + 5.0 * self.dice.normal() + round as f64 * 0.8,
            };
            let ms = self.start_ms + round * ROUND_MS + jitter.round() as i64;
            let temperature = 24.0 + bench.offset[0] + 4.0 * sun + self.weather + 0.02 * self.dice.normal();
            let humidity = 76.0 + bench.offset[1] - 8.0 * sun - 2.0 * self.weather + 0.2 * self.dice.normal();
            // grows 4 cm a day for a month, then the next bud
            let range = 1.6 + bench.offset[2] - 0.04 * (days % 30.0) + 0.002 * self.dice.normal();
            let to = |value: f64, one: f64| (value * one).round() / one;
            let values = [to(temperature, 100.0), to(humidity.clamp(0.0, 100.0), 10.0), to(range, 1_000.0)];
            tell(bench, Time::from_unix_ms(ms), values);
        }
    }
}
