//! Events of the site itself: what befalls the house's machine, its lines and its ways of calling people.

use bloom_model::event::{Details, Event, EventKind, SiteTrouble};
use bloom_model::time::Time;

use super::Keeper;

impl Keeper {
    /// What befell the site itself, or is over: `what` is affected, since `since`.
    pub(super) fn trouble(&self, time: Time, trouble: SiteTrouble, what: String, since: Time) -> Event {
        self.site_event(time, trouble.kind(), Details::Trouble { what, since, trouble })
    }

    /// An event of the site at an instant, as grave as such events are, with an id of its own even where several of a kind come at once.
    pub(super) fn site_event(&self, time: Time, kind: EventKind, details: Details) -> Event {
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
            details,
            ends: Vec::new(),
            stands_until: None,
        }
    }
}
