//! The [watch over the house](bloom_model::watch) as the keeper holds it: it is told what is heard, and what comes of it is told on.

use std::num::NonZeroU32;

use bloom_model::bench::Bench;
use bloom_model::event::{Event, EventKind, SiteTrouble};
use bloom_model::time::{Now, Time};
use bloom_model::watch::{ClockSays, Effect, Input, Intake};

use super::Keeper;
use crate::facts::IntakeFacts;
use crate::store::StoreError;

impl Keeper {
    /// Both clocks now.
    pub(super) fn clocks(&self) -> Now {
        Now { time: self.now(), monotonic: self.clock.monotonic() }
    }

    /// Lets the watch hear something now, and does what comes of it.
    pub(super) fn watch(&mut self, input: Input<'_>) {
        self.watch_at(self.clocks(), input);
    }

    /// The same of what was heard a moment ago.
    pub(super) fn watch_at(&mut self, now: Now, input: Input<'_>) {
        for effect in self.house.handle(&self.site, now, input) {
            match effect {
                Effect::Raise(event) => self.raise(&event),
                Effect::End(id) => {
                    let ended = self.standing.end(&id, now.time);
                    self.tell_changed(ended.into_iter().collect());
                }
            }
        }
    }

    /// What the model says goes through the watch, which may hold it back.
    pub(super) fn raise_all(&mut self, events: impl IntoIterator<Item = Event>) {
        for event in events {
            let told_before = self.store.knows_event(&event.id).unwrap_or(false);
            self.watch(Input::Said { event: Box::new(event), told_before });
        }
    }

    /// The silences that the benches' states hold and the record does not.
    pub(super) fn find_held(&mut self) {
        let silences: Vec<Event> = self.site.benches().flat_map(Bench::standing_silences).collect();
        self.raise_all(silences);
    }

    /// Takes up the outages that stand as alarms from a life before.
    pub(super) fn adopt_outages(&mut self) {
        self.watch(Input::OutagesStand(self.standing.outages()));
    }

    /// Takes up the tests where the record says they were left.
    pub(super) fn plan_tests(&mut self, every_days: Option<NonZeroU32>) -> Result<(), StoreError> {
        let Some(every_days) = every_days else { return Ok(()) };
        let last = self.store.newest_test(EventKind::Test.name())?;
        self.watch(Input::TestsWanted { every_days, last });
        Ok(())
    }

    /// What befell the site itself, or is over: `what` is affected, since `since`.
    pub(super) fn tell_of_trouble(&mut self, trouble: SiteTrouble, what: String, since: Time) {
        self.watch(Input::Befell { trouble, what, since });
    }

    /// All that the house as a whole is due by now.
    pub(super) fn look_at_house(&mut self, now: Now) {
        let clock = ClockSays { doubt: self.clock.doubt(), claimed: self.clock.claimed() };
        self.watch_at(now, Input::Look(clock));
    }

    /// The intakes as whoever shows the house sees them.
    pub(super) fn intake_facts(&self) -> Vec<IntakeFacts> {
        let now = self.clocks();
        let of = |intake: &Intake| IntakeFacts {
            intake: intake.name().to_owned(),
            readings: intake.readings(),
            refused: intake.refused(),
            out_since: self.house.out_since(intake, now),
            why: intake.why().map(str::to_owned),
        };
        self.house.intakes().iter().map(of).collect()
    }
}
