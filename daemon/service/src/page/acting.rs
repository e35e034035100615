//! What a person does: it is handed to the keeper, and answered when it is in the record. The answer leads to a page that says what
//! became of it ([`receipts`](super::receipts)).

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::extract::{Extension, Form, Path, State};
use axum::http::StatusCode;
use axum::response::Redirect;
use bloom_model::reading::Observed;
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;
use bloom_text::{capital, when};
use maud::{Markup, html};
use serde::Deserialize;
use tokio::sync::oneshot;

use super::frame::instant;
use super::guard::Visitor;
use super::receipts::{Became, Begun, Press};
use super::trouble::Trouble;
use super::{House, booking, signs};
use crate::keeper::{Booked, Booking};
use crate::store::Entry;

/// The answer waits so long for the record. Where it takes longer the page says so, and what came of it when that is known.
const RECORDED_WITHIN: Duration = Duration::from_secs(3);

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
    at: Option<String>,
    lot: Option<String>,
    by: Option<String>,
}

/// `POST /acknowledge`
pub(super) async fn acknowledge(
    State(house): State<Arc<House>>,
    Extension(Visitor(by)): Extension<Visitor>,
    Form(Acknowledgement { id, from }): Form<Acknowledgement>,
) -> Result<Redirect, Trouble> {
    let facts = house.present()?;
    let Some(alarm) = facts.alarms.iter().find(|alarm| alarm.id == id) else {
        return Err(Trouble::new(
            StatusCode::CONFLICT,
            "This alarm stands no more: there is nothing to acknowledge.",
        ));
    };
    let of = alarm.bench.as_ref().map_or(String::new(), |bench| format!(" of {bench}"));
    // back to the page that the form came from, if it is one of ours
    let bench = from.strip_prefix("/bench/").filter(|bench| house.knows(bench)).map(str::to_owned);
    let press = Press {
        what: format!("the acknowledgement of {}{of}", alarm.event.replace('-', " ")),
        withdrawn: false,
        time: house.clock.now(),
        bench,
    };
    let at = press.address();
    let (token, done) =
        put(&house, format!("acknowledge {id}"), press, Entry::Acknowledge { ids: Some(vec![id]), by })
            .await?;
    // the alarm itself says that somebody took note
    Ok(Redirect::to(&if done { at } else { format!("{at}?receipt={token}") }))
}

/// `POST /bench/{bench}/sign`
pub(super) async fn sign(
    State(house): State<Arc<House>>,
    Extension(Visitor(by)): Extension<Visitor>,
    Path(bench): Path<String>,
    Form(SignPressed { sign, booked_ms, at, lot, by: named }): Form<SignPressed>,
) -> Result<Redirect, Trouble> {
    if !house.knows(&bench) {
        return Err(Trouble::no_bench(&bench));
    }
    let plain: PlainSign = sign.parse().map_err(|_| {
        Trouble::new(StatusCode::BAD_REQUEST, format!("{sign:?} is no sign that a button records."))
    })?;
    let now = house.clock.now();
    let beside = (at.as_deref(), lot.as_deref(), named.as_deref());
    let beside = booking::read(beside, plain, now, house.config.site.timezone)
        .map_err(|why| Trouble::new(StatusCode::BAD_REQUEST, format!("NOT recorded: {why}.")))?;
    let (observed, time) = match booked_ms {
        Some(ms) => (Sign::Withdrawn(plain), Time::from_unix_ms(ms)),
        None => (Sign::Plain(plain), beside.time),
    };
    let press = Press {
        bench: Some(bench.clone()),
        what: signs::words(plain).to_owned(),
        withdrawn: booked_ms.is_some(),
        time: if booked_ms.is_some() { now } else { time },
    };
    let address = press.address();
    let key = format!("{bench} {observed} {booked_ms:?} {at:?} {lot:?} {named:?}");
    let by = beside.by.or(by);
    let entry = Entry::Observed { bench, time, observed: Observed::Sign(observed), note: beside.note, by };
    let (token, _) = put(&house, key, press, entry).await?;
    Ok(Redirect::to(&format!("{address}?receipt={token}")))
}

impl Press {
    /// The page that tells what became of it.
    fn address(&self) -> String {
        self.bench.as_ref().map_or_else(|| "/".to_owned(), |bench| format!("/bench/{bench}"))
    }
}

/// Hands an entry to the keeper, and waits a little until it is in the record. Gives the press's token, and whether it is.
///
/// # Errors
/// It will not be in the record: why, and what to do.
async fn put(house: &Arc<House>, key: String, press: Press, entry: Entry) -> Result<(String, bool), Trouble> {
    let token = match house.receipts.begin(key, press, Instant::now()).map_err(|why| not_recorded(&why))? {
        Begun::New(token) => {
            // a task of its own: what came of it is noted even where nobody waits for it any more
            tokio::spawn(book(Arc::clone(house), token.clone(), entry));
            token
        }
        Begun::Same(token) => token,
        Begun::TooMany => {
            return Err(not_recorded("too many others wait for the record, which does not answer"));
        }
    };
    match tokio::time::timeout(RECORDED_WITHIN, house.receipts.answered(&token)).await {
        Ok(Became::Answered(Booked::Dropped(why)) | Became::NotHeard(why)) => Err(not_recorded(&why)),
        Ok(Became::Answered(booked)) => Ok((token, matches!(booked, Booked::Recorded(_)))),
        // the page says so, and what comes of it
        Ok(Became::Waits) | Err(_) => Ok((token, false)),
    }
}

/// Hands an entry to the keeper, and notes what it answers.
async fn book(house: Arc<House>, token: String, entry: Entry) {
    let (answer, booked) = oneshot::channel();
    let became = match house.bookings.send(Booking { entry, answer }).await {
        Ok(()) => booked.await.ok().map(Became::Answered),
        Err(_) => None,
    };
    let ended = || Became::NotHeard("the service ended before it was in the record".to_owned());
    house.receipts.settle(&token, became.unwrap_or_else(ended));
}

/// Said by whoever wanted something recorded that is not.
fn not_recorded(why: &str) -> Trouble {
    Trouble::new(StatusCode::SERVICE_UNAVAILABLE, words_of_not_recorded(why))
}

fn words_of_not_recorded(why: &str) -> String {
    let why = why.trim_end_matches('.');
    format!(
        "NOT recorded: {why}. Go back and press again; if it stays so, write it down with the time, and record it later with `anthesisd sign`, \
         which takes a time."
    )
}

/// What became of the press of that token, if it is told on this page.
pub(super) fn told(house: &House, token: Option<&str>, bench: Option<&str>) -> Markup {
    let receipt = token.and_then(|token| house.receipts.of(token, bench, Instant::now()));
    let zone = house.config.site.timezone;
    html! {
        section #receipt data-live {
            @if let Some((press, became)) = receipt {
                @let when = instant(press.time, &when::clock_to_the_second(press.time, zone));
                @let where_ = bench.map_or(String::new(), |bench| format!(", {bench}"));
                @let action = if press.withdrawn { "Withdrawn" } else { "Recorded" };
                @match became {
                    Became::Answered(Booked::Recorded(number)) => p.done role="status" {
                        "✓ " (action) ": " (press.what) (where_) ", " (when)
                        @if let Some(number) = number { ", entry " (number) }
                        "."
                    },
                    Became::Waits => p.undone role="status" {
                        "NOT recorded yet: " (press.what) (where_) ", " (when) ". The record does not answer. This line says when it has; stay here, or write it down."
                    },
                    Became::Answered(Booked::ChangedNothing(why)) => p.undone role="status" {
                        "The watch did not take it: " (press.what) (where_) ", " (when) ". " (capital(&why)) "."
                    },
                    Became::Answered(Booked::Dropped(why)) | Became::NotHeard(why) => p.undone role="alert" {
                        (press.what) (where_) ", " (when) ": " (words_of_not_recorded(&why))
                    },
                }
            }
        }
    }
}
