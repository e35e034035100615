//! An answer that says what went wrong and what to do: as a page to people, as a problem in JSON (RFC 9457) to programs.

use axum::body::Body;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::Serialize;

use super::frame::plain;
use crate::store::StoreError;

/// The media type of a [`Problem`], by RFC 9457.
pub(super) const PROBLEM_JSON: &str = "application/problem+json";

/// What went wrong.
#[derive(Debug, Clone)]
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

    /// The configuration has no bench of that id.
    pub(super) fn no_bench(id: &str) -> Self {
        Self::none_such(format!("There is no bench {id:?} in the configuration."))
    }

    /// What is said of it.
    pub(super) fn said(&self) -> &str {
        &self.what
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
        let mut response = (self.status, plain("Not done", &self.what)).into_response();
        // for whoever must tell it to a program
        response.extensions_mut().insert(self);
        response
    }
}

/// Why something was not answered (RFC 9457).
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Problem {
    /// The name of the status.
    title: &'static str,
    /// The status.
    status: u16,
    /// What is wrong, and what to do.
    detail: String,
}

/// The same answer for a program: a [`Problem`] in place of a page, with all that is said in the head.
pub(super) fn for_programs(mut response: Response) -> Response {
    let status = response.status();
    let what = match response.extensions_mut().remove::<Trouble>() {
        Some(trouble) => trouble.what,
        None => return response,
    };
    let title = status.canonical_reason().unwrap_or("Not done");
    let problem = Problem { title, status: status.as_u16(), detail: what };
    *response.body_mut() = Body::from(serde_json::to_vec(&problem).unwrap_or_default());
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(PROBLEM_JSON));
    response
}
