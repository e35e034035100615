//! What people book and acknowledge, by command, page or message.

use bloom_model::reading::{Observed, Reading};
use bloom_model::sign::Sign;
use bloom_model::time::Time;
use tracing::{info, warn};

use super::Keeper;
use super::people::{Refusal, no_bench};
use crate::facts::ChangedNothing;
use crate::notify::standing::Which;
use crate::store::{Entry, MAX_PENDING_ENTRIES};

/// Entries that changed nothing are remembered at most: as many as can wait at once, so that none is forgotten before it was shown.
const CHANGED_NOTHING_KEPT: usize = MAX_PENDING_ENTRIES as usize;

impl Keeper {
    /// What commands put into the store.
    pub(super) fn take_entries(&mut self) {
        if self.store.is_away() {
            // they wait in it
            return;
        }
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
                    let heard = self.take_heard(&bench, time, observed, note, by);
                    if heard == Ok(false) {
                        self.note_unchanged(number, unheard(observed));
                    }
                    heard.map(drop)
                }
                Ok(Entry::Acknowledge { id, by }) => self.acknowledge(id.as_deref(), None, by.as_deref()),
                Err(unreadable) => Err(("it cannot be read", unreadable.to_string())),
            };
            if let Err((cause, why)) = taken {
                self.note_unchanged(number, &why);
                self.refuse(cause, &why);
            }
        }
    }

    /// Notes that an entry changed nothing: whoever booked it is told.
    fn note_unchanged(&mut self, number: i64, why: &str) {
        let over = (self.changed_nothing.len() + 1).saturating_sub(CHANGED_NOTHING_KEPT);
        self.changed_nothing.drain(..over);
        self.changed_nothing.push(ChangedNothing { number, why: why.to_owned() });
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
        self.take_heard(bench, time, observed, note, by).map(drop)
    }

    /// The same, and whether the model heard it: what it has already is for the record only.
    fn take_heard(
        &mut self,
        bench: &str,
        time: Time,
        observed: Observed,
        note: Option<String>,
        by: Option<String>,
    ) -> Result<bool, Refusal> {
        let number = self.site.number_of(bench).ok_or_else(|| no_bench(bench))?;
        // what a person books has happened: while a recording is played, it must not push the recording's time on
        let time = time.min(self.now());
        if let Observed::Sign(Sign::Plain(sign)) = observed {
            info!(bench, sign = sign.name(), "booked");
        }
        Ok(self.take(&Reading { bench: number, time, observed }, note, by))
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

/// Why the model did not hear what a person booked.
const fn unheard(observed: Observed) -> &'static str {
    match observed {
        Observed::Sign(Sign::Withdrawn(_)) => {
            "nothing of the kind is booked for that time, or it was taken back already"
        }
        Observed::Sign(_) => "it is booked for that time already, or the bloom holds no more signs",
        Observed::Value(..) => "a value of that time is there already, or it is older than those that count",
    }
}
