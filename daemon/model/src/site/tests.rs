//! A bench whose thermometer is out is corrected by the air of its neighbours.

use super::*;
use crate::air::speed_of_sound_m_s;
use crate::quantity::Quantity;
use crate::reading::Observed;
use crate::spec::example;

const EDGE_M: f64 = 0.95;
const ASSUMED_M_S: f64 = 343.2;
const HUMIDITY_PCT: f64 = 70.0;
/// It is so much warmer at east-3.
const WARMER_K: f64 = 1.5;
/// The thermometer of east-3 fails at this hour.
const FAILS_H: f64 = 6.0;

/// Temperature at east-4: eight kelvin more from the sixth hour to the tenth.
fn celsius(hours: f64) -> f64 {
    22.0 + 2.0 * (hours - FAILS_H).clamp(0.0, 4.0)
}

/// Where the edge of east-3, which stands still, is taken to be after twelve hours, m.
fn edge_after_a_failure(neighbours: bool) -> f64 {
    let benches = ["east-3", "east-4"].map(|id| example::bench(id, EDGE_M, Some(ASSUMED_M_S)));
    let mut site = Site::new(example::saltmarsh(), benches.into());
    let mut events = Vec::new();
    for minute in 0..12 * 60 {
        let hours = f64::from(minute) / 60.0;
        let time = Time::from_unix_ms(1_811_905_200_000).plus_hours(hours);
        let mut tell = |bench: u16, quantity, value| {
            let observed = Observed::Value(quantity, value);
            site.take(&Reading { bench: BenchNumber(bench), time, observed }, &mut events);
        };
        // the hundredths keep the thermometers from being stuck
        let here_c = celsius(hours) + WARMER_K + 0.01 * f64::from(minute % 3);
        if hours < FAILS_H {
            tell(0, Quantity::Temperature, here_c);
        }
        tell(0, Quantity::Humidity, HUMIDITY_PCT);
        if neighbours {
            tell(1, Quantity::Temperature, celsius(hours) + 0.01 * f64::from(minute % 3));
        }
        let speed = speed_of_sound_m_s(here_c, HUMIDITY_PCT, 101.325);
        tell(0, Quantity::RimRange, EDGE_M * ASSUMED_M_S / speed);
    }
    let bench = site.benches().next().unwrap();
    bench.rim().newest().unwrap().position_m
}

#[test]
fn the_air_of_the_neighbours_corrects_a_bench_without_its_own() {
    // 8 K are some 13 mm of 0.95 m
    let alone_m = edge_after_a_failure(false);
    assert!((0.010..0.016).contains(&alone_m), "{alone_m}");
    let lent_m = edge_after_a_failure(true);
    assert!(lent_m.abs() < 0.000_2, "{lent_m}");
}
