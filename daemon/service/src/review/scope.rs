//! Which span is looked at: a bloom's, or the one that was asked for.

use std::sync::Arc;

use bloom_model::time::Time;
use chrono_tz::Tz;

use super::calendar::midnight_before;
use super::story::{Blooms, OpeningStory, Story};
use crate::store::{Reader, StoreError};

/// A bloom is shown from so long before its bud was seen, h: a bud grows for some days before that is established.
const BEFORE_H: f64 = 72.0;
/// A bloom is shown until so long after it was over, h.
const AFTER_H: f64 = 48.0;
/// Shown of a bench that has never bloomed, h.
const WITHOUT_BLOOM_H: f64 = 30.0 * 24.0;

/// What somebody asked for.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// A bench, or a bloom such as `east-3-2027a`.
    pub of: String,
    /// The beginning of the span.
    pub from: Option<Time>,
    /// Its end.
    pub until: Option<Time>,
}

/// What is looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Scope {
    /// The bench.
    pub bench: Arc<str>,
    /// The beginning of the span.
    pub from: Time,
    /// Its end, not included.
    pub until: Time,
    /// The bloom that it is about.
    pub story: Option<Story>,
}

impl Scope {
    /// The opening, if it lies in the span.
    pub fn opening(&self) -> Option<OpeningStory> {
        let opening = self.story.as_ref()?.opening?;
        (opening.began >= self.from && opening.began < self.until).then_some(opening)
    }
}

/// Nothing can be looked at.
#[derive(Debug, thiserror::Error)]
pub enum ScopeError {
    /// Neither bench nor bloom.
    #[error("no bench and no bloom {of:?} in the record; it has: {known}")]
    Unknown {
        /// What was asked for.
        of: String,
        /// What there is.
        known: String,
    },
    /// An empty span.
    #[error("the span ends at {until}, before it begins at {from}: give a later --to, or an earlier --from")]
    Empty {
        /// Its beginning.
        from: Time,
        /// Its end.
        until: Time,
    },
    /// The record's troubles.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Finds the span: that of the bloom asked for, of the bench's newest bloom, or of the times given.
///
/// # Errors
/// Where there is no such bench or bloom, or the span is empty.
pub fn choose(reader: &Reader, asked: &Asked, now: Time, zone: Tz) -> Result<Scope, ScopeError> {
    let benches = reader.benches()?;
    let (bench, story) = if let Some(bench) = benches.iter().find(|bench| ***bench == *asked.of) {
        let within = |story: &Story| {
            asked.until.is_none_or(|until| story.seen < until)
                && asked.from.is_none_or(|from| story.newest > from)
        };
        let story = Blooms::read(reader, Some(bench))?.stories().into_iter().rfind(within);
        (Arc::clone(bench), story)
    } else {
        let stories = Blooms::read(reader, None)?.stories();
        match stories.iter().find(|story| story.id == asked.of) {
            Some(story) => (Arc::clone(&story.bench), Some(story.clone())),
            None => {
                let names = benches.iter().map(|bench| &**bench).chain(stories.iter().map(|s| &*s.id));
                let known = names.collect::<Vec<_>>().join(", ");
                return Err(ScopeError::Unknown { of: asked.of.clone(), known });
            }
        }
    };
    let (usual_from, usual_until) = match &story {
        Some(story) => (story.seen.plus_hours(-BEFORE_H), end_of(story, now)),
        None => (now.plus_hours(-WITHOUT_BLOOM_H), now),
    };
    let until = asked.until.unwrap_or(usual_until);
    let from = asked.from.unwrap_or_else(|| midnight_before(usual_from, zone));
    if from >= until {
        return Err(ScopeError::Empty { from, until });
    }
    Ok(Scope { bench, from, until, story })
}

fn end_of(story: &Story, now: Time) -> Time {
    match &story.over {
        Some((over, _)) => over.plus_hours(AFTER_H),
        None => now.max(story.newest),
    }
}
