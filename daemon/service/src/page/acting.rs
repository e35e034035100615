//! What a person does: it is put into the store as a command's entry is, and the keeper takes it up within a second.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::extract::{Extension, Form, Path, State};
use axum::http::StatusCode;
use axum::response::Redirect;
use bloom_model::reading::Observed;
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;
use serde::Deserialize;

use super::House;
use super::guard::Visitor;
use super::trouble::Trouble;
use crate::store::Entry;

/// The answer waits so long for the keeper, that the next page shows what was done.
const TAKEN_UP_WITHIN: Duration = Duration::from_secs(3);
/// The same press again within this time is a finger that trembled.
const ONE_PRESS: Duration = Duration::from_secs(5);
/// Presses remembered at most.
const REMEMBERED: usize = 100;

/// The form of an acknowledgement.
#[derive(Debug, Deserialize)]
pub(super) struct Acknowledgement {
    id: String,
    #[serde(default)]
    from: String,
}

/// The form of a sign; with the time for which it was booked it is withdrawn.
#[derive(Debug, Deserialize)]
pub(super) struct SignPressed {
    sign: String,
    booked_ms: Option<i64>,
}

/// What was pressed last.
#[derive(Debug, Default)]
pub(super) struct Presses(Mutex<Vec<(Instant, String)>>);

impl Presses {
    /// Whether this is another press, and not the same one again.
    fn is_new(&self, what: String, now: Instant) -> bool {
        let mut presses = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        presses.retain(|(at, _)| now.saturating_duration_since(*at) < ONE_PRESS);
        if presses.iter().any(|(_, pressed)| *pressed == what) {
            return false;
        }
        if presses.len() < REMEMBERED {
            presses.push((now, what));
        }
        true
    }
}

/// `POST /acknowledge`
pub(super) async fn acknowledge(
    State(house): State<Arc<House>>,
    Extension(Visitor(by)): Extension<Visitor>,
    Form(Acknowledgement { id, from }): Form<Acknowledgement>,
) -> Result<Redirect, Trouble> {
    let facts = house.present()?;
    if !facts.alarms.iter().any(|alarm| alarm.id == id) {
        return Err(Trouble::new(
            StatusCode::CONFLICT,
            "This alarm stands no more: there is nothing to acknowledge.",
        ));
    }
    put(&house, Entry::Acknowledge { id: Some(id), by }).await?;
    // back to the page that the form came from, if it is one of ours
    let bench = from.strip_prefix("/bench/").filter(|bench| house.knows(bench));
    Ok(Redirect::to(&bench.map_or_else(|| "/".to_owned(), |bench| format!("/bench/{bench}"))))
}

/// `POST /bench/{bench}/sign`
pub(super) async fn sign(
    State(house): State<Arc<House>>,
    Extension(Visitor(by)): Extension<Visitor>,
    Path(bench): Path<String>,
    Form(SignPressed { sign, booked_ms }): Form<SignPressed>,
) -> Result<Redirect, Trouble> {
    if !house.knows(&bench) {
        return Err(Trouble::no_bench(&bench));
    }
    let plain: PlainSign = sign.parse().map_err(|_| {
        Trouble::new(StatusCode::BAD_REQUEST, format!("{sign:?} is no sign that can be booked at a press."))
    })?;
    let (observed, time, done) = match booked_ms {
        Some(ms) => (Sign::Withdrawn(plain), Time::from_unix_ms(ms), "withdrawn"),
        None => (Sign::Plain(plain), house.clock.now(), "booked"),
    };
    if house.presses.is_new(format!("{bench} {observed} {booked_ms:?}"), Instant::now()) {
        let observed = Observed::Sign(observed);
        put(&house, Entry::Observed { bench: bench.clone(), time, observed, note: None, by }).await?;
    }
    Ok(Redirect::to(&format!("/bench/{bench}?{done}={}", plain.name())))
}

/// Puts an entry into the store, and waits a little until the keeper has taken it up.
async fn put(house: &Arc<House>, entry: Entry) -> Result<(), Trouble> {
    let number = house.reading(move |house| Ok(entry.put(&house.config.store_path)?)).await?;
    let mut facts = house.facts.clone();
    let shown = facts.wait_for(|facts| facts.as_ref().is_some_and(|facts| facts.taken_up >= number));
    // where it takes longer, the page shows it when it is there
    let _ = tokio::time::timeout(TAKEN_UP_WITHIN, shown).await;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finger_that_trembles_presses_once() {
        let presses = Presses::default();
        let begin = Instant::now();
        assert!(presses.is_new("east-3 opened".to_owned(), begin));
        assert!(!presses.is_new("east-3 opened".to_owned(), begin + Duration::from_secs(1)));
        assert!(presses.is_new("east-3 scent".to_owned(), begin + Duration::from_secs(1)));
        assert!(presses.is_new("east-3 opened".to_owned(), begin + Duration::from_secs(6)));
    }
}
