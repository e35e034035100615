//! Silent and frozen sensors, and what the bench's climate limits expect of them.

use std::sync::Arc;

use super::Bench;
use crate::event::{Details, Event, EventKind, SensorDetails, Severity, Unwatched};
use crate::quantity::{Quantity, Role};
use crate::sensors::{Recovery, SensorFault};
use crate::stage::Stage;
use crate::time::Time;

impl Bench {
    pub(super) fn look_for_silence(&mut self, now: Time, events: &mut Vec<Event>) {
        // what hangs, and what the bench's limits are for: a heating alarm that can never ring is silence, too
        let hung: Vec<Quantity> = self.hung_rangers().collect();
        let expected = |quantity| hung.contains(&quantity) || self.spec.limits_need(quantity);
        let Some(mut fault) = self.state.sensors.look_for_silence(now, self.site.silent_after, expected)
        else {
            return;
        };
        let details = self.silence(&fault);
        let severity = gravity(details.unwatched);
        let mut event = self.event(now, EventKind::SensorSilent, Details::Sensor(details));
        event.severity = severity;
        fault.told.clone_from(&event.id);
        fault.alarm = severity == Severity::Alarm;
        self.state.sensors.told(fault);
        events.push(event);
    }

    /// The evidence of a silence.
    fn silence(&self, fault: &SensorFault) -> SensorDetails {
        let known = |quantity: &Quantity| {
            self.state.sensors.newest(*quantity).is_some()
                || self.hung_rangers().any(|hung| hung == *quantity)
        };
        let mut known = Quantity::ALL.into_iter().filter(known);
        let all = fault.quantities.len() > 1 && known.all(|quantity| fault.quantities.contains(&quantity));
        let unwatched = self.unwatched_without(&fault.quantities);
        SensorDetails { all, unwatched, ..sensor_details(fault) }
    }

    /// Whether nobody watches any more without those: a bud without its side ranger, for from above the opening is not seen, and
    /// a bud or a bloom without its last ranger.
    pub fn leaves_unwatched(&self, quantities: &[Quantity]) -> bool {
        let lost = |quantity: &Quantity| quantities.contains(quantity);
        let out = |quantity: &Quantity| lost(quantity) || self.state.sensors.is_out(*quantity);
        let in_bud = self.stage().is_some_and(Stage::in_bud);
        (in_bud && self.spec.rim.is_some() && lost(&Quantity::RimRange))
            || (self.is_in_bud_or_open()
                && self.hung_rangers().any(|ranger| lost(&ranger))
                && self.hung_rangers().all(|ranger| out(&ranger)))
    }

    /// What nobody watches any more without those, to be looked at by a person.
    fn unwatched_without(&self, quantities: &[Quantity]) -> Option<Unwatched> {
        self.leaves_unwatched(quantities).then(|| self.unwatched())
    }

    /// What hangs there, to be looked at by a person.
    pub(super) fn unwatched(&self) -> Unwatched {
        if self.stage().is_some_and(Stage::is_open) { Unwatched::Bloom } else { Unwatched::Bud }
    }

    /// The silences that stand now, each as the event that tells it.
    pub fn standing_silences(&self) -> Vec<Event> {
        let silent = self.state.sensors.standing().iter().filter(|fault| !fault.stuck);
        let events = silent.map(|fault| {
            let details = self.silence(fault);
            Event {
                id: fault.told.clone(),
                time: fault.since + self.site.silent_after,
                site: Arc::clone(&self.site.name),
                bench: Some(Arc::clone(&self.spec.id)),
                plant: self.spec.plant.clone(),
                bloom: self.state.bloom.as_ref().map(|bloom| Arc::clone(&bloom.id)),
                kind: EventKind::SensorSilent,
                severity: gravity(details.unwatched),
                details: Details::Sensor(details),
                ends: Vec::new(),
                stands_until: None,
            }
        });
        events.collect()
    }

    /// What is wrong with its sensors now: silent, or repeating one value.
    pub fn faults(&self) -> impl Iterator<Item = &SensorFault> {
        self.state.sensors.standing().iter()
    }

    /// Whether there is a bud or an open bloom, which must not be left unwatched.
    pub fn is_in_bud_or_open(&self) -> bool {
        self.stage().is_some_and(|stage| stage.in_bud() || stage.is_open())
    }

    /// The rangers that are hung at the bench.
    pub fn hung_rangers(&self) -> impl Iterator<Item = Quantity> {
        let hung =
            [(self.spec.tip.is_some(), Quantity::TipRange), (self.spec.rim.is_some(), Quantity::RimRange)];
        hung.into_iter().filter_map(|(hung, quantity)| hung.then_some(quantity))
    }

    /// The newest instant at which any of its sensors reported; what people book does not count.
    pub fn newest_measured(&self) -> Option<Time> {
        self.state.sensors.newest_of_all()
    }

    pub(super) fn look_for_stuck(&mut self, now: Time, events: &mut Vec<Event>) {
        // other quantities may repeat a value for a day in good health: light is nought all night, soil keeps its temperature
        let watched = |quantity: Quantity| match quantity {
            Quantity::TipRange => self.stage().is_some_and(|stage| stage.in_bud()),
            _ => quantity.role() == Role::Air,
        };
        // the side ranger carries the alarm: it is told within the hour, and a person must look meanwhile
        let (rim, figures) = (&self.state.rim, &self.state.figures);
        let rim_frozen =
            self.stage().is_some_and(Stage::in_bud) && figures.is_frozen(rim.noise_m(), rim.is_noisy());
        let fault = if rim_frozen { self.state.sensors.frozen(Quantity::RimRange) } else { None };
        let Some(mut fault) = fault.or_else(|| self.state.sensors.look_for_stuck(watched)) else { return };
        let unwatched = self.unwatched_without(&fault.quantities);
        let severity = gravity(unwatched);
        let details = SensorDetails { unwatched, ..sensor_details(&fault) };
        let mut event = self.event(now, EventKind::SensorStuck, Details::Sensor(details));
        event.severity = severity;
        fault.told.clone_from(&event.id);
        fault.alarm = severity == Severity::Alarm;
        self.state.sensors.told(fault);
        events.push(event);
    }

    pub(super) fn look_for_recovery(&mut self, now: Time, events: &mut Vec<Event>) {
        let side_needed = self.spec.rim.is_some() && self.stage().is_some_and(Stage::in_bud);
        for Recovery { fault, ends } in self.state.sensors.over(now, self.site.silent_after, side_needed) {
            let details = Details::Sensor(sensor_details(&fault));
            let mut event = self.event(now, EventKind::SensorBack, details);
            if ends {
                event.ends.push(fault.told);
            }
            events.push(event);
        }
    }
}

/// It is an alarm where nobody watches any more.
const fn gravity(unwatched: Option<Unwatched>) -> Severity {
    if unwatched.is_some() { Severity::Alarm } else { Severity::Warning }
}

fn sensor_details(fault: &SensorFault) -> SensorDetails {
    SensorDetails {
        quantities: fault.quantities.clone(),
        since: fault.since,
        value: fault.value,
        all: false,
        unwatched: None,
    }
}
