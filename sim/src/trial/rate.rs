//! The hourly rate and the air: how near the growth of an hour comes to what an hour of readings can tell, and what a sweep of
//! temperature looks like with nothing growing.

use std::collections::BTreeMap;
use std::fmt;

use bloom_model::air::speed_of_sound_m_s;
use bloom_model::bench::{Bench, BenchView};
use bloom_model::event::EventKind;
use bloom_model::profile::Profile;
use bloom_model::quantity::Quantity;
use bloom_model::reading::{BenchNumber, Observed, Reading};
use bloom_model::site::Site;
use bloom_model::time::Time;
use serde::Serialize;

use super::mornings::mean;
use crate::dice::{Concern, Dice};
use crate::options::{RangerOptions, SeasonOptions};
use crate::season::Season;
use crate::truth::Outcome;

/// Standard deviation of the readings, m.
const NOISE_M: f64 = 0.002;
/// Readings an hour.
const READINGS: u32 = 60;
/// A stray echo goes up to this far off, m.
const STRAY_M: f64 = 0.3;
const OVERHEAD_M: f64 = 3.1;

/// The hourly rate against the truth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RateFigures {
    /// Share of readings that are stray echoes.
    pub stray_share: f64,
    /// Hours judged.
    pub hours: usize,
    /// Hours without a rate.
    pub without: usize,
    /// Root-mean-square error, mm/h.
    pub error_mm_hour: f64,
    /// The Cramér-Rao bound for a straight line through an hour of such readings, mm/h: `√(12σ²/(n(n² − 1)))/Δt`.
    pub bound_mm_hour: f64,
    /// Share of hours whose 95 % interval held the truth, percent.
    pub covered_pct: f64,
}

/// A temperature sweep with nothing growing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SweepFigures {
    /// The largest apparent hourly rate with the air known, over the minutes, as the mean of all: what the air does, mm/h.
    pub known_mm_hour: f64,
    /// And in any single one: with it what the ranger's own noise of 0.5 mm does to an hour, mm/h.
    pub largest_mm_hour: f64,
    /// Opening alarms with the thermometer 1 °C off and ten minutes late.
    pub alarms: usize,
}

fn view(site: &Site) -> Option<BenchView> {
    site.benches().next().and_then(Bench::view)
}

fn told(site: &mut Site, time: Time, quantity: Quantity, value: f64) -> usize {
    let mut events = Vec::new();
    let observed = Observed::Value(quantity, value);
    site.take(&Reading { bench: BenchNumber(0), time, observed }, &mut events);
    events.iter().filter(|event| event.kind == EventKind::OpeningTonight).count()
}

/// Follows buds from emergence to the crack with readings of white noise, a share of them stray echoes, and judges every hour.
pub fn rates(seeds: std::ops::Range<u64>, stray_share: f64, profile: &Profile) -> RateFigures {
    let compensated =
        RangerOptions { mount_m: OVERHEAD_M, assumed_speed_m_s: None, ..RangerOptions::default() };
    let (mut squares, mut held, mut without) = (Vec::new(), 0_usize, 0);
    for seed in seeds {
        let mut options = SeasonOptions { tip: Some(compensated), rim: None, ..SeasonOptions::default() };
        options.plant.outcome = Some(Outcome::Opens);
        let season = Season::draw(seed, &options);
        let truth = season.truth();
        let Some(crack) = truth.crack else { continue };
        let mut site = super::site_for(&options, profile);
        let dice = &mut Dice::new(seed, Concern::RangerNoise(0));
        let minutes = (crack.hours_since(truth.emerged) * 60.0) as u32;
        for minute in 0..minutes {
            let time = truth.emerged.plus_hours(f64::from(minute) / 60.0);
            let stray = if dice.chance(stray_share) { dice.between(-STRAY_M, STRAY_M) } else { 0.0 };
            let range = OVERHEAD_M - season.height_m(time) + NOISE_M * dice.normal() + stray;
            told(&mut site, time, Quantity::TipRange, range);
            if minute % READINGS == READINGS - 1 && minute > 2 * READINGS {
                let rate_m_h = season.height_m(time) - season.height_m(time.plus_hours(-1.0));
                let growth = view(&site).map(|view| view.growth);
                let figures = growth.and_then(|it| Some((it.growth_cm_hour?, it.growth_cm_hour_sd?)));
                match figures {
                    Some((rate, sd)) => {
                        let error_mm = rate * 10.0 - rate_m_h * 1000.0;
                        squares.push(error_mm * error_mm);
                        held += usize::from(error_mm.abs() <= 1.96 * sd * 10.0);
                    }
                    None => without += 1,
                }
            }
        }
    }
    let n = f64::from(READINGS);
    RateFigures {
        stray_share,
        hours: squares.len(),
        without,
        error_mm_hour: mean(squares.iter().copied()).sqrt(),
        bound_mm_hour: (12.0 * (NOISE_M * 1000.0).powi(2) / (n * (n * n - 1.0))).sqrt() * n,
        covered_pct: 100.0 * held as f64 / squares.len() as f64,
    }
}

/// Ten degrees up in two hours, with 22 °C and 70 % before, an hour after, and no growth at all.
pub fn sweep(seeds: std::ops::Range<u64>, profile: &Profile) -> SweepFigures {
    const SETTLED_H: f64 = 6.0;
    let celsius = |hour: f64| 22.0 + 10.0 * ((hour - SETTLED_H) / 2.0).clamp(0.0, 1.0);
    let options = SeasonOptions::default();
    let mut figures = SweepFigures { known_mm_hour: 0.0, largest_mm_hour: 0.0, alarms: 0 };
    let count = seeds.end.saturating_sub(seeds.start) as f64;
    let mut means = BTreeMap::new();
    for seed in seeds {
        for (bias_c, late_h) in [(0.0, 0.0), (1.0, 1.0 / 6.0), (-1.0, 1.0 / 6.0)] {
            let mut site = super::site_for(&options, profile);
            let dice = &mut Dice::new(seed, Concern::RangerNoise(1));
            let start = Time::from_unix_ms(1_800_000_000_000);
            for minute in 0..(60 * 12) {
                let hour = f64::from(minute) / 60.0;
                let time = start.plus_hours(hour);
                let echo = 343.2 / speed_of_sound_m_s(celsius(hour), 70.0, options.pressure_kpa);
                let mut tell = |quantity, value| told(&mut site, time, quantity, value);
                tell(Quantity::Temperature, celsius(hour - late_h) + bias_c);
                tell(Quantity::Humidity, 70.0);
                tell(Quantity::TipRange, 2.0 * echo + 0.0005 * dice.normal());
                figures.alarms += tell(Quantity::RimRange, 0.95 * echo + 0.0005 * dice.normal());
                let known = bias_c == 0.0 && late_h == 0.0;
                if known && minute % 10 == 0 && hour >= SETTLED_H {
                    let rate = view(&site).and_then(|view| view.growth.growth_cm_hour);
                    let mm_hour = rate.unwrap_or_default() * 10.0;
                    figures.largest_mm_hour = figures.largest_mm_hour.max(mm_hour.abs());
                    *means.entry(minute).or_insert(0.0) += mm_hour / count;
                }
            }
        }
    }
    figures.known_mm_hour = means.values().copied().map(f64::abs).fold(0.0, f64::max);
    figures
}

impl fmt::Display for RateFigures {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{:.0} % stray echoes: {} hours ({} without a rate), error {:.3} mm/h, bound {:.3} mm/h, ratio {:.2}; the 95 % interval held the truth in {:.1} %",
            self.stray_share * 100.0,
            self.hours,
            self.without,
            self.error_mm_hour,
            self.bound_mm_hour,
            self.error_mm_hour / self.bound_mm_hour,
            self.covered_pct
        )
    }
}

impl fmt::Display for SweepFigures {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "10 °C in 2 h, nothing growing: apparent rate {:.2} mm/h at most with the air known, in a single house with its noise {:.2} mm/h; {} opening alarms with the thermometer 1 °C off and 10 min late",
            self.known_mm_hour, self.largest_mm_hour, self.alarms
        )
    }
}
