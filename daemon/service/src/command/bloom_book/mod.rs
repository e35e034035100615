//! `plant`, `pollen`, `cross`, `fruit`, `tonight` and `book`: one grammar, `anthesisd THING NAME WHAT [FIGURE]`, and without WHAT what
//! the book says of it.

mod cross;
mod fruit;
mod plant;
mod pollen;
mod tonight;
mod whole;

use std::path::Path;

use bloom_model::book::entry::Entry;
use bloom_model::time::Time;
use clap::Args;

use super::circumstances::Circumstances;
use super::{Failure, print, print_json, read};
use crate::book::plan::{Planned, Refusal};
use crate::book::{BookError, Booked, HouseBook, words, write};
use crate::clock::wall_now;
use crate::config::Config;
use crate::store::{Reader, StoreError};

pub(super) use cross::{CrossArguments, cross};
pub(super) use fruit::{FruitArguments, fruit};
pub(super) use plant::{PlantArguments, plant};
pub(super) use pollen::{PollenArguments, pollen};
pub(super) use tonight::{TonightArguments, tonight};
pub(super) use whole::{BookArguments, book};

/// What every command of the book knows.
#[derive(Debug, Clone, Args)]
struct Common {
    #[command(flatten)]
    around: Circumstances,
    /// Puts this in place of an entry of that number; what is not said anew stays as it was
    #[arg(long, global = true, value_name = "NUMBER")]
    corrects: Option<u64>,
    /// Results as JSON
    #[arg(long, global = true)]
    json: bool,
}

/// The house that a command works on.
struct Desk {
    config: Config,
    house: HouseBook,
    now: Time,
}

impl Desk {
    /// To book something: the book as it stands.
    fn open(path: &Path) -> Result<Self, Failure> {
        Self::open_at(path, |_, now| Ok(now))
    }

    /// To look something up: the book as it stood at the time that was said, or as it stands.
    fn open_to_read(path: &Path, common: &Common) -> Result<Self, Failure> {
        only_reading(common)?;
        Self::open_at(path, |config, now| Ok(common.around.time(config, now)?.unwrap_or(now)))
    }

    fn open_at(
        path: &Path,
        at: impl FnOnce(&Config, Time) -> Result<Time, Failure>,
    ) -> Result<Self, Failure> {
        let config = read(path)?;
        let now = at(&config, wall_now())?;
        let house = HouseBook::read(&config, path, now)?;
        Ok(Self { config, house, now })
    }

    /// The store, to read what the book itself does not hold; none where there is none yet.
    fn reader(&self) -> Result<Option<Reader>, Failure> {
        match Reader::open(&self.config.store_path) {
            Ok(reader) => Ok(Some(reader)),
            Err(StoreError::Missing { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Books one entry and says so: the number, what was booked, and what the person should hear of it.
    fn book(
        mut self,
        common: &Common,
        plan: impl FnOnce(&HouseBook, Time, Option<&Entry>) -> Result<Planned, Refusal>,
    ) -> Result<(), Failure> {
        let (note, by) = common.around.note_and_by()?;
        let around = crate::book::Circumstances {
            at: common.around.time(&self.config, self.now)?,
            by,
            note,
            corrects: common.corrects,
        };
        let Booked { entry, remarks } =
            write(&self.config.store_path, &mut self.house, self.now, around, plan)??;
        if common.json {
            return print_json(&Booked { entry, remarks });
        }
        print(format_args!("{}: {}", entry.number, words::entry(&entry, self.house.zone)))?;
        remarks.iter().try_for_each(|remark| print(format_args!("   {remark}")))
    }

    /// The history of a subject, a line an entry.
    fn print_history(&self, subject: &str) -> Result<(), Failure> {
        let book = &self.house.book;
        book.history(subject).try_for_each(|entry| self.print_entry(entry))
    }

    fn print_entry(&self, entry: &Entry) -> Result<(), Failure> {
        let book = &self.house.book;
        let mark = match (book.replaced_by(entry.number).and_then(|by| book.entry(by)), entry.corrects) {
            (Some(by), _) if by.fact == bloom_model::book::Fact::Withdrawn => {
                format!("  [withdrawn by {}]", by.number)
            }
            (Some(by), _) => format!("  [corrected by {}]", by.number),
            (None, Some(corrects)) => format!("  [for {corrects}]"),
            (None, None) => String::new(),
        };
        print(format_args!("{:>5}  {}{mark}", entry.number, words::entry(entry, self.house.zone)))
    }
}

impl From<BookError> for Failure {
    fn from(error: BookError) -> Self {
        match error {
            BookError::Store(error) => error.into(),
            BookError::Profile(error) => Self::Configuration(error.to_string()),
        }
    }
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        if refusal.usage { Self::Usage(refusal.said) } else { Self::Failed(refusal.said) }
    }
}

/// Nothing is booked where only a name was given: what cannot go with that is said, rather than passed over.
fn only_reading(common: &Common) -> Result<(), Failure> {
    let Common { around, corrects, .. } = common;
    if corrects.is_some() || around.says_more() {
        return Err(Failure::Usage(
            "--note, --by and --corrects go with something to book: say what was done".to_owned(),
        ));
    }
    Ok(())
}
