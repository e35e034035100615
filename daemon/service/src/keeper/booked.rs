//! What people book and acknowledge, by command, page or message.

use bloom_model::reading::{Observed, Reading};
use bloom_model::sign::Sign;
use bloom_model::time::Time;
use tokio::sync::oneshot;
use tracing::{info, warn};

use super::Keeper;
use super::people::{Refusal, no_bench};
use crate::store::Entry;

/// What a person books where the service runs, and who waits for the answer.
#[derive(Debug)]
pub struct Booking {
    /// What was booked.
    pub entry: Entry,
    /// Hears what became of it. It is dropped unheard where the service ends before that is in the record.
    pub answer: oneshot::Sender<Booked>,
}

/// What became of a booking.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Booked {
    /// The watch has it, and it is in the record, synced; a sign or a value under this running number.
    Recorded(Option<u64>),
    /// The watch changed nothing by it, and why.
    ChangedNothing(String),
    /// It was let go unrecorded, and why.
    Dropped(String),
}

/// Those who wait for a commit, each with what they are to hear after it.
#[derive(Debug, Default)]
pub(super) struct Bookings(Vec<(oneshot::Sender<Booked>, Booked)>);

impl Bookings {
    /// What is waited for is in the record.
    fn are_recorded(&mut self) {
        for (answer, booked) in self.0.drain(..) {
            // whoever asked may have gone
            let _ = answer.send(booked);
        }
    }

    /// The reading of that running number was let go unrecorded.
    pub(super) fn is_dropped(&mut self, fed: u64) {
        let waits = self.0.iter().position(|(_, booked)| *booked == Booked::Recorded(Some(fed)));
        if let Some((answer, _)) = waits.map(|place| self.0.swap_remove(place)) {
            let why = "the record has not been writable for so long that memory ran out";
            let _ = answer.send(Booked::Dropped(why.to_owned()));
        }
    }
}

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
            self.urgent = true;
            self.show_soon();
            let taken = match entry {
                Ok(entry) => self.take_entry(entry).map(drop),
                Err(unreadable) => Err(("it cannot be read", unreadable.to_string())),
            };
            if let Err((cause, why)) = taken {
                self.refuse(cause, &why);
            }
        }
    }

    /// What a person books where the service runs: answered when it is in the record.
    pub(super) fn hear_booking(&mut self, Booking { entry, answer }: Booking) {
        self.urgent = true;
        self.show_soon();
        let booked = match self.take_entry(entry) {
            Ok(booked) => booked,
            Err((_, why)) => Booked::ChangedNothing(why),
        };
        self.bookings.0.push((answer, booked));
    }

    /// After a commit: what is shown of the house is newer than the answers.
    pub(super) fn answer_bookings(&mut self) {
        if !self.bookings.0.is_empty() {
            self.tell_states(self.now());
            self.bookings.are_recorded();
        }
    }

    fn take_entry(&mut self, entry: Entry) -> Result<Booked, Refusal> {
        match entry {
            Entry::Observed { bench, time, observed, note, by } => {
                let heard = self.take_heard(&bench, time, observed, note, by)?;
                Ok(if heard {
                    Booked::Recorded(Some(self.fed))
                } else {
                    Booked::ChangedNothing(unheard(observed).to_owned())
                })
            }
            Entry::Acknowledge { ids, by } => {
                let all = || self.standing.alarms().iter().map(|row| row.event_id.clone()).collect();
                let ids = ids.unwrap_or_else(all);
                self.acknowledge(&ids, None, by.as_deref())?;
                Ok(Booked::Recorded(None))
            }
            Entry::Coming { bench, seen, until, by } => {
                if until <= self.now() {
                    return Err(("it came late", format!("somebody was to come by {until}, which is past")));
                }
                self.wait_for(bench.as_deref(), &seen, until, by)?;
                Ok(Booked::Recorded(None))
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
}

/// Why the model did not hear what a person booked.
const fn unheard(observed: Observed) -> &'static str {
    match observed {
        Observed::Sign(Sign::Withdrawn(_)) => {
            "nothing of the kind is recorded for that time, or it was taken back already"
        }
        Observed::Sign(_) => "it is recorded for that time already, or the bloom holds no more signs",
        Observed::Value(..) => "a value of that time is there already, or it is older than those that count",
    }
}
