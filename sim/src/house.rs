//! The air of the house, hour by hour, and the speed of sound along a beam through it.

use bloom_model::air::{saturation_vapour_pressure_kpa, speed_of_sound_m_s};
use chrono::Datelike;

use crate::calendar::Calendar;
use crate::dice::{Concern, Dice};
use crate::schedule::smooth_step;
use crate::schedule::{Schedule, Span};
use crate::trouble::{Trouble, Troubles};

/// Nodes of the weather table per hour.
const NODES_PER_HOUR: usize = 6;
/// How slowly a house follows its heat load, h.
const HOUSE_LAG_H: f64 = 0.75;
/// A spathe may hang slack above this, °C (EIU 2018: 40.6 °C on the afternoon before opening).
const SLACK_ABOVE_C: f64 = 38.0;

/// The true air around one bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// At the bench, °C.
    pub bench_c: f64,
    /// At the overhead ranger, °C.
    pub overhead_c: f64,
    /// At the side ranger, °C.
    pub side_c: f64,
    /// Relative humidity at the bench, %.
    pub humidity_pct: f64,
    /// Pressure, kPa.
    pub pressure_kpa: f64,
}

impl Air {
    /// Mean speed of sound from the overhead ranger down to the bench, m/s.
    pub fn overhead_speed_m_s(&self) -> f64 {
        self.mean_speed_m_s(self.overhead_c)
    }

    /// Mean speed of sound from the side ranger to the bench, m/s.
    pub fn side_speed_m_s(&self) -> f64 {
        self.mean_speed_m_s(self.side_c)
    }

    /// Harmonic mean along a beam over which temperature changes evenly and vapour pressure not at all, by Simpson's rule.
    fn mean_speed_m_s(&self, ranger_c: f64) -> f64 {
        let at_bench = speed_of_sound_m_s(self.bench_c, self.humidity_pct, self.pressure_kpa);
        if (ranger_c - self.bench_c).abs() < 0.01 {
            return at_bench;
        }
        let vapour_kpa = self.humidity_pct / 100.0 * saturation_vapour_pressure_kpa(self.bench_c);
        let at = |temperature_c: f64| {
            let humidity_pct =
                (100.0 * vapour_kpa / saturation_vapour_pressure_kpa(temperature_c)).min(100.0);
            speed_of_sound_m_s(temperature_c, humidity_pct, self.pressure_kpa)
        };
        6.0 / (1.0 / at_bench + 4.0 / at(0.5 * (self.bench_c + ranger_c)) + 1.0 / at(ranger_c))
    }
}

/// A vent that opens or a heater that fires: °C at the height of its effect, and for how long it runs.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Step {
    by_c: f64,
    runs_h: f64,
}

/// Weather, set points and what the house does about them.
#[derive(Debug, Clone)]
pub(crate) struct House {
    temperatures_c: Vec<f64>,
    humidities_pct: Vec<f64>,
    sun: Vec<f64>,
    /// Greatest excess under the roof, °C, one a day; empty without stratification.
    under_roof_c: Vec<f64>,
    steps: Schedule<Step>,
    /// Misting runs and their aftermath; what is kept is for how long the nozzles run, h.
    mist: Schedule<f64>,
    pressure_kpa: f64,
}

/// Weather of one day.
struct Day {
    night_c: f64,
    day_c: f64,
    night_pct: f64,
    day_pct: f64,
    sunshine: f64,
}

impl House {
    pub(crate) fn draw(
        seed: u64,
        calendar: &Calendar,
        hours: usize,
        hot_days: &[usize],
        troubles: Troubles,
        pressure_kpa: f64,
    ) -> Self {
        let dice = &mut Dice::new(seed, Concern::Climate);
        let days = draw_days(dice, hours.div_ceil(24) + 1, hot_days);
        let nodes = hours * NODES_PER_HOUR + 1;
        let mut house = Self {
            temperatures_c: Vec::with_capacity(nodes),
            humidities_pct: Vec::with_capacity(nodes),
            sun: Vec::with_capacity(nodes),
            under_roof_c: Vec::new(),
            steps: Schedule::default(),
            mist: Schedule::default(),
            pressure_kpa,
        };
        let follow = 1.0 - (-1.0 / (NODES_PER_HOUR as f64 * HOUSE_LAG_H)).exp();
        let (mut air_c, mut humidity_pct) = (days[0].night_c, days[0].night_pct);
        for node in 0..nodes {
            let hour = node as f64 / NODES_PER_HOUR as f64;
            let (today, through) = ((hour / 24.0) as usize, (hour / 24.0).fract());
            let (day, next) = (&days[today], &days[(today + 1).min(days.len() - 1)]);
            let sun = day.sunshine * sun_share(calendar, hour);
            let night_c = day.night_c + (next.night_c - day.night_c) * through;
            let night_pct = day.night_pct + (next.night_pct - day.night_pct) * through;
            air_c += follow * (night_c + (day.day_c - night_c) * sun - air_c);
            humidity_pct += follow * (night_pct + (day.day_pct - night_pct) * sun - humidity_pct);
            house.temperatures_c.push(air_c);
            house.humidities_pct.push(humidity_pct);
            house.sun.push(sun);
        }
        let until_h = hours as f64;
        if troubles.has(Trouble::Stratification) {
            let dice = &mut Dice::new(seed, Concern::Trouble(Trouble::Stratification, 0));
            house.under_roof_c = days.iter().map(|_| dice.between(1.0, 8.0)).collect();
        }
        if troubles.has(Trouble::Vents) {
            let dice = &mut Dice::new(seed, Concern::Trouble(Trouble::Vents, 0));
            house.steps = draw_steps(dice, until_h);
        }
        if troubles.has(Trouble::Misting) {
            let dice = &mut Dice::new(seed, Concern::Trouble(Trouble::Misting, 0));
            house.mist = draw_mist(dice, until_h);
        }
        house
    }

    fn node(&self, table: &[f64], hour: f64) -> f64 {
        let place = (hour * NODES_PER_HOUR as f64).clamp(0.0, (table.len() - 1) as f64);
        let from = table[place as usize];
        let to = table.get(place as usize + 1).copied().unwrap_or(from);
        from + (to - from) * place.fract()
    }

    /// The true air at this hour of the season.
    pub(crate) fn air(&self, hour: f64) -> Air {
        let mut bench_c = self.node(&self.temperatures_c, hour);
        let mut humidity_pct = self.node(&self.humidities_pct, hour);
        if let Some(span) = self.steps.at(hour) {
            let Step { by_c, runs_h } = span.what;
            let since_h = hour - span.from_h;
            // air moves within 2 min of the vent, walls give the warmth back over a quarter of an hour
            let risen = 1.0 - (-since_h.min(runs_h) / 0.03).exp();
            let left = (-(since_h - runs_h).max(0.0) / 0.25).exp();
            bench_c += by_c * risen * left;
            humidity_pct -= 1.5 * by_c * risen * left;
        }
        if let Some(span) = self.mist.at(hour) {
            let (since_h, runs_h) = (hour - span.from_h, span.what);
            let wet =
                (1.0 - (-since_h.min(runs_h) / 0.05).exp()) * (-(since_h - runs_h).max(0.0) / 0.4).exp();
            bench_c -= 1.8 * wet;
            humidity_pct += (99.0 - humidity_pct) * wet;
        }
        let day = (hour.max(0.0) / 24.0) as usize;
        let excess_c =
            self.under_roof_c.get(day).map_or(0.0, |most| most * self.node(&self.sun, hour).min(1.0));
        Air {
            bench_c,
            overhead_c: bench_c + excess_c,
            // the side ranger hangs as low as the rim, on the aisle
            side_c: bench_c + 0.25 * excess_c,
            humidity_pct: humidity_pct.clamp(20.0, 100.0),
            pressure_kpa: self.pressure_kpa,
        }
    }

    /// Hours at which the nozzles start and stop.
    pub(crate) fn mist(&self) -> impl Iterator<Item = (f64, f64)> {
        self.mist.spans().iter().map(|span| (span.from_h, span.from_h + span.what))
    }

    /// The hour of a day at which the air of the house, vents and mist apart, becomes hot enough to slacken a spathe.
    pub(crate) fn slack_from_h(&self, day: usize) -> Option<f64> {
        let nodes = 24 * NODES_PER_HOUR;
        let first = day * nodes;
        self.temperatures_c
            .iter()
            .skip(first)
            .take(nodes)
            .position(|c| *c > SLACK_ABOVE_C)
            .map(|node| (first + node) as f64 / NODES_PER_HOUR as f64)
    }
}

fn draw_days(dice: &mut Dice, count: usize, hot_days: &[usize]) -> Vec<Day> {
    let night_set_c = dice.between(19.5, 23.5);
    let day_set_c = dice.between(26.0, 32.0);
    let night_pct = dice.between(80.0, 92.0);
    let day_pct = dice.between(62.0, 78.0);
    let mut weather = 0.0;
    (0..count)
        .map(|day| {
            weather = 0.6 * weather + 0.8 * dice.normal();
            let sunshine = (0.65 + 0.22 * weather).clamp(0.15, 1.0);
            let night_c = night_set_c + 0.5 * dice.normal();
            let day_c = day_set_c + 1.2 * weather.clamp(-2.0, 2.0) + 0.5 * dice.normal();
            let hot_c = dice.between(41.0, 44.0);
            let hot = hot_days.contains(&day);
            Day {
                night_c,
                day_c: if hot { hot_c } else { day_c.min(35.5) },
                night_pct: night_pct + 2.0 * dice.normal(),
                day_pct: day_pct + 4.0 * dice.normal() - if hot { 10.0 } else { 0.0 },
                sunshine: if hot { 1.0 } else { sunshine },
            }
        })
        .collect()
}

/// Share of the clear noon sun, by a sine between sunrise and sunset at 44.6° N (day length by the cosine of the date).
fn sun_share(calendar: &Calendar, hour: f64) -> f64 {
    let date = calendar.first_day().ordinal0() as f64 + hour / 24.0;
    let length_h = 12.15 - 3.35 * (std::f64::consts::TAU * (date + 10.0) / 365.25).cos();
    let since_rise = hour.rem_euclid(24.0) - (13.0 - length_h / 2.0);
    if (0.0..length_h).contains(&since_rise) {
        (std::f64::consts::PI * since_rise / length_h).sin().powf(0.7)
    } else {
        0.0
    }
}

fn draw_steps(dice: &mut Dice, until_h: f64) -> Schedule<Step> {
    Schedule::scattered(dice, until_h, 1.6, |dice| {
        // a vent by day, a heater by night: either way some degrees within minutes
        let by_c = if dice.chance(0.6) { -dice.between(1.0, 5.0) } else { dice.between(1.0, 4.0) };
        let runs_h = dice.log_between(0.05, 0.8);
        (runs_h + 1.2, Step { by_c, runs_h })
    })
}

fn draw_mist(dice: &mut Dice, until_h: f64) -> Schedule<f64> {
    let mut spans = Vec::new();
    let runs_a_day = dice.between(2.0, 6.0);
    for day in 0..(until_h / 24.0).ceil() as u32 {
        let mut hour = 24.0 * f64::from(day) + 6.0 + dice.waiting(12.0 / runs_a_day);
        while hour < 24.0 * f64::from(day) + 20.0 {
            let runs_h = dice.log_between(1.0 / 60.0, 0.4);
            let until_h = hour + runs_h + 2.0;
            spans.push(Span { from_h: hour, until_h, what: runs_h });
            hour = until_h + dice.waiting(12.0 / runs_a_day);
        }
    }
    Schedule::new(spans)
}

/// Warmth of the spadix over the air: pulses through the first night.
///
/// OSU 2011: +1 to 2 K an hour after the crack, +4 K at 3 h, +13 K at 7 h; Bonn 2006: 9 K in pulses from the base.
pub(crate) fn spadix_heat_k(since_crack_h: f64, most_k: f64) -> f64 {
    let warm = smooth_step((since_crack_h - 0.5) / 7.0) * (1.0 - smooth_step((since_crack_h - 9.0) / 6.0));
    most_k * warm * (0.85 + 0.15 * (std::f64::consts::TAU * since_crack_h / 0.6).sin())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stratified_air_carries_sound_as_a_real_gas_does() {
        // CoolProp 8 HumidAir, harmonic mean along a linear profile, vapour pressure uniform at 70 % of saturation at the
        // bench: temperature at the ranger, at the bench, mean speed. Cramer 1993 is published to 300 ppm (0.1 m/s).
        for (overhead_c, bench_c, speed_m_s) in [
            (34.0, 26.0, 350.420_369),
            (36.0, 28.0, 351.730_06),
            (30.0, 28.0, 349.992_79),
            (40.0, 25.0, 351.783_638),
        ] {
            let air = Air { bench_c, overhead_c, side_c: bench_c, humidity_pct: 70.0, pressure_kpa: 101.325 };
            let off = air.overhead_speed_m_s() - speed_m_s;
            assert!(off.abs() < 0.1, "{overhead_c} over {bench_c}: {off}");
        }
    }
}
