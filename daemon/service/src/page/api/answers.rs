//! Who answers.

use std::collections::VecDeque;
use std::error::Error;
use std::sync::Arc;

use axum::Json;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use bloom_model::book::bloom::BloomRecord;
use bloom_model::book::entry::Entry;
use bloom_model::time::Time;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use serde_json::value::RawValue;

use crate::book::{LookBack, Sheet};
use crate::facts::{AlarmFacts, BenchFacts, HouseFacts};
use crate::page::House;
use crate::page::past::{EVENTS_FROM_H, booked};
use crate::page::sheets;
use crate::page::trouble::Trouble;
use crate::store::{EventFilter, Reader, Whose};

/// Events in one answer, unless asked otherwise, and at most.
const EVENTS: u16 = 100;
const MOST_EVENTS: u16 = 1_000;

/// One bench.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct BenchAnswer {
    /// What it is like now.
    #[serde(flatten)]
    present: BenchFacts,
    /// Its alarms that stand.
    alarms: Vec<AlarmFacts>,
    /// Its bloom, if one is under way or was the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    bloom: Option<BloomRecord>,
    /// Entries of the book that speak of its plant, or of what came of its bloom; newest first, 30 at most.
    entries: Vec<Entry>,
}

/// Which events are asked for.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EventsAsked {
    /// Of this bench only; without it those of all benches, and those of the site itself.
    bench: Option<String>,
    /// Of this instant or later; 45 days ago unless given.
    from: Option<Time>,
    /// Of this instant or earlier.
    until: Option<Time>,
    /// So many at most: the newest. 100 unless given.
    #[schemars(range(min = 1, max = MOST_EVENTS))]
    at_most: Option<u16>,
}

pub(super) async fn house(State(house): State<Arc<House>>) -> Result<Json<Arc<HouseFacts>>, Trouble> {
    Ok(Json(house.present()?))
}

pub(super) async fn alarms(State(house): State<Arc<House>>) -> Result<Json<Vec<AlarmFacts>>, Trouble> {
    Ok(Json(house.present()?.alarms.clone()))
}

pub(super) async fn bench(
    State(house): State<Arc<House>>,
    Path(bench): Path<String>,
) -> Result<Json<BenchAnswer>, Trouble> {
    let facts = house.present()?;
    let present = facts.bench(&bench).ok_or_else(|| Trouble::no_bench(&bench))?.clone();
    let now = house.clock.now();
    let (bloom, entries) = house.reading(move |house| booked(house, &bench, now)).await?;
    let alarms = facts.alarms_of(&present.bench).cloned().collect();
    Ok(Json(BenchAnswer { present, alarms, bloom, entries }))
}

pub(super) async fn events(
    State(house): State<Arc<House>>,
    asked: Result<Query<EventsAsked>, QueryRejection>,
) -> Result<Json<Vec<Box<RawValue>>>, Trouble> {
    let wrong = |what: String| Trouble::new(StatusCode::BAD_REQUEST, what);
    let Query(asked) = asked.map_err(|error| {
        let why = error.source().map_or_else(|| error.body_text(), ToString::to_string);
        wrong(format!("{why}. A time is such as 2027-06-02T19:45:00Z."))
    })?;
    let at_most = asked.at_most.unwrap_or(EVENTS);
    if !(1..=MOST_EVENTS).contains(&at_most) {
        return Err(wrong(format!("at_most={at_most}: it is to be from 1 to {MOST_EVENTS}.")));
    }
    if let Some(bench) = &asked.bench {
        house.present()?.bench(bench).ok_or_else(|| Trouble::no_bench(bench))?;
    }
    let from = asked.from.unwrap_or_else(|| house.clock.now().plus_hours(-EVENTS_FROM_H));
    let events = house
        .reading(move |house| {
            let filter = EventFilter {
                whose: asked.bench.as_deref().map_or(Whose::Everything, Whose::Bench),
                from: Some(from),
                until: asked.until,
                ..EventFilter::default()
            };
            let mut newest = VecDeque::new();
            Reader::open(&house.config.store_path)?.events(filter, |_, event| {
                if newest.len() == usize::from(at_most) {
                    newest.pop_front();
                }
                newest.push_back(event.payload);
            })?;
            newest.into_iter().rev().map(|event| RawValue::from_string(event).map_err(Trouble::of)).collect()
        })
        .await?;
    Ok(Json(events))
}

pub(super) async fn tonight(State(house): State<Arc<House>>) -> Result<Json<Vec<Sheet>>, Trouble> {
    Ok(Json(sheets::sheets_of(&house).await?))
}

pub(super) async fn season(State(house): State<Arc<House>>) -> Result<Json<Vec<LookBack>>, Trouble> {
    Ok(Json(sheets::looks_of(&house).await?))
}

pub(super) async fn own_description() -> Json<Value> {
    Json(super::description())
}
