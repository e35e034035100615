//! Silent sensors and the intakes that they hang on: one cause, one alarm.
//!
//! The model says that quantities of a bench fell silent; it knows nothing of intakes. Where benches are read live, a silence is held back
//! until it is clear whose it is:
//!
//! - told as the bench's own as soon as its intake has brought anything of another bench since;
//! - not told at all while the intake itself is out: the intake's own event says it, with the benches' names, and as an alarm where it
//!   leaves a bench in bud without its last ranger. When the intake is back and the bench is not, the bench is told after all;
//! - dropped when the quantities report again: after a start, or a clock that was set, nobody was silent.
//!
//! What is held is not in the record. A start finds it again in the benches' states.

use std::time::Duration;

use super::intakes::Intakes;
use crate::bench::Bench;
use crate::event::{Details, Event};
use crate::quantity::Quantity;
use crate::reading::BenchNumber;
use crate::site::Site;
use crate::time::Now;

/// The silences that are held back.
#[derive(Debug, Clone, Default)]
pub(super) struct Silences {
    held: Vec<HeldSilence>,
}

#[derive(Debug, Clone)]
struct HeldSilence {
    /// The id of the event that would tell it.
    id: String,
    bench: BenchNumber,
    quantities: Vec<Quantity>,
    /// When it was held back, by the clock that nobody can set.
    since: Duration,
}

impl Silences {
    /// Holds a silence back.
    pub(super) fn hold(&mut self, site: &Site, event: &Event, now: Duration) {
        let Some(bench) = bench_of(site, event).filter(|_| !self.holds(&event.id)) else { return };
        let quantities = quantities_of(event).to_vec();
        self.held.push(HeldSilence { id: event.id.clone(), bench, quantities, since: now });
    }

    /// Whether the silence of that event is held back.
    pub(super) fn holds(&self, id: &str) -> bool {
        self.held.iter().any(|held| held.id == id)
    }

    /// Lets go of what is back. True where it was never told to be silent: then neither is told.
    pub(super) fn let_go(&mut self, site: &Site, back: &Event) -> bool {
        let bench = bench_of(site, back);
        let quantities = quantities_of(back);
        let ours = |held: &&mut HeldSilence| {
            Some(held.bench) == bench && quantities.iter().any(|quantity| held.quantities.contains(quantity))
        };
        let Some(held) = self.held.iter_mut().find(ours) else { return false };
        held.quantities.retain(|quantity| !quantities.contains(quantity));
        self.held.retain(|held| !held.quantities.is_empty());
        true
    }

    /// Those of which it is clear by now that they are a bench's own, each as the event that tells it.
    pub(super) fn due(&mut self, site: &Site, intakes: &Intakes, now: Now) -> Vec<Event> {
        let is_due = |held: &mut HeldSilence| held.is_the_benchs_own(intakes, now.monotonic);
        let due: Vec<HeldSilence> = self.held.extract_if(.., is_due).collect();
        let told = due.into_iter().filter_map(|held| {
            let standing = site.benches().nth(usize::from(held.bench.0)).map(Bench::standing_silences);
            let mut event = standing?.into_iter().find(|event| event.id == held.id)?;
            event.time = now.time;
            Some(event)
        });
        told.collect()
    }
}

impl HeldSilence {
    fn is_the_benchs_own(&self, intakes: &Intakes, now: Duration) -> bool {
        let quiet_since = intakes.quiet_since(self.bench, &self.quantities);
        if now.saturating_sub(quiet_since) < intakes.patience() {
            return false;
        }
        let mut by = intakes.that_bring(self.bench, &self.quantities).peekable();
        if by.peek().is_none() {
            // never heard of since the start: perhaps it hangs on the intake that is out, which names it
            return !intakes.any_is_out(now);
        }
        let since = self.since.max(quiet_since);
        by.any(|intake| intake.has_worked_since(since, now, intakes.patience()))
    }
}

fn bench_of(site: &Site, event: &Event) -> Option<BenchNumber> {
    event.bench.as_deref().and_then(|bench| site.number_of(bench))
}

/// The quantities of which an event of sensors speaks.
pub(super) fn quantities_of(event: &Event) -> &[Quantity] {
    match &event.details {
        Details::Sensor(details) => &details.quantities,
        _ => &[],
    }
}
