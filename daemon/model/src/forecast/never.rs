//! The chance that a bud never opens.

/// Of the buds that open, this share nearly stands still on its last days (judged on eight published series, whose last day's
/// growth was 0 to half of the peak); plateaus come on top.
const STANDS_STILL: f64 = 0.25;

/// The chance that it never opens: the published share of buds that failed, weighed against those that would have waited so long.
///
/// `waited` is the sum of `-ln(1 - chance)` over the days on which it did not open although it might have; a bud that opens passes
/// over so many chances with probability `exp(-waited)`, one that never opens surely.
pub(super) fn probability(waited: f64, stopped: bool, never_opens_share: f64, plateau_share: f64) -> f64 {
    let stands = if stopped { (STANDS_STILL + plateau_share).min(1.0) } else { 1.0 };
    let opening = (1.0 - never_opens_share) * stands * (-waited).exp();
    never_opens_share / (never_opens_share + opening)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bayes' rule by hand: one bud in ten fails; of those that open, one in three stands still, and one in four of those
    /// has waited through two even chances: 0.1 against 0.9 / 3 / 4.
    #[test]
    fn chances_passed_over_count_against_the_opening() {
        let waited = 2.0 * std::f64::consts::LN_2;
        let found = probability(waited, true, 0.1, 1.0 / 3.0 - STANDS_STILL);
        assert!((found - 0.1 / (0.1 + 0.9 / 12.0)).abs() < 1e-12, "{found}");
        assert!((probability(0.0, false, 0.1, 0.08) - 0.1).abs() < 1e-12);
    }
}
