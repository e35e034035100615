//! All intakes, and which of them brings which quantity of which bench. Nobody configures that: it is learnt from the readings.

use std::collections::BTreeMap;
use std::time::Duration;

use super::intake::{Intake, StandingOutage, ToldOutage};
use crate::quantity::Quantity;
use crate::reading::{BenchNumber, Observed, Reading};

/// The intakes of a house.
#[derive(Debug, Clone)]
pub(super) struct Intakes {
    all: Vec<Intake>,
    came: BTreeMap<(BenchNumber, Quantity), Came>,
    /// How long a line may be quiet.
    patience: Duration,
    /// When the watch began.
    began: Duration,
}

/// By which intake a quantity last came, and when.
#[derive(Debug, Clone, Copy)]
struct Came {
    by: usize,
    at: Duration,
}

impl Intakes {
    pub(super) fn new(mut all: Vec<Intake>, patience: Duration, began: Duration) -> Self {
        all.iter_mut().for_each(|intake| intake.begin(began));
        Self { all, came: BTreeMap::new(), patience, began }
    }

    pub(super) fn all(&self) -> &[Intake] {
        &self.all
    }

    pub(super) fn get(&self, intake: usize) -> Option<&Intake> {
        self.all.get(intake)
    }

    pub(super) fn get_mut(&mut self, intake: usize) -> Option<&mut Intake> {
        self.all.get_mut(intake)
    }

    pub(super) const fn patience(&self) -> Duration {
        self.patience
    }

    /// So many readings came by the intake, and so many lines and records of it were refused.
    pub(super) fn came(&mut self, intake: usize, readings: usize, refused: u64, now: Duration) {
        let Some(which) = self.all.get_mut(intake) else { return };
        which.count(readings, refused);
        if readings > 0 {
            which.hear(now, self.patience);
        }
    }

    /// Readings that the model took came by that intake.
    pub(super) fn learn(&mut self, intake: usize, taken: &[Reading], now: Duration) {
        for reading in taken {
            if let Observed::Value(quantity, _) = reading.observed {
                self.came.insert((reading.bench, quantity), Came { by: intake, at: now });
            }
        }
    }

    /// The intake has brought something that was understood.
    pub(super) fn hear(&mut self, intake: usize, now: Duration) {
        if let Some(intake) = self.all.get_mut(intake) {
            intake.hear(now, self.patience);
        }
    }

    /// The intake cannot be read.
    pub(super) fn lose(&mut self, intake: usize, why: String, now: Duration) {
        if let Some(intake) = self.all.get_mut(intake) {
            intake.lose(why, now);
        }
    }

    /// Takes up an outage that stands as an alarm from a life before: it is over when its intake is back, and is not told again until then. Gives
    /// its id where the intake is no longer configured: then it is over.
    pub(super) fn adopt(&mut self, outage: StandingOutage, now: Duration) -> Option<String> {
        let StandingOutage { id, since, intake: name } = outage;
        match self.all.iter_mut().find(|intake| intake.name() == name) {
            Some(intake) => {
                intake.adopt(ToldOutage { id, since, as_alarm: true }, now);
                None
            }
            None => Some(id),
        }
    }

    /// Since when an intake has been out, if it is.
    pub(super) fn out_since(&self, intake: &Intake, now: Duration) -> Option<Duration> {
        intake.out_since(now, self.patience)
    }

    /// Whether the intake of that number is out.
    pub(super) fn is_out(&self, intake: usize, now: Duration) -> bool {
        self.all.get(intake).is_some_and(|intake| intake.is_out(now, self.patience))
    }

    /// Whether any is out, or was told to be.
    pub(super) fn any_is_out(&self, now: Duration) -> bool {
        self.all.iter().any(|intake| intake.is_told_out() || intake.is_out(now, self.patience))
    }

    /// By which intake a quantity last came; `None` if it has not come since the start.
    pub(super) fn brings(&self, bench: BenchNumber, quantity: Quantity) -> Option<usize> {
        self.came.get(&(bench, quantity)).map(|came| came.by)
    }

    /// When the last of those quantities came, or the start.
    pub(super) fn quiet_since(&self, bench: BenchNumber, quantities: &[Quantity]) -> Duration {
        let came = quantities.iter().filter_map(|quantity| self.came.get(&(bench, *quantity)));
        came.map(|came| came.at).fold(self.began, Duration::max)
    }

    /// The intakes by which those quantities last came.
    pub(super) fn that_bring(
        &self,
        bench: BenchNumber,
        quantities: &[Quantity],
    ) -> impl Iterator<Item = &Intake> {
        quantities.iter().filter_map(move |quantity| self.get(self.brings(bench, *quantity)?))
    }

    /// Whether a bench's readings came by that intake, or none has come since the start.
    pub(super) fn may_bring(&self, intake: usize, bench: BenchNumber) -> bool {
        let mut own = self.of_bench(bench).peekable();
        own.peek().is_none() || own.any(|came| came.by == intake)
    }

    /// Whether a bench's readings have come by that intake since a moment.
    pub(super) fn has_brought_since(&self, intake: usize, bench: BenchNumber, since: Duration) -> bool {
        self.of_bench(bench).any(|came| came.by == intake && came.at >= since)
    }

    fn of_bench(&self, bench: BenchNumber) -> impl Iterator<Item = &Came> {
        self.came.iter().filter(move |((of, _), _)| *of == bench).map(|(_, came)| came)
    }
}
