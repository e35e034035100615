//! What befalls sensors in the simulator, and what is said of it: each thing once, in its time, and nothing in a house where all is
//! well. Lines, clock, store and forwarder are no matter of readings: their scenarios are those of `rehearse --warnings`, and stand with the tests of the running service.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::path::Path;

use anthesisd::config::profile;
use bench_sim::options::{PlantWishes, SeasonOptions};
use bench_sim::season::Season;
use bench_sim::trial;
use bench_sim::trouble::{Trouble, Troubles};
use bench_sim::truth::Outcome;
use bloom_model::event::{Details, Event, EventKind, Severity};
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use end_to_end::house::{House, of_kind};

fn season(seed: u64, troubles: Troubles) -> Season {
    let plant = PlantWishes { outcome: Some(Outcome::Opens), ..PlantWishes::default() };
    Season::draw(seed, &SeasonOptions { interval_s: 60, troubles, plant, ..SeasonOptions::default() })
}

/// What was said of sensors in a season.
fn said(season: &Season) -> Vec<Event> {
    let profile = profile("titan-arum", Path::new("/nonexistent")).expect("it is built in");
    let mut said = Vec::new();
    trial::run(season, &profile, |event| {
        let of_sensors = [EventKind::SensorSilent, EventKind::SensorStuck, EventKind::SensorBack];
        if of_sensors.contains(&event.kind) {
            said.push(event.clone());
        }
    });
    said
}

fn quantities(event: &Event) -> &[Quantity] {
    match &event.details {
        Details::Sensor(details) => &details.quantities,
        _ => &[],
    }
}

#[test]
fn sensors_that_work_are_not_spoken_of() {
    for seed in 0..4 {
        assert_eq!(said(&season(seed, Troubles::NONE)), [], "seed {seed}");
    }
}

#[test]
fn a_power_cut_is_one_silence_and_one_return() {
    let mut cuts = 0;
    for seed in 0..4 {
        let season = season(seed, Troubles::NONE.with(Trouble::PowerCuts));
        let said = said(&season);
        let mut expected = Vec::new();
        for cut in &season.truth().power_cuts {
            // fifteen minutes from the last reading before, five from the first one after
            if cut.until.hours_since(cut.from) > 0.3 {
                expected.push((EventKind::SensorSilent, cut.from.plus_hours(0.25)));
                expected.push((EventKind::SensorBack, cut.until.plus_hours(5.0 / 60.0)));
            }
        }
        cuts += expected.len() / 2;
        assert_eq!(said.len(), expected.len(), "seed {seed}: {said:?}");
        for (event, (kind, time)) in said.iter().zip(expected) {
            let late_min = event.time.hours_since(time) * 60.0;
            assert!(
                event.kind == kind && (-2.0..=2.0).contains(&late_min),
                "seed {seed}: {event:?} for {time}"
            );
            assert_eq!(quantities(event).len(), 4, "one cause, one event: {event:?}");
        }
    }
    assert!(cuts >= 4, "{cuts} power cuts");
}

/// The longest time up to `until` for which the side ranger repeated one figure, h.
fn longest_repeat_h(season: &Season, until: Time) -> f64 {
    let (mut longest, mut since, mut last) = (0.0_f64, None, f64::NAN);
    for observation in season.observations().take_while(|observation| observation.time <= until) {
        if let Observed::Value(Quantity::RimRange, value) = observation.observed {
            if value.to_bits() != last.to_bits() {
                since = Some(observation.time);
            }
            last = value;
            longest = longest.max(since.map_or(0.0, |since| observation.time.hours_since(since)));
        }
    }
    longest
}

#[test]
fn a_side_ranger_that_repeats_itself_is_an_alarm_and_one_that_works_is_not() {
    let mut alarms = 0;
    for seed in 0..12 {
        let season = season(seed, Troubles::NONE.with(Trouble::StuckOutput));
        for event in said(&season).iter().filter(|event| event.kind == EventKind::SensorStuck) {
            if quantities(event) == [Quantity::RimRange] {
                assert_eq!(event.severity, Severity::Alarm);
                assert!(longest_repeat_h(&season, event.time) >= 1.0, "seed {seed}: {event:?}");
                alarms += 1;
            }
        }
    }
    assert!(alarms >= 1, "no ranger was stuck for an hour while in bud");
}

/// Limits for what no sensor measures are a heating alarm that can never ring.
#[test]
fn what_a_limit_needs_and_nobody_measures_is_told() {
    let said = |limits: &str| {
        let bench = format!("tip = {{ mount_height_m = 3.1 }}\n{limits}");
        let readings: String = (0..120)
            .map(|minute| {
                let (second, range) = (1_811_905_200 + 60 * minute, 2.5 + 0.001 * f64::from(minute % 7));
                format!("[{{\"bn\":\"east-3/\",\"n\":\"tip-range\",\"u\":\"m\",\"v\":{range:.3},\"t\":{second}}}]\n")
            })
            .collect();
        let events = House::new().with_bench_of("east-3", &bench).replay(&readings);
        of_kind(&events, "sensor-silent")
            .iter()
            .map(|event| event["quantities"].to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(said(""), [""; 0]);
    assert_eq!(said("limits = { alarm_temperature_c = [15, 42] }"), ["[\"temperature\"]"]);
    assert_eq!(said("limits = { vpd_kpa = [0.2, 2.0] }"), ["[\"temperature\",\"humidity\"]"]);
    assert_eq!(said("limits = { co2_ppm = [350, 1500] }"), ["[\"co2\"]"]);
}

/// Light is nought all night, and air that nobody breathes keeps its carbon dioxide: a figure that stays is no sensor that is stuck. What was
/// heard once and is heard no more is silent; what a ranger says beside its distances goes with them.
#[test]
fn quantities_of_the_climate_may_repeat_and_are_missed_once_they_were_heard() {
    let readings: String = (0..20 * 60)
        .map(|minute| {
            let (second, celsius) = (1_811_905_200 + 60 * minute, 25.0 + 0.01 * f64::from(minute % 7));
            let further = if minute < 18 * 60 {
                r#",{"n":"co2","u":"ppm","v":420},{"n":"light","u":"umol/m2/s","v":0},{"n":"rim-heard","u":"/","v":1}"#
            } else {
                ""
            };
            format!(
                "[{{\"bn\":\"east-3/\",\"bt\":{second},\"n\":\"temperature\",\"u\":\"Cel\",\"v\":{celsius:.2}}}{further}]\n"
            )
        })
        .collect();
    let events = House::new().with_bench_of("east-3", "").replay(&readings);
    assert!(of_kind(&events, "sensor-stuck").is_empty(), "{events:?}");
    let silent = of_kind(&events, "sensor-silent");
    let quantities: Vec<String> = silent.iter().map(|event| event["quantities"].to_string()).collect();
    assert_eq!(quantities, [r#"["co2","light"]"#]);
}
