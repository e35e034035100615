//! One connection to the broker, from its making to its end.

mod hearing;

use std::collections::VecDeque;

use rumqttc::{Packet, QoS, StateError};
use tokio::sync::watch;
use tokio::time::Instant;
use tracing::{error, warn};

use super::direct::Held;
use super::inbox::Heard;
use super::mqtt::{self, MAX_OUTGOING};
use super::publisher::{BrokerNews, Outbox, Publisher, stopped};
use super::retained::Retained;
use super::wire::Wire;
use crate::store::{Message, Outgoing};
use hearing::{Kept, Listening, Unanswered};

/// How a connection ended.
#[derive(Debug)]
pub(super) enum Ended {
    /// In order: the publisher's work is done.
    Done,
    /// It broke, or never came about.
    Lost {
        /// What happened, where, and what to do.
        why: String,
        /// The row that was under way.
        row: Option<i64>,
        /// Whether the mark was under way.
        over_mark: bool,
        /// When the broker was last heard.
        last_heard: Instant,
    },
}

/// What is under way: handed over, and not yet acknowledged.
#[derive(Debug)]
struct UnderWay {
    what: What,
    /// The packet's number.
    packet: u16,
    since: Instant,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum What {
    Row(i64),
    Direct(Message),
    State,
    Mark,
    Goodbye,
}

/// One connection.
pub(super) struct Connection<'a, O> {
    of: &'a mut Publisher<O>,
    wire: Wire,
    under_way: Option<UnderWay>,
    retained: Retained,
    listening: Listening,
    kept: Kept,
    /// In the order in which they came, for in that order they are acknowledged (MQTT 3.1.1, section 4.6).
    unanswered: VecDeque<Unanswered>,
    /// What the keeper has yet to hear.
    held: VecDeque<Heard>,
    /// Whether the keeper knows that it hears what is published now.
    told_listening: bool,
    stopping: Option<Instant>,
    leaving: bool,
    offered: watch::Receiver<Held>,
    taken: watch::Receiver<Vec<u64>>,
}

impl<'a, O: Outbox> Connection<'a, O> {
    /// `resumed` says whether the broker still knew us.
    pub(super) fn new(of: &'a mut Publisher<O>, wire: Wire, resumed: bool) -> Self {
        let (offered, taken) = (of.channels.direct.listen(), of.channels.inbox.taken.listen());
        // what was taken up of an earlier connection is answered no more: the broker hands it over again
        of.channels.inbox.taken.gather();
        Self {
            of,
            wire,
            offered,
            taken,
            under_way: None,
            retained: Retained::new(Instant::now()),
            listening: Listening::NotAsked,
            kept: if resumed { Kept::ToMark } else { Kept::HandedOver },
            unanswered: VecDeque::new(),
            held: VecDeque::new(),
            told_listening: false,
            stopping: None,
            leaving: false,
        }
    }

    /// Serves the connection to its end.
    pub(super) async fn attend(mut self) -> Ended {
        loop {
            let taken = match self.next_packet().await {
                Ok(packet) => self.take(packet).await,
                Err(ended) => return ended,
            };
            if let Err(error) = taken {
                return self.lost(format!("an answer could not be written: {error}"));
            }
            if self.leaving {
                self.wire.leave().await;
                return Ended::Done;
            }
        }
    }

    /// Drives the connection until a packet has come, handing over what is due meanwhile.
    async fn next_packet(&mut self) -> Result<Packet, Ended> {
        loop {
            self.tend()?;
            let all_is_passed_on = self.listening == Listening::Answered && self.held.is_empty();
            if !self.told_listening && all_is_passed_on && !self.is_kept(Instant::now()) {
                self.told_listening = true;
                self.of.tell(BrokerNews::Listening).await;
            }
            let wake = self.wake_at();
            self.of.channels.stage.moves_after(wake.saturating_duration_since(Instant::now()));
            let running = self.stopping.is_none();
            let held = !self.held.is_empty();
            let channels = &mut self.of.channels;
            let (packet, go_on) = tokio::select! {
                packet = self.wire.next() => (Some(packet), true),
                changed = channels.rows.changed(), if running => (None, changed.is_ok()),
                changed = channels.states.changed(), if running => (None, changed.is_ok()),
                changed = self.offered.changed(), if running => (None, changed.is_ok()),
                changed = self.taken.changed(), if running => (None, changed.is_ok()),
                permit = channels.inbox.heard.reserve(), if running && held => {
                    if let (Ok(permit), Some(heard)) = (permit, self.held.pop_front()) {
                        permit.send(heard);
                    }
                    (None, true)
                }
                () = channels.news.closed(), if running => (None, false),
                () = stopped(&mut channels.stop), if running => (None, false),
                () = tokio::time::sleep_until(wake) => (None, true),
            };
            match packet {
                Some(Ok(packet)) => return Ok(packet),
                Some(Err(error)) => return Err(self.lost(mqtt::words(&error, &self.of.spec))),
                None => {}
            }
            if !go_on {
                self.stopping = Some(Instant::now());
            }
        }
    }

    /// Hands over what is due, and gives up what takes too long.
    fn tend(&mut self) -> Result<(), Ended> {
        let now = Instant::now();
        if self.stopping.is_some_and(|since| now >= since + self.of.pace.drain + self.of.pace.goodbye) {
            warn!("the broker did not acknowledge the goodbye in time; its last will says the same");
            return Err(Ended::Done);
        }
        self.of.told.look(now);
        self.answer().map_err(|error| self.lost(format!("an answer could not be written: {error}")))?;
        if self.unanswered_since().is_some_and(|since| now >= since + self.of.pace.acknowledged) {
            let waited = self.of.pace.acknowledged.as_secs();
            let (host, port) = (&self.of.spec.host, self.of.spec.port);
            return Err(self.lost(format!(
                "the broker at {host}:{port} acknowledged nothing for {waited} s, so the connection was given up: is \
                 the broker overloaded, is its disk full?"
            )));
        }
        if self.leaving {
            return Ok(());
        }
        let handed = self.listen(now).and_then(|()| {
            while self.under_way.is_none() && self.hand_over(now)? {}
            Ok(())
        });
        handed.map_err(|error| self.lost(format!("a message was not taken over: {error}")))
    }

    /// Hands over one message; says whether there was any.
    fn hand_over(&mut self, now: Instant) -> Result<bool, StateError> {
        let draining = self.stopping.is_some_and(|since| now < since + self.of.pace.drain);
        if let Some(message) = self.next_direct(now, draining) {
            let (topic, payload, retain) = (message.topic.clone(), message.payload.clone(), message.retain);
            return self.publish(What::Direct(message), topic, payload, QoS::AtLeastOnce, retain);
        }
        if self.stopping.is_some() {
            let waiting = if draining { self.next_row() } else { None };
            return match waiting {
                Some(row) => {
                    self.publish(What::Row(row.id), row.topic, row.payload, QoS::AtLeastOnce, row.retain)
                }
                None => {
                    let (topic, down) = (self.of.spec.will_topic.clone(), self.of.spec.down_payload.clone());
                    self.publish(What::Goodbye, topic, down, QoS::AtLeastOnce, true)
                }
            };
        }
        if self.kept == Kept::ToMark && self.listening == Listening::Answered {
            return self.mark(now);
        }
        let states = self.of.channels.states.borrow_and_update().clone();
        self.retained.look(&states, now, &self.of.pace);
        if let Some(state) = self.retained.take(true) {
            self.publish(What::State, state.topic, state.payload, QoS::AtLeastOnce, true)
        } else if let Some(row) = self.next_row() {
            self.publish(What::Row(row.id), row.topic, row.payload, QoS::AtLeastOnce, row.retain)
        } else if let Some(state) = self.retained.take(false) {
            self.publish(What::State, state.topic, state.payload, QoS::AtMostOnce, true)
        } else {
            Ok(false)
        }
    }

    fn publish(
        &mut self,
        what: What,
        topic: String,
        payload: String,
        qos: QoS,
        retain: bool,
    ) -> Result<bool, StateError> {
        let packet = self.wire.publish(topic, payload, qos, retain)?;
        self.under_way = (packet != 0).then(|| UnderWay { what, packet, since: Instant::now() });
        Ok(true)
    }

    /// What the store has not taken in time; on an orderly stop all that it has not taken.
    fn next_direct(&self, now: Instant, all: bool) -> Option<Message> {
        while let Some(message) = self.of.channels.direct.due(now, all) {
            if can_be_sent(&message.topic, &message.payload) {
                return Some(message);
            }
            self.of.channels.direct.done(&message);
        }
        None
    }

    /// The oldest row that can be sent. One that never can is passed over, and stays in the store.
    fn next_row(&mut self) -> Option<Outgoing> {
        loop {
            let row = match self.of.outbox.oldest_after(self.of.delivered) {
                Ok(row) => row?,
                Err(why) => {
                    if self.of.told.outbox.is_news(&why, Instant::now(), self.of.pace.between_lines) {
                        error!(
                            "what waits to be published cannot be read, and only the newest of this run goes out, from memory: \
                             {why}; look at the disk, and put back a backup"
                        );
                    }
                    self.of.channels.direct.oldest_after(self.of.delivered)?
                }
            };
            if can_be_sent(&row.topic, &row.payload) {
                return Some(row);
            }
            error!(
                row = row.id,
                topic = row.topic,
                bytes = row.payload.len(),
                "this message can never be published, for its topic is none or it is longer than 1 MiB; it is passed over"
            );
            self.of.delivered = row.id;
        }
    }

    async fn take(&mut self, packet: Packet) -> Result<(), StateError> {
        match packet {
            Packet::Publish(message) => return self.hear(message),
            Packet::SubAck(answer) => self.take_answer(&answer),
            Packet::PubAck(acknowledged) => {
                let ours = |under_way: &mut UnderWay| under_way.packet == acknowledged.pkid;
                if let Some(done) = self.under_way.take_if(ours) {
                    self.settle(done.what).await;
                }
            }
            _ => {}
        }
        Ok(())
    }

    async fn settle(&mut self, what: What) {
        match what {
            What::Row(id) => {
                self.of.delivered = id;
                self.of.channels.direct.delivered(id);
                self.of.tell(BrokerNews::Delivered(id)).await;
            }
            What::Direct(message) => {
                self.of.channels.direct.done(&message);
                self.of.tell(BrokerNews::ToldDirectly(message)).await;
            }
            What::State => {}
            What::Mark => self.of.cuts_over_mark = 0,
            // a connection left in order sends no last will, so the goodbye had to come first
            What::Goodbye => self.leaving = true,
        }
    }

    /// The next instant at which [`Self::tend`] may have something to do.
    fn wake_at(&self) -> Instant {
        let (now, pace) = (Instant::now(), &self.of.pace);
        let moments = [
            self.unanswered_since().map(|since| since + pace.acknowledged),
            self.stopping.map(|since| since + pace.drain + pace.goodbye),
            Some(self.retained.next_round()).filter(|at| *at > now),
            self.of.told.next_look().filter(|at| *at > now),
            self.of.channels.direct.next_due().filter(|at| *at > now),
        ];
        moments.into_iter().flatten().fold(now + pace.look, Instant::min)
    }

    fn lost(&self, why: String) -> Ended {
        let what = self.under_way.as_ref().map(|under_way| &under_way.what);
        let row = if let Some(What::Row(id)) = what { Some(*id) } else { None };
        Ended::Lost { why, row, over_mark: what == Some(&What::Mark), last_heard: self.wire.last_read() }
    }
}

fn can_be_sent(topic: &str, payload: &str) -> bool {
    rumqttc::valid_topic(topic) && payload.len() <= MAX_OUTGOING
}
