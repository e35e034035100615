//! What a person wants booked becomes an entry: names found, new ones given, and what they should hear of it first.

use bloom_model::book::entry::{Fact, PlantCard, PollenTaken, Pollination, Storage};
use bloom_model::book::kinship::Relation;
use bloom_model::book::ledger::is_hybrid;
use bloom_model::book::possible::check_name;
use bloom_model::book::storage::{Standing, weigh};
use bloom_model::sign::PlainSign;
use bloom_model::time::Time;
use bloom_text::when;
use chrono::Datelike;

use super::{HouseBook, words};

/// An entry that is ready to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// What it speaks of.
    pub subject: String,
    /// What happened.
    pub fact: Fact,
    /// What the watch of a bench is to hear of it.
    pub sign: Option<(String, PlainSign)>,
    /// What the person should hear.
    pub remarks: Vec<String>,
}

/// Why nothing was booked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{said}")]
pub struct Refusal {
    /// The command was wrong, rather than what it asks for.
    pub usage: bool,
    /// What is wrong and what would be right.
    pub said: String,
}

impl Refusal {
    /// A name or a figure that is wrong.
    pub fn usage(said: impl Into<String>) -> Self {
        Self { usage: true, said: said.into() }
    }

    /// Something that a person should think over.
    pub fn think(said: impl Into<String>) -> Self {
        Self { usage: false, said: said.into() }
    }
}

/// Pollen as a person says it was taken.
#[derive(Debug, Clone, Default)]
pub struct PollenWish {
    /// Portions.
    pub portions: u32,
    /// It came from elsewhere.
    pub received: bool,
    /// When it was collected elsewhere.
    pub collected: Option<Time>,
    /// How it was dried.
    pub dried: Option<String>,
    /// Where it was put.
    pub stored: Option<Storage>,
}

/// A pollination as a person says it was done.
#[derive(Debug, Clone, Default)]
pub struct PollinationWish {
    /// Portions used; one where nothing is said.
    pub portions: Option<u32>,
    /// Which flowers.
    pub flowers: Option<String>,
    /// By which access.
    pub access: Option<String>,
    /// Book it however close the kin.
    pub anyway: bool,
}

impl HouseBook {
    /// A new plant.
    ///
    /// # Errors
    /// If the name is taken or is none, or a parent is unknown.
    pub fn plan_plant(&self, name: &str, card: PlantCard, corrects: bool) -> Result<Planned, Refusal> {
        check_name(name).map_err(|error| Refusal::usage(error.to_string()))?;
        if self.bench(name).is_some() {
            return Err(Refusal::usage(format!("{name} is a bench: give the plant its accession")));
        }
        let taken = self.book.plants.iter().find(|(known, _)| known.eq_ignore_ascii_case(name));
        if let Some((known, plant)) = taken
            && plant.added.is_some()
            && !corrects
        {
            return Err(Refusal::usage(format!(
                "{known} is in the book already: correct its entry with --corrects NUMBER (anthesisd book history {known} has it)"
            )));
        }
        // the configuration may name it, in its own capitals
        let subject = self
            .plant_names()
            .find(|known| known.eq_ignore_ascii_case(name))
            .map_or_else(|| name.to_owned(), str::to_owned);
        let plant = |name: Option<String>| {
            name.map(|name| self.plant_named(&name).map(|named| named.plant)).transpose()
        };
        let card = PlantCard {
            mother: plant(card.mother)?,
            father: plant(card.father)?,
            offset_of: plant(card.offset_of)?,
            seed_of: card.seed_of.map(|cross| self.cross_named(&cross).map(str::to_owned)).transpose()?,
            ..card
        };
        Ok(Planned { subject, fact: Fact::PlantAdded(card), sign: None, remarks: Vec::new() })
    }

    /// Something done to a plant.
    ///
    /// # Errors
    /// If there is no such plant.
    pub fn plan_plant_work(&self, name: &str, fact: Fact) -> Result<Planned, Refusal> {
        let subject = self.plant_named(name)?.plant;
        Ok(Planned { subject, fact, sign: None, remarks: Vec::new() })
    }

    /// Pollen collected from a plant of the house, or received: a new lot, named after the plant and the year.
    ///
    /// # Errors
    /// If there is no such plant.
    pub fn plan_pollen(&self, name: &str, wish: PollenWish, at: Time) -> Result<Planned, Refusal> {
        let named = self.plant_named(name)?;
        let collected_at = wish.collected.unwrap_or(at);
        if collected_at > at {
            return Err(Refusal::usage("pollen cannot have been collected after it came"));
        }
        let bench = named.bench.as_deref().filter(|_| !wish.received);
        let bloom = bench.and_then(|bench| self.bloom_at(bench, at));
        let prefix = format!("{}-{}", named.plant, collected_at.local_date(self.zone).year());
        let mut remarks = Vec::new();
        if let (Some(bloom), Some(bench)) = (bloom, bench)
            && let Some(closed) = bloom.stages().closed
            && at.days_since(closed) > 7.0
        {
            remarks.push(format!("the newest bloom of {bench} closed on {}", when::date(closed, self.zone)));
        }
        if !wish.received && wish.stored.is_none() {
            remarks.push("where it is kept is not recorded yet: anthesisd pollen LOT stored -80".to_owned());
        }
        let fact = Fact::PollenTaken(PollenTaken {
            plant: named.plant.clone(),
            bloom: bloom.map(|bloom| bloom.id.to_string()),
            portions: wish.portions,
            received: wish.received,
            collected: wish.collected,
            dried: wish.dried,
            stored: wish.stored,
        });
        let of_bloom = bloom.map(|bloom| &*bloom.id);
        let sign = bench
            .filter(|bench| self.watch_is_at(bench, of_bloom))
            .map(|bench| (bench.to_owned(), PlainSign::PollenCollected));
        let subject = free_name(&prefix, |name| self.name_is_taken(name));
        Ok(Planned { subject, fact, sign, remarks })
    }

    /// Something done with a lot.
    ///
    /// # Errors
    /// If there is no such lot.
    pub fn plan_lot_work(&self, name: &str, fact: Fact) -> Result<Planned, Refusal> {
        let subject = self.lot_named(name)?.to_owned();
        let mut remarks = Vec::new();
        if let (Fact::PollenThawed { portions }, Some(lot)) = (&fact, self.book.lots.get(&subject))
            && lot.left < *portions
        {
            remarks.push(format!("by the book {} portions were left of it", lot.left));
        }
        Ok(Planned { subject, fact, sign: None, remarks })
    }

    /// A pollination: it belongs to the cross of this bloom with that father, or begins one.
    ///
    /// # Errors
    /// If there is no such plant or lot, or the two are close kin and nobody said to book it all the same.
    pub fn plan_pollination(
        &self,
        name: &str,
        lot: &str,
        wish: PollinationWish,
        at: Time,
    ) -> Result<Planned, Refusal> {
        let named = self.plant_named(name)?;
        let lot_name = self.lot_named(lot)?;
        let lot = self
            .book
            .lots
            .get(lot_name)
            .ok_or_else(|| Refusal::usage(format!("there is no lot of pollen {lot_name:?}")))?;
        let relation = self.relation(&named.plant, &lot.plant)?;
        if relation.is_close() && !wish.anyway {
            return Err(Refusal::think(format!(
                "{}: {}. Nothing is recorded yet; if it is meant, or done already, say so: anthesisd cross {name} {lot_name} --anyway",
                words::relation(&relation),
                self.inbreeding_words(&named.plant, &lot.plant, &relation),
            )));
        }
        let bloom = named.bench.as_deref().and_then(|bench| self.bloom_at(bench, at));
        let mut remarks = vec![self.kinship_remark(&named.plant, &lot.plant, &relation)];
        if let Some(receptive) = bloom.and_then(|bloom| bloom.life.receptive)
            && !(receptive.from <= at && at <= receptive.until)
        {
            remarks.push(format!(
                "outside the receptive window of {}, {}",
                named.plant,
                when::window(&receptive, self.zone)
            ));
        }
        let keeps = self
            .husbandry(self.taxon(&lot.plant).as_deref())
            .and_then(|husbandry| weigh(&lot.keepings(), &husbandry.storage, at));
        if let Some(keeps) = keeps.filter(|keeps| keeps.standing == Standing::Past) {
            remarks.push(format!(
                "{lot_name} is {} old, {}",
                when::long_span(keeps.age_d),
                keeps.standing.words()
            ));
        }
        let portions = wish.portions.unwrap_or(1);
        if lot.left == 0 && lot.thaws.is_empty() {
            remarks.push(format!("by the book no portion was left of {lot_name}"));
        }
        let bloom = bloom.map(|bloom| bloom.id.to_string());
        let sign = named
            .bench
            .as_ref()
            .filter(|bench| self.watch_is_at(bench, bloom.as_deref()))
            .map(|bench| (bench.clone(), PlainSign::Pollinated));
        let same = self
            .book
            .crosses_of(bloom.as_deref(), &named.plant, at)
            .find(|cross| cross.father == lot.plant && cross.mother == named.plant);
        let subject = same.map_or_else(
            || {
                let year = at.local_date(self.zone).year();
                (1_u32..)
                    .map(|number| format!("X-{year}-{number}"))
                    .find(|name| !self.name_is_taken(name))
                    .unwrap_or_default()
            },
            |cross| cross.name.clone(),
        );
        let fact = Fact::Pollinated(Pollination {
            plant: named.plant,
            bench: named.bench.clone(),
            bloom,
            lot: lot_name.to_owned(),
            portions,
            flowers: wish.flowers,
            access: wish.access,
        });
        Ok(Planned { subject, fact, sign, remarks })
    }

    /// Something seen or done with the fruit of a cross.
    ///
    /// # Errors
    /// If there is no such cross.
    pub fn plan_fruit(&self, name: &str, fact: Fact) -> Result<Planned, Refusal> {
        let subject = self.cross_named(name)?.to_owned();
        let cross = self.book.crosses.get(&subject);
        let bench = cross.and_then(|cross| {
            let bench = cross.bench.clone()?;
            self.watch_is_at(&bench, cross.bloom.as_deref()).then_some(bench)
        });
        let sign = match (&fact, bench) {
            // counted again, it has set before
            (Fact::FruitSet { .. }, Some(bench)) if cross.is_some_and(|cross| cross.fruit.set.is_none()) => {
                Some((bench, PlainSign::FruitSet))
            }
            (Fact::FruitRipe, Some(bench)) => Some((bench, PlainSign::FruitRipe)),
            _ => None,
        };
        Ok(Planned { subject, fact, sign, remarks: Vec::new() })
    }

    /// Whether the watch of a bench is still at that bloom. What is booked late of an older one it must not hear: it would take
    /// it for the bloom that is there now, and call for no pollination, or end it.
    fn watch_is_at(&self, bench: &str, bloom: Option<&str>) -> bool {
        let newest = self.blooms.iter().rev().find(|newest| &*newest.bench == bench);
        newest.map(|newest| &*newest.id) == bloom
    }

    /// How a seed parent and a pollen parent are related.
    ///
    /// # Errors
    /// If the pedigree in the book bites its own tail.
    pub fn relation(&self, mother: &str, father: &str) -> Result<Relation, Refusal> {
        self.book.pedigree().relation(mother, father).map_err(|error| Refusal::think(error.to_string()))
    }

    /// What is said of kinship when a cross is booked.
    pub fn kinship_remark(&self, mother: &str, father: &str, relation: &Relation) -> String {
        let (of_mother, of_father) = (self.taxon(mother), self.taxon(father));
        let kin = words::relation(relation);
        match (of_mother, of_father) {
            (Some(one), Some(other)) if is_hybrid(Some(&one), Some(&other)) => {
                format!("a hybrid, {one} × {other}; {mother} and {father}: {kin}")
            }
            _ => format!("{mother} and {father}: {kin}"),
        }
    }

    fn inbreeding_words(&self, mother: &str, father: &str, relation: &Relation) -> String {
        let titan = "Amorphophallus titanum";
        let published = if self.taxon(mother).as_deref() == Some(titan) && relation.kinship >= 0.5 {
            "; selfed titan arums gave more than one albino seedling in five, dead within four months (Dunedin 2018)"
        } else {
            ""
        };
        format!(
            "the seed of {mother} with pollen of {father} would be inbred by that much or more{published}"
        )
    }

    fn name_is_taken(&self, name: &str) -> bool {
        // a name whose entry was withdrawn is not given again: the history would speak of two things
        self.book.entries().iter().any(|entry| entry.subject.eq_ignore_ascii_case(name))
    }
}

/// The first of `PREFIXa`, `PREFIXb`, … that is free; after z come aa, ab, ….
fn free_name(prefix: &str, is_taken: impl Fn(&str) -> bool) -> String {
    (1_u32..)
        .map(|number| format!("{prefix}{}", letters(number)))
        .find(|name| !is_taken(name))
        .unwrap_or_default()
}

/// 1 is `a`, 26 is `z`, 27 is `aa`.
fn letters(mut number: u32) -> String {
    let mut letters = Vec::new();
    while number > 0 {
        number -= 1;
        letters.push(b'a' + u8::try_from(number % 26).unwrap_or(0));
        number /= 26;
    }
    letters.into_iter().rev().map(char::from).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::Bench;

    /// A house with one bench that bloomed in 2025 and blooms again in 2027.
    fn house() -> HouseBook {
        let event = |bloom: &str, kind: &str, time: &str| {
            let line = format!(
                r#"{{"time":"{time}","bench":"east-3","plant":"AT-0412","bloom":"{bloom}","event":"{kind}"}}"#
            );
            serde_json::from_str(&line).unwrap()
        };
        let events = [
            event("east-3-2025a", "bud-seen", "2025-04-05T12:00:00Z"),
            event("east-3-2025a", "closed", "2025-05-24T12:00:00Z"),
            event("east-3-2027a", "bud-seen", "2027-04-05T12:00:00Z"),
        ];
        let profile = crate::config::profile("titan-arum", std::path::Path::new("/nowhere")).unwrap();
        HouseBook {
            book: bloom_model::book::Book::default(),
            blooms: bloom_model::book::bloom::blooms(&events, Vec::new()),
            benches: vec![Bench { id: "east-3".into(), plant: Some("AT-0412".into()), profile }],
            zone: chrono_tz::America::Halifax,
            husbandries: Vec::new(),
        }
    }

    #[test]
    fn what_is_booked_late_of_an_older_bloom_is_not_taken_for_the_one_that_is() {
        let house = house();
        let at = |text: &str| Time::from(chrono::DateTime::parse_from_rfc3339(text).unwrap().to_utc());
        let plan = |time: &str| {
            let planned = house.plan_pollen("east-3", PollenWish::default(), at(time)).unwrap();
            let Fact::PollenTaken(taken) = planned.fact else { unreachable!("pollen was taken") };
            (planned.subject, taken.bloom, planned.sign.is_some())
        };
        let bloom = |id: &str| Some(id.to_owned());
        assert_eq!(plan("2025-05-24T01:00:00Z"), ("AT-0412-2025a".to_owned(), bloom("east-3-2025a"), false));
        assert_eq!(plan("2027-06-03T22:00:00Z"), ("AT-0412-2027a".to_owned(), bloom("east-3-2027a"), true));
        assert_eq!(plan("2023-06-03T22:00:00Z"), ("AT-0412-2023a".to_owned(), None, false));
    }

    #[test]
    fn names_go_on_after_z() {
        assert_eq!(letters(1), "a");
        assert_eq!(letters(26), "z");
        assert_eq!(letters(27), "aa");
        assert_eq!(letters(703), "aaa");
        assert_eq!(free_name("AT-2026", |name| name < "AT-2026c"), "AT-2026c");
    }
}
