//! The belief in an opening: a jump of unknown time and size in a level that wanders.
//!
//! Sources: the case of Willsky & Jones 1976 with a course in place of the step, each hypothesis conditioned at once as one Gaussian
//! (numpy and scipy, `tests/reference/willsky_jones.py`), which knows no recursion; and the updates of statsmodels 0.15.0.

use bloom_model::opening::belief::{LevelAmplitude, Noise};
use end_to_end::tables::{Row, rows};

fn agrees(row: &Row, column: &str, ours: f64) {
    row.agrees(column, ours, 1e-8 * row.number(column).abs() + 1e-9);
}

/// Walk, noise and prior as in the table's head.
#[test]
fn every_hypothesis_of_a_jump() {
    let mut state: Option<LevelAmplitude> = None;
    let (mut before_h, mut log_density) = (0.0, 0.0);
    for row in rows("willsky_jones.csv", 200) {
        let (began_h, takes_h) = (row.known("began_h"), row.known("takes_h"));
        let hour = row.number("t_h");
        if row.text("i") == "0" {
            let (amplitude_m, amplitude_variance) = began_h.map_or((0.0, 0.0), |_| (40.0, 144.0));
            log_density = 0.0;
            before_h = hour;
            state = Some(LevelAmplitude {
                level_m: 0.0,
                amplitude_m,
                level_variance: 4.0,
                covariance: 0.0,
                amplitude_variance,
            });
        }
        let share = began_h.zip(takes_h).map_or(0.0, |(began_h, takes_h)| {
            0.5 - 0.5 * (std::f64::consts::PI * ((hour - began_h) / takes_h).clamp(0.0, 1.0)).cos()
        });
        let state = state.as_mut().unwrap();
        state.predict(0.04 * (hour - before_h));
        before_h = hour;
        log_density += state.update(row.number("y_cm"), share, &Noise::normal(0.09));
        agrees(&row, "log_density", log_density);
        agrees(&row, "level_cm", state.level_m);
        agrees(&row, "amplitude_cm", state.amplitude_m);
        agrees(&row, "p11", state.level_variance);
        agrees(&row, "p12", state.covariance);
        agrees(&row, "p22", state.amplitude_variance);
    }
}

/// One sample at a time, from the state before it to the state after it; at no share of the course the second number is not observed.
#[test]
fn single_updates() {
    let mut updates = 0;
    for row in rows("kalman_llt.csv", 240) {
        let Some(measured) = row.known("y_mm") else { continue };
        let mut state = LevelAmplitude {
            level_m: row.number("pred_level"),
            amplitude_m: row.number("pred_slope"),
            level_variance: row.number("pred_p11"),
            covariance: row.number("pred_p12"),
            amplitude_variance: row.number("pred_p22"),
        };
        let log_density = state.update(measured, 0.0, &Noise::normal(9.0));
        let variance = row.number("innov_var");
        let expected =
            -0.5 * (row.number("innov").powi(2) / variance + (std::f64::consts::TAU * variance).ln());
        assert!((log_density - expected).abs() < 1e-7, "{log_density} here, {expected} there");
        agrees(&row, "filt_level", state.level_m);
        agrees(&row, "filt_slope", state.amplitude_m);
        agrees(&row, "filt_p11", state.level_variance);
        agrees(&row, "filt_p12", state.covariance);
        agrees(&row, "filt_p22", state.amplitude_variance);
        updates += 1;
    }
    assert!(updates > 200, "{updates}");
}
