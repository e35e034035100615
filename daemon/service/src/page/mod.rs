//! The page: whether anything needs a person, at a glance, and what a person does about it, at a press.
//!
//! A request's path: [`server`] takes the connection → [`guard`] lets it in → a room answers: [`overview`], [`bench`], [`sheets`], [`acting`], and for programs [`api`], [`health`],
//! [`metrics`]. The present is
//! read from the [facts](crate::facts) that the keeper lays out, the past from the store by a reader of its own, on threads that
//! may wait; what a person does goes into the store as a command's entry does, and the keeper takes it up. So the page never makes the
//! watch wait: it has a runtime of its own, and where it fails, the log says so and the watch goes on.

mod acting;
mod alarms;
mod api;
mod bench;
mod booking;
mod course;
mod dial;
mod edge;
mod forecast;
mod frame;
mod glyph;
mod guard;
mod health;
mod limits;
mod live;
mod look;
mod metrics;
mod mornings;
mod origin;
mod overview;
mod past;
mod pictures;
mod places;
mod receipts;
mod season;
mod server;
mod sheets;
mod signs;
mod sketch;
mod strip;
mod timeline;
mod told;
mod trouble;
pub(crate) mod verdict;
pub(crate) mod words;

use std::sync::Arc;
use std::time::Instant;

use axum::Router;
use axum::http::StatusCode;
use axum::routing::{get, post};
use tokio::sync::{mpsc, watch};

use crate::clock::Clock;
use crate::config::{Config, PageConfig};
use crate::facts::HouseFacts;
use crate::keeper::Booking;
use crate::password::{Door, Password};
use crate::watchdog::Watch;
pub use api::description;
use guard::Guard;
use receipts::Receipts;
pub use server::{serve, try_to_listen};
use trouble::Trouble;
use verdict::Glance;

/// What the page shows and does is of this house.
#[derive(Debug)]
pub struct House {
    config: Config,
    clock: Arc<Clock>,
    facts: watch::Receiver<Option<Arc<HouseFacts>>>,
    watch: Watch,
    guard: Guard,
    receipts: Receipts,
    bookings: mpsc::Sender<Booking>,
    studio: pictures::Studio,
}

impl House {
    /// The house of a configuration, with the password that it names.
    ///
    /// # Errors
    /// In words: the password cannot be read.
    pub fn new(
        config: &Config,
        page: &PageConfig,
        clock: Arc<Clock>,
        facts: watch::Receiver<Option<Arc<HouseFacts>>>,
        bookings: mpsc::Sender<Booking>,
        watch: Watch,
    ) -> Result<Self, String> {
        let door = match &page.password_file {
            Some(path) => {
                let at = |why: String| format!("{}: {why}", path.display());
                Some(Password::read(path).and_then(Door::new).map_err(at)?)
            }
            None => None,
        };
        Ok(Self {
            config: config.clone(),
            clock,
            facts,
            watch,
            guard: Guard::new(page.names.clone(), door),
            receipts: Receipts::default(),
            bookings,
            studio: pictures::Studio::default(),
        })
    }

    /// What the house is like.
    ///
    /// # Errors
    /// The keeper has not taken up its work yet.
    fn present(&self) -> Result<Arc<HouseFacts>, Trouble> {
        self.facts().ok_or_else(not_yet)
    }

    /// Whether the configuration has a bench of that id.
    fn knows(&self, bench: &str) -> bool {
        self.config.benches.iter().any(|known| &*known.spec.id == bench)
    }

    /// The stages of the daemon that have not moved on in time.
    fn stuck(&self) -> Vec<String> {
        self.watch.overdue(Instant::now())
    }

    /// A glance at what the keeper laid out. `stuck` is what [`Self::stuck`] says.
    fn glance<'a>(&self, facts: &'a HouseFacts, stuck: &'a [String]) -> Glance<'a> {
        let site = &self.config.site;
        Glance {
            facts,
            stuck,
            now: self.clock.now(),
            silent_after: site.silent_after,
            is_machine: self.clock.is_machine(),
            zone: site.timezone,
        }
    }

    /// Does what may wait for the disk on a thread that may wait.
    ///
    /// # Errors
    /// Its own, in words for the visitor.
    async fn reading<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&Self) -> Result<T, Trouble> + Send + 'static,
    ) -> Result<T, Trouble> {
        let house = Arc::clone(self);
        tokio::task::spawn_blocking(move || work(&house))
            .await
            .unwrap_or_else(|error| Err(Trouble::of(error)))
    }

    /// What the house is like; `None` until the keeper has taken up its work.
    fn facts(&self) -> Option<Arc<HouseFacts>> {
        self.facts.borrow().clone()
    }
}

/// All that is answered, to those who are let in.
fn routes(house: Arc<House>) -> Router {
    Router::new()
        .route("/", get(overview::show))
        .route("/live", get(live::stream))
        .route("/acknowledge", post(acting::acknowledge))
        .route("/bench/{bench}", get(bench::show))
        .route("/bench/{bench}/sign", post(acting::sign))
        .route("/bench/{bench}/review", get(pictures::file))
        .route("/tonight", get(sheets::tonight))
        .route("/season", get(season::show))
        .route("/calendar.ics", get(sheets::calendar))
        .merge(api::routes())
        .merge(look::routes())
        .fallback(async || Trouble::none_such(NO_SUCH_PAGE))
        .method_not_allowed_fallback(async || {
            Trouble::new(StatusCode::METHOD_NOT_ALLOWED, "This address does not take that method.")
        })
        .layer(axum::middleware::from_fn_with_state(Arc::clone(&house), guard::guarded))
        .layer(axum::extract::DefaultBodyLimit::max(MOST_BODY_BYTES))
        .with_state(house)
}

/// The daemon has begun and has not told yet what the house is like.
fn not_yet() -> Trouble {
    let what = "The daemon is starting: it reads its record first. Load this page again in a moment.";
    Trouble::new(StatusCode::SERVICE_UNAVAILABLE, what)
}

/// Said where nobody answers.
const NO_SUCH_PAGE: &str = "There is no such page here. The benches are at /, and what programs can ask for is in /api/openapi.json.";

/// The longest form that is read.
const MOST_BODY_BYTES: usize = 8 << 10;
