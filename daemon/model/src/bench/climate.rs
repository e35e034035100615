//! The air of the bench against its limits.

use super::Bench;
use super::raise::rounded;
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
            let (kind, alarm, beyond, still, ends) = match news {
                ClimateNews::Outside { beyond, alarm, ends } => {
                    (EventKind::Climate, alarm, beyond, None, ends)
                }
                ClimateNews::Over { beyond, still, ends } => {
                    (EventKind::ClimateOver, false, beyond, still, ends)
                }
            };
            let details = Details::Climate(ClimateDetails {
                of: beyond.of.name(),
                value: rounded(beyond.value, 2),
                unit: beyond.of.unit(),
                limit: beyond.limit,
                since: beyond.since,
                beyond,
                still,
            });
            let mut event = self.event(now, kind, details);
            event.ends.extend(ends);
            if alarm {
                event.severity = Severity::Alarm;
                self.state.climate.told_alarm(beyond.of, &event.id);
            }
            events.push(event);
        }
    }
}
