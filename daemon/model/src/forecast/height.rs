//! How tall the plant will stand when it opens: for the kit, the ladder and the mount.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::lasting::Z90;

/// The height at which it opens, as far as growth so far tells, if it opens at all.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HeightAtOpening {
    /// One in ten stands lower, m.
    pub low: f64,
    /// In the middle, m.
    pub likely: f64,
    /// One in ten stands higher, m.
    pub high: f64,
}

impl HeightAtOpening {
    /// From the height now, m, and the mean and standard deviation of what is still to grow, cm; to the centimetre. What is still to grow is
    /// never less than nothing, and taken as log-normal.
    pub(super) fn of(height_m: f64, (still_cm, sd_cm): (f64, f64)) -> Self {
        let still_cm = still_cm.max(1e-6);
        let spread_squared = (sd_cm / still_cm).powi(2).ln_1p();
        let spread = spread_squared.sqrt();
        let middle_cm = still_cm * (-0.5 * spread_squared).exp();
        let at = |deviate: f64| {
            let height_cm = 100.0 * height_m + middle_cm * (deviate * spread).exp();
            height_cm.round() / 100.0
        };
        Self { low: at(-Z90), likely: at(0.0), high: at(Z90) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Percentiles of a log-normal of mean 20 and standard deviation 10: 9.7648, 17.8885 and 32.7709 (by Python's `math` from the
    /// distribution's definition).
    #[test]
    fn what_is_still_to_grow_is_log_normal() {
        let height = HeightAtOpening::of(1.5, (20.0, 10.0));
        assert_eq!(height, HeightAtOpening { low: 1.6, likely: 1.68, high: 1.83 });
    }

    #[test]
    fn a_bud_that_grows_no_more_stands_as_it_is() {
        assert_eq!(
            HeightAtOpening::of(1.5, (0.0, 0.0)),
            HeightAtOpening { low: 1.5, likely: 1.5, high: 1.5 }
        );
    }
}
