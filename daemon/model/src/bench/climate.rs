//! The air of the bench against its limits, in words.

use super::Bench;
use super::say::rounded;
use crate::climate::{Beyond, ClimateNews};
use crate::event::{ClimateDetails, Details, Event, EventKind, Severity};
use crate::quantity::Variable;
use crate::quantity::case::ClimateCase;
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
                    (EventKind::Climate, severity, self.words_of_climate(&beyond, alarm, now), beyond, ends)
                }
                ClimateNews::Over { beyond, still, ends } => {
                    let message = self.words_of_climate_over(&beyond, still.as_ref());
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

    fn figure(&self, of: Variable, value: f64) -> String {
        of.measure().said(self.site.units, value)
    }

    fn words_of_climate(&self, beyond: &Beyond, alarm: bool, now: Time) -> String {
        let bench = &self.spec.id;
        let (value, limit) = (self.figure(beyond.of, beyond.value), self.figure(beyond.of, beyond.limit));
        // dry air is told by its humidity or by its deficit
        let value = if beyond.of == Variable::DEFICIT { format!("deficit {value}") } else { value };
        let since = self.words().clock_on(beyond.since, now);
        let Some(said) = beyond.case().map(ClimateCase::words) else {
            return format!("{bench}: {} {value}, limit {limit}. Since {since}.", beyond.of.short());
        };
        if alarm {
            let (wrong, what_to_do, after) = (said.alarm, said.do_at_alarm, said.after_alarm);
            format!("{wrong} {bench}: {value}. {what_to_do} Alarm at {limit}, since {since}.{after}")
        } else {
            let (wrong, what_to_do) = (said.warning, said.do_at_warning);
            format!("{wrong} at {bench}: {value}, limit {limit}. {what_to_do} Since {since}.")
        }
    }

    fn words_of_climate_over(&self, beyond: &Beyond, still: Option<&Beyond>) -> String {
        let bench = &self.spec.id;
        let value = self.figure(beyond.of, beyond.value);
        match still {
            Some(still) => {
                let side = if still.below { "below" } else { "above" };
                format!(
                    "No longer an alarm at {bench}: {} is {}, still {side} {}.",
                    still.of.short(),
                    self.figure(still.of, still.value),
                    self.figure(still.of, still.limit)
                )
            }
            None => format!(
                "Back inside its limits at {bench}: {} {value}. Today it is told again only as an alarm.",
                beyond.of.short()
            ),
        }
    }
}
