//! What people book and acknowledge, by command, page or message.

use bloom_model::reading::{Observed, Reading};
use bloom_model::sign::Sign;
use bloom_model::time::Time;
use tracing::{info, warn};

use super::Keeper;
use super::people::{Refusal, no_bench};
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
            let taken = match entry {
                Ok(Entry::Observed { bench, time, observed, note, by }) => {
                    self.take_booked(&bench, time, observed, note, by)
                }
                Ok(Entry::Acknowledge { id, by }) => self.acknowledge(id.as_deref(), None, by.as_deref()),
                Err(unreadable) => Err(("it cannot be read", unreadable.to_string())),
            };
            if let Err((cause, why)) = taken {
                self.refuse(cause, &why);
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
    ) -> Result<(), Refusal> {
        let number = self.site.number_of(bench).ok_or_else(|| no_bench(bench))?;
        // what a person books has happened: while a recording is played, it must not push the recording's time on
        let time = time.min(self.now());
        if let Observed::Sign(Sign::Plain(sign)) = observed {
            info!(bench, sign = sign.name(), "booked");
        }
        self.take(&Reading { bench: number, time, observed }, note, by);
        Ok(())
    }

    /// A person has taken note of an alarm, or of all.
    pub(super) fn acknowledge(
        &mut self,
        id: Option<&str>,
        bench: Option<&str>,
        by: Option<&str>,
    ) -> Result<(), Refusal> {
        let which = match id {
            Some(id) => Which::Id { id, bench },
            None => Which::All,
        };
        let rows = self
            .standing
            .acknowledge(which, by, self.now())
            .map_err(|why| ("nothing to acknowledge", why))?;
        if rows.is_empty() {
            return Err(("nothing to acknowledge", "that alarm is acknowledged already".to_owned()));
        }
        self.tell_changed(rows);
        Ok(())
    }
}
