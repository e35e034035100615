//! What the record's events tell of a bloom: when the bud was seen, when it opened, when it was over.

use std::collections::BTreeMap;
use std::sync::Arc;

use bloom_model::event::{EventKind, Severity};
use bloom_model::time::Time;
use serde::Deserialize;

use crate::store::{EventFilter, Reader, StoreError, StoredEvent};

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
    /// The bloom it belongs to.
    pub bloom: Option<String>,
    /// The plant that stood there then.
    pub plant: Option<String>,
    /// First crack, where it says.
    pub began: Option<Time>,
}

/// The part of an event's JSON that is read again.
#[derive(Deserialize)]
struct Payload {
    message: String,
    bloom: Option<String>,
    plant: Option<String>,
    began: Option<Time>,
}

impl Told {
    fn of(event: StoredEvent) -> Self {
        // what was written by this service can be read by it; were it not so, the event would still be shown by its name
        let payload: Payload = serde_json::from_str(&event.payload).unwrap_or_else(|_| Payload {
            message: event.kind.clone(),
            bloom: None,
            plant: None,
            began: None,
        });
        Self {
            time: event.time,
            kind: event.kind,
            severity: event.severity,
            message: payload.message,
            bloom: payload.bloom,
            plant: payload.plant,
            began: payload.began,
        }
    }

    /// Whether it is of that kind.
    pub fn is(&self, kind: EventKind) -> bool {
        self.kind == kind.name()
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
    /// The opening that was not stood down.
    pub opening: Option<OpeningStory>,
    /// It was closed, given up, or its fruit was ripe; the first of these.
    pub over: Option<(Time, String)>,
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
    fn new(id: &str, bench: &Arc<str>, first: Time) -> Self {
        Self {
            id: id.to_owned(),
            bench: Arc::clone(bench),
            plant: None,
            seen: first,
            newest: first,
            opening: None,
            over: None,
        }
    }

    fn take(&mut self, told: &Told) {
        self.newest = self.newest.max(told.time);
        if told.plant.is_some() {
            self.plant.clone_from(&told.plant);
        }
        if told.is(EventKind::OpeningTonight) {
            let began = told.began.unwrap_or(told.time);
            self.opening = Some(OpeningStory { began, alarm: told.time, full: None });
            self.over = None;
        } else if told.is(EventKind::StoodDown) {
            self.opening = None;
            self.over = None;
        } else if told.is(EventKind::BudSeen) {
            self.over = None;
        } else if told.is(EventKind::FullOpen)
            && let Some(opening) = &mut self.opening
        {
            opening.full.get_or_insert(told.time);
            self.over = None;
        } else if [EventKind::Closed, EventKind::Aborted].into_iter().any(|kind| told.is(kind)) {
            self.over.get_or_insert((told.time, told.kind.clone()));
        }
    }
}

/// The events of a span without what followed from an opening that was none: its full opening, its windows, its closing. That it
/// was told, and that it was taken back, stays.
pub fn standing(events: &[Told]) -> impl Iterator<Item = &Told> {
    const FOLLOWING: [EventKind; 4] =
        [EventKind::FullOpen, EventKind::ReceptiveEnding, EventKind::PollenShed, EventKind::Closed];
    let follows = |told: &Told| FOLLOWING.into_iter().any(|kind| told.is(kind));
    events.iter().enumerate().filter_map(move |(place, told)| {
        let fate = events.iter().skip(place + 1).find(|later| {
            later.bloom == told.bloom
                && (later.is(EventKind::StoodDown) || later.is(EventKind::OpeningTonight))
        });
        (!follows(told) || fate.is_none()).then_some(told)
    })
}

/// Every bloom that the events of a bench tell of, or of all benches, oldest first.
pub(super) fn blooms(reader: &Reader, bench: Option<&str>) -> Result<Vec<Story>, StoreError> {
    let mut stories: BTreeMap<String, Story> = BTreeMap::new();
    reader.events(EventFilter { bench, ..EventFilter::default() }, |_, event| {
        let Some(bench) = event.bench.clone() else { return };
        let told = Told::of(event);
        if let Some(id) = &told.bloom {
            stories.entry(id.clone()).or_insert_with(|| Story::new(id, &bench, told.time)).take(&told);
        }
    })?;
    let mut stories: Vec<Story> = stories.into_values().collect();
    stories.sort_by_key(|story| story.seen);
    Ok(stories)
}

/// The events of a bench in a span, and the heat in its house, in the order of time.
///
/// # Errors
/// The record's troubles.
pub fn events(reader: &Reader, bench: &str, from: Time, until: Time) -> Result<Vec<Told>, StoreError> {
    let filter = EventFilter { from: Some(from), until: Some(until), ..EventFilter::default() };
    let heat = [EventKind::Heat.name(), EventKind::HeatOver.name()];
    let mut events = Vec::new();
    reader.events(filter, |_, event| {
        let of_the_house = event.bench.is_none() && heat.contains(&&*event.kind);
        if of_the_house || event.bench.as_deref() == Some(bench) {
            events.push(Told::of(event));
        }
    })?;
    events.sort_by_key(|told| told.time);
    Ok(events)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_followed_from_an_opening_that_was_none_is_no_mark() {
        let told = |kind: EventKind, hour: f64| Told {
            time: Time::from_unix_ms(1_811_905_200_000).plus_hours(hour),
            kind: kind.name().to_owned(),
            severity: Severity::Notice,
            message: String::new(),
            bloom: Some("east-3-2027a".to_owned()),
            plant: None,
            began: None,
        };
        let wrong = [
            told(EventKind::OpeningTonight, 0.0),
            told(EventKind::FullOpen, 6.0),
            told(EventKind::ReceptiveEnding, 15.0),
            told(EventKind::PollenShed, 22.0),
            told(EventKind::Closed, 60.0),
        ];
        let kinds = |events: &[Told]| standing(events).map(|told| told.kind.clone()).collect::<Vec<_>>();
        let all: Vec<_> = wrong.iter().map(|told| told.kind.clone()).collect();
        assert_eq!(kinds(&wrong), all, "as long as it stands");
        let down = [&wrong[..], &[told(EventKind::StoodDown, 61.0)]].concat();
        assert_eq!(kinds(&down), ["opening-tonight", "stood-down"]);
        let real =
            [&down[..], &[told(EventKind::OpeningTonight, 70.0), told(EventKind::PollenShed, 92.0)]].concat();
        assert_eq!(kinds(&real), ["opening-tonight", "stood-down", "opening-tonight", "pollen-shed"]);
    }
}
