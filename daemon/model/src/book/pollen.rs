//! A lot of pollen: where it came from, how it is kept, what is left of it.

use schemars::JsonSchema;
use serde::Serialize;

use super::entry::{Entry, Fact, PollenTaken, Storage};
use super::storage::Keeping;
use crate::time::Time;

/// A thawed portion is good for a pollination within this time, h. Judgement: ambient pollen of aroids is to be taken as good
/// for one to two days (Gibernau 2003 and Barabé 2008, abstracts).
const THAWED_FOR_H: f64 = 48.0;

/// A lot.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Lot {
    /// Its name.
    pub name: String,
    /// The plant that shed it.
    pub plant: String,
    /// The bloom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bloom: Option<String>,
    /// When it was collected, as far as that is known: a lot from elsewhere is at least as old as its arrival.
    pub collected: Time,
    /// It came from elsewhere.
    pub received: bool,
    /// How it was dried; fresh where it is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dried: Option<String>,
    /// Portions at the beginning.
    pub portions: u32,
    /// Portions that nothing has been done with.
    pub left: u32,
    /// Where it was put, oldest first.
    pub stored: Vec<Stored>,
    /// Thaws, oldest first.
    pub thaws: Vec<Thaw>,
    /// Germination tests, oldest first.
    pub tests: Vec<GerminationTest>,
    /// Pollinations with it, oldest first.
    pub uses: Vec<Use>,
    /// When the rest was thrown away.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub discarded: Option<Time>,
}

/// A lot put somewhere.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Stored {
    /// Since when.
    pub since: Time,
    /// Where and how cold.
    #[serde(flatten)]
    pub storage: Storage,
}

/// Portions thawed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Thaw {
    /// When.
    pub time: Time,
    /// How many.
    pub portions: u32,
}

/// A germination test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct GerminationTest {
    /// When.
    pub time: Time,
    /// Grains that germinated, %.
    pub germination_pct: f64,
}

/// A pollination with it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Use {
    /// When.
    pub time: Time,
    /// For which cross.
    pub cross: String,
    /// Portions.
    pub portions: u32,
}

impl Lot {
    /// A lot as it was taken.
    pub(super) fn taken(entry: &Entry, taken: &PollenTaken) -> Self {
        let stored = taken.stored.clone().map(|storage| Stored { since: entry.time, storage });
        Self {
            name: entry.subject.clone(),
            plant: taken.plant.clone(),
            bloom: taken.bloom.clone(),
            collected: taken.collected.unwrap_or(entry.time),
            received: taken.received,
            dried: taken.dried.clone(),
            portions: taken.portions,
            left: taken.portions,
            stored: stored.into_iter().collect(),
            thaws: Vec::new(),
            tests: Vec::new(),
            uses: Vec::new(),
            discarded: None,
        }
    }

    /// Takes an entry about the lot; they come in the order of time.
    pub(super) fn take(&mut self, entry: &Entry) {
        let time = entry.time;
        match &entry.fact {
            Fact::PollenStored(storage) => {
                self.stored.push(Stored { since: time, storage: storage.clone() });
            }
            Fact::PollenThawed { portions } => self.thaws.push(Thaw { time, portions: *portions }),
            Fact::PollenTested { germination_pct } => {
                self.tests.push(GerminationTest { time, germination_pct: *germination_pct });
            }
            Fact::PollenDiscarded => self.discarded = Some(time),
            _ => {}
        }
    }

    pub(super) fn use_for(&mut self, cross: &str, time: Time, portions: u32) {
        self.uses.push(Use { time, cross: cross.to_owned(), portions });
    }

    /// Counts what is left: a pollination uses what was thawed for it before it takes more, so that whoever books the thaw
    /// need not book it again, and whoever does not need not book it at all.
    pub(super) fn count(&mut self) {
        let mut thawed: Vec<Thaw> = self.thaws.clone();
        let mut taken: u32 = thawed.iter().map(|thaw| thaw.portions).sum();
        for used in &self.uses {
            let mut wanted = used.portions;
            for thaw in &mut thawed {
                if (0.0..=THAWED_FOR_H).contains(&used.time.hours_since(thaw.time)) {
                    let from_it = wanted.min(thaw.portions);
                    thaw.portions -= from_it;
                    wanted -= from_it;
                }
            }
            taken = taken.saturating_add(wanted);
        }
        self.left = if self.discarded.is_some() { 0 } else { self.portions.saturating_sub(taken) };
    }

    /// How it was kept, from shedding on.
    pub fn keepings(&self) -> Vec<Keeping> {
        let dried = self.dried.is_some();
        let first = self.stored.first().map(|stored| stored.since);
        // before it came, a lot from elsewhere was kept as it is kept since, for want of better
        let before =
            if self.received { self.stored.first().map(|stored| stored.storage.kept_c) } else { None };
        let on_the_way = (first != Some(self.collected)).then_some(Keeping {
            from: self.collected,
            kept_c: before,
            dried,
        });
        let since = self.stored.iter().map(|stored| Keeping {
            from: stored.since,
            kept_c: Some(stored.storage.kept_c),
            dried,
        });
        on_the_way.into_iter().chain(since).collect()
    }

    /// Where it is now.
    pub fn place(&self) -> Option<&Storage> {
        self.stored.last().map(|stored| &stored.storage)
    }
}
