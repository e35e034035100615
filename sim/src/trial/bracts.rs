//! Alarms that a peeling bract raised: how long they stand after it has fallen.

use bloom_model::event::{Event, EventKind};
use bloom_model::time::Time;

use crate::truth::Truth;

/// An alarm raised so long after the fall is still the bract's, h.
const AFTER_FALL_H: f64 = 1.0;

/// The alarms of a season's bracts.
#[derive(Debug, Clone, Default)]
pub struct BractAlarms {
    /// Id, and when the bract behind it fell.
    standing: Vec<(String, Time)>,
    /// Hours from the fall to the end of the alarm; of one that ended before it, nothing.
    pub stood_h: Vec<f64>,
}

impl BractAlarms {
    /// Takes an opening alarm if a bract raised it.
    pub(super) fn raised(&mut self, event: &Event, truth: &Truth) -> bool {
        let fell =
            truth.bracts.iter().map(|bract| bract.window).find(|window| {
                event.time >= window.from && event.time <= window.until.plus_hours(AFTER_FALL_H)
            });
        let Some(window) = fell else { return false };
        if event.kind == EventKind::OpeningTonight {
            self.standing.push((event.id.clone(), window.until));
        }
        true
    }

    /// Notes the alarms that an event ends.
    pub(super) fn hear(&mut self, event: &Event) {
        let Self { standing, stood_h } = self;
        standing.retain(|(id, fell)| {
            let ends = event.ends.contains(id);
            if ends {
                stood_h.push(event.time.hours_since(*fell).max(0.0));
            }
            !ends
        });
    }

    /// The record is over: what stands still has stood until then.
    pub(super) fn over(&mut self, end: Time) {
        self.stood_h.extend(self.standing.drain(..).map(|(_, fell)| end.hours_since(fell)));
    }
}
