//! A clock that is not to be trusted: said once, and once more when it is over. When it is doubted, and for how long, is for whoever reads the
//! clock to say.

use crate::event::{ClockTrouble, SiteTrouble};
use crate::time::Time;

/// What is known of the machine's clock.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ClockSays {
    /// Why it is not to be trusted, if it is not.
    pub doubt: Option<ClockTrouble>,
    /// The time of day that it claims; `None` where the machine's clock is not asked.
    pub claimed: Option<Time>,
}

/// A doubt that was told, and since when it has stood.
#[derive(Debug, Clone, Copy)]
pub(super) struct ToldDoubt {
    pub(super) doubt: ClockTrouble,
    since: Time,
}

/// Compares what is known of the clock with what was told of it; gives what is to be told, and since when it has held.
pub(super) fn look(told: &mut Option<ToldDoubt>, clock: ClockSays, now: Time) -> Option<(SiteTrouble, Time)> {
    if clock.doubt == told.map(|told| told.doubt) {
        return None;
    }
    let before = std::mem::replace(told, clock.doubt.map(|doubt| ToldDoubt { doubt, since: now }));
    match clock.doubt {
        Some(doubt) => Some((SiteTrouble::ClockWrong { doubt, claimed: clock.claimed }, now)),
        None => before.map(|before| (SiteTrouble::ClockRight, before.since)),
    }
}
