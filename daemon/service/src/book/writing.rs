//! From a plan to an entry on the disk, in one transaction with what it was decided by.

use std::path::Path;

use bloom_model::book::Book;
use bloom_model::book::entry::{Entry, Fact, Kind};
use bloom_model::reading::Observed;
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;
use serde::Serialize;

use super::HouseBook;
use super::plan::{Planned, Refusal};
use crate::store::{self, BookWriter, Booking, Draft, StoreError};

/// When, by whom, with what note, and in place of which entry. What a correction does not say stays as it was.
#[derive(Debug, Clone, Default)]
pub struct Circumstances {
    /// When it happened; now where nothing is said.
    pub at: Option<Time>,
    /// Who.
    pub by: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// The entry that is to be corrected.
    pub corrects: Option<u64>,
}

/// What was booked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Booked {
    /// The entry.
    #[serde(flatten)]
    pub entry: Entry,
    /// What the person should hear.
    pub remarks: Vec<String>,
}

/// Plans an entry on the book as it stands and writes it, with what the watch of a bench is to hear of it.
///
/// # Errors
/// The plan's refusal, or the store's troubles.
pub fn write(
    store_path: &Path,
    house: &mut HouseBook,
    now: Time,
    around: Circumstances,
    plan: impl FnOnce(&HouseBook, Time, Option<&Entry>) -> Result<Planned, Refusal>,
) -> Result<Result<Booked, Refusal>, StoreError> {
    let mut writer = BookWriter::open(store_path)?;
    let decided = writer.write(now, |entries| {
        house.turn_to(entries);
        decide(house, now, around, plan)
    })?;
    Ok(decided.map(|(numbers, (mut entry, remarks))| {
        entry.number = numbers.first().copied().unwrap_or_default();
        Booked { entry, remarks }
    }))
}

type Decided = (Booking, (Entry, Vec<String>));

fn decide(
    house: &HouseBook,
    now: Time,
    around: Circumstances,
    plan: impl FnOnce(&HouseBook, Time, Option<&Entry>) -> Result<Planned, Refusal>,
) -> Result<Decided, Refusal> {
    let old = around.corrects.map(|number| to_be_corrected(&house.book, number)).transpose()?;
    let time = around.at.or(old.map(|old| old.time)).unwrap_or(now);
    if time > now {
        return Err(Refusal::usage(format!("{time} is yet to come: give the time at which it happened")));
    }
    let Planned { subject, fact, sign, remarks } = plan(house, time, old)?;
    let subject = match old {
        Some(old) => subject_after_correction(old, &fact, subject)?,
        None => subject,
    };
    let kept = |said: Option<String>, old: Option<&String>| said.or_else(|| old.cloned());
    let entry = Entry {
        number: house.book.entries().last().map_or(1, |last| last.number + 1),
        time,
        booked: now,
        subject,
        fact,
        by: kept(around.by, old.and_then(|old| old.by.as_ref())),
        note: kept(around.note, old.and_then(|old| old.note.as_ref())),
        corrects: around.corrects,
    };
    entry.check().map_err(|error| Refusal::usage(error.to_string()))?;
    let mut entries = house.book.entries().to_vec();
    entries.push(entry.clone());
    no_loop(&Book::read(entries), &entry)?;
    let mut tell = Vec::new();
    let heard = old.and_then(|old| Some((old.time, sign_of(&house.book, old)?)));
    let hears = sign.map(|sign| (time, sign));
    if heard != hears {
        tell.extend(heard.map(|(time, (bench, sign))| told(&entry, bench, time, Sign::Withdrawn(sign))));
        tell.extend(hears.map(|(time, (bench, sign))| told(&entry, bench, time, Sign::Plain(sign))));
    }
    let Entry { subject, fact, by, note, corrects, .. } = entry.clone();
    let booking = Booking { drafts: vec![Draft { time, subject, fact, by, note, corrects }], tell };
    Ok((booking, (entry, remarks)))
}

fn to_be_corrected(book: &Book, number: u64) -> Result<&Entry, Refusal> {
    let entry = book.entry(number).ok_or_else(|| {
        Refusal::usage(format!("the book has no entry {number}: anthesisd book history lists them"))
    })?;
    if let Some(by) = book.replaced_by(number) {
        return Err(Refusal::usage(format!(
            "entry {number} was corrected by entry {by} already: correct that one"
        )));
    }
    if entry.fact == Fact::Withdrawn {
        return Err(Refusal::usage(format!("entry {number} takes another one back: book that anew instead")));
    }
    Ok(entry)
}

/// A lot and a cross keep the name that they were given; what is done to something may be moved to another of its kind.
fn subject_after_correction(old: &Entry, fact: &Fact, planned: String) -> Result<String, Refusal> {
    let kind = |fact: &Fact| match fact.speaks_of() {
        Kind::Plant => "a plant",
        Kind::Lot => "a lot of pollen",
        Kind::Cross => "a cross",
        Kind::Entry => "an entry",
    };
    match fact {
        Fact::Withdrawn => Ok(old.subject.clone()),
        fact if fact.speaks_of() != old.fact.speaks_of() => Err(Refusal::usage(format!(
            "entry {} speaks of {}, and this of {}: withdraw it (anthesisd book withdraw {}) and book this anew",
            old.number,
            kind(&old.fact),
            kind(fact),
            old.number
        ))),
        Fact::PollenTaken(_) | Fact::Pollinated(_)
            if std::mem::discriminant(fact) == std::mem::discriminant(&old.fact) =>
        {
            Ok(old.subject.clone())
        }
        _ => Ok(planned),
    }
}

/// A plant must not become its own ancestor.
fn no_loop(book: &Book, entry: &Entry) -> Result<(), Refusal> {
    if !matches!(entry.fact, Fact::PlantAdded(_)) {
        return Ok(());
    }
    let kinship = book.pedigree().kinship(&entry.subject, &entry.subject);
    kinship.map(|_| ()).map_err(|error| Refusal::usage(error.to_string()))
}

/// The sign that the watch of a bench has heard by an entry.
fn sign_of(book: &Book, entry: &Entry) -> Option<(String, PlainSign)> {
    let bench_of_cross = || book.crosses.get(&entry.subject)?.bench.clone();
    match &entry.fact {
        Fact::Pollinated(pollination) => Some((pollination.bench.clone()?, PlainSign::Pollinated)),
        Fact::PollenTaken(taken) => {
            // the bloom's id is the bench's with a year: east-3-2027a
            let bench = taken.bloom.as_ref()?.rsplit_once('-')?.0;
            Some((bench.to_owned(), PlainSign::PollenCollected))
        }
        Fact::FruitSet { .. } => Some((bench_of_cross()?, PlainSign::FruitSet)),
        Fact::FruitRipe => Some((bench_of_cross()?, PlainSign::FruitRipe)),
        _ => None,
    }
}

fn told(entry: &Entry, bench: String, time: Time, sign: Sign) -> store::Entry {
    let (note, by) = (entry.note.clone(), entry.by.clone());
    store::Entry::Observed { bench, time, observed: Observed::Sign(sign), note, by }
}
