//! Heat for the people at this bench. The [site](crate::site) tells it, once for the house.

use super::Bench;
use crate::heat::{HeatLevel, HouseHeat, heat_index_c};
use crate::time::Time;

impl Bench {
    pub(super) fn look_at_heat(&mut self, now: Time) {
        if let Some((temperature_c, humidity_pct)) = self.state.air.fresh(now) {
            let index_c = heat_index_c(temperature_c, humidity_pct);
            self.state.heat_stress.look(index_c, now, &self.site.heat);
        }
    }

    /// How hot it is here for people.
    pub(crate) fn heat_level(&self, now: Time) -> HeatLevel {
        self.state.heat_stress.level(now)
    }

    /// Temperature, °C, and relative humidity, %, if both are known and fresh.
    pub(crate) fn air_for_people(&self, now: Time) -> Option<(f64, f64)> {
        self.state.air.fresh(now)
    }

    /// What the house was told of heat, as this bench's state holds it.
    pub(crate) const fn house_heat(&self) -> HouseHeat {
        self.state.house_heat
    }

    pub(crate) const fn keep_house_heat(&mut self, heat: HouseHeat) {
        self.state.house_heat = heat;
    }
}
