//! Making an event of the bench: its id, its bloom.

use std::sync::Arc;

use super::Bench;
pub(super) use crate::event::rounded;
use crate::event::{Details, Event, EventKind};
use crate::time::Time;

impl Bench {
    /// An event of this bench at an instant, as grave as such events are, of the bloom if there is one.
    pub(super) fn event(&mut self, time: Time, kind: EventKind, details: Details) -> Event {
        let (id, bloom) = match &mut self.state.bloom {
            Some(bloom) => (bloom.next_id(kind), Some(Arc::clone(&bloom.id))),
            None => {
                let stem = format!("{}/{}/{time}", self.spec.id, kind.name());
                // of a kind at one instant: the second and further ones are told apart
                let id = match self.state.last_id.strip_prefix(&stem) {
                    Some("") => format!("{stem}.2"),
                    Some(more) => {
                        let number = more.strip_prefix('.').and_then(|number| number.parse::<u32>().ok());
                        number.map_or(stem.clone(), |number| format!("{stem}.{}", number + 1))
                    }
                    None => stem,
                };
                self.state.last_id.clone_from(&id);
                (id, None)
            }
        };
        Event {
            id,
            time,
            site: Arc::clone(&self.site.name),
            bench: Some(Arc::clone(&self.spec.id)),
            plant: self.spec.plant.clone(),
            bloom,
            kind,
            severity: kind.row().severity,
            details,
            ends: Vec::new(),
            stands_until: None,
        }
    }
}
