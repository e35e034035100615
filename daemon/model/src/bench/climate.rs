//! The air of the bench against its limits, in words.

use super::Bench;
use super::say::rounded;
use crate::climate::{Beyond, ClimateCase, ClimateNews, ClimateOf};
use crate::event::{ClimateDetails, Details, Event, EventKind, Severity};
use crate::time::Time;

impl Bench {
    /// The newest air was read.
    pub(super) fn take_air(&mut self, now: Time) {
        if let Some(temperature) = self.state.air.temperature_c {
            let humidity_pct = self.state.air.fresh(now).map(|(_, humidity)| humidity);
            self.state.climate.take(temperature.value, humidity_pct, now, &self.spec.limits);
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
                    (EventKind::ClimateOver, Severity::Warning, message, beyond, ends)
                }
            };
            let details = Details::Climate(ClimateDetails {
                of: beyond.of.name(),
                value: rounded(beyond.value, 2),
                unit: beyond.of.unit(),
                limit: beyond.limit,
                since: beyond.since,
            });
            let mut event = self.event(now, kind, severity, message, details);
            event.ends.extend(ends);
            self.state.climate.told(&event);
            events.push(event);
        }
    }

    fn air_figure(&self, of: ClimateOf, value: f64) -> String {
        match of {
            ClimateOf::Temperature => self.words().temperature(value),
            ClimateOf::Humidity => format!("{value:.0} %"),
            ClimateOf::VapourPressureDeficit => format!("{value:.2} kPa"),
        }
    }

    /// What to do stands within the first 60 characters, for a locked phone. No order to go in where it is hot.
    fn words_of_climate(&self, beyond: &Beyond, alarm: bool, now: Time) -> String {
        let words = self.words();
        let bench = &self.spec.id;
        let of = beyond.of;
        let (value, limit) = (self.air_figure(of, beyond.value), self.air_figure(of, beyond.limit));
        let value = if of == ClimateOf::VapourPressureDeficit { format!("deficit {value}") } else { value };
        let since = words.clock_on(beyond.since, now);
        match (beyond.case(), alarm) {
            (ClimateCase::TooCold, true) => format!(
                "TOO COLD {bench}: {value}. Go, take a second person: heating may have failed. No open flame, no wet mains. \
                 Alarm at {limit}, since {since}. Electricians only open what carries mains; local codes hold."
            ),
            (ClimateCase::TooHot, true) => format!(
                "TOO HOT {bench}: {value}. Vents and shade from outside, do not stay in. Alarm at {limit}, since {since}. \
                 Nobody onto the roof or the glass."
            ),
            (ClimateCase::TooDry, true) => format!(
                "TOO DRY {bench}: {value}. Mist and shade, from outside; no wet mains. Alarm at {limit}, since {since}."
            ),
            (ClimateCase::TooDamp, true) => format!(
                "TOO DAMP {bench}: {value}. Open vents, stop the mist; no wet mains. Alarm at {limit}, since {since}."
            ),
            (ClimateCase::TooCold, false) => format!(
                "Cold at {bench}: {value}, limit {limit}. Check the heating: no open flame, no wet mains. Since {since}."
            ),
            (ClimateCase::TooHot, false) => {
                format!(
                    "Hot at {bench}: {value}, limit {limit}. Vents and shade, from outside. Since {since}."
                )
            }
            (ClimateCase::TooDry, false) => {
                format!("Dry at {bench}: {value}, limit {limit}. Mist or shade. Since {since}.")
            }
            (ClimateCase::TooDamp, false) => {
                format!("Damp at {bench}: {value}, limit {limit}. Open vents. Since {since}.")
            }
        }
    }

    fn words_of_climate_over(&self, beyond: &Beyond, still: Option<&Beyond>) -> String {
        let bench = &self.spec.id;
        let value = self.air_figure(beyond.of, beyond.value);
        match still {
            Some(still) => {
                let side = if still.below { "below" } else { "above" };
                format!(
                    "No longer an alarm at {bench}: {} is {}, still {side} {}.",
                    still.of.words(),
                    self.air_figure(still.of, still.value),
                    self.air_figure(still.of, still.limit)
                )
            }
            None => format!(
                "Back inside its limits at {bench}: {} {value}. Today it is told again only as an alarm.",
                beyond.of.words()
            ),
        }
    }
}
