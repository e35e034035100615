//! What the record's events tell of a bloom: when the bud was seen, when it opened, when it was over.

use std::collections::BTreeMap;
use std::sync::Arc;

use bloom_model::bloom::life::{Life, LifeEvent};
use bloom_model::book::bloom::{BloomRecord, blooms as blooms_of};
use bloom_model::event::{EventKind, EventPlace, Severity};
use bloom_model::time::Time;
use serde::Deserialize;

use crate::book::signs;
use crate::store::{EventFilter, Reader, StoreError, StoredEvent, Whose};

/// An event as people read it.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// The instant it speaks of.
    pub time: Time,
    /// Its name, such as `opening-tonight`.
    pub kind: String,
    /// What it asked of a person.
    pub severity: Severity,
    /// Its sentence.
    pub message: String,
    /// It followed from an opening that was none.
    pub undone: bool,
}

/// The part of an event's JSON that is read again.
#[derive(Deserialize)]
struct Payload {
    message: String,
    bloom: Option<String>,
}

impl Told {
    fn of(event: StoredEvent, blooms: &[Spanned]) -> Self {
        // what was written by this service can be read by it; were it not so, the event would still be shown by its name
        let payload: Payload = serde_json::from_str(&event.payload)
            .unwrap_or_else(|_| Payload { message: event.kind.clone(), bloom: None });
        let mut lives = blooms.iter().map(|spanned| &spanned.bloom);
        let life = lives.find(|bloom| Some(&*bloom.id) == payload.bloom.as_deref());
        let kind = EventKind::of(&event.kind);
        let undone = kind.zip(life).is_some_and(|(kind, bloom)| !bloom.life.holds(kind, event.time));
        Self {
            time: event.time,
            kind: event.kind,
            severity: event.severity,
            message: payload.message,
            undone,
        }
    }
}

/// One bloom's course.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// Its id, such as `east-3-2027a`.
    pub id: String,
    /// Its bench.
    pub bench: Arc<str>,
    /// Its plant, where its events name one.
    pub plant: Option<String>,
    /// Its first event.
    pub seen: Time,
    /// Its newest event.
    pub newest: Time,
    /// When growth of its bud was established; a bloom may open before rangers that saw no bud.
    pub bud_seen: Option<Time>,
    /// The opening that was not stood down.
    pub opening: Option<OpeningStory>,
    /// When it was over, and by what.
    pub over: Option<(Time, EventKind)>,
}

/// An opening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpeningStory {
    /// First crack, as estimated.
    pub began: Time,
    /// The alarm.
    pub alarm: Time,
    /// The advance had levelled off.
    pub full: Option<Time>,
}

impl Story {
    fn of(Spanned { bloom, seen, newest }: &Spanned) -> Self {
        let Life { sensed, alarm, .. } = &bloom.life;
        let opening = sensed.opened.zip(*alarm);
        Self {
            id: bloom.id.to_string(),
            bench: Arc::clone(&bloom.bench),
            plant: bloom.plant.as_deref().map(str::to_owned),
            seen: *seen,
            newest: *newest,
            bud_seen: sensed.bud_seen,
            opening: opening.map(|(began, alarm)| OpeningStory { began, alarm, full: sensed.full_open }),
            over: bloom.life.over(),
        }
    }
}

/// A bloom with the instants of its first and its newest event.
#[derive(Debug)]
struct Spanned {
    bloom: BloomRecord,
    seen: Time,
    newest: Time,
}

/// The blooms that events tell of.
#[derive(Debug)]
pub struct Blooms(Vec<Spanned>);

impl Blooms {
    /// Those of a bench, or of all benches: every event is read.
    ///
    /// # Errors
    /// The record's troubles.
    pub fn read(reader: &Reader, bench: Option<&str>) -> Result<Self, StoreError> {
        let mut events: Vec<LifeEvent> = Vec::new();
        let whose = bench.map_or(Whose::Everything, Whose::Bench);
        reader.events(EventFilter { whose, ..EventFilter::default() }, |_, event| {
            // an event of the bench that is of no bloom has none of its fields
            events.extend(serde_json::from_str::<LifeEvent>(&event.payload));
        })?;
        events.sort_by_key(|event| event.time);
        let mut spans: BTreeMap<Arc<str>, (Time, Time)> = BTreeMap::new();
        for event in &events {
            spans.entry(Arc::clone(&event.bloom)).or_insert((event.time, event.time)).1 = event.time;
        }
        let blooms = blooms_of(&events, signs(&reader.booked_by_hand()?));
        let spanned = |bloom: BloomRecord| {
            let (seen, newest) = *spans.get(&bloom.id)?;
            Some(Spanned { bloom, seen, newest })
        };
        Ok(Self(blooms.into_iter().filter_map(spanned).collect()))
    }

    /// Their courses, oldest first.
    pub(super) fn stories(&self) -> Vec<Story> {
        let mut stories: Vec<Story> = self.0.iter().map(Story::of).collect();
        stories.sort_by_key(|story| story.seen);
        stories
    }

    /// The events of a bench in a span, and the heat in its house, in the order of time. What is undone may be undone behind the span.
    ///
    /// # Errors
    /// The record's troubles.
    pub fn events(
        &self,
        reader: &Reader,
        bench: &str,
        from: Time,
        until: Time,
    ) -> Result<Vec<Told>, StoreError> {
        let mut events = Vec::new();
        for whose in [Whose::Bench(bench), Whose::NoBench] {
            let filter =
                EventFilter { whose, from: Some(from), until: Some(until), ..EventFilter::default() };
            reader.events(filter, |number, event| {
                let of_the_house =
                    EventKind::of(&event.kind).is_some_and(|kind| kind.row().place == EventPlace::House);
                if of_the_house || whose != Whose::NoBench {
                    events.push((number, Told::of(event, &self.0)));
                }
            })?;
        }
        events.sort_by_key(|(number, told)| (told.time, *number));
        Ok(events.into_iter().map(|(_, told)| told).collect())
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::store::{Batch, Store};

    fn at(hour: f64) -> Time {
        Time::from_unix_ms(1_811_905_200_000).plus_hours(hour)
    }

    /// A record that holds these events of one bloom.
    fn record(folder: &std::path::Path, told: &[(EventKind, f64)]) -> Reader {
        let event = |(place, (kind, hour)): (usize, &(EventKind, f64))| {
            let id = format!("east-3-2027a/{}/{place}", kind.name());
            let payload = json!({"id": id, "time": at(*hour), "bench": "east-3", "bloom": "east-3-2027a", "event": kind, "message": ""});
            StoredEvent {
                id,
                bench: Some("east-3".into()),
                time: at(*hour),
                kind: kind.name().to_owned(),
                severity: Severity::Notice,
                payload: payload.to_string(),
                after_fed: 0,
            }
        };
        let path = folder.join("record.db");
        let mut store = Store::open(&path).unwrap();
        let events = told.iter().enumerate().map(event).collect();
        store.commit(&Batch { events, ..Batch::default() }).unwrap();
        Reader::open(&path).unwrap()
    }

    #[test]
    fn what_is_undone_behind_the_span_is_undone_in_it() {
        let folder = tempfile::tempdir().unwrap();
        let told = [
            (EventKind::OpeningTonight, 0.0),
            (EventKind::FullOpen, 6.0),
            (EventKind::PollenShed, 22.0),
            (EventKind::StoodDown, 61.0),
        ];
        let reader = record(folder.path(), &told);
        let blooms = Blooms::read(&reader, Some("east-3")).unwrap();
        let told = blooms.events(&reader, "east-3", at(-1.0), at(24.0)).unwrap();
        let marks: Vec<(&str, bool)> = told.iter().map(|told| (&*told.kind, told.undone)).collect();
        assert_eq!(marks, [("opening-tonight", false), ("full-open", true), ("pollen-shed", true)]);
    }

    #[test]
    fn a_bloom_that_nobody_saw_close_is_over_when_it_is_spent_and_no_bud_is_made_up() {
        let folder = tempfile::tempdir().unwrap();
        let told =
            [(EventKind::OpeningTonight, 0.0), (EventKind::FullOpen, 6.0), (EventKind::FruitRipe, 3000.0)];
        let reader = record(folder.path(), &told);
        let story = Blooms::read(&reader, Some("east-3")).unwrap().stories().remove(0);
        assert_eq!(story.over, Some((at(3000.0), EventKind::FruitRipe)));
        assert_eq!((story.bud_seen, story.seen), (None, at(0.0)));
        assert_eq!(story.opening, Some(OpeningStory { began: at(0.0), alarm: at(0.0), full: Some(at(6.0)) }));
    }
}
