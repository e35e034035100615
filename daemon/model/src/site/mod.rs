//! One glass-house: its benches, and the instants at which something is due.

mod air;
mod heat;
#[cfg(test)]
mod tests;

use std::sync::Arc;

use crate::bench::{Bench, BenchState};
use crate::event::Event;
use crate::heat::HouseHeat;
use crate::reading::{BenchNumber, Reading, Taken};
use crate::spec::{BenchSpec, SiteSpec};
use crate::time::Time;

/// The local hour from which on a test alarm waits for the next morning. Common practice.
const EVENING_HOUR: f64 = 21.0;

/// Whether people may be asked for something that can wait: between the morning hour and the evening, local.
pub fn is_waking_hour(spec: &SiteSpec, time: Time) -> bool {
    let hour = time.local_hour(spec.timezone);
    hour >= f64::from(spec.morning_hour) && hour < EVENING_HOUR
}

/// The model of one site.
#[derive(Debug)]
pub struct Site {
    spec: Arc<SiteSpec>,
    benches: Vec<Bench>,
    /// What the house was told of heat; every bench's state holds the same.
    heat: HouseHeat,
    /// No instant before this is due; it may be early, never late.
    due: Option<Time>,
}

impl Site {
    /// A site whose benches have seen nothing yet.
    pub fn new(spec: SiteSpec, benches: Vec<BenchSpec>) -> Self {
        let spec = Arc::new(spec);
        let benches = benches.into_iter().map(|bench| Bench::new(&spec, bench)).collect();
        Self { spec, benches, heat: HouseHeat::default(), due: None }
    }

    /// The site as configured.
    pub fn spec(&self) -> &SiteSpec {
        &self.spec
    }

    /// The benches in the order of the configuration.
    pub fn benches(&self) -> impl ExactSizeIterator<Item = &Bench> {
        self.benches.iter()
    }

    /// The bench of that id.
    pub fn number_of(&self, id: &str) -> Option<BenchNumber> {
        self.benches
            .iter()
            .position(|bench| &*bench.spec().id == id)
            .and_then(|place| u16::try_from(place).ok())
            .map(BenchNumber)
    }

    /// Passes every instant due up to the reading's time, then tells the reading to its bench.
    pub fn take(&mut self, reading: &Reading, events: &mut Vec<Event>) -> Taken {
        self.pass_time(reading.time, events);
        self.lend_air(reading);
        let place = usize::from(reading.bench.0);
        let Some(bench) = self.benches.get_mut(place) else { return Taken::ByTheRecord };
        let heat_before = bench.heat_level(reading.time);
        let taken = bench.take(reading.time, &reading.observed, events);
        self.due = [self.due, bench.next_due()].into_iter().flatten().min();
        if bench.heat_level(reading.time) != heat_before {
            self.look_at_heat_soon(reading.time);
        }
        taken
    }

    /// Benches are watched from this instant on: a ranger that is hung and never reports counts as silent from here.
    pub fn watch_from(&mut self, time: Time) {
        for bench in &mut self.benches {
            bench.watch_from(time);
        }
        self.due = self.earliest_due();
    }

    /// Passes, in their order, all instants up to and including `now` at which something is due.
    ///
    /// Between them nothing changes: passing time twice, or in smaller steps, gives the same state and the same events.
    pub fn pass_time(&mut self, now: Time, events: &mut Vec<Event>) {
        while let Some(due) = self.due.filter(|due| *due <= now) {
            for bench in &mut self.benches {
                if bench.next_due() == Some(due) {
                    bench.pass(due, events);
                }
            }
            self.compare_airs(due);
            if self.heat.due() == Some(due) {
                self.look_at_heat(due, events);
            }
            self.due = self.earliest_due();
        }
    }

    fn earliest_due(&self) -> Option<Time> {
        self.benches.iter().filter_map(Bench::next_due).chain(self.heat.due()).min()
    }

    /// The next instant at which something may be due.
    pub const fn next_due(&self) -> Option<Time> {
        self.due
    }

    /// A bench's state, to be written down.
    pub fn state_of(&self, bench: BenchNumber) -> Option<&BenchState> {
        self.benches.get(usize::from(bench.0)).map(Bench::state)
    }

    /// Puts back a state that was written down.
    pub fn restore(&mut self, bench: BenchNumber, state: BenchState) {
        if let Some(bench) = self.benches.get_mut(usize::from(bench.0)) {
            bench.restore(state);
            if bench.house_heat().is_newer_than(&self.heat) {
                self.heat = bench.house_heat();
            }
        }
        self.due = self.earliest_due();
    }
}
