//! The air between a ranger and the plant: the bench's own, or, while its thermometer is out, that of its neighbours under the same glass.

use serde::{Deserialize, Serialize};

use super::Bench;
use crate::ranging::{AirNow, Held};
use crate::time::Time;

/// Air that the other benches of the house lend to one whose thermometer is out or stuck.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct LentAir {
    /// So much warmer than the others the bench was when both were known last, K. What it was keeps the edge where it is at the change.
    above_k: f64,
    /// The temperature that is lent, °C, with that difference.
    lent_c: Option<Held>,
}

impl Bench {
    /// The bench's own temperature, °C, read within the hour by a thermometer that is not stuck.
    pub(crate) fn own_temperature_c(&self, now: Time) -> Option<f64> {
        let held = self.state.air.temperature_c.filter(|_| self.state.air.is_known(now))?;
        Some(held.value)
    }

    /// Holds its own air against the mean of the other benches', °C.
    pub(crate) fn compare_air(&mut self, now: Time, others_c: f64) {
        if let Some(own_c) = self.own_temperature_c(now) {
            self.state.lent_air.above_k = own_c - others_c;
        }
    }

    /// Lends it the mean of the other benches' air, °C.
    pub(crate) fn lend_air(&mut self, now: Time, others_c: f64) {
        let lent = &mut self.state.lent_air;
        Held::take_into(&mut lent.lent_c, others_c + lent.above_k, now);
    }

    /// The air that ranges are corrected by.
    fn air_for_ranges(&self, now: Time) -> AirNow {
        let own = self.state.air;
        if own.is_known(now) {
            return own;
        }
        let lent = AirNow { temperature_c: self.state.lent_air.lent_c, ..own };
        if lent.is_known(now) { lent } else { own }
    }

    /// Temperature, °C, of the air that ranges are corrected by, if it is known.
    pub(super) fn temperature_for_ranges_c(&self, now: Time) -> Option<f64> {
        let air = self.air_for_ranges(now);
        air.temperature_c.filter(|_| air.is_known(now)).map(|held| held.value)
    }

    /// Speed of sound between ranger and plant, m/s.
    pub(super) fn speed_of_sound_m_s(&self, now: Time) -> f64 {
        self.air_for_ranges(now).speed_of_sound_m_s(self.site.pressure_kpa)
    }
}
