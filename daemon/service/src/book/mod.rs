//! The bloom book of a house: what people booked, the blooms that the service watched, and what is published about the plants.
//!
//! The reading side is plain structs that serialise: commands print them, the page shows them. The writing side plans an entry
//! ([`plan`]) and writes it in one transaction ([`write()`]).

mod bank;
pub mod calendar;
pub mod exchange;
mod flowering;
pub mod names;
pub mod plan;
mod ripening;
mod season;
pub mod telling;
mod tonight;
pub mod words;
mod writing;

use std::path::Path;
use std::sync::Arc;

use bloom_model::bloom::life::{BookedSign, LifeEvent};
use bloom_model::book::Book;
use bloom_model::book::bloom::{BloomRecord, blooms};
use bloom_model::book::entry::{Entry, Fact};
use bloom_model::book::husbandry::Husbandry;
use bloom_model::profile::Profile;
use bloom_model::reading::Observed;
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;
use chrono_tz::Tz;
use tracing::warn;

use crate::config::{Config, ProfileError, husbandries};
use crate::store::{BookEvent, Reader, Recorded, StoreError};

pub use bank::{LotView, bank};
pub use flowering::{Pairing, pairings};
pub use ripening::{FruitView, fruit};
pub use season::{Compared, LookBack, PastBloom, look_back, past_blooms};
pub use tonight::{CAUTIONS, Candidate, KIT, Sheet, Thawing, Windows, sheets};
pub use writing::{Booked, Circumstances, write};

/// The book with all that belongs to it, as it was at one moment.
#[derive(Debug)]
pub struct HouseBook {
    /// What people booked.
    pub book: Book,
    /// The blooms, oldest first.
    pub blooms: Vec<BloomRecord>,
    /// The benches of the configuration.
    pub benches: Vec<Bench>,
    /// Nights and dates are local to this zone.
    pub zone: Tz,
    husbandries: Vec<Husbandry>,
}

/// A bench as the book needs it.
#[derive(Debug, Clone)]
pub struct Bench {
    /// Its id.
    pub id: Arc<str>,
    /// The plant that the configuration names.
    pub plant: Option<Arc<str>>,
    /// The numbers of its kind.
    pub profile: Profile,
}

/// Why the book cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum BookError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A profile.
    #[error(transparent)]
    Profile(#[from] ProfileError),
}

impl HouseBook {
    /// Reads the book of a configured house as it stood at a time: what happened later is left out. A store that is not there yet
    /// is an empty book.
    ///
    /// # Errors
    /// If the store cannot be read, or a profile is wrong.
    pub fn read(config: &Config, config_path: &Path, at: Time) -> Result<Self, BookError> {
        let (mut entries, events, mut booked) = match Reader::open(&config.store_path) {
            Ok(reader) => (reader.book()?, reader.life_events(at)?, reader.booked_by_hand()?),
            Err(StoreError::Missing { .. }) => Default::default(),
            Err(error) => return Err(error.into()),
        };
        // what a plant is holds at all times, whenever somebody wrote it down
        entries.retain(|entry| entry.time <= at || matches!(entry.fact, Fact::PlantAdded(_)));
        booked.retain(|recorded| recorded.time <= at);
        let folder = config_path.parent().unwrap_or(Path::new(""));
        Ok(Self {
            book: Book::read(entries),
            blooms: blooms(&life_events(&events), signs(&booked)),
            benches: config.benches.iter().map(Bench::of).collect(),
            zone: config.site.timezone,
            husbandries: husbandries(folder)?,
        })
    }

    /// The same house with the book as it stands in a transaction.
    fn turn_to(&mut self, entries: Vec<Entry>) {
        self.book = Book::read(entries);
    }

    /// A bench by its id.
    pub fn bench(&self, id: &str) -> Option<&Bench> {
        self.benches.iter().find(|bench| &*bench.id == id)
    }

    /// The bench on which a plant stands.
    pub fn bench_of(&self, plant: &str) -> Option<&Bench> {
        self.benches.iter().find(|bench| bench.plant.as_deref() == Some(plant))
    }

    /// The taxon of a plant: as the book has it, else that of its bench's profile.
    pub fn taxon(&self, plant: &str) -> Option<String> {
        self.book.taxon(plant).or_else(|| Some(self.bench_of(plant)?.profile.taxon.clone()))
    }

    /// What is published of a taxon.
    pub fn husbandry(&self, taxon: Option<&str>) -> Option<&Husbandry> {
        self.husbandries.iter().find(|husbandry| Some(husbandry.taxon.as_str()) == taxon)
    }

    /// The newest bloom of a bench that had begun by then and was not given up.
    pub fn bloom_at(&self, bench: &str, at: Time) -> Option<&BloomRecord> {
        self.blooms.iter().rev().find(|bloom| {
            &*bloom.bench == bench
                && bloom.began().is_some_and(|began| began <= at)
                && bloom.stages().aborted.is_none()
        })
    }

    /// Every plant that the book or the configuration names.
    pub fn plant_names(&self) -> impl Iterator<Item = &str> {
        let booked = self.book.plants.keys().map(String::as_str);
        let benched = self.benches.iter().filter_map(|bench| bench.plant.as_deref());
        booked.chain(benched.filter(|plant| !self.book.plants.contains_key(*plant)))
    }
}

impl Bench {
    fn of(bench: &crate::config::BenchConfig) -> Self {
        let spec = &bench.spec;
        Self { id: Arc::clone(&spec.id), plant: spec.plant.clone(), profile: spec.profile.clone() }
    }
}

/// The events of blooms, as far as this version can read them.
fn life_events(events: &[BookEvent]) -> Vec<LifeEvent> {
    let read = |event: &BookEvent| match serde_json::from_str(&event.payload) {
        Ok(event) => Some(event),
        Err(error) => {
            warn!(id = event.id, "an event of a bloom cannot be read and is left out of the book: {error}");
            None
        }
    };
    events.iter().filter_map(read).collect()
}

/// The signs that hold: what was withdrawn is left out.
pub fn signs(booked: &[Recorded]) -> Vec<BookedSign> {
    let plain = |recorded: &Recorded| match recorded.observed {
        Observed::Sign(Sign::Plain(sign)) => Some(sign),
        _ => None,
    };
    let withdrawn = |recorded: &Recorded, sign: PlainSign| {
        booked.iter().any(|other| {
            other.bench == recorded.bench
                && other.time == recorded.time
                && other.observed == Observed::Sign(Sign::Withdrawn(sign))
        })
    };
    let held = booked.iter().filter_map(|recorded| {
        let what = plain(recorded).filter(|sign| !withdrawn(recorded, *sign))?;
        Some(BookedSign {
            bench: Arc::clone(&recorded.bench),
            time: recorded.time,
            sign: what.name(),
            what,
            by: recorded.by.clone(),
            note: recorded.note.clone(),
        })
    });
    held.collect()
}
