//! The mornings in bud, as their bulletins told them: one figure and one window each, where pages draw them and would not list them.

use std::collections::HashMap;
use std::sync::Arc;

use bloom_model::event::EventKind;
use bloom_model::forecast::OpeningDates;
use bloom_model::time::Time;
use serde::Deserialize;

use crate::store::{EventFilter, Reader, StoreError, Whose};

/// A window of a bud that has more likely stopped is not shown.
const MOST_LIKELY: f64 = 0.5;

/// What a bulletin told.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Morning {
    /// When.
    pub(super) time: Time,
    /// The height, m.
    pub(super) height_m: Option<f64>,
    /// Growth, m a day.
    pub(super) growth_m_day: Option<f64>,
    /// When it opens; not where it has most likely stopped.
    pub(super) opens: Option<OpeningDates>,
}

/// The part of a bulletin that is read again.
#[derive(Deserialize)]
struct Payload {
    bloom: Arc<str>,
    height_m: Option<f64>,
    growth_cm_day: Option<f64>,
    opens: Option<OpeningDates>,
    probability_never: Option<f64>,
}

/// The mornings of each bench's newest bloom from a time on, oldest first; of one bench, or of all.
///
/// # Errors
/// The record's troubles.
pub(super) fn read(
    reader: &Reader,
    whose: Whose<'_>,
    from: Time,
) -> Result<HashMap<Arc<str>, Vec<Morning>>, StoreError> {
    let mut mornings: HashMap<Arc<str>, (Arc<str>, Vec<Morning>)> = HashMap::new();
    reader.events(EventFilter { whose, from: Some(from), ..EventFilter::default() }, |_, event| {
        if event.kind != EventKind::Morning.name() {
            return;
        }
        let Some((bench, told)) = event.bench.zip(serde_json::from_str::<Payload>(&event.payload).ok())
        else {
            return;
        };
        let stopped = told.probability_never.is_some_and(|never| never > MOST_LIKELY);
        let morning = Morning {
            time: event.time,
            height_m: told.height_m,
            growth_m_day: told.growth_cm_day.map(|cm| cm / 100.0),
            opens: told.opens.filter(|_| !stopped),
        };
        match mornings.get_mut(&bench).filter(|(bloom, _)| *bloom == told.bloom) {
            Some((_, of_it)) => of_it.push(morning),
            None => {
                mornings.insert(bench, (told.bloom, vec![morning]));
            }
        }
    })?;
    Ok(mornings.into_iter().map(|(bench, (_, of_it))| (bench, of_it)).collect())
}
