//! The air of the bench against its limits.

use super::Bench;
use super::say::rounded;
use crate::climate::ClimateNews;
use crate::event::{ClimateDetails, Details, Event, EventKind, Severity};
use crate::time::Time;

impl Bench {
    /// The newest air was read.
    pub(super) fn take_air(&mut self, now: Time) {
        if let Some(temperature) = self.state.air.temperature_c {
            let humidity_pct = self.state.air.fresh(now).map(|(_, humidity)| humidity);
            self.state.climate.take_air(temperature.value, humidity_pct, now, &self.spec.limits);
        }
        self.look_at_heat(now);
    }

    /// Something has been outside, or inside again, for long enough.
    pub(super) fn look_at_limits(&mut self, now: Time, events: &mut Vec<Event>) {
        let zone = self.site.timezone;
        let morning = now.next_local_hour(self.site.morning_hour, zone);
        let news = self.state.climate.look(now.local_date(zone), morning, &self.spec.limits);
        for news in news {
            let (kind, severity, message, beyond, ends) = match news {
                ClimateNews::Outside { beyond, alarm, ends } => {
                    let severity = if alarm { Severity::Alarm } else { Severity::Warning };
                    (EventKind::Climate, severity, self.words().beyond(&beyond, alarm, now), beyond, ends)
                }
                ClimateNews::Over { beyond, still, ends } => {
                    let message = self.words().within(&beyond, still.as_ref());
                    (EventKind::ClimateOver, EventKind::ClimateOver.row().severity, message, beyond, ends)
                }
            };
            let details = Details::Climate(ClimateDetails {
                of: beyond.of.name(),
                value: rounded(beyond.value, 2),
                unit: beyond.of.unit(),
                limit: beyond.limit,
                since: beyond.since,
            });
            let mut event = self.event(now, kind, message, details);
            event.severity = severity;
            event.ends.extend(ends);
            self.state.climate.told(beyond.of, &event);
            events.push(event);
        }
    }
}
