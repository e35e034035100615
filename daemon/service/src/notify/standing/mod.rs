//! The alarms that stand: repeated until a person takes note of them or they end.

mod people;

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::sync::Arc;

use bloom_model::event::{Event, EventKind, Severity};
use bloom_model::time::Time;
use bloom_model::watch::{Repeats, StandingOutage};
use bloom_text::unanswered;
use serde_json::{Value, json};
use tracing::warn;

pub use self::people::{READ_IN, Seen, Unheard, WAITS_AT_MOST, Word};
use crate::store::Alarm;

/// Alarms that stand at once. At one more the oldest of them is ended: nobody reads a list of that length.
pub const MAX_STANDING: usize = 500;

/// A repeat to publish as an event.
#[derive(Debug, Clone, PartialEq)]
pub struct Repeat {
    /// The event's id.
    pub event_id: String,
    /// The bench; `None` for the site itself.
    pub bench: Option<Arc<str>>,
    /// The event's JSON with `repeat` counted up.
    pub payload: Value,
    /// Nobody has answered for so long that the alarm command is run now, though the broker may have taken it.
    pub unanswered: bool,
}

/// What an instant brings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Due {
    /// To be published.
    pub repeats: Vec<Repeat>,
    /// Rows to be written: those repeated, and those that ended.
    pub changed: Vec<Alarm>,
}

/// The alarms that stand now.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Standing {
    /// In the order in which they were raised.
    alarms: Vec<Alarm>,
    /// What those whose figures change say now. Not kept in the store: it follows from the benches' states.
    anew: BTreeMap<String, Value>,
}

impl Standing {
    /// Puts back what was kept; rows that have ended are passed over.
    pub fn restore(rows: impl IntoIterator<Item = Alarm>) -> Self {
        let mut alarms: Vec<_> = rows.into_iter().filter(|row| row.ended.is_none()).collect();
        alarms.sort_by_key(|row| row.raised);
        Self { alarms, anew: BTreeMap::new() }
    }

    /// All that stand, in the order in which they were raised.
    pub fn alarms(&self) -> &[Alarm] {
        &self.alarms
    }

    /// Takes in alarms that stand in a record that can be had again: those that are not known, and that a person took note of one.
    pub fn adopt(&mut self, rows: impl IntoIterator<Item = Alarm>) {
        for row in rows {
            match self.alarms.iter_mut().find(|known| known.event_id == row.event_id) {
                Some(known) if known.acknowledged.is_none() && row.acknowledged.is_some() => *known = row,
                Some(_) => {}
                None => self.alarms.push(row),
            }
        }
        self.alarms.sort_by_key(|row| row.raised);
    }

    /// Raises the event if it is an alarm, and ends those that it ends. Gives the rows to be written.
    ///
    /// An alarm that stands already, or would have ended before `now`, is not raised. `payload` is the event as it is published.
    ///
    /// # Errors
    /// When the payload is no JSON, which would be a fault of our own.
    pub fn raise(
        &mut self,
        event: &Event,
        payload: &str,
        now: Time,
    ) -> Result<Vec<Alarm>, serde_json::Error> {
        let mut changed: Vec<_> = event.ends.iter().filter_map(|id| self.end(id, now)).collect();
        let over = event.stands_until.is_some_and(|until| until <= now);
        if event.severity != Severity::Alarm || over || self.stands(&event.id) {
            return Ok(changed);
        }
        let mut row = Alarm {
            event_id: event.id.clone(),
            bench: event.bench.clone(),
            severity: event.severity,
            kind: event.kind.name().to_owned(),
            raised: event.time,
            stands_until: event.stands_until,
            delivered: None,
            acknowledged: None,
            acknowledged_by: None,
            coming: None,
            ended: None,
            repeats: 0,
            repeats_before: 0,
            next_repeat: Repeats::of(event.kind.name(), 0).next(now),
            payload: serde_json::from_str(payload)?,
        };
        self.join(&mut row, now);
        if self.alarms.len() >= MAX_STANDING {
            // an opening is the last to give way
            let opening = EventKind::OpeningTonight.name();
            let place = self.alarms.iter().position(|row| row.kind != opening).unwrap_or(0);
            let row = self.alarms.remove(place);
            self.anew.remove(&row.event_id);
            warn!("more than {MAX_STANDING} alarms stand: {} is no longer told", row.event_id);
            changed.push(ended(row, now));
        }
        changed.push(row.clone());
        self.alarms.push(row);
        Ok(changed)
    }

    /// Lets an alarm that stands say what holds now: whoever reads or hears it from here on has the figures of this moment. Says
    /// whether anything of it is new.
    pub fn say_anew(&mut self, id: &str, payload: Value) -> bool {
        let row = self.alarms.iter().find(|row| row.event_id == id);
        let is_news = row.is_some_and(|row| *self.said(row) != payload);
        if is_news {
            self.anew.insert(id.to_owned(), payload);
        }
        is_news
    }

    /// What an alarm that stands says now.
    pub fn said<'a>(&'a self, row: &'a Alarm) -> &'a Value {
        self.anew.get(&row.event_id).unwrap_or(&row.payload)
    }

    /// Ends an alarm; `None` if it does not stand.
    pub fn end(&mut self, id: &str, now: Time) -> Option<Alarm> {
        let place = self.alarms.iter().position(|row| row.event_id == id)?;
        self.anew.remove(id);
        Some(ended(self.alarms.remove(place), now))
    }

    /// What is due up to `now`: each alarm is repeated once at most, however long nobody asked.
    pub fn due(&mut self, now: Time) -> Due {
        let mut due = Due::default();
        let mut place = 0;
        while let Some(row) = self.alarms.get_mut(place) {
            if let Some(until) = row.stands_until.filter(|until| *until <= now) {
                let row = self.alarms.remove(place);
                self.anew.remove(&row.event_id);
                due.changed.push(ended(row, until));
                continue;
            }
            if is_due(row, now) {
                row.repeats += 1;
                if row.coming.is_some() || row.acknowledged.is_some() {
                    come_back(row);
                }
                let repeats = so_far(row);
                row.next_repeat = repeats.next(now);
                let (event_id, bench) = (row.event_id.clone(), row.bench.clone());
                let payload = counted(row, self.anew.get(&row.event_id));
                due.repeats.push(Repeat { event_id, bench, payload, unanswered: repeats.calls() });
                due.changed.push(row.clone());
            }
            place += 1;
        }
        due
    }

    /// The next instant at which something is due.
    pub fn next_due(&self) -> Option<Time> {
        self.alarms.iter().flat_map(|row| [row.next_repeat, row.stands_until]).flatten().min()
    }

    /// The outages of intakes that stand.
    pub fn outages(&self) -> Vec<StandingOutage> {
        let outages = self.alarms.iter().filter(|row| row.kind == EventKind::IntakeDown.name());
        let of = |row: &Alarm| StandingOutage {
            id: row.event_id.clone(),
            since: row.raised,
            // as its event gives it
            intake: row.payload.get("what").and_then(Value::as_str).unwrap_or_default().to_owned(),
        };
        outages.map(of).collect()
    }

    /// The instant that a standing alarm speaks of.
    pub fn raised(&self, id: &str) -> Option<Time> {
        self.alarms.iter().find(|row| row.event_id == id).map(|row| row.raised)
    }

    /// Whether the alarm of that id stands.
    pub fn stands(&self, id: &str) -> bool {
        self.alarms.iter().any(|row| row.event_id == id)
    }

    /// The standing alarms of a bench, or of the site itself, gravest first and then newest first: the retained list.
    pub fn list(&self, bench: Option<&str>) -> Value {
        let mut rows: Vec<_> = self.alarms.iter().filter(|row| row.bench.as_deref() == bench).collect();
        rows.sort_by_key(|row| gravest_first(row));
        rows.into_iter().map(|row| listed(row, self.anew.get(&row.event_id))).collect()
    }

    /// All that stand: those that nobody took note of first, among them the gravest first and then the newest.
    pub fn by_need(&self) -> Vec<&Alarm> {
        let mut rows: Vec<_> = self.alarms.iter().collect();
        rows.sort_by_key(|row| (row.acknowledged.is_some(), gravest_first(row)));
        rows
    }
}

fn ended(mut row: Alarm, at: Time) -> Alarm {
    row.ended = Some(at);
    row.next_repeat = None;
    row
}

fn gravest_first(row: &Alarm) -> (u8, Reverse<Time>) {
    (EventKind::rank_of(&row.kind), Reverse(row.raised))
}

/// The event with its repeats counted, and once it is unanswered with words that say so; untouched before the first repeat.
fn counted(row: &Alarm, anew: Option<&Value>) -> Value {
    let mut payload = anew.unwrap_or(&row.payload).clone();
    if row.repeats > 0
        && let Some(fields) = payload.as_object_mut()
    {
        fields.insert("repeat".to_owned(), json!(row.repeats));
        if let Some(minutes) = so_far(row).unanswered_min() {
            fields.insert("unanswered_min".to_owned(), json!(minutes));
            if let Some(Value::String(message)) = fields.get_mut("message") {
                message.insert_str(0, &unanswered(minutes));
            }
        }
    }
    payload
}

fn listed(row: &Alarm, anew: Option<&Value>) -> Value {
    let mut payload = counted(row, anew);
    let Some(fields) = payload.as_object_mut() else { return payload };
    if let Some(at) = row.acknowledged {
        fields.insert("acknowledged".to_owned(), json!({ "at": at, "by": row.acknowledged_by }));
        if let Some(at) = row.next_repeat {
            fields.insert("comes_back".to_owned(), json!(at));
        }
    }
    if let Some(coming) = &row.coming {
        fields.insert("coming".to_owned(), json!({ "until": coming.until, "by": coming.by }));
    }
    payload
}

/// Whether it is to be told again: also where that lies further ahead than it can, for then the clock was set back.
fn is_due(row: &Alarm, now: Time) -> bool {
    row.next_repeat.is_some_and(|at| match &row.coming {
        Some(_) => at <= now || at > now + WAITS_AT_MOST,
        None => Repeats::is_due(at, now),
    })
}

/// What waited for somebody, or was acknowledged without a name, stands again as if it were told for the first time.
fn come_back(row: &mut Alarm) {
    row.acknowledged = None;
    row.acknowledged_by = None;
    row.coming = None;
    row.repeats_before = row.repeats;
}

/// Its repeats since it was told first, or came back.
fn so_far(row: &Alarm) -> Repeats {
    Repeats::of(&row.kind, row.repeats.saturating_sub(row.repeats_before))
}

#[cfg(test)]
mod tests;
