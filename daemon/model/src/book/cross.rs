//! A cross and its fruit, from pollination to seedlings.

use schemars::JsonSchema;
use serde::Serialize;

use super::entry::{Colour, Entry, Fact, Part, Pollination};
use crate::time::Time;

/// A cross: one bloom of a seed parent with the pollen of one plant, whatever the lots.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Cross {
    /// Its name.
    pub name: String,
    /// The seed parent.
    pub mother: String,
    /// The pollen parent.
    pub father: String,
    /// The seed parent's bench.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// The seed parent's bloom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bloom: Option<String>,
    /// The first pollination.
    pub made: Time,
    /// Every pollination, oldest first.
    pub pollinations: Vec<Done>,
    /// What came of it.
    pub fruit: Fruit,
}

/// A pollination as it was done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Done {
    /// When.
    pub time: Time,
    /// With which lot.
    pub lot: String,
    /// Portions used.
    pub portions: u32,
    /// Which flowers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flowers: Option<String>,
    /// By which access.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub access: Option<String>,
    /// Who.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
}

/// The fruit of a cross.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct Fruit {
    /// When fruit was seen to have set.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set: Option<Time>,
    /// Counts of berries, oldest first.
    pub counts: Vec<Count>,
    /// Colours seen, oldest first.
    pub colours: Vec<Coloured>,
    /// Losses, oldest first.
    pub losses: Vec<Count>,
    /// When it was called ripe.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ripe: Option<Time>,
    /// Harvests, oldest first: the top ripens before the bottom.
    pub harvests: Vec<Harvest>,
    /// Seed counts, oldest first.
    pub seeds: Vec<Count>,
    /// Sowings, oldest first.
    pub sowings: Vec<Count>,
    /// Counts of seedlings, oldest first.
    pub seedlings: Vec<Seedlings>,
}

/// A count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Count {
    /// When.
    pub time: Time,
    /// How many.
    pub count: u32,
}

/// A colour seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Coloured {
    /// When.
    pub time: Time,
    /// Which.
    pub colour: Colour,
    /// Where on the spike.
    pub part: Part,
}

/// A harvest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Harvest {
    /// When.
    pub time: Time,
    /// Berries, where they were counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub berries: Option<u32>,
}

/// Seedlings that came up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Seedlings {
    /// When they were counted.
    pub time: Time,
    /// New ones.
    pub count: u32,
    /// Those without green among them.
    pub albino: u32,
}

impl Cross {
    pub(super) fn made(entry: &Entry, pollination: &Pollination, father: &str) -> Self {
        let mut cross = Self {
            name: entry.subject.clone(),
            mother: pollination.plant.clone(),
            father: father.to_owned(),
            bench: pollination.bench.clone(),
            bloom: pollination.bloom.clone(),
            made: entry.time,
            pollinations: Vec::new(),
            fruit: Fruit::default(),
        };
        cross.pollinate(entry, pollination);
        cross
    }

    pub(super) fn pollinate(&mut self, entry: &Entry, pollination: &Pollination) {
        self.pollinations.push(Done {
            time: entry.time,
            lot: pollination.lot.clone(),
            portions: pollination.portions,
            flowers: pollination.flowers.clone(),
            access: pollination.access.clone(),
            by: entry.by.clone(),
        });
    }

    /// Takes an entry about the fruit; they come in the order of time.
    pub(super) fn take(&mut self, entry: &Entry) {
        let (time, fruit) = (entry.time, &mut self.fruit);
        let counted = |count: u32| Count { time, count };
        match &entry.fact {
            Fact::FruitSet { berries } => {
                fruit.set = fruit.set.or(Some(time));
                fruit.counts.extend(berries.map(counted));
            }
            Fact::FruitColour { colour, part } => {
                fruit.colours.push(Coloured { time, colour: *colour, part: *part });
            }
            Fact::FruitLost { berries } => fruit.losses.push(counted(*berries)),
            Fact::FruitRipe => fruit.ripe = fruit.ripe.or(Some(time)),
            Fact::Harvested { berries } => fruit.harvests.push(Harvest { time, berries: *berries }),
            Fact::SeedsCounted { seeds } => fruit.seeds.push(counted(*seeds)),
            Fact::Sown { seeds } => fruit.sowings.push(counted(*seeds)),
            Fact::Germinated { seedlings, albino } => {
                fruit.seedlings.push(Seedlings { time, count: *seedlings, albino: *albino });
            }
            _ => {}
        }
    }
}

impl Fruit {
    /// When it was ripe: as called, else the first harvest.
    pub fn ripened(&self) -> Option<Time> {
        self.ripe.or_else(|| self.harvests.first().map(|harvest| harvest.time))
    }

    /// Berries at the newest count, less the losses since.
    pub fn berries(&self) -> Option<u32> {
        let newest = self.counts.last()?;
        let lost: u32 =
            self.losses.iter().filter(|loss| loss.time > newest.time).map(|loss| loss.count).sum();
        Some(newest.count.saturating_sub(lost))
    }

    /// Seeds sown, all together.
    pub fn sown(&self) -> u32 {
        self.sowings.iter().map(|sowing| sowing.count).sum()
    }

    /// Seedlings, and those without green among them, all together.
    pub fn grown(&self) -> (u32, u32) {
        let sum = |of: fn(&Seedlings) -> u32| self.seedlings.iter().map(of).sum();
        (sum(|seedlings| seedlings.count), sum(|seedlings| seedlings.albino))
    }

    /// Whether there is still something to wait for on the plant.
    pub fn is_growing(&self) -> bool {
        self.ripened().is_none()
    }
}
