//! The chance that a bud never opens.

use crate::profile::Profile;

/// Of the buds that open, this share nearly stands still on its last days, and such a last stand lasts so many days on average
/// (judged on eight published series, whose last day's growth was 0 to half of the peak).
const STANDS_STILL: f64 = 0.25;
const LAST_STAND_D: f64 = 1.5;

/// The chance that it never opens, from how long growth has been next to nothing: the published share of buds that failed, against
/// the share of buds that would have stood still so long and have not opened yet.
pub(super) fn probability(stopped_d: Option<f64>, profile: &Profile) -> f64 {
    let failing = profile.never_opens_share;
    let still_waiting = match stopped_d {
        None => return failing,
        Some(days) => {
            STANDS_STILL * (-days / LAST_STAND_D).exp()
                + profile.plateau_share * (1.0 - days / profile.plateau_latest_d).max(0.02)
        }
    };
    failing / (failing + (1.0 - failing) * still_waiting)
}
