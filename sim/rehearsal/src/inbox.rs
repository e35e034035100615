//! What came to the phone: messages of the rehearsal's site, and events as they are read there.

use bloom_model::time::Time;
use serde_json::Value;

use super::phone::Heard;

/// The zone of the rehearsal's house.
const ZONE: chrono_tz::Tz = chrono_tz::America::Halifax;
/// Topics of messages without their mark that are named; more say nothing new.
const UNMARKED_NAMED: usize = 5;
/// How a bare sentence of a rehearsal begins.
const SAID_MARK: &[u8] = b"REHEARSAL: ";

/// The messages of one site.
#[derive(Debug)]
pub(super) struct Inbox {
    /// `PREFIX/SITE/`.
    base: String,
    messages: u64,
    unmarked: Vec<String>,
}

impl Inbox {
    /// An empty one, for topics that begin with `base`.
    pub(super) const fn new(base: String) -> Self {
        Self { base, messages: 0, unmarked: Vec::new() }
    }

    /// A topic of the site.
    pub(super) fn topic(&self, place: &str) -> String {
        format!("{}{place}", self.base)
    }

    /// Messages of the service so far.
    pub(super) const fn messages(&self) -> u64 {
        self.messages
    }

    /// A message of the service: the end of its topic, and what it says. `None` for a bare sentence, for what people publish, and for
    /// others' sites.
    pub(super) fn open<'a>(&mut self, heard: &'a Heard) -> Option<(&'a str, Value)> {
        let place = heard.topic.strip_prefix(&self.base)?;
        if place.ends_with("acknowledge") || place.ends_with("sign") {
            return None;
        }
        self.messages += 1;
        if place.starts_with("say/") {
            self.check_mark(heard, heard.payload.starts_with(SAID_MARK));
            return None;
        }
        let payload: Value = serde_json::from_slice(&heard.payload).unwrap_or(Value::Null);
        self.check_mark(heard, is_marked(&payload));
        Some((place, payload))
    }

    fn check_mark(&mut self, heard: &Heard, is_marked: bool) {
        if !is_marked && self.unmarked.len() < UNMARKED_NAMED {
            self.unmarked.push(heard.topic.clone());
        }
    }

    /// What is wrong with the messages so far, if anything is.
    pub(super) fn fault(&self) -> Option<String> {
        let some = !self.unmarked.is_empty();
        some.then(|| format!("not marked as a rehearsal: {}", self.unmarked.join(", ")))
    }
}

/// Whether each object says that it is a rehearsal; a list of none has nothing to say.
fn is_marked(payload: &Value) -> bool {
    match payload {
        Value::Array(items) => items.iter().all(is_marked),
        other => other["rehearsal"] == true,
    }
}

/// An event, or a repeat of one.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Said {
    /// Its id; a repeat has that of the event.
    pub(super) id: String,
    /// Its name.
    pub(super) kind: String,
    /// The bench; empty where it is of the site.
    pub(super) bench: String,
    /// `alarm`, `warning` or `notice`.
    pub(super) severity: String,
    /// Its sentence.
    pub(super) message: String,
    /// Its instant.
    pub(super) time: Time,
    /// So often has it been repeated.
    pub(super) repeat: u64,
}

impl Said {
    /// Reads an event; `None` if it has no time.
    pub(super) fn read(event: &Value) -> Option<Self> {
        let text = |key: &str| event[key].as_str().unwrap_or_default().to_owned();
        Some(Self {
            id: text("id"),
            kind: text("event"),
            bench: text("bench"),
            severity: text("severity"),
            message: text("message"),
            time: serde_json::from_value(event["time"].clone()).ok()?,
            repeat: event["repeat"].as_u64().unwrap_or(0),
        })
    }

    /// The line that is shown of it.
    pub(super) fn line(&self) -> String {
        let Self { severity, message, .. } = self;
        let loud = if severity == "notice" { severity.clone() } else { severity.to_uppercase() };
        format!("{}  {loud:<8} {message}", local(self.time))
    }

    /// The line that is shown of a repeat.
    pub(super) fn repeat_line(&self) -> String {
        format!("{}  ALARM    {}: repeat {}", local(self.time), self.kind, self.repeat)
    }
}

/// An instant by the clock of the rehearsal's house.
pub(super) fn local(time: Time) -> String {
    time.utc().with_timezone(&ZONE).format("%a %e %b %H:%M").to_string()
}

/// The date by the calendar of the rehearsal's house.
pub(super) fn local_date(time: Time) -> chrono::NaiveDate {
    time.local_date(ZONE)
}
