//! Alarms that the side ranger does not see the plant, held against when it did.

use bloom_model::event::{Event, EventKind, Severity};
use bloom_model::quantity::Quantity;
use bloom_model::time::Time;

use crate::season::Season;

/// A knock of this much leaves a ranger aimed elsewhere, m.
const KNOCKED_M: f64 = 0.035;

/// An opening alarm that was raised no longer than this before the crack, h, sends somebody to the plant who sees it open.
const CALLED_WITHIN_H: f64 = 3.0;

/// What was told in a season of a side ranger that does not see the plant.
#[derive(Debug, Clone, Default)]
pub struct Blindness {
    /// Alarms that stand, and since when.
    standing: Vec<(String, Time)>,
    /// Such an alarm stood between the first crack and full opening: nobody need trust the silence.
    pub told_in_time: bool,
    /// Opening alarms that stand, and since when.
    called: Vec<(String, Time)>,
    /// An opening alarm raised shortly before the first crack stood at the crack: somebody had been called.
    pub called_before: bool,
    /// `edge-not-seen` of a ranger that saw the edge; whether as an alarm.
    pub false_alarms: Vec<(Time, bool)>,
}

impl Blindness {
    pub(super) fn note(&mut self, season: &Season, event: &Event) {
        let truth = season.truth();
        let opening = truth.crack.zip(truth.full_open);
        // what stands still at the first event after the crack stood at the crack
        self.told_in_time |= opening.is_some_and(|(crack, full)| {
            event.time >= crack && self.standing.iter().any(|(_, raised)| *raised < full)
        });
        let is_of_seeing =
            matches!(event.kind, EventKind::SensorSilent | EventKind::SensorStuck | EventKind::EdgeNotSeen);
        if is_of_seeing && event.severity == Severity::Alarm {
            self.standing.push((event.id.clone(), event.time));
            self.told_in_time |=
                opening.is_some_and(|(crack, full)| event.time >= crack && event.time < full);
        }
        if let Some((crack, _)) = opening {
            let called_lately = |raised: &Time| (0.0..=CALLED_WITHIN_H).contains(&crack.hours_since(*raised));
            self.called_before |=
                event.time >= crack && self.called.iter().any(|(_, raised)| called_lately(raised));
        }
        if event.kind == EventKind::OpeningTonight {
            self.called.push((event.id.clone(), event.time));
        }
        self.called.retain(|(id, _)| !event.ends.contains(id));
        self.standing.retain(|(id, _)| !event.ends.contains(id));
        let saw_it = truth.side_lost.is_none_or(|lost| event.time < lost.time);
        // a mount that was knocked out of its aim is rightly asked about
        let was_knocked = truth.knocks.iter().any(|knock| {
            knock.quantity == Quantity::RimRange.name()
                && knock.step_m.abs() >= KNOCKED_M
                && knock.time < event.time
        });
        if event.kind == EventKind::EdgeNotSeen && saw_it && !was_knocked {
            self.false_alarms.push((event.time, event.severity == Severity::Alarm));
        }
    }
}
