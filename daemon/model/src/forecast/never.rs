//! The chance that a bud never opens.

use crate::sign::PlainSign;
use crate::time::Time;

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

/// The share of buds that never open, before anything was waited for: leaves among them as long as no sign shows a flower.
pub(super) fn share(signs: &[(Time, PlainSign)], leaf_share: f64, never_opens_share: f64) -> f64 {
    // bracts fall from a leaf, too (common practice, no source)
    let shows_a_flower = |sign: PlainSign| {
        matches!(
            sign,
            PlainSign::SpadixVisible
                | PlainSign::EdgeColoured
                | PlainSign::EdgeLoose
                | PlainSign::Scent
                | PlainSign::Flies
        )
    };
    let is_a_flower = signs.iter().any(|(_, sign)| shows_a_flower(*sign));
    let leaf = if is_a_flower { 0.0 } else { leaf_share };
    leaf + (1.0 - leaf) * never_opens_share
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

    /// One in ten is a leaf, and of the nine flowers a fifth fails: 0.1 + 0.9 · 0.2; from the spadix on only that fifth.
    #[test]
    fn a_spadix_that_shows_is_no_leaf() {
        let now = Time::from_unix_ms(0);
        assert!((share(&[(now, PlainSign::BractDropped)], 0.1, 0.2) - 0.28).abs() < 1e-12);
        assert!((share(&[(now, PlainSign::SpadixVisible)], 0.1, 0.2) - 0.2).abs() < 1e-12);
    }
}
