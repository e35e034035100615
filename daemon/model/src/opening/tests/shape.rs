//! What the rim's own line tells: how it rises and falls, that it holds out, when it will be fully open.

use super::night::{START, at};
use super::*;
use crate::event::FullOpenTimes;

/// Levels minute by minute up to now, by the hours before now.
fn trace(from_h: f64, every_min: i32, level_m: impl Fn(f64) -> f64) -> Rings {
    let mut rings = Rings::default();
    let first = -(from_h * 60.0).round() as i32;
    for minute in (first..=0).filter(|minute| minute % every_min == 0) {
        let hours = f64::from(minute) / 60.0;
        rings.push(Sample { time: START.plus_hours(hours), position_m: level_m(hours) });
    }
    rings
}

/// The blocks of nine minutes at these levels, the newest last.
fn blocks(levels_m: &[f64]) -> Rings {
    let first_h = -0.15 * levels_m.len() as f64;
    trace(-first_h - 0.02, 1, |hours| levels_m[(((hours - first_h) / 0.15) as usize).min(levels_m.len() - 1)])
}

#[test]
fn a_rise_is_spread_if_no_step_has_more_than_its_share() {
    let rises = |levels_m: &[f64]| rises_throughout(&blocks(levels_m), START);
    assert!(rises(&[0.0, 0.01, 0.02, 0.03, 0.04]));
    assert!(rises(&[0.0, 0.0, 0.0053, 0.0106, 0.0200]), "0.47 of it");
    assert!(rises(&[0.0, 0.0108, 0.0138, 0.0168, 0.0200]), "0.54 of it");
    assert!(!rises(&[0.0, 0.0114, 0.0144, 0.0174, 0.0200]), "0.57 of it");
    assert!(!rises(&[0.04, 0.03, 0.02, 0.01, 0.0]), "falls");
    assert!(!rises(&[0.0; 5]), "stands");
    // three blocks leave two steps, of which one has half at least
    assert!(rises(&[0.0, 0.0128, 0.02]), "0.64 of it");
    assert!(!rises(&[0.0, 0.0134, 0.02]), "0.67 of it");
    assert!(!rises(&[0.0, 0.02]), "two blocks say nothing");
    assert!(!rises_throughout(&Rings::default(), START));
    // told every ten minutes
    assert!(rises_throughout(&trace(2.0, 10, |hours| 0.02 * hours), START));
    assert!(!rises_throughout(&trace(2.0, 10, |hours| if hours > -0.3 { 0.02 } else { 0.0 }), START));
    // what lies before the three quarters of an hour is not looked at
    assert!(!rises_throughout(&trace(3.0, 1, |hours| (0.02 * (hours + 1.0)).min(0.0)), START));
    // a stray echo in each block
    let strays =
        trace(0.74, 1, |hours| 0.02 * hours - if (hours * 60.0) as i32 % 9 == -4 { 0.3 } else { 0.0 });
    assert!(rises_throughout(&strays, START));
}

#[test]
fn a_fall_is_made_at_once_if_one_step_has_four_fifths_of_it() {
    let falls = |levels_m: &[f64]| {
        let from_a_metre: Vec<f64> = levels_m.iter().map(|level_m| 1.0 + level_m).collect();
        falls_at_once(&blocks(&from_a_metre), START)
    };
    assert!(falls(&[0.06, 0.06, 0.06, 0.0, 0.0]));
    assert!(falls(&[0.06, 0.0545, 0.0545, 0.005, 0.0]), "0.825 of it");
    assert!(!falls(&[0.06, 0.052, 0.052, 0.005, 0.0]), "0.78 of it");
    assert!(!falls(&[0.06, 0.045, 0.03, 0.015, 0.0]));
    assert!(!falls(&[0.06; 5]), "stands");
    assert!(!falls_at_once(&Rings::default(), START));
}

#[test]
fn an_opening_under_way_made_three_tenths_of_its_advance_in_three_hours() {
    let under_way = |then_m: f64| {
        let rings = trace(8.0, 1, |hours| if hours < -2.0 { then_m } else { 0.1 });
        is_under_way(&rings, START, 0.0, 0.1)
    };
    assert!(under_way(0.069));
    assert!(!under_way(0.072));
    // the same over a level that is not nought
    let rings = trace(8.0, 1, |hours| if hours < -2.0 { 1.069 } else { 1.1 });
    assert!(is_under_way(&rings, START, 1.0, 0.1));
    assert!(!is_under_way(&rings, START, 1.0, 0.08));
    assert!(is_under_way(&trace(2.0, 1, |_| 0.1), START, 0.0, 0.1), "nothing is known of then");
    // of four hours ago nothing is asked
    let rings = trace(8.0, 1, |hours| if hours < -3.6 { 0.1 } else { 0.0 });
    assert!(is_under_way(&rings, START, 0.0, 0.1));
}

#[test]
fn a_rim_holds_out_that_goes_back_by_no_more_than_two_centimetres_an_hour() {
    let holds = |rate_m_h: f64| holds_out(&trace(1.0, 1, |hours| 0.25 + rate_m_h * hours), at(-1.0), START);
    assert!(holds(0.05) && holds(0.0) && holds(-0.018));
    assert!(!holds(-0.022) && !holds(-0.1));
    assert!(!holds_out(&Rings::default(), START, START), "of nothing nothing is known");
    // what it did before is not looked at
    let fell_before = trace(3.0, 1, |hours| if hours < -1.0 { 0.5 - 0.1 * (hours + 3.0) } else { 0.25 });
    assert!(holds_out(&fell_before, at(-0.9), START));
}

fn full(curve_m_h2: Option<f64>, now_h: f64) -> [f64; 3] {
    let evidence = Evidence {
        advance_m: 0.05,
        rate_m_h: 0.04,
        baseline_m_h: 0.0,
        curve_m_h2,
        began: START,
        found_open: false,
    };
    let FullOpenTimes { earliest, likely, latest } = full_open_times(&evidence, at(now_h), &titan_arum());
    [earliest, likely, latest].map(|time| time.hours_since(START))
}

#[test]
fn without_a_curve_full_opening_is_what_openings_take() {
    // 8.5 h in the middle, and a tenth below and above a factor √(16/4) of it
    for (found, expected) in full(None, 2.0).into_iter().zip([4.25, 8.5, 17.0]) {
        near(found, expected, 0.02);
    }
    // nothing is foretold of what has passed
    for (found, expected) in full(None, 10.0).into_iter().zip([10.0, 10.0, 17.0]) {
        near(found, expected, 0.02);
    }
}

#[test]
fn a_curve_and_what_openings_take_are_weighed_by_their_precision() {
    // half a cosine to 40 cm in 8 h; ln T with standard deviations 0.4743 and 0.5409 (two normal distributions multiplied;
    // by hand): exp(2.1058) h, and exp(∓1.2816 · 0.3566) of it; the latest is no sooner than the slowest tenth
    let curve_m_h2 = 0.4 * (std::f64::consts::PI / 16.0).powi(2);
    for (found, expected) in full(Some(curve_m_h2), 2.0).into_iter().zip([5.20, 8.21, 16.0]) {
        near(found, expected, 0.02);
    }
    // one that sets out slowly: 16 h by its curve; exp(2.4976) h
    for (found, expected) in full(Some(curve_m_h2 / 4.0), 2.0).into_iter().zip([7.70, 12.15, 19.19]) {
        near(found, expected, 0.05);
    }
}

#[test]
fn a_rim_that_rests_far_enough_out_has_levelled_off() {
    let level = |from_h: f64, rate_m_h: f64| {
        levelled_off(&trace(from_h, 1, |hours| 0.40 + rate_m_h * hours), START, 0.08, 0.30)
    };
    assert!(level(1.0, 0.0));
    // a tenth of its fastest
    assert!(level(1.0, 0.0075) && level(1.0, -0.0075));
    assert!(!level(1.0, 0.0085) && !level(1.0, -0.0085));
    // three quarters of an hour must be seen, but for nine minutes
    assert!(level(0.62, 0.0));
    assert!(!level(0.55, 0.0));
    let low = trace(1.0, 1, |_| 0.29);
    assert!(!levelled_off(&low, START, 0.08, 0.30));
    assert!(levelled_off(&low, START, 0.08, 0.28));
    assert!(!levelled_off(&Rings::default(), START, 0.08, 0.30));
}
