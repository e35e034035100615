//! What leaves the house: events, repeats, lists of standing alarms, in [`states`] newest values, and in [`delivered`] what the broker has.

mod delivered;
mod states;

use std::sync::Arc;
use std::time::Duration;

use bloom_model::event::{Event, Severity};
use bloom_model::time::Time;
use bloom_model::watch::Input;
use bloom_text::{Payload, rehearsed};
use serde_json::Value;
use tokio::sync::watch;
use tracing::{error, info, warn};

use super::{Keeper, TOLD_WITHIN};
use crate::facts::HouseFacts;
use crate::notify::command::{Call, Caller};
use crate::notify::topics::Topics;
use crate::notify::{BrokerNews, Direct, StateMessage, Taken};
use crate::store::{Alarm, Batch, Importance, Message, StoredEvent};

/// How the keeper speaks to the publisher and to the alarm command.
pub struct Voice {
    topics: Topics,
    outgoing: Option<Outgoing>,
    caller: Option<Caller>,
    /// Alarms for the alarm command that are in the batch, and not yet committed: one entry an alarm.
    calls: Vec<Pending>,
    run: u64,
    since: Time,
    rehearsal: bool,
    /// What the house is like, for whoever shows it.
    facts: watch::Sender<Option<Arc<HouseFacts>>>,
}

/// The ends of the keeper's channels to the publisher.
pub struct Outgoing {
    /// Counted up whenever the outbox has changed.
    pub wake: watch::Sender<u64>,
    /// The retained states.
    pub states: watch::Sender<Arc<Vec<StateMessage>>>,
    /// What the store has yet to take.
    pub direct: Direct,
    /// Which messages of people are taken up.
    pub taken: Taken,
}

/// An alarm for the alarm command that the store has yet to take.
struct Pending {
    call: Call,
    /// Whether the alarm command's task has it already.
    offered: bool,
}

impl Voice {
    /// A voice under these topics; without `outgoing` there is no broker, without `caller` no alarm command, and without both
    /// events go to the log and the store only.
    pub fn new(
        topics: Topics,
        outgoing: Option<Outgoing>,
        caller: Option<Caller>,
        run: u64,
        since: Time,
        rehearsal: bool,
    ) -> Self {
        let facts = watch::Sender::new(None);
        Self { topics, outgoing, caller, calls: Vec::new(), run, since, rehearsal, facts }
    }

    /// What the house is like, kept up to date; `None` until the keeper has taken up its work.
    pub fn facts(&self) -> watch::Receiver<Option<Arc<HouseFacts>>> {
        self.facts.subscribe()
    }

    pub(super) const fn topics(&self) -> &Topics {
        &self.topics
    }

    /// Tells the alarm command's task what bears on it.
    pub(super) fn pass_on(&self, news: &BrokerNews) {
        let Some(caller) = &self.caller else { return };
        match news {
            BrokerNews::Connected { .. } => caller.broker_is_away(false),
            BrokerNews::Disconnected { .. } => caller.broker_is_away(true),
            BrokerNews::Delivered(row) => caller.delivered(*row),
            BrokerNews::ToldDirectly(message) => {
                if let Some(id) = &message.displaces {
                    caller.told_directly(id);
                }
            }
            BrokerNews::Listening => {}
        }
    }

    /// Offers what is about to be committed to those who tell it if the store does not take it within `hold`.
    pub(super) fn offer(&mut self, batch: &Batch, hold: Duration) {
        if let Some(outgoing) = &self.outgoing {
            outgoing.direct.offer(&batch.messages, hold);
        }
        let Some(caller) = &self.caller else { return };
        for pending in self.calls.iter_mut().filter(|pending| !pending.offered) {
            pending.offered = true;
            caller.call_uncommitted(pending.call.clone(), hold);
        }
        withdraw_those_over(caller, batch);
    }

    /// Hands over the alarms of a batch that is committed; `message_ids` are the rows of its messages.
    pub(super) fn hand_over(&mut self, committed: &Batch, message_ids: &[i64]) {
        if let Some(outgoing) = &self.outgoing {
            outgoing.direct.committed(&committed.messages, message_ids);
        }
        let Some(caller) = &self.caller else { return };
        for Pending { mut call, offered } in self.calls.drain(..) {
            let told_by = |message: &Message| message.displaces.as_ref() == Some(&call.event_id);
            let place = committed.messages.iter().rposition(told_by);
            call.row = place.and_then(|place| message_ids.get(place)).copied();
            if offered { caller.committed(call) } else { caller.call(call) }
        }
        withdraw_those_over(caller, committed);
    }

    /// Whether there is a broker to speak to.
    pub(super) const fn has_broker(&self) -> bool {
        self.outgoing.is_some()
    }

    /// These messages of people are kept, or refused for good.
    pub(super) fn taken(&self, numbers: &[u64]) {
        if let Some(outgoing) = &self.outgoing {
            outgoing.taken.say(numbers);
        }
    }

    pub(super) fn wake(&self) {
        if let Some(outgoing) = &self.outgoing {
            outgoing.wake.send_modify(|count| *count = count.wrapping_add(1));
        }
    }

    /// What leaves the house, as text: a rehearsal says so, in the field `rehearsal` and ahead of the message.
    fn payload(&self, mut value: Value) -> String {
        if self.rehearsal {
            mark_rehearsal(&mut value);
        }
        text_of(&value)
    }

    /// A sentence as it leaves the house.
    fn sentence(&self, message: &str) -> String {
        if self.rehearsal { rehearsed(message) } else { message.to_owned() }
    }

    /// An event as it leaves the house.
    fn said(&self, payload: &str, message: &str, severity: Severity) -> Result<Said, serde_json::Error> {
        let payload =
            if self.rehearsal { self.payload(serde_json::from_str(payload)?) } else { payload.to_owned() };
        Ok(Said { payload, sentence: self.sentence(message), severity })
    }

    /// A repeat of an alarm as it leaves the house.
    fn said_anew(&self, alarm: Value) -> Said {
        let message = alarm.get("message").and_then(Value::as_str).unwrap_or_default();
        let sentence = self.sentence(message);
        Said { payload: self.payload(alarm), sentence, severity: Severity::Alarm }
    }
}

/// Lets go of alarms that a person took note of, or that ended.
fn withdraw_those_over(caller: &Caller, batch: &Batch) {
    let over = |alarm: &&Alarm| alarm.acknowledged.is_some() || alarm.ended.is_some();
    for alarm in batch.alarms.iter().filter(over) {
        caller.withdraw(&alarm.event_id);
    }
}

/// An event, or a repeat of one, as it leaves the house.
struct Said {
    payload: String,
    sentence: String,
    severity: Severity,
}

/// JSON with `message` first, for a client may show no more than the beginning.
fn text_of(value: &Value) -> String {
    match value {
        Value::Object(fields) => {
            let (message, others): (Vec<_>, Vec<_>) = fields.iter().partition(|(name, _)| *name == "message");
            let field = |(name, value): (&String, &Value)| format!("{}:{value}", Value::from(name.as_str()));
            let fields: Vec<String> = message.into_iter().chain(others).map(field).collect();
            format!("{{{}}}", fields.join(","))
        }
        Value::Array(items) => format!("[{}]", items.iter().map(text_of).collect::<Vec<_>>().join(",")),
        other => other.to_string(),
    }
}

fn mark_rehearsal(value: &mut Value) {
    match value {
        Value::Object(fields) => {
            if let Some(Value::String(message)) = fields.get_mut("message") {
                *message = rehearsed(message);
            }
            fields.insert("rehearsal".to_owned(), Value::Bool(true));
        }
        Value::Array(items) => items.iter_mut().for_each(mark_rehearsal),
        _ => {}
    }
}

impl Keeper {
    /// Puts an event to the batch: the record, the outbox, the standing alarms. One that the record knows was told before.
    pub(super) fn raise(&mut self, event: &Event) {
        if self.store.knows_event(&event.id).unwrap_or(false) {
            return;
        }
        let now = self.now();
        let told = Payload::of(event, self.site.spec());
        let written = serde_json::to_string(&told).and_then(|payload| {
            let said = self.voice.said(&payload, &told.message, event.severity)?;
            Ok((payload, said))
        });
        let (payload, said) = match written {
            Ok(written) => written,
            Err(error) => return error!(id = event.id, "an event cannot be written as JSON: {error}"),
        };
        let message = told.message;
        self.batch.events.push(StoredEvent {
            id: event.id.clone(),
            bench: event.bench.clone(),
            time: event.time,
            kind: event.kind.name().to_owned(),
            severity: event.severity,
            payload: said.payload.clone(),
            after_fed: self.fed,
        });
        self.urgent = true;
        self.show_soon();
        self.watch(Input::Told(event));
        // a call whose hours are over when it comes, after an outage, is one to do what is past
        let over = event.stands_until.is_some_and(|until| until <= now);
        let too_late = over || now - event.time > TOLD_WITHIN;
        match (event.severity, too_late) {
            (_, true) => {
                info!(id = event.id, "kept and not told, for its time is past: {message}")
            }
            (Severity::Notice, _) => info!(id = event.id, "{message}"),
            (Severity::Warning | Severity::Alarm, _) => warn!(id = event.id, "{message}"),
        }
        if too_late {
            let ended = event.ends.iter().filter_map(|id| self.standing.end(id, now)).collect();
            self.tell_changed(ended);
            return;
        }
        let alarm = event.severity == Severity::Alarm;
        self.tell(event.bench.as_deref(), said, alarm.then(|| event.id.clone()), false);
        match self.standing.raise(event, &payload, now) {
            Ok(rows) => self.tell_changed(rows),
            Err(error) => error!(id = event.id, "an alarm cannot be written as JSON: {error}"),
        }
    }

    /// Repeats what stands unacknowledged, and ends what is over.
    pub(super) fn repeat_alarms(&mut self, now: Time) {
        self.say_openings_anew(now);
        let due = self.standing.due(now);
        // not only where a list is told: the alarm command waits for the commit, too
        self.urgent |= !due.repeats.is_empty();
        for repeat in due.repeats {
            let said = self.voice.said_anew(repeat.payload);
            self.tell(repeat.bench.as_deref(), said, Some(repeat.event_id), repeat.unanswered);
        }
        self.tell_changed(due.changed);
    }

    /// Puts a message to the outbox, if there is anybody to send it to: it would wait there for ever.
    fn send(&mut self, message: Message) {
        if self.voice.outgoing.is_some() {
            // as the outbox does it; while the store fails, the batch is the outbox
            let displaced =
                |other: &Message| other.displaces.is_some() && other.displaces == message.displaces;
            self.batch.messages.retain(|other| !displaced(other));
            self.batch.messages.push(message);
        }
    }

    /// Puts an event to the ways out: the outbox, and for an alarm, which is given by its id, the alarm command, for one that
    /// nobody answers at once.
    fn tell(&mut self, bench: Option<&str>, said: Said, alarm: Option<String>, unanswered: bool) {
        let Said { payload, sentence, severity } = said;
        if let (Some(event_id), Some(_)) = (&alarm, &self.voice.caller) {
            self.voice.calls.retain(|pending| pending.call.event_id != *event_id);
            let call = Call { event_id: event_id.clone(), payload: payload.clone(), row: None, unanswered };
            self.voice.calls.push(Pending { call, offered: false });
        }
        let importance = if alarm.is_some() { Importance::Alarm } else { Importance::Event };
        // before the event: messages leave in their order, so once the broker has the event it has its sentence, too
        self.send(Message {
            topic: self.voice.topics.say(severity),
            payload: sentence,
            retain: false,
            importance,
            displaces: alarm.as_ref().map(|id| format!("say {id}")),
        });
        self.send(Message {
            topic: self.voice.topics.event(bench),
            payload,
            retain: false,
            importance,
            displaces: alarm,
        });
    }

    /// Writes changed alarms down and tells the lists that they are on.
    pub(super) fn tell_changed(&mut self, rows: Vec<Alarm>) {
        let mut benches: Vec<Option<Arc<str>>> = rows.iter().map(|row| row.bench.clone()).collect();
        benches.sort();
        benches.dedup();
        if !rows.is_empty() {
            self.show_soon();
        }
        for row in rows {
            self.write_down(row);
        }
        for bench in benches {
            self.tell_list(bench.as_deref());
        }
    }

    /// Puts an alarm to the batch as it is now.
    fn write_down(&mut self, row: Alarm) {
        self.batch.alarms.retain(|alarm| alarm.event_id != row.event_id);
        self.batch.alarms.push(row);
    }

    /// Tells every list anew, as at every connection: the broker may have been set up anew, or hold what was true in a life
    /// before.
    pub(super) fn tell_lists(&mut self) {
        let benches: Vec<_> = self.site.benches().map(|bench| Arc::clone(&bench.spec().id)).collect();
        for bench in benches {
            self.tell_list(Some(&bench));
        }
        self.tell_list(None);
    }

    pub(super) fn tell_list(&mut self, bench: Option<&str>) {
        let topic = self.voice.topics.alarm(bench);
        self.send(Message {
            payload: self.voice.payload(self.standing.list(bench)),
            retain: true,
            importance: Importance::State,
            displaces: Some(topic.clone()),
            topic,
        });
        self.urgent = true;
    }
}

#[cfg(test)]
pub(super) mod tests;
