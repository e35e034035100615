//! The look of the page and its one script: files of our own, which browsers keep for as long as they do not change.

use std::sync::Arc;

use axum::Router;
use axum::http::header;
use axum::response::IntoResponse;
use axum::routing::get;

use super::House;

const STYLE: &str = include_str!("look.css");
const SCRIPT: &str = include_str!("live.js");
const ICON: &str = include_str!("icon.svg");

/// A year, in which the address of a file changes with the file.
const KEPT: &str = "private, max-age=31536000, immutable";

/// Where the style sheet is.
pub(super) fn style_address() -> String {
    format!("/look-{:08x}.css", crc32fast::hash(STYLE.as_bytes()))
}

/// Where the script is.
pub(super) fn script_address() -> String {
    format!("/live-{:08x}.js", crc32fast::hash(SCRIPT.as_bytes()))
}

pub(super) fn routes() -> Router<Arc<House>> {
    Router::new()
        .route(&style_address(), get(async || file("text/css; charset=utf-8", STYLE)))
        .route(&script_address(), get(async || file("text/javascript; charset=utf-8", SCRIPT)))
        .route("/icon.svg", get(async || file("image/svg+xml", ICON)))
}

fn file(kind: &'static str, text: &'static str) -> impl IntoResponse {
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, KEPT)], text)
}
