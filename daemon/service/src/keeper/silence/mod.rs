//! Silent sensors and the lines that they hang on: one cause, one alarm.
//!
//! The model says that quantities of a bench fell silent; it knows nothing of lines. Which line brings which quantity is learnt
//! from the readings. Where the machine's clock is the time of day, a silence is held back until it is clear whose it is:
//!
//! - told as the bench's own as soon as its line has brought anything of another bench since;
//! - not told at all while the line itself is out: the line's own event says it, with the benches' names, and as an alarm where it
//!   leaves a bench in bud without its last ranger. When the line is back and the bench is not, the bench is told after all;
//! - dropped when the quantities report again: after a start, or a clock that was set, nobody was silent.
//!
//! What is held is not in the record. A start finds it again in the benches' states.

use std::collections::HashMap;
use std::time::Duration;

use bloom_model::bench::Bench;
use bloom_model::event::{Details, Event, EventKind};
use bloom_model::quantity::Quantity;
use bloom_model::reading::{BenchNumber, Observed, Reading};
use bloom_model::time::Time;

use super::Keeper;

/// What is learnt of the ways by which quantities come, and the silences that are held back.
#[derive(Debug, Default)]
pub(super) struct SilenceWatch {
    heard: HashMap<(BenchNumber, Quantity), Heard>,
    held: Vec<HeldSilence>,
}

#[derive(Debug, Clone, Copy)]
struct Heard {
    intake: usize,
    at: Duration,
}

#[derive(Debug, Clone)]
struct HeldSilence {
    id: String,
    bench: BenchNumber,
    quantities: Vec<Quantity>,
    since: Duration,
}

/// What is to become of a silence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Verdict {
    Hold,
    Tell,
}

impl SilenceWatch {
    /// A reading that the model heard came by that line. One whose own clock has fallen back is not heard, and is as good as silent.
    pub(super) fn learn(&mut self, intake: usize, reading: &Reading, at: Duration) {
        if let Observed::Value(quantity, _) = reading.observed {
            self.heard.insert((reading.bench, quantity), Heard { intake, at });
        }
    }
}

impl Keeper {
    /// Holds a silence back, or takes one out that is over; anything else is raised.
    pub(super) fn sift(&mut self, event: Event) {
        match event.kind {
            EventKind::SensorSilent if self.clock.is_machine() => self.hold(&event),
            EventKind::SensorBack if self.clock.is_machine() && self.was_held(&event) => {}
            _ => self.raise(&event),
        }
    }

    /// The silences that the benches' states hold and the record does not.
    pub(super) fn find_held(&mut self) {
        let silences: Vec<Event> = self.site.benches().flat_map(Bench::standing_silences).collect();
        for event in silences {
            self.hold(&event);
        }
    }

    fn hold(&mut self, event: &Event) {
        let known = self.store.knows_event(&event.id).unwrap_or(false)
            || self.silences.held.iter().any(|held| held.id == event.id);
        let bench = event.bench.as_deref().and_then(|bench| self.site.number_of(bench));
        let (false, Some(bench)) = (known, bench) else { return };
        let since = self.clock.monotonic();
        let quantities = quantities_of(event).to_vec();
        self.silences.held.push(HeldSilence { id: event.id.clone(), bench, quantities, since });
    }

    /// Whether what is back was never told to be silent. Then neither is told.
    fn was_held(&mut self, back: &Event) -> bool {
        let bench = back.bench.as_deref().and_then(|bench| self.site.number_of(bench));
        let quantities = quantities_of(back);
        let ours = |held: &&mut HeldSilence| {
            Some(held.bench) == bench && quantities.iter().any(|quantity| held.quantities.contains(quantity))
        };
        let Some(held) = self.silences.held.iter_mut().find(ours) else { return false };
        held.quantities.retain(|quantity| !quantities.contains(quantity));
        self.silences.held.retain(|held| !held.quantities.is_empty());
        true
    }

    /// Tells the silences of which it is clear by now that they are a bench's own.
    pub(super) fn look_at_silences(&mut self, now: Time) {
        let due: Vec<HeldSilence> =
            self.silences.held.iter().filter(|held| self.judge(held) == Verdict::Tell).cloned().collect();
        for held in due {
            self.silences.held.retain(|other| other.id != held.id);
            let bench = self.site.benches().nth(usize::from(held.bench.0));
            let standing = bench.map(Bench::standing_silences).unwrap_or_default();
            if let Some(mut event) = standing.into_iter().find(|event| event.id == held.id) {
                event.time = now;
                self.raise(&event);
            }
        }
    }

    fn judge(&self, held: &HeldSilence) -> Verdict {
        let (now, patience) = (self.clock.monotonic(), self.patience());
        let heard =
            || held.quantities.iter().map(|quantity| self.silences.heard.get(&(held.bench, *quantity)));
        let quiet_since =
            heard().map(|heard| heard.map_or(self.began, |heard| heard.at)).max().unwrap_or(self.began);
        if now.saturating_sub(quiet_since) < patience {
            return Verdict::Hold;
        }
        let mut lines = heard().flatten().filter_map(|heard| self.intakes.get(heard.intake)).peekable();
        if lines.peek().is_none() {
            // never heard of since the start: perhaps it hangs on the line that is out, which names it
            let out = self.intakes.iter().any(|line| line.is_told_out() || line.is_out(now, patience));
            return if out { Verdict::Hold } else { Verdict::Tell };
        }
        let since = held.since.max(quiet_since);
        if lines.any(|line| line.has_worked_since(since, now, patience)) {
            Verdict::Tell
        } else {
            Verdict::Hold
        }
    }

    /// Whether a bench's readings came by that line, or none has come since the start and the line is out.
    pub(super) fn hangs_on(&self, intake: usize, bench: BenchNumber) -> bool {
        let mut own = self.silences.heard.iter().filter(|((heard, _), _)| *heard == bench).peekable();
        own.peek().is_none() || own.any(|(_, heard)| heard.intake == intake)
    }

    /// Whether a bench's readings have come by that line since an instant.
    pub(super) fn has_come_by(&self, intake: usize, bench: BenchNumber, since: Duration) -> bool {
        let came = |heard: &Heard| heard.intake == intake && heard.at >= since;
        self.silences.heard.iter().any(|((of, _), heard)| *of == bench && came(heard))
    }

    /// Whether that line, being out, leaves a bench in bud without its side ranger, or in bud or open with no ranger that works.
    pub(super) fn leaves_blind(&self, intake: usize, bench: &Bench, number: BenchNumber) -> bool {
        let untold = |id: &str| self.silences.held.iter().any(|held| held.id == id);
        let told_before = |quantity: Quantity| {
            let silences = bench.standing_silences();
            silences.iter().any(|event| !untold(&event.id) && quantities_of(event).contains(&quantity))
        };
        let by = |quantity| self.silences.heard.get(&(number, quantity)).map(|heard| heard.intake);
        let (now, patience) = (self.clock.monotonic(), self.patience());
        let is_gone = |quantity| {
            by(quantity)
                .is_none_or(|intake| self.intakes.get(intake).is_some_and(|line| line.is_out(now, patience)))
        };
        let side = Quantity::RimRange;
        if bench.leaves_unwatched(&[side])
            && by(side).is_none_or(|by| by == intake)
            && !told_before(side)
            && is_gone(side)
        {
            return true;
        }
        let mut rangers = bench.hung_rangers().peekable();
        bench.is_in_bud_or_open()
            && rangers.peek().is_some()
            && bench
                .hung_rangers()
                .any(|ranger| by(ranger).is_none_or(|by| by == intake) && !told_before(ranger))
            && rangers.all(|ranger| told_before(ranger) || is_gone(ranger))
    }
}

fn quantities_of(event: &Event) -> &[Quantity] {
    match &event.details {
        Details::Sensor(details) => &details.quantities,
        _ => &[],
    }
}

#[cfg(test)]
mod tests;
