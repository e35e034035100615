//! Kinship by the tabular method: the numerator relationship matrix of a pedigree, filled row by row, parents first.
//!
//! For plants i and j, j not older than i, with parents p and q of j:
//! `a(i, j) = (a(i, p) + a(i, q)) / 2` and `a(j, j) = 1 + a(p, q) / 2`; an unknown parent adds nothing. The coefficient of
//! kinship (coancestry) is half of `a`, and the coefficient of inbreeding of a seed is the kinship of its parents
//! (Emik & Terrill 1949, Journal of Heredity 40:51-55; Henderson 1976, Biometrics 32:69-83; both from memory). Plants have no sex here, and
//! a plant may be both parents.

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Serialize;

/// Plants and their parents. Plants of one clone are one genotype.
#[derive(Debug, Clone, Default)]
pub struct Pedigree {
    /// The genotype of each plant that has not its own name for one.
    genotypes: BTreeMap<String, String>,
    /// The parents of each genotype, as genotypes.
    parents: BTreeMap<String, Parents>,
}

/// The two parents of a genotype, as far as they are known.
type Parents = [Option<String>; 2];

/// A pedigree in which a plant is its own ancestor.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{plant} would be its own ancestor: one of the parents in the book is wrong")]
pub struct Loop {
    /// A plant on the loop.
    pub plant: String,
}

impl Pedigree {
    /// Says that a plant is of a clone.
    pub fn set_genotype(&mut self, plant: &str, genotype: &str) {
        self.genotypes.insert(plant.to_owned(), genotype.to_owned());
    }

    /// Says who a plant's parents are; a parent that another plant of its clone has named stays.
    pub fn set_parents(&mut self, plant: &str, mother: Option<&str>, father: Option<&str>) {
        let genotype = self.genotype(plant).to_owned();
        let named = [mother, father].map(|parent| parent.map(|parent| self.genotype(parent).to_owned()));
        let known = self.parents.entry(genotype).or_default();
        for (known, named) in known.iter_mut().zip(named) {
            *known = known.take().or(named);
        }
    }

    /// Says that a plant is of a sib group: two parents that nobody knows, and that are the group's alone.
    pub fn set_sibs(&mut self, plant: &str, group: &str) {
        let parent = |number: u8| format!("parent {number} of {group}");
        self.set_parents(plant, Some(&parent(1)), Some(&parent(2)));
    }

    /// The genotype of a plant: its clone's, or its own.
    pub fn genotype<'a>(&'a self, plant: &'a str) -> &'a str {
        self.genotypes.get(plant).map_or(plant, String::as_str)
    }

    /// The known parents of a plant, as genotypes.
    pub fn parents(&self, plant: &str) -> [Option<&str>; 2] {
        match self.parents.get(self.genotype(plant)) {
            Some([mother, father]) => [mother.as_deref(), father.as_deref()],
            None => [None, None],
        }
    }

    /// The coefficient of kinship of two plants, 0 to 1: the chance that a gene of the one and a gene of the other, both
    /// drawn at random, come from one ancestor in the pedigree. Ancestors whose parents are unknown count as unrelated and
    /// not inbred, so with an incomplete pedigree it is a lower bound.
    ///
    /// # Errors
    /// If a plant is its own ancestor.
    pub fn kinship(&self, one: &str, other: &str) -> Result<f64, Loop> {
        let (one, other) = (self.genotype(one), self.genotype(other));
        let order = self.parents_first([one, other])?;
        let place: BTreeMap<&str, usize> =
            order.iter().enumerate().map(|(place, plant)| (*plant, place)).collect();
        // the lower triangle: row j holds a(j, 0) to a(j, j)
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(order.len());
        let of = |rows: &[Vec<f64>], i: usize, j: usize| rows[i.max(j)][i.min(j)];
        for (j, plant) in order.iter().enumerate() {
            let parents =
                self.parents(plant).map(|parent| parent.and_then(|parent| place.get(parent).copied()));
            let known = || parents.iter().flatten();
            let mut row: Vec<f64> =
                // from nothing, for the sum of no floats at all is −0.0
                (0..j).map(|i| known().fold(0.0, |sum, parent| sum + of(&rows, i, *parent)) / 2.0).collect();
            row.push(match parents {
                [Some(mother), Some(father)] => 1.0 + of(&rows, mother, father) / 2.0,
                _ => 1.0,
            });
            rows.push(row);
        }
        match (place.get(one), place.get(other)) {
            (Some(one), Some(other)) => Ok(of(&rows, *one, *other) / 2.0),
            // both are in the order, for it was made from them
            _ => Ok(0.0),
        }
    }

    /// The two genotypes and all their ancestors, every parent before its offspring.
    fn parents_first<'a>(&'a self, of: [&'a str; 2]) -> Result<Vec<&'a str>, Loop> {
        let mut order = Vec::new();
        let mut placed = BTreeSet::new();
        let mut above = BTreeSet::new();
        // a stack of our own, for a pedigree may be deep
        let mut stack: Vec<(&str, bool)> = of.iter().rev().map(|plant| (*plant, false)).collect();
        while let Some((plant, parents_done)) = stack.pop() {
            if placed.contains(plant) {
                continue;
            }
            if parents_done {
                above.remove(plant);
                placed.insert(plant);
                order.push(plant);
                continue;
            }
            if !above.insert(plant) {
                return Err(Loop { plant: plant.to_owned() });
            }
            stack.push((plant, true));
            stack.extend(self.parents(plant).into_iter().flatten().rev().map(|parent| (parent, false)));
        }
        Ok(order)
    }

    /// How a seed parent and a pollen parent are related.
    ///
    /// # Errors
    /// If a plant is its own ancestor.
    pub fn relation(&self, mother: &str, father: &str) -> Result<Relation, Loop> {
        let kinship = self.kinship(mother, father)?;
        let (one, other) = (self.genotype(mother), self.genotype(father));
        let (of_one, of_other) = (self.parents(one), self.parents(other));
        let shared = shared(of_one, of_other);
        // the presumed parents of a sib group have names that no plant can have, and tell nothing of further kin
        let complete =
            of_one.iter().chain(&of_other).all(|parent| parent.is_some_and(|name| !name.contains(' ')));
        let degree = if mother == father {
            Degree::Selfing
        } else if one == other {
            Degree::SameClone
        } else if of_one.contains(&Some(other)) || of_other.contains(&Some(one)) {
            Degree::ParentAndOffspring
        } else if shared == 2 {
            Degree::FullSibs
        } else if shared == 1 {
            Degree::HalfSibs
        } else if kinship > 0.0 {
            Degree::Related
        } else if complete {
            Degree::NoneKnown
        } else {
            Degree::Unknown
        };
        Ok(Relation { degree, kinship, parents_known: complete })
    }
}

/// How many parents two plants share.
fn shared(one: [Option<&str>; 2], other: [Option<&str>; 2]) -> usize {
    let straight = (0..2).filter(|n| one[*n].is_some() && one[*n] == other[*n]).count();
    let crossed = (0..2).filter(|n| one[*n].is_some() && one[*n] == other[1 - *n]).count();
    straight.max(crossed)
}

/// How two plants are related, by name and by figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Relation {
    /// By name.
    pub degree: Degree,
    /// Their coefficient of kinship, which is the inbreeding of their seed; a lower bound unless `parents_known`.
    pub kinship: f64,
    /// Both parents of both are in the book.
    pub parents_known: bool,
}

impl Relation {
    /// Whether a grower should hear of it before pollinating: half sibs (1/8) and closer.
    pub fn is_close(&self) -> bool {
        self.kinship >= 0.125
    }
}

/// How two plants are related, by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Degree {
    /// No common ancestor is in the book, and all four parents are.
    NoneKnown,
    /// A parent is not in the book: nothing can be said.
    Unknown,
    /// Common ancestors further back.
    Related,
    /// One parent in common.
    HalfSibs,
    /// Both parents in common.
    FullSibs,
    /// One is a parent of the other.
    ParentAndOffspring,
    /// Two plants of one clone: as selfing.
    SameClone,
    /// A plant with its own pollen.
    Selfing,
}

impl Degree {
    /// The words for people.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoneKnown => "no common ancestor in the book",
            Self::Unknown => "kinship unknown: a parent is not in the book",
            Self::Related => "related",
            Self::HalfSibs => "half sibs",
            Self::FullSibs => "sibs",
            Self::ParentAndOffspring => "parent and offspring",
            Self::SameClone => "the same clone",
            Self::Selfing => "selfing",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pedigree(plants: &[(&str, &str, &str)]) -> Pedigree {
        let mut pedigree = Pedigree::default();
        for (plant, mother, father) in plants {
            pedigree.set_parents(plant, Some(mother), Some(father));
        }
        pedigree
    }

    #[test]
    fn the_plain_cases_have_the_kinship_that_every_textbook_gives() {
        let plants =
            pedigree(&[("a", "m", "f"), ("b", "m", "f"), ("h", "m", "g"), ("s", "m", "m"), ("x", "k", "l")]);
        let relation = |one, other| plants.relation(one, other).unwrap();
        let of = |one, other| (relation(one, other).degree, relation(one, other).kinship);
        assert_eq!(of("m", "m"), (Degree::Selfing, 0.5));
        assert_eq!(of("s", "s"), (Degree::Selfing, 0.75), "a selfed plant selfed again");
        assert_eq!(of("a", "b"), (Degree::FullSibs, 0.25));
        assert_eq!(of("a", "h"), (Degree::HalfSibs, 0.125));
        assert_eq!(of("m", "a"), (Degree::ParentAndOffspring, 0.25));
        assert_eq!(of("m", "s"), (Degree::ParentAndOffspring, 0.5));
        assert_eq!(of("a", "x"), (Degree::NoneKnown, 0.0));
        assert_eq!(of("a", "k"), (Degree::Unknown, 0.0));
    }

    #[test]
    fn a_sib_group_stands_for_parents_that_nobody_knows() {
        let mut plants = pedigree(&[("x", "k", "l")]);
        plants.set_sibs("a", "sowing-2019");
        plants.set_sibs("b", "sowing-2019");
        plants.set_sibs("c", "sowing-2020");
        let of = |one, other| plants.relation(one, other).map(|found| (found.degree, found.kinship)).unwrap();
        assert_eq!(of("a", "b"), (Degree::FullSibs, 0.25));
        assert_eq!(of("a", "c"), (Degree::Unknown, 0.0));
        assert_eq!(of("a", "x"), (Degree::Unknown, 0.0));
    }

    #[test]
    fn plants_of_a_clone_are_one_and_a_loop_is_refused() {
        let mut plants = pedigree(&[("a", "m", "f")]);
        plants.set_genotype("a-offset", "a");
        let relation = plants.relation("a", "a-offset").unwrap();
        assert_eq!((relation.degree, relation.kinship), (Degree::SameClone, 0.5));
        assert_eq!(plants.relation("m", "a-offset").unwrap().degree, Degree::ParentAndOffspring);
        plants.set_parents("m", Some("a-offset"), None);
        assert_eq!(plants.kinship("f", "a"), Err(Loop { plant: "a".to_owned() }));
    }
}
