//! Links that stay away: one warning for the line, however many benches hang on it.

use std::time::{Duration, Instant};

use bloom_model::event::{Details, EventKind, Severity};
use bloom_model::time::Time;

use super::Keeper;
use crate::link::LinkNews;

/// What is known of one link.
#[derive(Debug, Clone)]
pub struct LinkWatch {
    /// The port, file or pipe.
    name: String,
    down: Option<Down>,
}

#[derive(Debug, Clone)]
struct Down {
    since: Time,
    started: Instant,
    why: String,
    /// The id of the event that told it.
    told: bool,
}

impl LinkWatch {
    /// A link that has not been heard of.
    pub const fn new(name: String) -> Self {
        Self { name, down: None }
    }
}

impl Keeper {
    pub(super) fn hear_of_link(&mut self, news: LinkNews) {
        let now = self.now();
        match news {
            LinkNews::Down { link, why } => {
                if let Some(watch) = self.links.get_mut(link)
                    && watch.down.is_none()
                {
                    watch.down = Some(Down { since: now, started: Instant::now(), why, told: false });
                }
            }
            LinkNews::Up { link } => {
                let Some(watch) = self.links.get_mut(link) else { return };
                if let Some(down) = watch.down.take()
                    && down.told
                {
                    let what = watch.name.clone();
                    let message = format!("{what}: the line is back.");
                    let details = Details::Trouble { what, since: down.since };
                    let event =
                        self.site_event(now, EventKind::LinkDownOver, Severity::Notice, message, details);
                    self.raise(&event);
                }
            }
            // a recording's end is no trouble; its link logs it
            LinkNews::Ended { .. } | LinkNews::Readings { .. } => {}
        }
    }

    /// Raises a warning for each link that has been down for as long as a sensor may be silent.
    pub(super) fn look_at_links(&mut self, now: Time) {
        let patience = self.site.spec().silent_after.to_std().unwrap_or(Duration::MAX);
        for place in 0..self.links.len() {
            let Some(watch) = self.links.get_mut(place) else { continue };
            let name = watch.name.clone();
            let Some(down) =
                watch.down.as_mut().filter(|down| !down.told && down.started.elapsed() >= patience)
            else {
                continue;
            };
            down.told = true;
            let (since, why) = (down.since, down.why.clone());
            let message = format!(
                "{name}: no line since {since} ({why}). Its benches are not being read: check cable and adapter."
            );
            let details = Details::Trouble { what: name, since };
            let event = self.site_event(now, EventKind::LinkDown, Severity::Warning, message, details);
            self.raise(&event);
        }
    }
}
