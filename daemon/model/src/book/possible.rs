//! What an entry can say: the ranges of its figures, and what is a name.

use super::entry::{Entry, Fact, PlantCard, Storage};
use crate::text::is_plain;

/// A figure or a word that no entry can have.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ImpossibleEntry {
    /// A figure out of its range.
    #[error("{words} of {value} is impossible: it lies between {lowest} and {highest} {unit}")]
    Figure {
        /// What it measures.
        words: &'static str,
        /// The figure as given.
        value: f64,
        /// The least that is taken.
        lowest: f64,
        /// The most that is taken.
        highest: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// A name that is none.
    #[error("{name:?} is no name: give 1 to {MOST_NAME} characters without spaces, such as AT-0412")]
    Name {
        /// The name as given.
        name: String,
    },
    /// Words that are too long, or that hold a control character.
    #[error(
        "{words} {text:?} cannot be kept: at most {MOST_WORDS} characters, none of them a control character"
    )]
    Words {
        /// What they say.
        words: &'static str,
        /// Their beginning.
        text: String,
    },
}

/// Characters in a name at most.
pub const MOST_NAME: usize = 64;

/// Characters in a note, and in any other free words, at most.
pub const MOST_WORDS: usize = 2000;

/// The range of a figure: one definition for the command line, import and the page.
struct Range {
    words: &'static str,
    unit: &'static str,
    lowest: f64,
    highest: f64,
}

const fn range(words: &'static str, unit: &'static str, lowest: f64, highest: f64) -> Range {
    Range { words, unit, lowest, highest }
}

/// From a seedling's corm of a gram to beyond the heaviest published, 153.9 kg (Edinburgh 2010).
const MASS: Range = range("a corm's mass", "kg", 0.001, 500.0);

const POT: Range = range("a pot", "litres", 0.01, 20_000.0);

/// From liquid nitrogen to a hot house.
const KEPT: Range = range("a storage temperature", "°C", -200.0, 45.0);

const PORTIONS: Range = range("a number of portions", "portions", 1.0, 10_000.0);

const GERMINATION: Range = range("a germination", "%", 0.0, 100.0);

/// Far above the thousand and more berries of the largest spikes.
const BERRIES: Range = range("a number of berries", "berries", 0.0, 100_000.0);

const SEEDS: Range = range("a number of seeds", "seeds", 0.0, 1_000_000.0);

impl Range {
    fn check(&self, value: f64) -> Result<(), ImpossibleEntry> {
        let Self { words, unit, lowest, highest } = *self;
        if (lowest..=highest).contains(&value) {
            return Ok(());
        }
        Err(ImpossibleEntry::Figure { words, value, lowest, highest, unit })
    }
}

impl Entry {
    /// Whether every figure and word of it can be.
    ///
    /// # Errors
    /// The first that cannot.
    pub fn check(&self) -> Result<(), ImpossibleEntry> {
        check_name(&self.subject)?;
        check_words("who", self.by.as_deref())?;
        check_words("the note", self.note.as_deref())?;
        self.fact.check()
    }
}

impl Fact {
    /// Whether every figure and word of it can be.
    ///
    /// # Errors
    /// The first that cannot.
    pub fn check(&self) -> Result<(), ImpossibleEntry> {
        match self {
            Self::PlantAdded(card) => card.check(),
            Self::Weighed { mass_kg } => MASS.check(*mass_kg),
            Self::Repotted { pot_litres, mix } => {
                pot_litres.map_or(Ok(()), |litres| POT.check(litres))?;
                check_words("the mix", mix.as_deref())
            }
            Self::PollenTaken(taken) => {
                check_name(&taken.plant)?;
                check_words("the drying", taken.dried.as_deref())?;
                PORTIONS.check(f64::from(taken.portions))?;
                taken.stored.as_ref().map_or(Ok(()), Storage::check)
            }
            Self::PollenStored(storage) => storage.check(),
            Self::PollenThawed { portions } => PORTIONS.check(f64::from(*portions)),
            Self::PollenTested { germination_pct } => GERMINATION.check(*germination_pct),
            Self::Pollinated(pollination) => {
                check_name(&pollination.plant)?;
                check_name(&pollination.lot)?;
                PORTIONS.check(f64::from(pollination.portions))?;
                check_words("the flowers", pollination.flowers.as_deref())?;
                check_words("the access", pollination.access.as_deref())
            }
            Self::FruitSet { berries } | Self::Harvested { berries } => {
                berries.map_or(Ok(()), |berries| BERRIES.check(f64::from(berries)))
            }
            Self::FruitLost { berries } => BERRIES.check(f64::from(*berries)),
            Self::SeedsCounted { seeds } | Self::Sown { seeds } => SEEDS.check(f64::from(*seeds)),
            Self::Germinated { seedlings, albino } => {
                SEEDS.check(f64::from(*seedlings))?;
                range("a number of albino seedlings", "seedlings", 0.0, f64::from(*seedlings))
                    .check(f64::from(*albino))
            }
            Self::Dormant
            | Self::InLeaf
            | Self::Gone
            | Self::PollenDiscarded
            | Self::FruitColour { .. }
            | Self::FruitRipe
            | Self::Withdrawn => Ok(()),
        }
    }
}

impl PlantCard {
    fn check(&self) -> Result<(), ImpossibleEntry> {
        for name in [&self.mother, &self.father, &self.seed_of, &self.offset_of, &self.clone, &self.sibs] {
            name.as_deref().map_or(Ok(()), check_name)?;
        }
        check_words("the taxon", self.taxon.as_deref())?;
        check_words("the provenance", self.provenance.as_deref())
    }
}

impl Storage {
    fn check(&self) -> Result<(), ImpossibleEntry> {
        KEPT.check(self.kept_c)?;
        check_words("the place", self.place.as_deref())
    }
}

/// Whether a text can be the name of a plant, a lot, a cross, a clone or a sib group.
///
/// # Errors
/// If it cannot.
pub fn check_name(name: &str) -> Result<(), ImpossibleEntry> {
    let length = name.chars().count();
    if (1..=MOST_NAME).contains(&length) && !name.contains(char::is_whitespace) && is_plain(name) {
        return Ok(());
    }
    Err(ImpossibleEntry::Name { name: name.chars().take(MOST_NAME).collect() })
}

fn check_words(words: &'static str, text: Option<&str>) -> Result<(), ImpossibleEntry> {
    let Some(text) = text else { return Ok(()) };
    let fits = (1..=MOST_WORDS).contains(&text.chars().count()) && is_plain(text);
    if fits { Ok(()) } else { Err(ImpossibleEntry::Words { words, text: text.chars().take(40).collect() }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_is_named_with_its_range() {
        let said = |fact: Fact| fact.check().unwrap_err().to_string();
        assert!(said(Fact::Weighed { mass_kg: f64::NAN }).contains("between 0.001 and 500 kg"));
        assert!(said(Fact::PollenTested { germination_pct: 101.0 }).contains("0 and 100 %"));
        assert!(said(Fact::Germinated { seedlings: 3, albino: 4 }).contains("between 0 and 3"));
        assert!(said(Fact::PollenStored(Storage { kept_c: -273.0, place: None })).contains("-200 and 45 °C"));
        let card = |mother: &str| {
            Fact::PlantAdded(PlantCard { mother: Some(mother.to_owned()), ..PlantCard::default() })
        };
        assert!(said(card("AT 0412")).contains("without spaces"));
        assert_eq!(card("AT-0412").check(), Ok(()));
    }
}
