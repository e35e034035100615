//! Each trouble does what it says and leaves everything else as it was.

use std::collections::BTreeMap;

use bench_sim::options::{PlantWishes, SeasonOptions};
use bench_sim::season::Season;
use bench_sim::trouble::{Trouble, Troubles};
use bench_sim::truth::{Outcome, Truth};
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;

type Said = BTreeMap<(Quantity, Time), f64>;

const RANGES: &[Quantity] = &[Quantity::TipRange, Quantity::RimRange];
const EVERYTHING: &[Quantity] =
    &[Quantity::Temperature, Quantity::Humidity, Quantity::TipRange, Quantity::RimRange];

fn season(seed: u64, troubles: Troubles) -> Season {
    let plant = PlantWishes { outcome: Some(Outcome::Opens), ..PlantWishes::default() };
    Season::draw(seed, &SeasonOptions { interval_s: 120, troubles, plant, ..SeasonOptions::default() })
}

fn said(season: &Season) -> Said {
    season
        .observations()
        .filter_map(|said| match said.observed {
            Observed::Value(quantity, value) => Some(((quantity, said.time), value)),
            Observed::Sign(_) => None,
        })
        .collect()
}

/// What a trouble may change, and the least and greatest share of those readings that it changes or takes away.
fn reach(trouble: Trouble) -> (&'static [Quantity], f64, f64) {
    match trouble {
        Trouble::Stratification => (RANGES, 0.05, 0.7),
        Trouble::Vents => (EVERYTHING, 0.1, 1.0),
        Trouble::Misting => (EVERYTHING, 0.02, 0.8),
        Trouble::People => (RANGES, 0.002, 0.3),
        Trouble::Knocks => (RANGES, 0.01, 0.999),
        Trouble::Sway => (RANGES, 0.02, 0.6),
        Trouble::Crosstalk => (RANGES, 0.0005, 0.1),
        Trouble::CycleSlips => (RANGES, 0.005, 0.4),
        Trouble::PowerCuts => (EVERYTHING, 0.0001, 0.1),
        Trouble::ThermometerBias => (&[Quantity::Temperature], 0.999, 1.0),
        Trouble::ThermometerLag => (&[Quantity::Temperature], 0.5, 1.0),
        Trouble::ThermometerStuck => (&[Quantity::Temperature], 0.0005, 0.3),
        Trouble::CorrelatedNoise => (RANGES, 0.3, 1.0),
        Trouble::StuckOutput => (RANGES, 0.0, 0.1),
        Trouble::Dropouts => (RANGES, 0.001, 0.2),
        Trouble::StrayEchoes => (RANGES, 0.0005, 0.03),
    }
}

/// The truth without what troubles add to it.
fn plant_only(truth: &Truth) -> Truth {
    Truth {
        troubles: Vec::new(),
        knocks: Vec::new(),
        power_cuts: Vec::new(),
        people: Vec::new(),
        ..truth.clone()
    }
}

#[test]
fn each_trouble_alone_changes_its_own_readings_only() {
    for seed in [3, 4] {
        let calm = season(seed, Troubles::NONE);
        let base = said(&calm);
        for trouble in Trouble::ALL.iter().copied() {
            let (quantities, least, most) = reach(trouble);
            let troubled = season(seed, Troubles::NONE.with(trouble));
            assert_eq!(&plant_only(troubled.truth()), calm.truth(), "{trouble:?} changed the plant");
            let with = said(&troubled);
            assert!(with.keys().all(|key| base.contains_key(key)), "{trouble:?} added readings");
            let (mut changed, mut of) = (0, 0);
            for (key, value) in &base {
                let same = with.get(key).is_some_and(|other| other.to_bits() == value.to_bits());
                if quantities.contains(&key.0) {
                    of += 1;
                    changed += u32::from(!same);
                } else {
                    assert!(same, "{trouble:?} changed {} at {}", key.0.name(), key.1);
                }
            }
            let share = f64::from(changed) / f64::from(of);
            assert!((least..=most).contains(&share), "{trouble:?}, seed {seed}: changed {share}");
        }
    }
}

#[test]
fn a_hung_output_repeats_itself_for_hours() {
    // rare enough that one season may have none
    let longest = (0..6)
        .map(|seed| {
            let hung = season(seed, Troubles::NONE.with(Trouble::StuckOutput));
            let readings = said(&hung);
            let (mut longest, mut run, mut last) = (0, 0, f64::NAN);
            for ((quantity, _), value) in &readings {
                run = if *quantity == Quantity::RimRange && value.to_bits() == last.to_bits() {
                    run + 1
                } else {
                    0
                };
                last = *value;
                longest = longest.max(run);
            }
            longest
        })
        .max();
    // half an hour at the least; white noise of half a millimetre does not repeat itself 15 times
    assert!(longest.unwrap() >= 15, "{longest:?}");
}

#[test]
fn one_trouble_more_leaves_the_others_as_they_were() {
    for trouble in Trouble::ALL.iter().copied() {
        let all = season(8, Troubles::all());
        let but_one = season(8, Troubles::all().without(trouble));
        assert_eq!(plant_only(all.truth()), plant_only(but_one.truth()));
        let (one, other) = (all.truth(), but_one.truth());
        if trouble != Trouble::Knocks {
            assert_eq!(one.knocks, other.knocks, "{trouble:?}");
        }
        if trouble != Trouble::PowerCuts {
            assert_eq!(one.power_cuts, other.power_cuts, "{trouble:?}");
        }
        if trouble != Trouble::People {
            assert_eq!(one.people, other.people, "{trouble:?}");
        }
        let (with, without) = (said(&all), said(&but_one));
        let (quantities, ..) = reach(trouble);
        for (key, value) in with.iter().filter(|(key, _)| !quantities.contains(&key.0)) {
            assert_eq!(without.get(key), Some(value), "{trouble:?} changed {}", key.0.name());
        }
    }
}

#[test]
fn a_knock_moves_the_level_by_what_the_truth_says() {
    let knocked = season(5, Troubles::NONE.with(Trouble::Knocks));
    let calm = season(5, Troubles::NONE);
    assert!(!knocked.truth().knocks.is_empty());
    for knock in &knocked.truth().knocks {
        assert!((0.005..=0.08).contains(&knock.step_m.abs()));
        let distance = |season: &Season, time: Time| {
            if knock.quantity == "tip-range" {
                season.tip_distance_m(time)
            } else {
                season.rim_distance_m(time)
            }
            .unwrap()
        };
        let moved = |time| distance(&knocked, time) - distance(&calm, time);
        let step = moved(knock.time.plus_hours(0.01)) - moved(knock.time.plus_hours(-0.01));
        assert!((step - knock.step_m).abs() < 1e-9, "{step}");
    }
}

#[test]
fn nothing_is_said_in_a_power_cut_and_people_come_nearer_than_the_plant() {
    let troubled = season(8, Troubles::NONE.with(Trouble::PowerCuts).with(Trouble::People));
    let base = said(&season(8, Troubles::NONE));
    let readings = said(&troubled);
    let cuts = &troubled.truth().power_cuts;
    assert!(!cuts.is_empty());
    for (_, time) in readings.keys() {
        assert!(!cuts.iter().any(|cut| cut.from <= *time && *time < cut.until), "{time}");
    }
    let nearer: Vec<f64> = readings
        .iter()
        .filter(|(key, _)| key.0 == Quantity::RimRange)
        .map(|(key, value)| base[key] - value)
        .filter(|nearer_m| nearer_m.abs() > 1e-12)
        .collect();
    assert!(nearer.len() > 50);
    assert!(nearer.iter().all(|nearer_m| *nearer_m > -0.01), "the first echo wins");
    assert!(nearer.iter().any(|nearer_m| *nearer_m > 0.3));
}
