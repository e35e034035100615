//! What the record and the book say of one bench, read for one answer.

use std::collections::BTreeSet;
use std::sync::Arc;

use bloom_model::book::bloom::BloomRecord;
use bloom_model::book::entry::Entry;
use bloom_model::time::Time;

use super::House;
use super::mornings::{self, Morning};
use super::trouble::Trouble;
use crate::book::calendar::{Job, jobs};
use crate::book::{HouseBook, Sheet, bank, fruit, sheets};
use crate::review::story::{Blooms, Told};
use crate::store::{Reader, Whose};

/// Events are shown from so long ago, h, and so many at most.
pub(super) const EVENTS_FROM_H: f64 = 45.0 * 24.0;
const MOST_EVENTS: usize = 120;
/// Mornings in bud are drawn from so long ago, h: a bud takes weeks, a slow one months.
const MORNINGS_FROM_H: f64 = 120.0 * 24.0;
/// Entries of the book at most.
const MOST_ENTRIES: usize = 30;

/// The past of one bench.
pub(super) struct Past {
    /// Its bloom, if one is under way or was the last.
    pub(super) bloom: Option<BloomRecord>,
    /// Its events, newest first.
    pub(super) events: Vec<Told>,
    /// Entries of the book that speak of its plant, or of what came of its bloom; newest first.
    pub(super) entries: Vec<Entry>,
    /// Its mornings in bud, oldest first.
    pub(super) mornings: Vec<Morning>,
    /// What tonight's sheet says of it, while it is in bud or open.
    pub(super) sheet: Option<Sheet>,
    /// What is to be done of its bloom and of what came of it, by when.
    pub(super) due: Vec<Job>,
    /// Why all of that is missing, where it is: the record cannot be read.
    pub(super) unreadable: Option<String>,
}

impl Past {
    /// Nothing is known, and why.
    pub(super) fn unreadable(why: &Trouble) -> Self {
        Self {
            bloom: None,
            events: Vec::new(),
            entries: Vec::new(),
            mornings: Vec::new(),
            sheet: None,
            due: Vec::new(),
            unreadable: Some(why.said().to_owned()),
        }
    }

    pub(super) fn read(house: &House, bench: &Arc<str>, now: Time) -> Result<Self, Trouble> {
        let book = read_book(house, now)?;
        let (bloom, entries) = booked_in(&book, bench, now);
        let reader = Reader::open(&house.config.store_path)?;
        let blooms = Blooms::read(&reader, Some(bench))?;
        let mut events = blooms.events(&reader, bench, now.plus_hours(-EVENTS_FROM_H), now)?;
        events.reverse();
        events.truncate(MOST_EVENTS);
        let mornings =
            mornings::read(&reader, Whose::Bench(bench), now.plus_hours(-MORNINGS_FROM_H))?.remove(bench);
        let sheet = sheets(&book, Some(bench), now).map_err(|refusal| Trouble::of(refusal.said))?.pop();
        let due = due(&book, &reader, bloom.as_ref(), now)?;
        let mornings = mornings.unwrap_or_default();
        Ok(Self { bloom, events, entries, mornings, sheet, due, unreadable: None })
    }
}

/// What is to be done of a bloom, its crosses and its lots, by when it begins.
fn due(
    book: &HouseBook,
    reader: &Reader,
    bloom: Option<&BloomRecord>,
    now: Time,
) -> Result<Vec<Job>, Trouble> {
    let Some(bloom) = bloom else { return Ok(Vec::new()) };
    let id = &*bloom.id;
    let of_it = |of: &Option<String>| of.as_deref() == Some(id);
    let crosses =
        book.book.crosses.values().filter(|cross| of_it(&cross.bloom)).map(|cross| cross.name.as_str());
    let lots = book.book.lots.values().filter(|lot| of_it(&lot.bloom)).map(|lot| lot.name.as_str());
    let names: BTreeSet<&str> = crosses.chain(lots).chain([id]).collect();
    let fruit = fruit(book, Some(reader), None, now)?;
    let mut due = jobs(book, &fruit, &bank(book, now), now).map_err(|refusal| Trouble::of(refusal.said))?;
    due.retain(|job| job.uid.split_once('-').is_some_and(|(_, name)| names.contains(name)));
    Ok(due)
}

/// The bloom of a bench that is under way or was the last, and the entries of the book that speak of it; newest first.
pub(super) fn booked(
    house: &House,
    bench: &str,
    now: Time,
) -> Result<(Option<BloomRecord>, Vec<Entry>), Trouble> {
    Ok(booked_in(&read_book(house, now)?, bench, now))
}

fn booked_in(book: &HouseBook, bench: &str, now: Time) -> (Option<BloomRecord>, Vec<Entry>) {
    let bloom = book.bloom_at(bench, now).cloned();
    let subjects = subjects(book, bench, bloom.as_ref());
    let speaks_of = |entry: &&Entry| subjects.contains(entry.subject.as_str());
    let entries = book.book.entries().iter().rev().filter(speaks_of).take(MOST_ENTRIES).cloned().collect();
    (bloom, entries)
}

/// The book of the house as it stands.
pub(super) fn read_book(house: &House, now: Time) -> Result<HouseBook, Trouble> {
    HouseBook::read(&house.config, &house.config.path, now).map_err(Trouble::of)
}

/// The plant of a bench, and the lots and crosses that came of its bloom.
fn subjects<'a>(book: &'a HouseBook, bench: &str, bloom: Option<&BloomRecord>) -> BTreeSet<&'a str> {
    let plant = book.bench(bench).and_then(|bench| bench.plant.as_deref());
    let id = bloom.map(|bloom| &*bloom.id);
    let of_it = |of: &Option<String>| of.is_some() && of.as_deref() == id;
    let lots = book.book.lots.values().filter(|lot| of_it(&lot.bloom)).map(|lot| lot.name.as_str());
    let crosses =
        book.book.crosses.values().filter(|cross| of_it(&cross.bloom)).map(|cross| cross.name.as_str());
    plant.into_iter().chain(lots).chain(crosses).collect()
}
