//! Climate limits, silent and frozen sensors.

use super::Bench;
use super::say::rounded;
use crate::climate::{ClimateChange, ClimateOf};
use crate::event::{ClimateDetails, Details, Event, EventKind, SensorDetails, Severity};
use crate::quantity::Quantity;
use crate::sensors::SensorFault;
use crate::time::Time;

/// A side ranger that has repeated one figure for this long, h, against its own noise, is frozen.
const RIM_FROZEN_H: f64 = 1.0;

impl Bench {
    pub(super) fn look_at_climate(&mut self, now: Time, events: &mut Vec<Event>) {
        let Some(temperature) = self.state.air.temperature_c else { return };
        let humidity = self.state.air.fresh(now).map(|(_, humidity)| humidity);
        let mut changes = Vec::new();
        self.state.climate.look(temperature.value, humidity, now, &self.spec.limits, &mut changes);
        for change in changes {
            self.tell_climate(now, &change, events);
        }
    }

    fn tell_climate(&mut self, now: Time, change: &ClimateChange, events: &mut Vec<Event>) {
        let words = self.words();
        let figure = |value: f64| match change.of {
            ClimateOf::Temperature => words.temperature(value),
            ClimateOf::Humidity => format!("{value:.0} %"),
            ClimateOf::VapourPressureDeficit => format!("{value:.2} kPa"),
        };
        let of = change.of.name().replace('-', " ");
        let side = if change.value < change.limit { "below" } else { "above" };
        let (kind, severity, message) = if change.outside {
            let (severity, what_to_do) = if change.alarm {
                (Severity::Alarm, "Heating, shading or fogging may have failed: go and look now.")
            } else {
                (Severity::Warning, "Check heating, vents and fogging.")
            };
            let message = format!(
                "{}: {of} {}, {side} {} since {}. {what_to_do}",
                words.who(),
                figure(change.value),
                figure(change.limit),
                words.clock(change.since)
            );
            (EventKind::Climate, severity, message)
        } else {
            let message =
                format!("{}: {of} back inside its limits, {} now.", words.who(), figure(change.value));
            (EventKind::ClimateOver, Severity::Notice, message)
        };
        let details = Details::Climate(ClimateDetails {
            of: change.of.name(),
            value: rounded(change.value, 2),
            unit: change.of.unit(),
            limit: change.limit,
            since: change.since,
        });
        let mut event = self.event(now, kind, severity, message, details);
        if let Some(standing) = self.state.climate.standing(change.watch) {
            if change.outside {
                *standing = Some(event.id.clone());
            } else {
                event.ends.extend(standing.take());
            }
        }
        events.push(event);
    }

    pub(super) fn look_for_silence(&mut self, now: Time, events: &mut Vec<Event>) {
        let (tip, rim) = (self.spec.tip.is_some(), self.spec.rim.is_some());
        let expected = |quantity| match quantity {
            Quantity::TipRange => tip,
            Quantity::RimRange => rim,
            _ => false,
        };
        let Some(mut fault) = self.state.sensors.look_for_silence(now, self.site.silent_after, expected)
        else {
            return;
        };
        let ranger_lost = fault.quantities.iter().any(|quantity| is_ranger(*quantity));
        let ranger_left =
            [(tip, Quantity::TipRange), (rim, Quantity::RimRange)].into_iter().any(|(hung, quantity)| {
                hung && !fault.quantities.contains(&quantity) && !self.state.sensors.is_out(quantity)
            });
        let watched = self.stage().is_some_and(|stage| stage.in_bud() || stage.is_open());
        let blind = watched && ranger_lost && !ranger_left;
        let severity = if blind { Severity::Alarm } else { Severity::Warning };
        let what_to_do = if blind {
            "The bud is not being watched: look at it by eye, and mend power, cable or sensor now."
        } else {
            "Check power, cable and sensor."
        };
        let words = self.words();
        let message = format!(
            "{}: no {} since {}. {what_to_do}",
            words.who(),
            listed(&fault.quantities),
            words.day_clock(fault.since)
        );
        let event = self.event(now, EventKind::SensorSilent, severity, message, sensor_details(&fault));
        fault.told.clone_from(&event.id);
        self.state.sensors.told(fault);
        events.push(event);
    }

    pub(super) fn look_for_stuck(&mut self, now: Time, events: &mut Vec<Event>) {
        let watched = |quantity| match quantity {
            Quantity::Temperature | Quantity::Humidity => true,
            Quantity::TipRange => self.stage().is_some_and(|stage| stage.in_bud()),
            _ => false,
        };
        // the side ranger carries the alarm: it is told within the hour, and a person must look meanwhile
        let rim_frozen = self.stage().is_some_and(|stage| stage.in_bud())
            && self.state.sensors.newest(Quantity::RimRange).is_some_and(|held| {
                self.state.rim.is_stale(held.run) && held.time.hours_since(held.since) >= RIM_FROZEN_H
            });
        let fault = if rim_frozen {
            self.state.sensors.frozen(Quantity::RimRange)
        } else {
            self.state.sensors.look_for_stuck(watched)
        };
        let Some(mut fault) = fault else { return };
        let severity = if rim_frozen { Severity::Alarm } else { Severity::Warning };
        let words = self.words();
        let message = format!(
            "{}: {} has not changed since {}. The sensor may be frozen: check it, and switch it off and on.",
            words.who(),
            listed(&fault.quantities),
            words.day_clock(fault.since)
        );
        let event = self.event(now, EventKind::SensorStuck, severity, message, sensor_details(&fault));
        fault.told.clone_from(&event.id);
        self.state.sensors.told(fault);
        events.push(event);
    }

    pub(super) fn look_for_recovery(&mut self, now: Time, events: &mut Vec<Event>) {
        for fault in self.state.sensors.over(now, self.site.silent_after) {
            let message = format!("{}: {} is back.", self.words().who(), listed(&fault.quantities));
            let mut event =
                self.event(now, EventKind::SensorBack, Severity::Notice, message, sensor_details(&fault));
            event.ends.push(fault.told);
            events.push(event);
        }
    }
}

const fn is_ranger(quantity: Quantity) -> bool {
    matches!(quantity, Quantity::TipRange | Quantity::RimRange)
}

fn sensor_details(fault: &SensorFault) -> Details {
    Details::Sensor(SensorDetails {
        quantities: fault.quantities.iter().map(|quantity| quantity.name()).collect(),
        since: fault.since,
        value: fault.value,
    })
}

/// `air temperature, relative humidity and distance to the spathe rim`.
fn listed(quantities: &[Quantity]) -> String {
    let words: Vec<&str> = quantities.iter().map(|quantity| quantity.words()).collect();
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        Some((last, _)) => (*last).to_owned(),
        None => String::new(),
    }
}
