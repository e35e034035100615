//! Events of the site itself: what befalls the house's machine, its intakes and its ways of calling people.

use std::collections::VecDeque;
use std::sync::Arc;

use crate::bench::TEST_STANDS_FOR;
use crate::event::{Details, Event, EventKind, SiteTrouble};
use crate::site::Site;
use crate::time::Time;

/// Ids that are remembered: many more than a house has intakes, which may all be out at once.
const REMEMBERED: usize = 256;

/// Makes them, each with an id of its own, even where several of a kind come at once.
#[derive(Debug, Clone, Default)]
pub(super) struct SiteEvents {
    /// The newest ids that were given.
    given: VecDeque<String>,
}

impl SiteEvents {
    /// What befell the site itself, or is over: `what` is affected, since `since`.
    pub(super) fn trouble(
        &mut self,
        site: &Site,
        time: Time,
        trouble: SiteTrouble,
        what: String,
        since: Time,
    ) -> Event {
        self.event(site, time, trouble.kind(), Details::Trouble { what, since, trouble })
    }

    /// A test alarm of the site.
    pub(super) fn test(&mut self, site: &Site, time: Time) -> Event {
        let test = self.event(site, time, EventKind::Test, Details::Test {});
        Event { stands_until: Some(time + TEST_STANDS_FOR), ..test }
    }

    /// An event of the site at an instant, as grave as such events are.
    fn event(&mut self, site: &Site, time: Time, kind: EventKind, details: Details) -> Event {
        let name = Arc::clone(&site.spec().name);
        let id = self.id(format!("{name}/{}/{time}", kind.name()));
        Event {
            id,
            time,
            site: name,
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

    /// The id itself, or with the first number from 2 on with which it was not given.
    fn id(&mut self, stem: String) -> String {
        let numbered = (2..).map(|number: u32| format!("{stem}.{number}"));
        let mut ids = std::iter::once(stem.clone()).chain(numbered);
        let id = ids.find(|id| !self.given.contains(id)).unwrap_or(stem);
        if self.given.len() >= REMEMBERED {
            self.given.pop_front();
        }
        self.given.push_back(id.clone());
        id
    }
}
