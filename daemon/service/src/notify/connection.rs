//! One connection to the broker, from its making to its end.

use std::pin::pin;

use rumqttc::{
    AsyncClient, ClientError, Event, EventLoop, Incoming, Outgoing as Sent, Publish, QoS, SubAck,
    SubscribeFilter, SubscribeReasonCode,
};
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::watch;
use tokio::time::Instant;
use tracing::{error, info, warn};

use super::direct::Held;
use super::mqtt::{self, MAX_OUTGOING};
use super::publisher::{BrokerNews, Outbox, Publisher, stopped};
use super::retained::Retained;
use crate::store::{Message, Outgoing};

/// The longest payload that is taken in, in bytes; a longer one is dropped.
const MAX_INCOMING_PAYLOAD: usize = 64 * 1024;

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
    },
}

/// What is under way: written, and not yet acknowledged where that is asked for.
#[derive(Debug)]
struct UnderWay {
    what: What,
    /// The packet's number, once it is written; 0 where no acknowledgement is asked for.
    packet: Option<u16>,
    since: Instant,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum What {
    Row(i64),
    Direct(Message),
    State,
    Goodbye,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Listening {
    NotAsked,
    Asked(Instant),
    Answered,
}

/// One connection.
pub(super) struct Connection<'a, O> {
    of: &'a mut Publisher<O>,
    client: AsyncClient,
    under_way: Option<UnderWay>,
    retained: Retained,
    listening: Listening,
    stopping: Option<Instant>,
    leaving: bool,
    offered: watch::Receiver<Held>,
}

impl<'a, O: Outbox> Connection<'a, O> {
    pub(super) fn new(of: &'a mut Publisher<O>, client: AsyncClient) -> Self {
        let offered = of.channels.direct.listen();
        Self {
            of,
            client,
            offered,
            under_way: None,
            retained: Retained::new(Instant::now()),
            listening: Listening::NotAsked,
            stopping: None,
            leaving: false,
        }
    }

    /// Serves the connection to its end.
    pub(super) async fn attend(mut self, mut eventloop: EventLoop) -> Ended {
        loop {
            match self.next_event(&mut eventloop).await {
                Ok(Event::Outgoing(Sent::Disconnect)) => return Ended::Done,
                Ok(event) => self.take(event).await,
                Err(ended) => return ended,
            }
        }
    }

    /// Drives the connection until something happened on it, handing over what is due meanwhile.
    async fn next_event(&mut self, eventloop: &mut EventLoop) -> Result<Event, Ended> {
        // One poll is driven to its end: dropped half-way it would lose a packet that is taken over and not written.
        let mut polling = pin!(eventloop.poll());
        loop {
            self.tend()?;
            let wake = self.wake_at();
            self.of.channels.stage.moves_after(wake.saturating_duration_since(Instant::now()));
            let running = self.stopping.is_none();
            let channels = &mut self.of.channels;
            let go_on = tokio::select! {
                polled = &mut polling => return polled.map_err(|error| {
                    if mqtt::too_large(&error) {
                        self.of.deaf_until = Some(Instant::now() + self.of.pace.deaf);
                    }
                    self.lost(mqtt::words(&error, &self.of.spec))
                }),
                changed = channels.rows.changed(), if running => changed.is_ok(),
                changed = channels.states.changed(), if running => changed.is_ok(),
                changed = self.offered.changed(), if running => changed.is_ok(),
                () = channels.news.closed(), if running => false,
                () = stopped(&mut channels.stop), if running => false,
                () = tokio::time::sleep_until(wake) => true,
            };
            if !go_on {
                self.stopping = Some(Instant::now());
            }
        }
    }

    /// Hands over what is due, and gives up what takes too long.
    fn tend(&mut self) -> Result<(), Ended> {
        let now = Instant::now();
        if let Some(since) = self.stopping {
            if self.of.connected.is_none() {
                return Err(Ended::Done);
            }
            if now >= since + self.of.pace.drain + self.of.pace.goodbye {
                warn!("the broker did not acknowledge the goodbye in time; its last will says the same");
                return Err(Ended::Done);
            }
        }
        if self.unanswered_since().is_some_and(|since| now >= since + self.of.pace.acknowledged) {
            let waited = self.of.pace.acknowledged.as_secs();
            let (host, port) = (&self.of.spec.host, self.of.spec.port);
            return Err(self.lost(format!(
                "the broker at {host}:{port} acknowledged nothing for {waited} s, so the connection was given up: is \
                 the broker overloaded, is its disk full?"
            )));
        }
        if self.of.connected.is_some() && !self.leaving {
            self.listen(now);
            if self.under_way.is_none() {
                self.hand_over(now)
                    .map_err(|error| self.lost(format!("a message was not taken over: {error}")))?;
            }
        }
        Ok(())
    }

    fn hand_over(&mut self, now: Instant) -> Result<(), ClientError> {
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
        let states = self.of.channels.states.borrow_and_update().clone();
        self.retained.look(&states, now, &self.of.pace);
        if let Some(state) = self.retained.take(true) {
            self.publish(What::State, state.topic, state.payload, QoS::AtLeastOnce, true)
        } else if let Some(row) = self.next_row() {
            self.publish(What::Row(row.id), row.topic, row.payload, QoS::AtLeastOnce, row.retain)
        } else if let Some(state) = self.retained.take(false) {
            self.publish(What::State, state.topic, state.payload, QoS::AtMostOnce, true)
        } else {
            Ok(())
        }
    }

    fn publish(
        &mut self,
        what: What,
        topic: String,
        payload: String,
        qos: QoS,
        retain: bool,
    ) -> Result<(), ClientError> {
        self.client.try_publish(topic, qos, retain, payload)?;
        self.under_way = Some(UnderWay { what, packet: None, since: Instant::now() });
        Ok(())
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

    /// Subscribes, once a connection, unless too large a packet has lately come that way.
    fn listen(&mut self, now: Instant) {
        let deaf = self.of.deaf_until.is_some_and(|until| now < until);
        if self.listening != Listening::NotAsked || deaf || self.of.spec.subscriptions.is_empty() {
            return;
        }
        let filters = self.of.spec.subscriptions.iter();
        let filters = filters.map(|topic| SubscribeFilter::new(topic.clone(), QoS::AtLeastOnce));
        self.listening = match self.client.try_subscribe_many(filters) {
            Ok(()) => Listening::Asked(now),
            Err(error) => {
                error!("acknowledgements and signs cannot be asked for: {error}");
                Listening::Answered
            }
        };
    }

    async fn take(&mut self, event: Event) {
        match event {
            Event::Incoming(Incoming::ConnAck(_)) => {
                let now = Instant::now();
                self.of.connected = Some(now);
                let (host, port) = (&self.of.spec.host, self.of.spec.port);
                let text = format!("connected to the broker at {host}:{port}");
                if self.of.told.connection.is_news(&text, now, self.of.pace.between_lines) {
                    info!("{text}");
                }
                self.of.tell(BrokerNews::Connected).await;
            }
            Event::Incoming(Incoming::Publish(message)) => self.hear(message),
            Event::Incoming(Incoming::SubAck(answer)) => self.take_answer(&answer),
            Event::Incoming(Incoming::PubAck(acknowledged)) => {
                let ours = |under_way: &mut UnderWay| under_way.packet == Some(acknowledged.pkid);
                if let Some(done) = self.under_way.take_if(ours) {
                    self.settle(done.what).await;
                }
            }
            Event::Outgoing(Sent::Publish(0)) => self.under_way = None,
            Event::Outgoing(Sent::Publish(packet)) => {
                if let Some(under_way) = &mut self.under_way {
                    under_way.packet = Some(packet);
                }
            }
            _ => {}
        }
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
            What::Goodbye => {
                // a connection left in order sends no last will, so the goodbye had to come first
                self.leaving = self.client.try_disconnect().is_ok();
            }
        }
    }

    fn hear(&mut self, message: Publish) {
        let (topic, bytes) = (message.topic, message.payload.len());
        let refused = if bytes > MAX_INCOMING_PAYLOAD {
            "it is longer than 64 KiB"
        } else {
            let news = BrokerNews::Message {
                topic: topic.clone(),
                payload: message.payload.to_vec(),
                retained: message.retain,
            };
            match self.of.channels.news.try_send(news) {
                Ok(()) | Err(TrySendError::Closed(_)) => return,
                Err(TrySendError::Full(_)) => "too many have come at once; publish it again later",
            }
        };
        if self.of.told.incoming.is_news(refused, Instant::now(), self.of.pace.between_lines) {
            warn!(topic, bytes, "a message from the broker is dropped: {refused}");
        }
    }

    fn take_answer(&mut self, answer: &SubAck) {
        self.listening = Listening::Answered;
        for (topic, code) in self.of.spec.subscriptions.iter().zip(&answer.return_codes) {
            if *code == SubscribeReasonCode::Failure
                && self.of.told.incoming.is_news(topic, Instant::now(), self.of.pace.between_lines)
            {
                warn!(
                    "the broker does not let us listen to {topic}: acknowledgements or signs sent there are not heard; \
                     allow it in the broker's access rules"
                );
            }
        }
    }

    fn unanswered_since(&self) -> Option<Instant> {
        let asked = match self.listening {
            Listening::Asked(since) => Some(since),
            Listening::NotAsked | Listening::Answered => None,
        };
        [asked, self.under_way.as_ref().map(|under_way| under_way.since)].into_iter().flatten().min()
    }

    /// The next instant at which [`Self::tend`] may have something to do.
    fn wake_at(&self) -> Instant {
        let (now, pace) = (Instant::now(), &self.of.pace);
        let moments = [
            self.unanswered_since().map(|since| since + pace.acknowledged),
            self.stopping.map(|since| since + pace.drain + pace.goodbye),
            Some(self.retained.next_round()).filter(|at| *at > now),
            self.of.deaf_until.filter(|at| *at > now),
            self.of.channels.direct.next_due().filter(|at| *at > now),
        ];
        moments.into_iter().flatten().fold(now + pace.look, Instant::min)
    }

    fn lost(&self, why: String) -> Ended {
        let row = match &self.under_way {
            Some(UnderWay { what: What::Row(id), .. }) => Some(*id),
            _ => None,
        };
        Ended::Lost { why, row }
    }
}

fn can_be_sent(topic: &str, payload: &str) -> bool {
    rumqttc::valid_topic(topic) && payload.len() <= MAX_OUTGOING
}
