//! What people book and acknowledge, by command, page or message.

use bloom_model::reading::{Observed, Reading};
use bloom_model::sign::Sign;
use bloom_model::time::Time;
use tracing::{info, warn};

use super::Keeper;
use crate::notify::incoming::Request;
use crate::notify::standing::Which;
use crate::store::Entry;

impl Keeper {
    /// What commands put into the store.
    pub(super) fn take_entries(&mut self) {
        self.store_works();
        let pending = self
            .store
            .others_wrote()
            .and_then(|wrote| if wrote { self.store.pending_entries() } else { Ok(Vec::new()) });
        self.store_rests();
        let pending = match pending {
            Ok(pending) => pending,
            Err(error) => return warn!("what commands booked cannot be read for now: {error}"),
        };
        for (number, entry) in pending {
            if self.batch.consumed.contains(&number) {
                continue;
            }
            self.batch.consumed.push(number);
            self.taken_up = self.taken_up.max(number);
            self.urgent = true;
            self.show_soon();
            match entry {
                Ok(Entry::Observed { bench, time, observed, note, by }) => {
                    self.take_booked(&bench, time, observed, note, by);
                }
                Ok(Entry::Acknowledge { id, by }) => self.acknowledge(id.as_deref(), None, by.as_deref()),
                Err(unreadable) => warn!("{unreadable}; it is left out"),
            }
        }
    }

    /// What a person published.
    pub(super) fn take_request(&mut self, request: Request, now: Time) {
        self.urgent = true;
        match request {
            Request::Acknowledge { bench, id, by } => {
                self.acknowledge(Some(&id), bench.as_deref(), by.as_deref())
            }
            Request::Sign { bench, sign, time, note, by } => {
                self.take_booked(&bench, time.unwrap_or(now), Observed::Sign(sign), note, by);
            }
        }
    }

    /// What a person saw or measured, told to the model like any reading.
    pub(super) fn take_booked(
        &mut self,
        bench: &str,
        time: Time,
        observed: Observed,
        note: Option<String>,
        by: Option<String>,
    ) {
        let Some(number) = self.site.number_of(bench) else {
            return warn!(bench, "something was booked for a bench that is not configured; it is left out");
        };
        // what a person books has happened: while a recording is played, it must not push the recording's time on
        let time = time.min(self.now());
        if let Observed::Sign(Sign::Plain(sign)) = observed {
            info!(bench, sign = sign.name(), "booked");
        }
        self.take(&Reading { bench: number, time, observed }, note, by);
    }

    /// A person has taken note of an alarm, or of all.
    pub(super) fn acknowledge(&mut self, id: Option<&str>, bench: Option<&str>, by: Option<&str>) {
        let which = match id {
            Some(id) => Which::Id { id, bench },
            None => Which::All,
        };
        match self.standing.acknowledge(which, by, self.now()) {
            Ok(rows) => self.tell_changed(rows),
            Err(why) => warn!("an acknowledgement changed nothing: {why}"),
        }
    }
}
