//! Whether the watch moves on and whether it serves, for machines that look after it: the facts of the watchdog.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::Serialize;

use super::House;

/// Whether the service is well.
#[derive(Debug, PartialEq, Serialize, JsonSchema)]
pub(super) struct Health {
    /// Whether it is.
    pub(super) well: bool,
    /// The parts of the watch that have not moved on in time.
    stuck: Vec<String>,
    /// The parts that have not begun yet; told where it is asked whether the watch serves.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    not_begun: Vec<String>,
}

impl Health {
    /// Every stage that has begun moves on.
    pub(super) fn moving(house: &House) -> Self {
        let stuck = house.stuck();
        Self { well: stuck.is_empty(), stuck, not_begun: Vec::new() }
    }

    /// Every stage has begun and moves on, and the keeper has told what the house is like.
    pub(super) fn serving(house: &House) -> Self {
        let (stuck, not_begun) = (house.stuck(), house.watch.not_begun());
        let well = stuck.is_empty() && not_begun.is_empty() && house.facts().is_some();
        Self { well, stuck, not_begun }
    }
}

impl IntoResponse for Health {
    fn into_response(self) -> Response {
        let status = if self.well { StatusCode::OK } else { StatusCode::SERVICE_UNAVAILABLE };
        (status, Json(self)).into_response()
    }
}

/// `GET /watch/moving`
pub(super) async fn moving(State(house): State<Arc<House>>) -> Health {
    Health::moving(&house)
}

/// `GET /watch/serving`
pub(super) async fn serving(State(house): State<Arc<House>>) -> Health {
    Health::serving(&house)
}
