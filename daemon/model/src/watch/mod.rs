//! What the house as a whole is watched for: intakes that are out, sensors that fell silent on an intake that works, a clock that is in doubt, and
//! whether anybody is reached.
//!
//! All of it is one value, [`HouseWatch`]. An [`Input`] goes in with both clocks, an [`Effect`] comes out. Nothing here asks for the time, waits or
//! writes: whoever holds the value hears, commits and sends. So the same inputs give the same effects, live or played.
//!
//! The model of a [site](crate::site) knows nothing of intakes. What it says of silent sensors goes through here before it is told.

mod clock_doubt;
mod intake;
mod intakes;
mod outage;
mod repeats;
mod silence;
mod site_events;
mod test_alarm;

use std::num::NonZeroU32;
use std::time::Duration;

pub use self::clock_doubt::ClockSays;
use self::clock_doubt::ToldDoubt;
pub use self::intake::{Intake, StandingOutage};
use self::intakes::Intakes;
pub use self::repeats::Repeats;
use self::silence::Silences;
use self::site_events::SiteEvents;
use self::test_alarm::SiteTests;
use crate::event::{ClockTrouble, Event, EventKind, SiteTrouble};
use crate::reading::Reading;
use crate::site::Site;
use crate::time::{Now, Time};

/// What the watch hears.
#[derive(Debug, Clone, PartialEq)]
pub enum Input<'a> {
    /// Something came by an intake.
    Came {
        /// By which, by its place in the configuration.
        intake: usize,
        /// How many readings were understood.
        readings: usize,
        /// How many lines and records beside them were refused.
        refused: u64,
        /// Those of the readings that the model took. What is late or comes again shows of no sensor that it works.
        taken: &'a [Reading],
    },
    /// A line of an intake was understood.
    IntakeUp {
        /// Of which.
        intake: usize,
    },
    /// An intake cannot be read.
    IntakeDown {
        /// Which.
        intake: usize,
        /// Why, and what to do.
        why: String,
    },
    /// The model says this.
    Said {
        /// What it says.
        event: Box<Event>,
        /// The record knows it: it was told before.
        told_before: bool,
    },
    /// This befell the site itself, or is over.
    Befell {
        /// What.
        trouble: SiteTrouble,
        /// What is affected.
        what: String,
        /// Since when.
        since: Time,
    },
    /// An event was told, for the first time.
    Told(&'a Event),
    /// Time has passed. This is what is known of the clock.
    Look(ClockSays),
    /// A start: these outages stand as alarms from a life before.
    OutagesStand(Vec<StandingOutage>),
    /// A start: a test alarm of the site is wanted so often.
    TestsWanted {
        /// Days from one to the next.
        every_days: NonZeroU32,
        /// The newest test of any kind in the record.
        last: Option<Time>,
    },
}

/// What is to be done.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// This event is to be told.
    Raise(Box<Event>),
    /// The alarm of this id is over. No event tells it.
    End(String),
}

impl Effect {
    fn raise(event: Event) -> Self {
        Self::Raise(Box::new(event))
    }
}

/// The watch over one house.
#[derive(Debug, Clone)]
pub struct HouseWatch {
    /// The benches are read now: a silence is held back until it is clear whose it is. What recordings bring is told as the model says it.
    live: bool,
    intakes: Intakes,
    silences: Silences,
    /// What was told of the clock, while it is in doubt.
    doubt: Option<ToldDoubt>,
    /// The tests of the site, where there are any.
    tests: Option<SiteTests>,
    events: SiteEvents,
}

impl HouseWatch {
    /// A watch that begins at `began`, by the clock that nobody can set. `live` says that the site's time is the machine's and not that of
    /// recordings.
    pub fn new(site: &Site, intakes: Vec<Intake>, live: bool, began: Duration) -> Self {
        // a sensor and the intake that it hangs on may be quiet for as long
        let patience = site.spec().silent_after.to_std().unwrap_or(Duration::MAX);
        Self {
            live,
            intakes: Intakes::new(intakes, patience, began),
            silences: Silences::default(),
            doubt: None,
            tests: None,
            events: SiteEvents::default(),
        }
    }

    /// Takes in what was heard at `now`; gives what is to be done, in that order.
    pub fn handle(&mut self, site: &Site, now: Now, input: Input<'_>) -> Vec<Effect> {
        match input {
            Input::Came { intake, readings, refused, taken } => {
                self.intakes.came(intake, readings, refused, now.monotonic);
                self.intakes.learn(intake, taken, now.monotonic);
                Vec::new()
            }
            Input::IntakeUp { intake } => {
                self.intakes.hear(intake, now.monotonic);
                Vec::new()
            }
            Input::IntakeDown { intake, why } => {
                self.intakes.lose(intake, why, now.monotonic);
                Vec::new()
            }
            Input::Said { event, told_before } => {
                self.sift(site, now, event, told_before).map(Effect::Raise).into_iter().collect()
            }
            Input::Befell { trouble, what, since } => {
                vec![Effect::raise(self.events.trouble(site, now.time, trouble, what, since))]
            }
            Input::Told(event) => {
                self.tests = self.tests.map(|tests| tests.noting(event, now.time, site.spec()));
                Vec::new()
            }
            Input::Look(clock) => self.look(site, now, clock).into_iter().map(Effect::raise).collect(),
            Input::OutagesStand(outages) => {
                let over = outages.into_iter().filter_map(|outage| self.intakes.adopt(outage, now.monotonic));
                over.map(Effect::End).collect()
            }
            Input::TestsWanted { every_days, last } => {
                self.tests = Some(SiteTests::plan(every_days, last, now.time, site.spec()));
                Vec::new()
            }
        }
    }

    /// Holds a silence back, or takes one out that is over; anything else is told.
    fn sift(&mut self, site: &Site, now: Now, event: Box<Event>, told_before: bool) -> Option<Box<Event>> {
        match event.kind {
            EventKind::SensorSilent if self.live => {
                if !told_before {
                    self.silences.hold(site, &event, now.monotonic);
                }
                None
            }
            EventKind::SensorBack if self.live && self.silences.let_go(site, &event) => None,
            _ => Some(event),
        }
    }

    /// All that is due by now.
    fn look(&mut self, site: &Site, now: Now, clock: ClockSays) -> Vec<Event> {
        let mut events = outage::look(&mut self.intakes, &self.silences, &mut self.events, site, now);
        events.extend(self.silences.due(site, &self.intakes, now));
        if let Some((trouble, since)) = clock_doubt::look(&mut self.doubt, clock, now.time) {
            events.push(self.events.trouble(site, now.time, trouble, "clock".to_owned(), since));
        }
        if self.tests.is_some_and(|tests| tests.due() <= now.time) {
            events.push(self.events.test(site, now.time));
        }
        events
    }

    /// The intakes, in the order of the configuration.
    pub fn intakes(&self) -> &[Intake] {
        self.intakes.all()
    }

    /// Since when an intake has been out at `now`; `None` while it works.
    pub fn out_since(&self, intake: &Intake, now: Now) -> Option<Time> {
        self.intakes.out_since(intake, now.monotonic).map(|since| now.time_of(since))
    }

    /// The doubt about the clock that was told and is not over.
    pub fn clock_doubt(&self) -> Option<ClockTrouble> {
        self.doubt.map(|told| told.doubt)
    }

    /// When the next test of the site is due.
    pub fn test_due(&self) -> Option<Time> {
        self.tests.map(SiteTests::due)
    }
}

#[cfg(test)]
mod tests;
