//! Entries in, a book out.

use super::cross::Cross;
use super::entry::{Entry, Fact, PlantCard, PollenTaken, Pollination, Storage};
use super::kinship::Degree;
use super::ledger::Book;
use crate::time::Time;

/// A book that is written line by line.
#[derive(Default)]
struct Pen(Vec<Entry>);

impl Pen {
    fn at(&mut self, hour: f64, subject: &str, fact: Fact) -> u64 {
        self.correct(hour, subject, fact, None)
    }

    fn correct(&mut self, hour: f64, subject: &str, fact: Fact, corrects: Option<u64>) -> u64 {
        let number = self.0.len() as u64 + 1;
        let time = Time::from_unix_ms(0).plus_hours(hour);
        let subject = subject.to_owned();
        self.0.push(Entry { number, time, booked: time, subject, fact, by: None, note: None, corrects });
        number
    }

    fn book(&self) -> Book {
        Book::read(self.0.clone())
    }
}

fn taken(plant: &str, portions: u32) -> Fact {
    let stored = Some(Storage { kept_c: -80.0, place: None });
    let plant = plant.to_owned();
    Fact::PollenTaken(PollenTaken {
        plant,
        bloom: None,
        portions,
        received: false,
        collected: None,
        dried: None,
        stored,
    })
}

fn pollinated(plant: &str, lot: &str) -> Fact {
    Fact::Pollinated(Pollination {
        plant: plant.to_owned(),
        bench: None,
        bloom: None,
        lot: lot.to_owned(),
        portions: 1,
        flowers: None,
        access: None,
    })
}

fn card(card: PlantCard) -> Fact {
    Fact::PlantAdded(card)
}

fn name(name: &str) -> Option<String> {
    Some(name.to_owned())
}

#[test]
fn a_correction_takes_the_place_of_an_entry_and_the_old_one_stays_in_the_history() {
    let mut pen = Pen::default();
    let wrong = pen.at(1.0, "AT-0412", Fact::Weighed { mass_kg: 312.0 });
    let right = pen.correct(1.0, "AT-0412", Fact::Weighed { mass_kg: 31.2 }, Some(wrong));
    let other = pen.at(2.0, "AT-0412", Fact::Weighed { mass_kg: 33.0 });
    pen.correct(2.0, "AT-0412", Fact::Withdrawn, Some(other));
    let book = pen.book();
    let masses: Vec<f64> = book.plants["AT-0412"].weighings.iter().map(|weighing| weighing.mass_kg).collect();
    assert_eq!(masses, [31.2]);
    assert_eq!(book.replaced_by(wrong), Some(right));
    assert_eq!(book.history("AT-0412").count(), 4);
}

#[test]
fn a_thaw_is_not_counted_again_by_the_pollination_it_was_for() {
    let mut pen = Pen::default();
    pen.at(0.0, "P-a", taken("P", 6));
    pen.at(100.0, "P-a", Fact::PollenThawed { portions: 2 });
    pen.at(101.0, "X-1", pollinated("M", "P-a"));
    pen.at(102.0, "X-1", pollinated("M", "P-a"));
    assert_eq!(pen.book().lots["P-a"].left, 4);
    // the third takes one that nobody booked as thawed
    pen.at(103.0, "X-1", pollinated("M", "P-a"));
    assert_eq!(pen.book().lots["P-a"].left, 3);
    pen.at(900.0, "X-2", pollinated("N", "P-a"));
    assert_eq!(pen.book().lots["P-a"].left, 2);
    assert_eq!(pen.book().lots["P-a"].uses.len(), 4);
    pen.at(901.0, "P-a", Fact::PollenDiscarded);
    assert_eq!(pen.book().lots["P-a"].left, 0);
}

#[test]
fn a_cross_goes_when_its_only_pollination_is_withdrawn_and_its_father_follows_the_lot() {
    let mut pen = Pen::default();
    pen.at(0.0, "P-a", taken("P", 6));
    pen.at(0.0, "Q-a", taken("Q", 6));
    let made = pen.at(10.0, "X-1", pollinated("M", "P-a"));
    pen.at(500.0, "X-1", Fact::FruitSet { berries: Some(420) });
    let father = |book: &Book| book.crosses.get("X-1").map(|cross: &Cross| cross.father.clone());
    assert_eq!(father(&pen.book()), name("P"));
    let again = pen.correct(10.0, "X-1", pollinated("M", "Q-a"), Some(made));
    assert_eq!(father(&pen.book()), name("Q"));
    assert_eq!(pen.book().crosses["X-1"].fruit.berries(), Some(420));
    assert_eq!(pen.book().lots["P-a"].left, 6);
    pen.correct(10.0, "X-1", Fact::Withdrawn, Some(again));
    assert_eq!(father(&pen.book()), None);
}

#[test]
fn berries_are_the_newest_count_less_what_was_lost_since() {
    let mut pen = Pen::default();
    pen.at(0.0, "P-a", taken("P", 6));
    pen.at(10.0, "X-1", pollinated("M", "P-a"));
    pen.at(200.0, "X-1", Fact::FruitSet { berries: Some(420) });
    pen.at(300.0, "X-1", Fact::FruitLost { berries: 20 });
    pen.at(400.0, "X-1", Fact::FruitSet { berries: Some(390) });
    pen.at(500.0, "X-1", Fact::FruitLost { berries: 5 });
    assert_eq!(pen.book().crosses["X-1"].fruit.berries(), Some(385));
}

#[test]
fn pedigree_and_taxon_follow_parents_offsets_crosses_and_groups() {
    let mut pen = Pen::default();
    let titan = || name("Amorphophallus titanum");
    pen.at(0.0, "M", card(PlantCard { taxon: titan(), ..PlantCard::default() }));
    pen.at(0.0, "P", card(PlantCard { taxon: name("Amorphophallus paeoniifolius"), ..PlantCard::default() }));
    pen.at(0.0, "M-2", card(PlantCard { offset_of: name("M"), ..PlantCard::default() }));
    pen.at(0.0, "K", card(PlantCard { clone: name("house"), taxon: titan(), ..PlantCard::default() }));
    pen.at(0.0, "L", card(PlantCard { clone: name("house"), ..PlantCard::default() }));
    pen.at(1.0, "P-a", taken("P", 2));
    pen.at(2.0, "X-1", pollinated("M-2", "P-a"));
    for seedling in ["S-1", "S-2"] {
        pen.at(9.0, seedling, card(PlantCard { seed_of: name("X-1"), ..PlantCard::default() }));
    }
    let book = pen.book();
    let degree = |one, other| book.pedigree().relation(one, other).unwrap().degree;
    assert_eq!(degree("M", "M-2"), Degree::SameClone);
    assert_eq!(degree("K", "L"), Degree::SameClone);
    assert_eq!(degree("S-1", "S-2"), Degree::FullSibs);
    assert_eq!(degree("M", "S-1"), Degree::ParentAndOffspring);
    assert_eq!(degree("M", "P"), Degree::Unknown);
    assert_eq!(book.taxon("M-2"), titan());
    assert_eq!(book.taxon("S-1"), name("Amorphophallus titanum × Amorphophallus paeoniifolius"));
    assert_eq!(book.taxon("nobody"), None);
}
