//! What a target can do, and whether it does it.

use crate::growth::line::Line;

/// Differences below this are never a jump, m.
pub(super) const GATE_FLOOR_M: f64 = 0.012;
/// A rate that a level after a blind span must show to count as going on, m/h.
const GOES_ON_M_H: f64 = 0.008;

/// What a target of this ranger can do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// Fastest movement towards the ranger, m/h.
    pub towards_m_h: f64,
    /// Fastest movement away from it, m/h.
    pub away_m_h: f64,
    /// Standard deviation by which the rate may change within an hour, m/h: the filter's process noise.
    pub rate_change_m_h: f64,
    /// A change over a blind span of at least this is movement even if it does not go on, m.
    pub found_moved_m: f64,
    /// The target is known to be on its way: what stands still before it is no mount that was knocked, and what seems to have
    /// gone back is given longer.
    pub on_its_way: bool,
    /// A jump back to an earlier level shows that something else had been followed. Not so where the target grows through
    /// every level: what looks like an earlier height may be a swing of the tip.
    pub jumps_back_tell: bool,
    /// Positions outside this span are no target of this ranger, m.
    pub plausible_m: (f64, f64),
}

impl Motion {
    /// Whether a target of this ranger can be there.
    pub(crate) fn is_plausible(&self, position_m: f64) -> bool {
        position_m >= self.plausible_m.0 && position_m <= self.plausible_m.1
    }

    /// Whether the target can have moved so far in so many hours.
    pub(super) fn allows(&self, moved_m: f64, hours: f64) -> bool {
        moved_m <= self.towards_m_h * hours + GATE_FLOOR_M && moved_m >= -self.away_m_h * hours - GATE_FLOOR_M
    }

    /// Whether waiting samples move on the way they have moved, at a rate that the target can make.
    pub(super) fn goes_on(&self, line: &Line, moved_m: f64) -> bool {
        line.rate_m_h.abs() > GOES_ON_M_H.max(3.0 * line.rate_sd_m_h)
            && line.rate_m_h.abs() <= self.towards_m_h
            && line.rate_m_h.signum() == moved_m.signum()
    }
}
