//! A stream that says when the house has changed, and every few seconds that the daemon is there (server-sent events).

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::State;
use axum::response::sse::{Event, Sse};
use futures_util::stream::{Stream, unfold};

use super::House;

/// The daemon says this often that it is there.
const BEAT: Duration = Duration::from_secs(5);
/// Between two changes told: what changes faster is told at the end of it.
const SETTLES: Duration = Duration::from_millis(100);

/// `GET /live`
pub(super) async fn stream(
    State(house): State<Arc<House>>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let facts = house.facts.clone();
    Sse::new(unfold((facts, false), |(mut facts, changed)| async move {
        if changed {
            tokio::time::sleep(SETTLES).await;
        }
        let told = match tokio::time::timeout(BEAT, facts.changed()).await {
            Ok(Ok(())) => "changed",
            // the keeper has ended, and so will the stream
            Ok(Err(_)) => return None,
            Err(_) => "beat",
        };
        Some((Ok(Event::default().event(told).data("now")), (facts, told == "changed")))
    }))
}
