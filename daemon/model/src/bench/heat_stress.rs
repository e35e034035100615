//! Heat for the people at this bench. The [site](crate::site) says it, once for the house.

use super::Bench;
use super::say::rounded;
use crate::event::{Details, Event, EventKind, HeatDetails, Severity};
use crate::heat::{SCALE_ENDS_C, heat_index_c};
use crate::time::Time;

impl Bench {
    pub(super) fn look_at_heat(&mut self, now: Time) {
        if let Some((temperature_c, humidity_pct)) = self.state.air.fresh(now) {
            let index_c = heat_index_c(temperature_c, humidity_pct);
            self.state.heat_stress.look(index_c, now, &self.site.heat);
        }
    }

    /// How hot it is here for people: 0, 1 for heat, 2 for great heat.
    pub(crate) fn heat_level(&self, now: Time) -> u8 {
        self.state.heat_stress.level(now)
    }

    /// The gravest level that this bench has said for the house.
    pub(crate) const fn told_heat(&self) -> u8 {
        self.state.heat_stress.told
    }

    /// What this bench said is said no more, by it or by another.
    pub(crate) const fn forget_told_heat(&mut self) {
        self.state.heat_stress.told = 0;
    }

    /// Says for the house that it is so hot, or with 0 that the heat is over.
    pub(crate) fn tell_heat(&mut self, now: Time, level: u8, events: &mut Vec<Event>) {
        let Some((temperature_c, humidity_pct)) = self.state.air.fresh(now) else { return };
        self.state.heat_stress.told = level;
        let index_c = heat_index_c(temperature_c, humidity_pct);
        let above_scale = index_c >= SCALE_ENDS_C;
        let words = self.words();
        let air = format!("{} and {humidity_pct:.0} %", words.temperature(temperature_c));
        let index = words.temperature(index_c);
        let feels = if above_scale {
            format!("hotter than {index}, above the scale,")
        } else {
            format!("like {index}")
        };
        let (kind, severity, limit_c, message) = match level {
            0 => {
                let message = format!("The heat is over at {}: it feels like {index} ({air}).", words.who());
                (EventKind::CautionOver, Severity::Warning, self.site.heat.heat_c, message)
            }
            1 => {
                let message = format!(
                    "HEAT at {}: it feels {feels} in the shade ({air}). Keep spells short, drink, have a second person within call, \
                     and go out at the first dizziness. A caution only: local rules for work in heat come first.",
                    words.who()
                );
                (EventKind::Caution, Severity::Warning, self.site.heat.heat_c, message)
            }
            _ => {
                let message = format!(
                    "GREAT HEAT at {}: it feels {feels} in the shade ({air}). Stay out; if somebody must go in, for minutes and never \
                     alone. A caution only: local rules for work in heat come first.",
                    words.who()
                );
                (EventKind::Caution, Severity::Warning, self.site.heat.great_heat_c, message)
            }
        };
        let details = Details::Heat(HeatDetails {
            heat_index_c: rounded(index_c, 1),
            above_scale,
            temperature_c: rounded(temperature_c, 1),
            humidity_pct: rounded(humidity_pct, 0),
            limit_c,
        });
        let event = self.event(now, kind, severity, message, details);
        events.push(event);
    }
}
