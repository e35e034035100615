//! The service's time of day: the only place that reads the machine's clocks.

#[cfg(test)]
mod faults;
mod machine;
mod played;
mod timeline;

use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use bloom_model::event::ClockTrouble;
use bloom_model::time::Time;

pub use machine::wall_now;
pub use played::PlayedMachine;
use timeline::{Look, Timeline};

/// What time it is for the site.
#[derive(Debug)]
pub enum Clock {
    /// The machine's clock, held to a [timeline](timeline) that never goes back, for benches that are read now.
    Machine(MachineClock),
    /// The newest instant that any reading brought, for recordings and rehearsals played faster or later than life.
    Readings(AtomicI64),
}

/// The machine's clock.
#[derive(Debug)]
pub struct MachineClock {
    source: Box<dyn Source>,
    timeline: Mutex<Timeline>,
}

/// Where the machine's time comes from: the kernel, or a check that plays it false.
pub trait Source: Send + Sync + std::fmt::Debug {
    /// The time of day that the machine claims.
    fn wall(&self) -> Time;
    /// Time since some fixed instant, which nobody can set, and which runs on while the machine sleeps.
    fn monotonic(&self) -> Duration;
    /// Whether the time of day has been had from elsewhere since the machine started; `None` where that cannot be known.
    fn synchronised(&self) -> Option<bool>;
}

impl Clock {
    /// The machine's clock.
    pub fn of_machine() -> Self {
        Self::of_source(Box::new(machine::Kernel))
    }

    /// A clock fed by `source`.
    pub fn of_source(source: Box<dyn Source>) -> Self {
        Self::Machine(MachineClock { source, timeline: Mutex::new(Timeline::new()) })
    }

    /// A clock that stands at the beginning of time until a reading moves it.
    pub const fn of_readings() -> Self {
        Self::Readings(AtomicI64::new(0))
    }

    /// Whether it is the machine's.
    pub const fn is_machine(&self) -> bool {
        matches!(self, Self::Machine(_))
    }

    /// Now.
    pub fn now(&self) -> Time {
        match self {
            Self::Machine(clock) => clock.timeline().look(&clock.look()),
            Self::Readings(newest) => Time::from_unix_ms(newest.load(Ordering::Acquire)),
        }
    }

    /// Time since some fixed instant, which nobody can set: for durations of the machine itself.
    pub fn monotonic(&self) -> Duration {
        match self {
            Self::Machine(clock) => clock.source.monotonic(),
            Self::Readings(_) => machine::Kernel.monotonic(),
        }
    }

    /// Tells the clock of a reading; the machine's clock does not listen.
    pub fn hear(&self, time: Time) {
        if let Self::Readings(newest) = self {
            newest.fetch_max(time.unix_ms(), Ordering::AcqRel);
        }
    }

    /// Tells the machine's clock what the record already reaches to, before the first reading: no earlier time can be right.
    pub fn not_before(&self, newest: Time) {
        if let Self::Machine(clock) = self {
            clock.timeline().not_before(newest);
        }
    }

    /// Whether the time is not known yet and may be soon: nothing is to be read meanwhile.
    pub fn is_waiting(&self) -> bool {
        match self {
            Self::Machine(clock) => {
                let mut timeline = clock.timeline();
                timeline.look(&clock.look());
                timeline.is_waiting()
            }
            Self::Readings(_) => false,
        }
    }

    /// The time of day that the machine claims, trusted or not; `None` where it is not asked.
    pub fn claimed(&self) -> Option<Time> {
        match self {
            Self::Machine(clock) => Some(clock.source.wall()),
            Self::Readings(_) => None,
        }
    }

    /// Why the time is not to be trusted, if it is not.
    pub fn doubt(&self) -> Option<ClockTrouble> {
        match self {
            Self::Machine(clock) => {
                let (look, mut timeline) = (clock.look(), clock.timeline());
                timeline.look(&look);
                timeline.doubt(&look, clock.source.synchronised())
            }
            Self::Readings(_) => None,
        }
    }
}

impl MachineClock {
    fn look(&self) -> Look {
        Look { wall: self.source.wall(), monotonic: self.source.monotonic() }
    }

    fn timeline(&self) -> MutexGuard<'_, Timeline> {
        // it is whole after every step, whoever broke off while holding it
        self.timeline.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
pub(crate) mod fake {
    //! A machine whose clock a check sets.

    use std::sync::Arc;

    use super::*;

    /// The clocks of one machine; clones share them.
    #[derive(Debug, Clone)]
    pub(crate) struct FakeMachine(Arc<Mutex<(Time, Duration, Option<bool>)>>);

    impl FakeMachine {
        pub(crate) fn at(wall: Time) -> Self {
            Self(Arc::new(Mutex::new((wall, Duration::from_secs(100), None))))
        }

        /// Time passes.
        pub(crate) fn pass(&self, span: chrono::TimeDelta) {
            let mut clocks = self.0.lock().unwrap();
            clocks.0 = clocks.0 + span;
            clocks.1 += span.to_std().unwrap();
        }

        /// Somebody sets the time of day.
        pub(crate) fn set(&self, wall: Time) {
            self.0.lock().unwrap().0 = wall;
        }

        pub(crate) fn synchronise(&self, whether: Option<bool>) {
            self.0.lock().unwrap().2 = whether;
        }

        pub(crate) fn clock(&self) -> Clock {
            Clock::of_source(Box::new(self.clone()))
        }
    }

    impl Source for FakeMachine {
        fn wall(&self) -> Time {
            self.0.lock().unwrap().0
        }
        fn monotonic(&self) -> Duration {
            self.0.lock().unwrap().1
        }
        fn synchronised(&self) -> Option<bool> {
            self.0.lock().unwrap().2
        }
    }
}
