//! Events of the site itself: what befalls the house's machine, its lines and its ways of calling people.

use bloom_model::event::{Details, Event, EventKind};
use bloom_model::message::Words;
use bloom_model::time::Time;

use super::Keeper;

impl Keeper {
    /// The words of the house itself.
    pub(super) fn words(&self) -> Words<'_> {
        let spec = self.site.spec();
        Words::new(spec, &spec.name, None)
    }

    /// An event of the site at an instant, as grave as such events are, with an id of its own even where several of a kind come at once.
    pub(super) fn site_event(&self, time: Time, kind: EventKind, message: String, details: Details) -> Event {
        let site = self.site.spec().name.clone();
        let stem = format!("{site}/{}/{time}", kind.name());
        let taken = |id: &String| self.batch.events.iter().any(|event| event.id == *id);
        let numbered = (2..).map(|number: u32| format!("{stem}.{number}"));
        let id = std::iter::once(stem.clone()).chain(numbered).find(|id| !taken(id)).unwrap_or(stem);
        Event {
            id,
            time,
            site,
            bench: None,
            plant: None,
            bloom: None,
            kind,
            severity: kind.row().severity,
            message,
            details,
            ends: Vec::new(),
            stands_until: None,
        }
    }
}
