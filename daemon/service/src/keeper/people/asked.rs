//! What people ask for, done.

use bloom_model::event::{Details, EventKind};
use bloom_model::reading::Observed;
use bloom_model::sign::Sign;
use bloom_model::time::Time;

use super::{Keeper, Kept, MISSED_AFTER, Refusal, no_bench};
use crate::notify::incoming::Request;
use crate::notify::standing::READ_IN;

impl Keeper {
    /// Takes up what a person published; `kept` says that it may have been sent while nobody listened.
    pub(super) fn take_request(&mut self, request: Request, kept: bool, now: Time) -> Result<(), Refusal> {
        match request {
            Request::Acknowledge { bench, id, by } => {
                if kept && self.was_raised_since(&id) {
                    return self.answer_late(&id);
                }
                self.acknowledge(&[id], bench.as_deref(), by.as_deref())
            }
            Request::AcknowledgeRead { bench } => {
                let heard = if kept { self.listened_until() } else { Some(now) };
                // of what is not known when it was sent, nothing has been read
                let read = heard.map_or(Time::from_unix_ms(i64::MIN), |heard| heard - READ_IN);
                self.acknowledge_read(bench.as_deref(), read, kept)
            }
            Request::Coming { bench, clock, by } => {
                let until = now.next_local_time(clock, self.site.spec().timezone);
                if kept {
                    self.answer_late_coming(bench.as_deref(), until, by)
                } else {
                    self.wait_for(bench.as_deref(), &[], until, by)
                }
            }
            Request::Sign { bench, sign, time: None, .. } if kept => self.ask_when(&bench, &sign, now),
            Request::Sign { bench, sign, time, note, by } => {
                self.take_booked(&bench, time.unwrap_or(now), Observed::Sign(sign), note, by)
            }
        }
    }

    /// Until when everything was heard that was sent before what the broker kept for us.
    fn listened_until(&self) -> Option<Time> {
        self.people.kept.and_then(|kept| kept.listened)
    }

    /// Whether an alarm that stands was raised after what the broker kept for us may have been sent.
    fn was_raised_since(&self, id: &str) -> bool {
        let raised = self.standing.raised(id);
        raised.is_some_and(|raised| self.listened_until().is_none_or(|listened| raised > listened))
    }

    /// Asks when a sign was that was sent while nobody listened.
    fn ask_when(&mut self, bench: &str, sign: &Sign, now: Time) -> Result<(), Refusal> {
        let kept = self.people.kept.unwrap_or(Kept { listened: None, until: now });
        let (sent_from, sent_until) = (kept.listened.map(|listened| listened - MISSED_AFTER), kept.until);
        if self.site.number_of(bench).is_none() {
            return Err(no_bench(bench));
        }
        let details = Details::UndatedSign { sign: *sign, sent_from, sent_until };
        self.raise_own(Some(bench), EventKind::SignBooked, details);
        Ok(())
    }
}
