//! Pictures of a bench's last days, by the review's drawing code; and the review of a whole bloom as a file. Both read long stretches
//! of the record, so one is made at a time and pictures are kept for a while.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::extract::{Path, State};
use axum::http::header;
use axum::response::IntoResponse;
use bloom_model::time::Time;
use maud::Markup;
use tokio::sync::Semaphore;

use super::House;
use super::trouble::Trouble;
use crate::review::scope::{Asked, Scope, ScopeError, choose};
use crate::review::{Review, Source, page};
use crate::store::Reader;

/// Days that the pictures show.
pub(super) const DAYS: u32 = 4;
/// Pictures are drawn anew after this.
const KEPT: Duration = Duration::from_secs(120);

/// Pictures, and the right to draw.
#[derive(Debug)]
pub(super) struct Studio {
    drawing: Semaphore,
    kept: Mutex<HashMap<Arc<str>, Arc<Pictures>>>,
}

/// Pictures of one bench.
#[derive(Debug)]
pub(super) struct Pictures {
    drawn: Instant,
    pub(super) markup: Markup,
}

impl Default for Studio {
    fn default() -> Self {
        Self { drawing: Semaphore::new(1), kept: Mutex::default() }
    }
}

impl Studio {
    fn kept(&self, bench: &str) -> Option<Arc<Pictures>> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.get(bench).filter(|pictures| pictures.drawn.elapsed() < KEPT).cloned()
    }
}

/// The pictures of a bench; `None` where the record has nothing of it yet.
pub(super) async fn of(
    house: &Arc<House>,
    bench: &Arc<str>,
    now: Time,
) -> Result<Option<Arc<Pictures>>, Trouble> {
    if let Some(kept) = house.studio.kept(bench) {
        return Ok(Some(kept));
    }
    let _drawing = house.studio.drawing.acquire().await.map_err(Trouble::of)?;
    if let Some(kept) = house.studio.kept(bench) {
        return Ok(Some(kept));
    }
    let asked = Asked {
        of: bench.to_string(),
        from: Some(now.plus_hours(-24.0 * f64::from(DAYS))),
        until: Some(now),
    };
    let markup = house
        .reading(move |house| {
            let review = review(house, asked, now)?;
            Ok(review.map(|review| page::pictures(&review, None)))
        })
        .await?;
    let Some(markup) = markup else { return Ok(None) };
    let pictures = Arc::new(Pictures { drawn: Instant::now(), markup });
    let mut kept = house.studio.kept.lock().unwrap_or_else(PoisonError::into_inner);
    kept.insert(Arc::clone(bench), Arc::clone(&pictures));
    Ok(Some(pictures))
}

/// `GET /bench/{bench}/review`: the file that `anthesisd review` writes.
pub(super) async fn file(
    State(house): State<Arc<House>>,
    Path(bench): Path<String>,
) -> Result<impl IntoResponse, Trouble> {
    if !house.knows(&bench) {
        return Err(Trouble::no_bench(&bench));
    }
    let now = house.clock.now();
    let asked = Asked { of: bench, ..Asked::default() };
    let _drawing = house.studio.drawing.acquire().await.map_err(Trouble::of)?;
    let (name, html) = house
        .reading(move |house| {
            let review = review(house, asked, now)?
                .ok_or_else(|| Trouble::none_such("The record has nothing of this bench yet."))?;
            let name = review
                .scope
                .story
                .as_ref()
                .map_or_else(|| review.scope.bench.to_string(), |story| story.id.clone());
            Ok((name, page::html(&review, None)))
        })
        .await?;
    let disposition = format!("attachment; filename=\"{name}.html\"");
    Ok((
        [
            (header::CONTENT_TYPE, "text/html; charset=utf-8".to_owned()),
            (header::CONTENT_DISPOSITION, disposition),
        ],
        html,
    ))
}

fn review(house: &House, asked: Asked, now: Time) -> Result<Option<Review>, Trouble> {
    let reader = Reader::open(&house.config.store_path)?;
    let scope: Scope = match choose(&reader, &asked, now, house.config.site.timezone) {
        Ok(scope) => scope,
        Err(ScopeError::Unknown { .. } | ScopeError::Empty { .. }) => return Ok(None),
        Err(error) => return Err(Trouble::of(error)),
    };
    let Some(bench) = house.config.benches.iter().find(|bench| bench.spec.id == scope.bench) else {
        return Ok(None);
    };
    let site = Arc::new(house.config.site.clone());
    let source = Source {
        reader: &reader,
        site: &site,
        spec: &bench.spec,
        height_datum: bench.height_datum.words(),
        now,
    };
    Ok(Some(Review::read(&source, scope, |_| {})?))
}
