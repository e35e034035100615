//! What people publish, read into requests that cannot be wrong.

use bloom_model::sign::Sign;
use bloom_model::time::Time;
use chrono::{NaiveTime, TimeDelta};
use serde::Deserialize;

use super::topics::{Asked, Topics};
use crate::words;

/// Longest id of an event that is read, in characters.
const MAX_ID: usize = 200;
/// The whole of an acknowledgement that names no alarm, in any case and with white space around it.
const OK: &[u8] = b"ok";
const RIGHT_ACKNOWLEDGEMENT: &str = r#"ok, {"id":"EVENT-ID","by":"NAME"}, or {"coming":"21:30","by":"NAME"}"#;
/// How far ahead of this machine's clock the clock of a phone may run, in minutes.
const MAX_AHEAD_MIN: i64 = 10;

/// What a person asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Request {
    /// Took note of an alarm: its repeats stop.
    Acknowledge {
        /// The bench in the topic; the alarm must be its own. `None` where the topic is the site's.
        bench: Option<String>,
        /// The event's id.
        id: String,
        /// Who, as they gave it.
        by: Option<String>,
    },
    /// Took note of what they had read of the alarms of a place, and did not say who.
    AcknowledgeRead {
        /// The bench in the topic; it may be none of the configuration. `None` where the topic is the site's.
        bench: Option<String>,
    },
    /// Comes because of the alarms of a place.
    Coming {
        /// The bench in the topic; it may be none of the configuration. `None` where the topic is the site's.
        bench: Option<String>,
        /// By then, by the site's clocks.
        clock: NaiveTime,
        /// Who, as they gave it.
        by: Option<String>,
    },
    /// Saw or did something at a bench.
    Sign {
        /// The bench in the topic; it may be none of the configuration.
        bench: String,
        /// What.
        sign: Sign,
        /// When; `None` for now.
        time: Option<Time>,
        /// In their words.
        note: Option<String>,
        /// Who, as they gave it.
        by: Option<String>,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AcknowledgePayload {
    id: Option<String>,
    by: Option<String>,
    coming: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SignPayload {
    sign: String,
    time: Option<Time>,
    note: Option<String>,
    by: Option<String>,
}

/// Reads a message that the broker handed on at `now`.
///
/// # Errors
/// With a sentence for the log: what is wrong, and what would be right.
pub fn read(
    topics: &Topics,
    topic: &str,
    payload: &[u8],
    retained: bool,
    now: Time,
) -> Result<Request, String> {
    let asked = topics.asked(topic).ok_or("this topic asks for nothing that is known here")?;
    if retained {
        return Err("it is a retained message, which would come again at every connection: publish it without the retain \
                    flag, and clear it with an empty retained message"
            .to_owned());
    }
    match asked {
        Asked::Acknowledge { bench } => acknowledgement(bench.map(str::to_owned), payload),
        Asked::Sign { bench } => {
            let said: SignPayload =
                json(payload, r#"{"sign":"bract-dropped","time":"2027-05-30T08:10:00Z","note":"WORDS"}"#)?;
            let (note, by) = words::note_and_by(said.note.as_deref(), said.by.as_deref())?;
            Ok(Request::Sign {
                bench: bench.to_owned(),
                sign: said.sign.parse().map_err(|error| format!("{error}"))?,
                time: said.time.map(|time| plausible(time, now)).transpose()?,
                note,
                by,
            })
        }
    }
}

/// `ok`, an id, or the time by which somebody comes.
fn acknowledgement(bench: Option<String>, payload: &[u8]) -> Result<Request, String> {
    if payload.trim_ascii().eq_ignore_ascii_case(OK) {
        return Ok(Request::AcknowledgeRead { bench });
    }
    let said: AcknowledgePayload = json(payload, RIGHT_ACKNOWLEDGEMENT)?;
    let (_, by) = words::note_and_by(None, said.by.as_deref())?;
    match (said.id, said.coming) {
        (Some(id), None) => {
            let id = words::said("`id`", &id, MAX_ID)?.ok_or("`id` is empty: give the id of the event")?;
            Ok(Request::Acknowledge { bench, id, by })
        }
        (None, Some(coming)) => Ok(Request::Coming { bench, clock: words::clock(&coming)?, by }),
        (Some(_), Some(_)) => {
            Err("it has both `id` and `coming`: whoever comes says so of all alarms of the place".to_owned())
        }
        (None, None) => {
            Err(format!("it has neither `id` nor `coming`: it should read like {RIGHT_ACKNOWLEDGEMENT}"))
        }
    }
}

fn json<'a, T: Deserialize<'a>>(payload: &'a [u8], right: &str) -> Result<T, String> {
    serde_json::from_slice(payload).map_err(|error| format!("{error}: it should read like {right}"))
}

fn plausible(time: Time, now: Time) -> Result<Time, String> {
    if time > now + TimeDelta::minutes(MAX_AHEAD_MIN) {
        Err(format!("`time` {time} is yet to come, it is {now} here: give the time at which it was seen"))
    } else if time.unix_ms() < 0 {
        Err(format!("`time` {time} is before 1970: give the time at which it was seen"))
    } else {
        Ok(time)
    }
}

#[cfg(test)]
mod tests {
    use bloom_model::sign::PlainSign;

    use super::*;

    /// 2027-05-30T12:00:00Z.
    const NOW: Time = Time::from_unix_ms(1_811_678_400_000);

    fn hear(topic: &str, payload: &str) -> Result<Request, String> {
        let topics = Topics::new("anthesis", "saltmarsh");
        read(&topics, &format!("anthesis/saltmarsh/{topic}"), payload.as_bytes(), false, NOW)
    }

    #[test]
    fn the_documented_payloads_are_read() {
        assert_eq!(NOW.to_string(), "2027-05-30T12:00:00Z");
        assert_eq!(
            hear("east-3/acknowledge", r#"{"id":"east-3-2027a/opening-tonight/1","by":"Robin"}"#),
            Ok(Request::Acknowledge {
                bench: Some("east-3".to_owned()),
                id: "east-3-2027a/opening-tonight/1".to_owned(),
                by: Some("Robin".to_owned()),
            })
        );
        assert_eq!(
            hear("acknowledge", r#"{"id":"store-failing/1","by":" "}"#),
            Ok(Request::Acknowledge { bench: None, id: "store-failing/1".to_owned(), by: None })
        );
        assert_eq!(
            hear(
                "east-3/sign",
                r#"{"sign":"bract-dropped","time":"2027-05-30T08:10:00Z","note":"the second"}"#
            ),
            Ok(Request::Sign {
                bench: "east-3".to_owned(),
                sign: Sign::Plain(PlainSign::BractDropped),
                time: Some(NOW - TimeDelta::minutes(230)),
                note: Some("the second".to_owned()),
                by: None,
            })
        );
    }

    #[test]
    fn a_plain_ok_is_read_however_it_is_typed() {
        for payload in ["ok", "OK", "Ok", " ok \n", "\tok\r\n"] {
            let of_bench = Request::AcknowledgeRead { bench: Some("east-3".to_owned()) };
            assert_eq!(hear("east-3/acknowledge", payload), Ok(of_bench), "{payload:?}");
            assert_eq!(hear("acknowledge", payload), Ok(Request::AcknowledgeRead { bench: None }));
        }
    }

    #[test]
    fn who_comes_says_by_when() {
        let coming = |by: Option<&str>, clock: &str| {
            let (bench, by) = (Some("east-3".to_owned()), by.map(str::to_owned));
            Ok(Request::Coming { bench, clock: clock.parse().unwrap(), by })
        };
        let said = hear("east-3/acknowledge", r#"{"by":"Robin","coming":"21:30"}"#);
        assert_eq!(said, coming(Some("Robin"), "21:30:00"));
        assert_eq!(hear("east-3/acknowledge", r#"{"coming":" 9:05 "}"#), coming(None, "09:05:00"));
    }

    #[test]
    fn times_carry_their_offset() {
        let Ok(Request::Sign { time, .. }) =
            hear("east-3/sign", r#"{"sign":"scent","time":"2027-05-30T08:10:00-03:00","note":null}"#)
        else {
            panic!("refused");
        };
        assert_eq!(time.map(|time| time.to_string()).as_deref(), Some("2027-05-30T11:10:00Z"));
    }

    #[test]
    fn wrong_ones_are_refused_with_what_would_be_right() {
        let long = format!(r#"{{"id":"{}"}}"#, "x".repeat(MAX_ID + 1));
        for (topic, payload, said) in [
            ("acknowledge", "", "should read like"),
            ("acknowledge", "{}", "neither `id` nor `coming`"),
            ("acknowledge", r#"{"by":"Robin"}"#, "neither `id` nor `coming`"),
            ("acknowledge", r#"{"id":"a","coming":"21:30"}"#, "both `id` and `coming`"),
            ("acknowledge", r#"{"coming":"tea time"}"#, "no time of day: give it like 21:30"),
            ("acknowledge", r#"{"coming":"24:10"}"#, "no time of day"),
            ("acknowledge", "okay", "should read like ok, "),
            ("acknowledge", "o k", "should read like ok, "),
            ("acknowledge", "ok!", "should read like ok, "),
            ("acknowledge", r#"{"id":" "}"#, "`id` is empty"),
            ("acknowledge", r#"{"id":"a","who":"Robin"}"#, "unknown field `who`"),
            ("acknowledge", r#"{"id":"a","by":"Rob\u0007in"}"#, "control characters"),
            ("acknowledge", &long, "longer than 200"),
            ("east-3/sign", r#"{"sign":"bract"}"#, "is no sign: it is one of"),
            ("east-3/sign", r#"{"sign":"scent","time":"2027-05-30T12:10:01Z"}"#, "yet to come"),
            ("east-3/sign", r#"{"sign":"scent","time":"yesterday"}"#, "should read like"),
            ("east-3/sign", r#"{"sign":"scent","time":"1969-12-31T23:59:59Z"}"#, "before 1970"),
            ("east-3/reading", "[]", "asks for nothing"),
        ] {
            let refusal = hear(topic, payload).unwrap_err();
            assert!(refusal.contains(said), "{payload}: {refusal}");
        }
        let topics = Topics::new("anthesis", "saltmarsh");
        let retained = read(&topics, "anthesis/saltmarsh/acknowledge", br#"{"id":"a"}"#, true, NOW);
        assert!(retained.unwrap_err().contains("retain flag"));
    }

    proptest::proptest! {
        #[test]
        fn no_payload_is_too_strange(payload: Vec<u8>, sign: bool) {
            let topics = Topics::new("anthesis", "saltmarsh");
            let topic = if sign { "anthesis/saltmarsh/east-3/sign" } else { "anthesis/saltmarsh/acknowledge" };
            let _ = read(&topics, topic, &payload, false, NOW);
        }
    }
}
