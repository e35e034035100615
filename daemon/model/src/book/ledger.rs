//! The book as a whole: what its entries come to when every correction holds.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::cross::Cross;
use super::entry::{Entry, Fact, Kind};
use super::kinship::Pedigree;
use super::plant::Plant;
use super::pollen::Lot;
use crate::time::Time;

/// The book: every entry, and what they come to.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Book {
    #[serde(skip)]
    entries: Vec<Entry>,
    /// For each entry that no longer holds, the one that took its place.
    #[serde(skip)]
    replaced: BTreeMap<u64, u64>,
    /// The plants, by accession.
    pub plants: BTreeMap<String, Plant>,
    /// The lots of pollen, by name.
    pub lots: BTreeMap<String, Lot>,
    /// The crosses, by name.
    pub crosses: BTreeMap<String, Cross>,
}

impl Book {
    /// Reads the book from its entries, in the order of their numbers.
    ///
    /// An entry that holds counts at its own time, whenever it was written down. One that speaks of something which the book
    /// does not know (its first entry was withdrawn, say) stays in the history and counts for nothing.
    pub fn read(entries: Vec<Entry>) -> Self {
        let replaced: BTreeMap<u64, u64> =
            entries.iter().filter_map(|entry| Some((entry.corrects?, entry.number))).collect();
        let mut book = Self { replaced, ..Self::default() };
        let mut holding: Vec<&Entry> = entries.iter().filter(|entry| book.holds(entry)).collect();
        holding.sort_by_key(|entry| (entry.time, entry.number));
        // what takes a thing up comes before what is done to it, even where it was booked for a later hour
        let (first, then): (Vec<&Entry>, Vec<&Entry>) = holding.into_iter().partition(|entry| {
            matches!(entry.fact, Fact::PlantAdded(_) | Fact::PollenTaken(_) | Fact::Pollinated(_))
        });
        for entry in first.into_iter().chain(then) {
            book.take(entry);
        }
        for lot in book.lots.values_mut() {
            lot.count();
        }
        book.entries = entries;
        book
    }

    fn take(&mut self, entry: &Entry) {
        match entry.fact.speaks_of() {
            Kind::Plant => {
                let plant = self.plants.entry(entry.subject.clone()).or_default();
                plant.take(entry);
            }
            Kind::Lot => match (&entry.fact, self.lots.get_mut(&entry.subject)) {
                (Fact::PollenTaken(taken), None) => {
                    self.lots.insert(entry.subject.clone(), Lot::taken(entry, taken));
                }
                (_, Some(lot)) => lot.take(entry),
                (_, None) => {}
            },
            Kind::Cross => match (&entry.fact, self.crosses.get_mut(&entry.subject)) {
                (Fact::Pollinated(pollination), cross) => {
                    if let Some(lot) = self.lots.get_mut(&pollination.lot) {
                        lot.use_for(&entry.subject, entry.time, pollination.portions);
                        match cross {
                            Some(cross) => cross.pollinate(entry, pollination),
                            None => {
                                let cross = Cross::made(entry, pollination, &lot.plant);
                                self.crosses.insert(entry.subject.clone(), cross);
                            }
                        }
                    }
                }
                (_, Some(cross)) => cross.take(entry),
                (_, None) => {}
            },
            Kind::Entry => {}
        }
    }

    /// Whether an entry counts: it is no withdrawal, and nothing took its place.
    pub fn holds(&self, entry: &Entry) -> bool {
        entry.fact != Fact::Withdrawn && !self.replaced.contains_key(&entry.number)
    }

    /// Every entry that was ever made, in the order in which they were written down.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// An entry by its number.
    pub fn entry(&self, number: u64) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.number == number)
    }

    /// The entry that took the place of one.
    pub fn replaced_by(&self, number: u64) -> Option<u64> {
        self.replaced.get(&number).copied()
    }

    /// The history of a subject: every entry that speaks of it, those that no longer hold among them.
    pub fn history<'a>(&'a self, subject: &'a str) -> impl Iterator<Item = &'a Entry> {
        self.entries.iter().filter(move |entry| entry.subject == subject)
    }

    /// The pedigree of all plants.
    pub fn pedigree(&self) -> Pedigree {
        let mut pedigree = Pedigree::default();
        // a clone is the plant that its offsets lead back to, or a name of its own
        for accession in self.plants.keys() {
            let genotype = self.genotype(accession);
            if genotype != *accession {
                pedigree.set_genotype(accession, &genotype);
            }
        }
        for (accession, plant) in &self.plants {
            let [mother, father] = self.parents_of(plant);
            pedigree.set_parents(accession, mother, father);
            if let (None, None, Some(group)) = (mother, father, &plant.card.sibs) {
                pedigree.set_sibs(accession, group);
            }
        }
        pedigree
    }

    /// The parents that the book names for a plant: its own, else those of the cross it grew from.
    fn parents_of<'a>(&'a self, plant: &'a Plant) -> [Option<&'a str>; 2] {
        let cross = plant.card.seed_of.as_ref().and_then(|cross| self.crosses.get(cross));
        let named = [plant.card.mother.as_deref(), plant.card.father.as_deref()];
        let crossed = [cross.map(|cross| cross.mother.as_str()), cross.map(|cross| cross.father.as_str())];
        [named[0].or(crossed[0]), named[1].or(crossed[1])]
    }

    fn genotype(&self, accession: &str) -> String {
        let mut at = accession;
        let mut seen = BTreeSet::new();
        while let Some(plant) = self.plants.get(at) {
            if let Some(clone) = &plant.card.clone {
                return format!("clone {clone}");
            }
            match &plant.card.offset_of {
                Some(source) if seen.insert(at) => at = source,
                _ => break,
            }
        }
        at.to_owned()
    }

    /// The taxon of a plant: its own, else that of its clone, else what its parents' make. `None` if the book does not know.
    pub fn taxon(&self, accession: &str) -> Option<String> {
        // a pedigree without loops is never as deep as that
        self.taxon_within(accession, 64)
    }

    fn taxon_within(&self, accession: &str, steps: u8) -> Option<String> {
        let plant = self.plants.get(accession)?;
        let steps = steps.checked_sub(1)?;
        if let Some(taxon) = &plant.card.taxon {
            return Some(taxon.clone());
        }
        if let Some(source) = &plant.card.offset_of {
            return self.taxon_within(source, steps);
        }
        let [mother, father] = self.parents_of(plant).map(|parent| self.taxon_within(parent?, steps));
        Some(hybrid_name(&mother?, &father?))
    }

    /// The crosses of a bloom, or, where no bloom was watched, those of a plant made within a week before.
    pub fn crosses_of<'a>(
        &'a self,
        bloom: Option<&'a str>,
        plant: &'a str,
        at: Time,
    ) -> impl Iterator<Item = &'a Cross> {
        // judgement: stigmas are receptive for a day or two, and the next bloom is months away
        const ONE_BLOOM_D: f64 = 7.0;
        self.crosses.values().filter(move |cross| match bloom {
            Some(bloom) => cross.bloom.as_deref() == Some(bloom),
            None => {
                cross.bloom.is_none()
                    && cross.mother == plant
                    && at.days_since(cross.made).abs() <= ONE_BLOOM_D
            }
        })
    }
}

/// The name of what two taxa make: the taxon itself, or a hybrid formula, seed parent first (International Code of
/// Nomenclature for algae, fungi, and plants, Article H.2: names of the parents with a multiplication sign between them).
pub fn hybrid_name(mother: &str, father: &str) -> String {
    if mother == father { mother.to_owned() } else { format!("{mother} × {father}") }
}

/// Whether two taxa differ, as far as both are known.
pub fn is_hybrid(mother: Option<&str>, father: Option<&str>) -> bool {
    matches!((mother, father), (Some(mother), Some(father)) if mother != father)
}
