//! The identifier of wild readings.
//!
//! Sources: medians by numpy 2.4.6 and median absolute deviations by scipy 1.17.1 over a trailing and over a centred window;
//! the flags of the package `hampel` 1.0.2 from PyPI.

use bloom_model::growth::hampel::{Hampel, Verdict, WINDOW};
use end_to_end::tables::{Row, rows};

/// Twelve digits are stored of sigma; a median is a reading or the mean of two, and exact.
const SIGMA: f64 = 1e-9;

fn verdicts(rows: &[Row], floor: f64) -> Vec<Verdict> {
    let mut window = Hampel::default();
    rows.iter().map(|row| window.take(row.number("x_mm"), floor)).collect()
}

#[test]
fn trailing_window() {
    let rows = rows("hampel_trailing.csv", 120);
    for (floor, sigma, flag) in [(0.0, "sigma", "flag"), (0.5, "sigma_floor_0_5", "flag_floor")] {
        for (row, verdict) in rows.iter().zip(verdicts(&rows, floor)) {
            row.agrees("median_trailing11", verdict.median, 0.0);
            row.agrees(sigma, verdict.sigma, SIGMA);
            assert_eq!(u8::from(verdict.outlier).to_string(), row.text(flag), "{flag}: {verdict:?} in {row}");
        }
    }
}

/// A full centred window is the trailing one of five readings later.
#[test]
fn full_centred_window() {
    let rows = rows("hampel.csv", 120);
    let verdicts = verdicts(&rows, 0.0);
    let mut full = 0;
    for (row, verdict) in rows.iter().zip(&verdicts[WINDOW / 2..]) {
        if row.text("full_window") == "1" {
            row.agrees("median_trunc", verdict.median, 0.0);
            row.agrees("sigma_trunc", verdict.sigma, SIGMA);
            let outlier = (row.number("x_mm") - verdict.median).abs() > 3.0 * verdict.sigma;
            assert_eq!(u8::from(outlier).to_string(), row.text("flag_hampel_lib"), "{verdict:?} in {row}");
            full += 1;
        }
    }
    assert_eq!(full, rows.len() - WINDOW + 1);
}
