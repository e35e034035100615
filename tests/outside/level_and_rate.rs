//! The filter of level and rate.
//!
//! Sources: the whole series of readings and states conditioned at once as one Gaussian (numpy), which knows no recursion and
//! so shares no error with one; and the state-space models of statsmodels 0.15.0.

use bloom_model::growth::filter::LevelRateFilter;
use end_to_end::tables::{Row, rows};

/// Two methods agree to 1e-11, and twelve digits are stored.
fn agrees(row: &Row, column: &str, ours: f64) {
    row.agrees(column, ours, 1e-8 * row.number(column).abs() + 1e-9);
}

fn agrees_as_filtered(row: &Row, state: &LevelRateFilter) {
    agrees(row, "filt_level", state.level());
    agrees(row, "filt_slope", state.rate());
    agrees(row, "filt_p11", state.level_variance());
    agrees(row, "filt_p12", state.covariance());
    agrees(row, "filt_p22", state.rate_sd().powi(2));
    agrees(row, "filt_p11", state.level_sd().powi(2));
}

/// Steps as they come, acceleration density 0.02 mm²/h³, readings with 4 mm² of noise (the table's head).
#[test]
fn irregular_readings() {
    const DENSITY: f64 = 0.02;
    let mut state = LevelRateFilter::start(1000.0, 1.0, 400.0, 4.0);
    let mut before_h = 0.0;
    for row in rows("kalman_irregular.csv", 79) {
        state.predict(row.number("t_h") - before_h, DENSITY);
        before_h = row.number("t_h");
        state.update(row.number("y_mm"), 4.0);
        agrees_as_filtered(&row, &state);
    }
    // a day ahead of the last reading, from the table's head
    state.predict(24.0, DENSITY);
    for (ours, table) in [
        (state.level(), 1_192.989_423_056),
        (state.rate(), 2.456_981_832),
        (state.level_variance(), 152.776_493_095),
    ] {
        assert!((ours - table).abs() <= 1e-8 * table, "{ours} here, {table} there");
    }
}

/// One reading at a time: from the state before it, as the library gives it, to the state after it. (The library's model of
/// what happens between readings is another one, so only the update can be compared.)
#[test]
fn single_updates() {
    let mut updates = 0;
    for row in rows("kalman_llt.csv", 240) {
        let Some(measured) = row.known("y_mm") else { continue };
        let mut state: LevelRateFilter = serde_json::from_value(serde_json::json!({
            "level": row.number("pred_level"),
            "rate": row.number("pred_slope"),
            "level_variance": row.number("pred_p11"),
            "covariance": row.number("pred_p12"),
            "rate_variance": row.number("pred_p22"),
        }))
        .unwrap();
        let innovation = state.innovation(measured, 9.0);
        // a difference of two numbers near 1000 of which twelve digits are stored
        row.agrees("innov", innovation.value, 1e-8);
        agrees(&row, "innov_var", innovation.variance);
        state.update(measured, 9.0);
        agrees_as_filtered(&row, &state);
        updates += 1;
    }
    assert!(updates > 200, "{updates}");
}
