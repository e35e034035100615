//! Seasons are what their truth says, inside the spreads that were published, and the same for the same seed.

use bench_sim::observe::Observation;
use bench_sim::options::{PlantWishes, RangerOptions, SeasonOptions};
use bench_sim::rim::OpeningShape;
use bench_sim::season::Season;
use bench_sim::truth::Outcome;
use bloom_model::air::speed_of_sound_m_s;
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use chrono::NaiveDate;

const HALIFAX: chrono_tz::Tz = chrono_tz::America::Halifax;

fn opening(wishes: PlantWishes) -> SeasonOptions {
    SeasonOptions {
        plant: PlantWishes { outcome: Some(Outcome::Opens), ..wishes },
        ..SeasonOptions::default()
    }
}

fn values(season: &Season, quantity: Quantity) -> Vec<(Time, f64)> {
    let of = |observation: Observation| match observation.observed {
        Observed::Value(said, value) if said == quantity => Some((observation.time, value)),
        _ => None,
    };
    season.observations().filter_map(of).collect()
}

#[test]
fn the_same_seed_gives_the_same_season() {
    let options = SeasonOptions {
        interval_s: 600,
        tape: true,
        signs: true,
        troubles: "all".parse().unwrap(),
        ..SeasonOptions::default()
    };
    let said = |seed| Season::draw(seed, &options).observations().collect::<Vec<_>>();
    let first = said(5);
    assert_eq!(first, said(5));
    assert_ne!(first, said(6));
    assert!(first.windows(2).all(|pair| pair[0].time <= pair[1].time), "in time order");
}

#[test]
fn sensors_and_intervals_leave_the_plant_alone() {
    let bare =
        SeasonOptions { interval_s: 300, tip: None, humidity: false, tape: true, ..SeasonOptions::default() };
    for seed in 0..20 {
        let (one, other) = (Season::draw(seed, &bare), Season::draw(seed, &SeasonOptions::default()));
        assert_eq!(one.truth(), other.truth());
        let quantities: Vec<Quantity> = one
            .observations()
            .filter_map(|said| match said.observed {
                Observed::Value(quantity, _) => Some(quantity),
                Observed::Sign(_) => None,
            })
            .collect();
        assert!(!quantities.contains(&Quantity::TipRange) && !quantities.contains(&Quantity::Humidity));
        assert!(quantities.contains(&Quantity::RimRange) && quantities.contains(&Quantity::Height));
    }
}

#[test]
fn seasons_stay_within_published_spreads() {
    let mut afternoons = 0;
    let (mut gaps, mut plateaus) = (0, 0);
    let count = 300;
    for seed in 0..count {
        let season = Season::draw(seed, &opening(PlantWishes::default()));
        let truth = season.truth();
        let (crack, full) = (truth.crack.unwrap(), truth.full_open.unwrap());
        let within = |what: &str, value: f64, from: f64, to: f64| {
            assert!(
                (from..=to).contains(&value),
                "seed {seed}: {what} of {value} is not within {from} to {to}"
            );
        };
        // emergence to opening: 31 d (Bogor 2019-20) to 63 d (Cibodas 2024), and up to 75 d
        within("days to opening", crack.days_since(truth.emerged), 31.0, 76.0);
        // peak rate: 5.1 (Disney 2005) to about 20 cm a day (Milwaukee 2008), on any one day
        within("peak", truth.peak_cm_day, 4.5, 20.5);
        // peak by final height over ten events: 0.046 to 0.082 a day
        within("share", truth.peak_cm_day / 100.0 / truth.final_height_m, 0.036, 0.09);
        // slow-down: the rate passes half its peak 0 to 12 d before opening (8 events)
        if let Some(slowing) = truth.slowing_began {
            let slow_d = crack.days_since(slowing);
            within("slow-down", slow_d, 0.0, 12.5);
            plateaus += u32::from(slow_d > 6.0);
        }
        // last day by peak: 0 to 0.5 (8 events)
        let last_m = season.height_m(crack) - season.height_m(crack.plus_hours(-24.0));
        within("last day", 100.0 * last_m / truth.peak_cm_day, -0.001, 0.6);
        // crack to full: 4 h (Atlanta 1998) to 24 h (Fairchild 1998)
        within("hours to full", full.hours_since(crack), 4.0, 24.0);
        within("advance", truth.full_advance_m.unwrap(), 0.20, 0.65);
        within("swelling", truth.swelling_mm_day, 1.0, 4.0);
        // shortest stay: closing 14 h after the crack (Fairchild 2003); longest 72 h (Meise 2018)
        within("closing", truth.closing_begins.unwrap().hours_since(crack), 14.0, 72.0);
        within("collapse", truth.collapses.unwrap().days_since(crack), 2.9, 5.0);
        // neither ranger comes into its blind zone
        within("rim distance", season.rim_distance_m(full).unwrap(), 0.21, 0.95);
        within("tip distance", season.tip_distance_m(crack).unwrap(), 0.21, 3.1);
        if let Some(gap) = truth.gap_that_closes {
            within("gap", gap.advance_m, 0.01, 0.05);
            assert!(gap.window.until < crack, "seed {seed}: the gap closes before the crack");
            gaps += 1;
        }
        afternoons += u32::from((12.0..=16.0).contains(&crack.local_hour(HALIFAX)));
    }
    // 21 of 25 clocked cracks lie within 12:00 to 16:00; four standard errors of 300 draws are 0.085
    let share = f64::from(afternoons) / count as f64;
    assert!((share - 21.0 / 25.0).abs() < 0.085, "{share}");
    assert!(gaps > 10 && plateaus > 10, "{gaps} gaps, {plateaus} long slow-downs");
}

#[test]
fn the_rim_does_what_the_truth_says() {
    for seed in 0..40 {
        let wishes = PlantWishes {
            gap_that_closes: Some(seed % 2 == 0),
            slack: Some(seed % 3 == 0),
            ..PlantWishes::default()
        };
        let season = Season::draw(seed, &opening(wishes));
        let truth = season.truth();
        let (crack, full) = (truth.crack.unwrap(), truth.full_open.unwrap());
        let at_crack = season.rim_advance_m(crack);
        let opened = season.rim_advance_m(full) - at_crack;
        assert!((opened - truth.full_advance_m.unwrap()).abs() < 1e-6, "seed {seed}: {opened}");
        assert!(season.rim_advance_m(truth.closed.unwrap()) < season.rim_advance_m(full) - 0.05);
        assert!(season.rim_advance_m(truth.start).abs() < 1e-12, "closed on the first day");
        // hour by hour: outside gap and slack nothing but swelling happens before the crack
        let mut time = truth.start;
        while time.plus_hours(1.0) < crack {
            let next = time.plus_hours(1.0);
            let passing = truth.gap_that_closes.iter().chain(&truth.slack);
            let mut windows = passing.map(|passing| passing.window);
            if !windows.any(|window| window.from < next && time < window.until) {
                let step_mm = 1000.0 * (season.rim_advance_m(next) - season.rim_advance_m(time));
                assert!(
                    (-1e-9..=truth.swelling_mm_day / 24.0 + 1e-9).contains(&step_mm),
                    "{time}: {step_mm}"
                );
            }
            time = next;
        }
        if let Some(gap) = truth.gap_that_closes {
            assert!(gap.window.until <= crack && crack.hours_since(gap.window.from) < 40.0);
        }
        for slack in &truth.slack {
            // air hot enough to slacken a spathe: EIU 2018, 40.6 °C
            assert!(season.air(slack.window.from.plus_hours(0.2)).bench_c > 38.0);
            assert!(slack.window.until < crack, "seed {seed}");
        }
    }
}

#[test]
fn buds_that_stop_and_leaves_never_open() {
    for outcome in [Outcome::Stops, Outcome::Leaf] {
        for seed in 0..20 {
            let plant = PlantWishes { outcome: Some(outcome), slack: Some(false), ..PlantWishes::default() };
            let season = Season::draw(seed, &SeasonOptions { plant, ..SeasonOptions::default() });
            let truth = season.truth();
            assert!(truth.crack.is_none() && truth.full_open.is_none());
            let ended = truth.growth_ended.unwrap();
            assert!(truth.end.days_since(ended) > 12.0, "the record goes on for the watcher");
            let hours = truth.end.hours_since(truth.start) as u32;
            let fastest_m = (0..hours)
                .map(|hour| truth.start.plus_hours(f64::from(hour)))
                .map(|time| season.rim_advance_m(time.plus_hours(1.0)) - season.rim_advance_m(time))
                .fold(0.0, f64::max);
            // leaflets spread over days, a bud swells: neither makes half a centimetre an hour
            assert!(fastest_m < 0.005, "{outcome:?} {seed}: {fastest_m}");
        }
    }
}

#[test]
fn wishes_come_true_and_change_nothing_else() {
    let wishes = PlantWishes {
        emerges_on: NaiveDate::from_ymd_opt(2027, 2, 1),
        days_to_opening: Some(45),
        crack_hour: Some(13.5),
        hours_to_full: Some(8.0),
        full_advance_m: Some(0.5),
        opening_shape: Some(OpeningShape::Logistic),
        ..PlantWishes::default()
    };
    let season = Season::draw(3, &opening(wishes));
    let truth = season.truth();
    let crack = truth.crack.unwrap();
    // 45 days after 1 February, across the change of the clocks on 14 March
    assert_eq!(crack.to_string(), "2027-03-18T16:30:00Z");
    assert_eq!(truth.full_open.unwrap(), crack.plus_hours(8.0));
    assert_eq!(truth.opening_shape, Some(OpeningShape::Logistic));
    let faster = PlantWishes { hours_to_full: Some(5.0), ..wishes };
    let other = Season::draw(3, &opening(faster));
    let before = crack.plus_hours(-1.0);
    let until =
        |season: &Season| season.observations().take_while(|said| said.time < before).collect::<Vec<_>>();
    assert_eq!(until(&season), until(&other));
}

#[test]
fn with_the_air_known_the_echo_gives_the_distance_back() {
    let noise_m = 0.001;
    let ranger =
        |mount_m| Some(RangerOptions { mount_m, noise_sd_m: Some(noise_m), ..RangerOptions::default() });
    let options = SeasonOptions {
        interval_s: 300,
        tip: ranger(3.1),
        rim: ranger(0.95),
        ..opening(PlantWishes::default())
    };
    let season = Season::draw(21, &options);
    let mut widest_raw_m: f64 = 0.0;
    for (quantity, ranger) in [(Quantity::TipRange, 0), (Quantity::RimRange, 1)] {
        let readings = values(&season, quantity);
        let mut squares = 0.0;
        for (time, reported_m) in &readings {
            let air = season.air(*time);
            let speed = speed_of_sound_m_s(air.bench_c, air.humidity_pct, air.pressure_kpa);
            let true_m =
                if ranger == 0 { season.tip_distance_m(*time) } else { season.rim_distance_m(*time) };
            let error_m = reported_m * speed / 343.2 - true_m.unwrap();
            widest_raw_m = widest_raw_m.max((reported_m - true_m.unwrap()).abs());
            // six standard deviations and half of the last digit
            assert!(error_m.abs() < 6.0 * noise_m + 0.0006, "{time}: {error_m}");
            squares += error_m * error_m;
        }
        let sd_m = (squares / readings.len() as f64).sqrt();
        // noise and rounding to whole millimetres: sqrt(1² + 1²/12) mm
        assert!((0.9e-3..1.25e-3).contains(&sd_m), "{sd_m}");
    }
    assert!(widest_raw_m > 0.02, "without the correction it would be centimetres: {widest_raw_m}");
}

#[test]
fn people_book_the_signs_of_a_bud_and_never_its_opening() {
    let options =
        SeasonOptions { tape: true, signs: true, interval_s: 3600, ..opening(PlantWishes::default()) };
    for seed in 0..30 {
        let season = Season::draw(seed, &options);
        let crack = season.truth().crack.unwrap();
        let signs: Vec<(Time, String)> = season
            .observations()
            .filter_map(|said| match said.observed {
                Observed::Sign(sign) => Some((said.time, sign.to_string())),
                Observed::Value(..) => None,
            })
            .collect();
        assert_eq!(signs[0].1, "emerged");
        assert!(signs.iter().any(|(_, sign)| sign == "spadix-visible"));
        assert!(signs.iter().all(|(time, sign)| *time < crack && sign != "opened"));
        let weeks = crack.days_since(season.truth().emerged) / 7.0;
        let taped = values(&season, Quantity::Height);
        let a_week = taped.len() as f64 / weeks;
        assert!((0.8..5.5).contains(&a_week), "seed {seed}: {a_week}");
        for (time, height_m) in taped {
            assert!((height_m - season.height_m(time)).abs() < 0.05);
        }
    }
}
