//! What every request passes before it is answered: how often, by which name, from which site, with which password; and what every
//! answer says to the browser.

use std::net::IpAddr;
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::Extension;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tokio::sync::Semaphore;
use tracing::warn;

use super::House;
use super::limits::Limits;
use super::origin::{Refused, called_by_own_name, not_cross_site};
use super::places::Place;
use super::trouble::{Trouble, for_programs};
use crate::password::{Credentials, Door};
use crate::words;

/// Requests of one address at once, and again in ten seconds: a page with its look and its stream takes five.
const REQUESTS: (u32, Duration) = (200, Duration::from_secs(10));
/// Wrong passwords of one address at once, and again in five minutes.
const ATTEMPTS: (u32, Duration) = (8, Duration::from_secs(300));
/// Questions about health of one address likewise: whoever floods the page must not make the service look ill.
const HEALTH: (u32, Duration) = (100, Duration::from_secs(10));
/// Passwords that wait to be checked at most, at some 50 ms each.
const MOST_WAITING: usize = 64;
/// An answer is begun in this time, or not at all.
const ANSWERED_WITHIN: Duration = Duration::from_secs(20);

/// Nothing but our own files, from nowhere but here, and nobody may frame us.
const CONTENT_POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; \
                              form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The other end of the connection.
#[derive(Debug, Clone)]
pub(super) struct Peer {
    /// Where it is.
    pub(super) address: IpAddr,
    /// The place that its connection holds.
    pub(super) place: Arc<Place>,
}

/// Who asks, as they gave their name with the password.
#[derive(Debug, Clone, Default)]
pub(super) struct Visitor(pub(super) Option<String>);

/// What a request says of itself before its body.
type Asked<'a> = (&'a Method, &'a Uri, &'a HeaderMap);

/// The bounds, and the door where there is a password.
#[derive(Debug)]
pub(super) struct Guard {
    door: Option<Arc<Door>>,
    names: Vec<String>,
    requests: Limits,
    health: Limits,
    attempts: Limits,
    /// One password is checked at a time, and so many wait for it: on the page's own thread, not on one that others need.
    checking: Semaphore,
    waiting: Semaphore,
}

impl Guard {
    /// With the names that the page goes by, and a door unless it stands open on this machine.
    pub(super) fn new(names: Vec<String>, door: Option<Door>) -> Self {
        let of = |(most, fills_in)| Limits::new(most, fills_in);
        Self {
            door: door.map(Arc::new),
            names,
            requests: of(REQUESTS),
            health: of(HEALTH),
            attempts: of(ATTEMPTS),
            checking: Semaphore::new(1),
            waiting: Semaphore::new(MOST_WAITING),
        }
    }

    async fn let_in(&self, peer: IpAddr, (method, uri, headers): Asked<'_>) -> Result<Visitor, Response> {
        let of_its_kind = if is_of_health(uri.path()) { &self.health } else { &self.requests };
        of_its_kind.take(peer, Instant::now()).map_err(|wait| too_often("requests", wait))?;
        called_by_own_name(headers, &self.names)
            .and_then(|()| not_cross_site(method, headers))
            .map_err(|why| refused(why).into_response())?;
        let Some(door) = &self.door else { return Ok(Visitor::default()) };
        let given = headers.get(header::AUTHORIZATION).and_then(|value| value.to_str().ok());
        let credentials = given.and_then(Credentials::of_header).ok_or_else(ask)?;
        // a name that a log or a terminal may not have is none
        let visitor = Visitor(words::said("the name", &credentials.name, words::MAX_BY).unwrap_or_default());
        if door.knows(&credentials) {
            return Ok(visitor);
        }
        // counted before it is looked at, so that many at once are not looked at all
        self.attempts.take(peer, Instant::now()).map_err(|wait| too_often("passwords", wait))?;
        if !self.is_right(door, credentials).await? {
            warn!(%peer, "a wrong password was given to the page");
            return Err(ask());
        }
        self.attempts.give_back(peer);
        Ok(visitor)
    }

    /// Checks a password when its turn comes.
    async fn is_right(&self, door: &Arc<Door>, credentials: Credentials) -> Result<bool, Response> {
        let _waits = self.waiting.try_acquire().map_err(|_| too_many_passwords())?;
        let _turn = self.checking.acquire().await.map_err(|_| too_many_passwords())?;
        // the same may have been found right while it waited
        if door.knows(&credentials) {
            return Ok(true);
        }
        let door = Arc::clone(door);
        Ok(tokio::task::spawn_blocking(move || door.lets_in(&credentials)).await.unwrap_or(false))
    }
}

/// Lets a request in, or answers in its place; and says to the browser what it may do with the answer.
pub(super) async fn guarded(
    State(house): State<Arc<House>>,
    Extension(peer): Extension<Peer>,
    mut request: Request,
    next: Next,
) -> Response {
    let to_a_program = is_for_programs(request.uri().path());
    let asked = (request.method(), request.uri(), request.headers());
    let mut response = match house.guard.let_in(peer.address, asked).await {
        Ok(visitor) => {
            peer.place.let_in(Instant::now());
            request.extensions_mut().insert(visitor);
            let late = Trouble::new(
                StatusCode::SERVICE_UNAVAILABLE,
                "The record did not answer in time. Try again in a minute.",
            );
            match tokio::time::timeout(ANSWERED_WITHIN, next.run(request)).await {
                Ok(response) => response,
                Err(_) => late.into_response(),
            }
        }
        Err(response) => response,
    };
    if to_a_program {
        response = for_programs(response);
    }
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, CONTENT_POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        // not `no-referrer`, under which browsers hide the origin of our own forms, too
        (header::REFERRER_POLICY, "same-origin"),
        (header::HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (header::HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    response
}

/// What programs ask for: troubles are told to them in JSON.
fn is_for_programs(path: &str) -> bool {
    path == "/api" || path == "/metrics" || path.starts_with("/api/") || is_of_health(path)
}

fn is_of_health(path: &str) -> bool {
    path.starts_with("/watch/")
}

fn ask() -> Response {
    let what =
        "This page wants the password of the house, with any name: the name is written beside what you book.";
    let challenge = [(header::WWW_AUTHENTICATE, "Basic realm=\"anthesisd\", charset=\"UTF-8\"")];
    (challenge, Trouble::new(StatusCode::UNAUTHORIZED, what)).into_response()
}

fn too_often(what: &str, wait: Duration) -> Response {
    let seconds = wait.as_secs() + 1;
    let said = format!("Too many {what} from this address. Try again in {seconds} s.");
    ([(header::RETRY_AFTER, seconds.to_string())], Trouble::new(StatusCode::TOO_MANY_REQUESTS, said))
        .into_response()
}

fn too_many_passwords() -> Response {
    let said = "Too many passwords are being checked at this moment. Try again in some seconds.";
    ([(header::RETRY_AFTER, "5")], Trouble::new(StatusCode::SERVICE_UNAVAILABLE, said)).into_response()
}

fn refused(why: Refused) -> Trouble {
    let what = match why {
        Refused::Name => {
            "This page was called by a name that is not its own. Call it by its address, or add the name to `names` in [page]."
        }
        Refused::CrossSite => "Another site sent this. Open the page itself and do it there.",
    };
    Trouble::new(StatusCode::FORBIDDEN, what)
}
