//! Whether the daemon lives and whether it is ready, for machines that look after it: the facts of the watchdog.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Serialize;

use super::House;

/// The answer.
#[derive(Debug, PartialEq, Serialize)]
pub(super) struct Health {
    /// Whether it is well.
    well: bool,
    /// The stages that have not moved on in time.
    stuck: Vec<String>,
    /// The stages that have not begun yet; told where readiness is asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    not_begun: Vec<String>,
}

/// Every stage that has begun moves on.
pub(super) async fn live(State(house): State<Arc<House>>) -> (StatusCode, Json<Health>) {
    let stuck = house.stuck();
    told(Health { well: stuck.is_empty(), stuck, not_begun: Vec::new() })
}

/// Every stage has begun and moves on, and the keeper has told what the house is like.
pub(super) async fn ready(State(house): State<Arc<House>>) -> (StatusCode, Json<Health>) {
    let (stuck, not_begun) = (house.stuck(), house.watch.not_begun());
    let well = stuck.is_empty() && not_begun.is_empty() && house.facts().is_some();
    told(Health { well, stuck, not_begun })
}

fn told(health: Health) -> (StatusCode, Json<Health>) {
    let status = if health.well { StatusCode::OK } else { StatusCode::SERVICE_UNAVAILABLE };
    (status, Json(health))
}
