//! An answer that says what went wrong and what to do.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::frame::plain;
use crate::store::StoreError;

/// What went wrong.
#[derive(Debug)]
pub(super) struct Trouble {
    status: StatusCode,
    what: String,
}

impl Trouble {
    pub(super) fn new(status: StatusCode, what: impl Into<String>) -> Self {
        Self { status, what: what.into() }
    }

    /// There is nothing of that name.
    pub(super) fn none_such(what: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, what)
    }

    /// The record, or a fault of our own.
    pub(super) fn of(error: impl std::fmt::Display) -> Self {
        Self::new(StatusCode::SERVICE_UNAVAILABLE, format!("It could not be done: {error}."))
    }
}

impl From<StoreError> for Trouble {
    fn from(error: StoreError) -> Self {
        Self::of(error)
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        (self.status, plain("Not done", &self.what)).into_response()
    }
}
