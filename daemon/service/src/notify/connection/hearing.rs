//! What people publish, on one connection: asked for, held until the keeper hears it, and acknowledged when it is taken up.

use std::time::Duration;

use rumqttc::{Publish, QoS, StateError, SubAck, SubscribeReasonCode};
use tokio::sync::mpsc::error::TrySendError;
use tokio::time::Instant;
use tracing::warn;

use super::{Connection, What};
use crate::notify::inbox::Heard;
use crate::notify::publisher::Outbox;
use crate::notify::wire::MAX_INCOMING_PAYLOAD;

/// Messages held at most that the keeper has yet to hear. A broker hands over no more than so many unanswered ones (20 in mosquitto),
/// so this is met by those that want no answer, or by a broker without a bound.
const MOST_HELD: usize = 512;
/// Messages that want no answer are held up to this number: they leave room for those that do.
const MOST_HELD_UNASKED: usize = 128;
/// Where the broker does not let us hear our own mark, what it kept for us counts as handed over when nothing has come for so long.
const HANDED_OVER_AFTER: Duration = Duration::from_secs(10);
/// However much comes, what the broker kept counts as handed over after so long.
const HANDED_OVER_AT_LAST: Duration = Duration::from_secs(600);
/// After so many connections that were lost over the mark it is said no more: some brokers cut off who says what their rules forbid.
const CUTS_OVER_MARK: u32 = 2;

/// What the broker kept for us while no connection stood.
///
/// It is handed over before what is published since: a broker has one row of messages for a client. (MQTT 3.1.1 promises an order
/// within a topic only, section 4.6; brokers keep it for all.) So a mark that we publish to ourselves comes back behind it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Kept {
    /// The mark is to be said.
    ToMark,
    /// It is said; until it comes back, what comes may have been kept.
    Marked { mark: String, since: Instant, newest: Instant },
    /// What comes now was published since the connection was made.
    HandedOver,
}

/// Whether the broker was asked for what people publish.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Listening {
    NotAsked,
    Asked(Instant),
    Answered,
}

/// A message that the broker wants acknowledged.
#[derive(Debug)]
pub(super) struct Unanswered {
    pub(super) number: u64,
    pub(super) packet: u16,
    pub(super) taken: bool,
}

impl<O: Outbox> Connection<'_, O> {
    /// Acknowledges what is taken up.
    pub(super) fn answer(&mut self) -> Result<(), StateError> {
        for number in self.of.channels.inbox.taken.gather() {
            if let Some(waits) = self.unanswered.iter_mut().find(|waits| waits.number == number) {
                waits.taken = true;
            }
        }
        while let Some(done) = self.unanswered.pop_front_if(|waits| waits.taken) {
            self.wire.acknowledge(done.packet)?;
        }
        Ok(())
    }

    /// Subscribes, once a connection.
    pub(super) fn listen(&mut self, now: Instant) -> Result<(), StateError> {
        if self.listening == Listening::NotAsked {
            self.listening = if self.of.spec.subscriptions.is_empty() {
                Listening::Answered
            } else {
                self.wire.subscribe(&self.of.spec.subscriptions)?;
                Listening::Asked(now)
            };
        }
        Ok(())
    }

    /// Says the mark, by which what the broker kept for us ends.
    pub(super) fn mark(&mut self, now: Instant) -> Result<bool, StateError> {
        self.of.marks += 1;
        let mark = format!("{{\"listens\":\"{}-{}\"}}", std::process::id(), self.of.marks);
        self.kept = Kept::Marked { mark: mark.clone(), since: now, newest: now };
        if self.of.cuts_over_mark >= CUTS_OVER_MARK {
            return Ok(true);
        }
        self.publish(What::Mark, self.of.spec.check_topic.clone(), mark, QoS::AtLeastOnce, false)
    }

    /// Where the mark does not come back, quiet says that what was kept is handed over.
    pub(super) fn is_kept(&mut self, now: Instant) -> bool {
        if let Kept::Marked { since, newest, .. } = &self.kept
            && (now >= *newest + HANDED_OVER_AFTER || now >= *since + HANDED_OVER_AT_LAST)
        {
            self.kept = Kept::HandedOver;
        }
        self.kept != Kept::HandedOver
    }

    pub(super) fn hear(&mut self, message: Publish) -> Result<(), StateError> {
        let now = Instant::now();
        if self.is_own_mark(&message) {
            return if message.pkid == 0 { Ok(()) } else { self.refused(message.pkid) };
        }
        let kept = self.is_kept(now);
        if let Kept::Marked { newest, .. } = &mut self.kept {
            *newest = now;
        }
        let (topic, bytes, packet) = (message.topic, message.payload.len(), message.pkid);
        let most = if packet == 0 { MOST_HELD_UNASKED } else { MOST_HELD };
        let too_long = bytes > MAX_INCOMING_PAYLOAD;
        if too_long || self.held.len() >= most {
            let why = if too_long {
                "it is longer than 64 KiB"
            } else {
                "too many have come at once; publish it again later"
            };
            if let Some(before) = self.of.told.incoming.note(why, now.into_std()) {
                warn!(topic = shortened(&topic), before, "a message from the broker is dropped: {why}");
            }
            return self.refused(packet);
        }
        self.of.heard += 1;
        let number = self.of.heard;
        if packet != 0 {
            self.unanswered.push_back(Unanswered { number, packet, taken: false });
        }
        let heard = Heard {
            number,
            topic,
            payload: message.payload.to_vec(),
            retained: message.retain,
            kept,
            again: message.dup,
            packet,
        };
        if !self.held.is_empty() {
            self.held.push_back(heard);
            return Ok(());
        }
        match self.of.channels.inbox.heard.try_send(heard) {
            Ok(()) | Err(TrySendError::Closed(_)) => {}
            Err(TrySendError::Full(heard)) => self.held.push_back(heard),
        }
        Ok(())
    }

    /// Of no concern to the keeper. The broker hears it in its turn.
    fn refused(&mut self, packet: u16) -> Result<(), StateError> {
        if packet != 0 {
            self.unanswered.push_back(Unanswered { number: 0, packet, taken: true });
        }
        self.answer()
    }

    /// Whether it is what we or a `check` said to ourselves; our own mark ends what was kept.
    fn is_own_mark(&mut self, message: &Publish) -> bool {
        if message.topic != self.of.spec.check_topic {
            return false;
        }
        if matches!(&self.kept, Kept::Marked { mark, .. } if message.payload == mark.as_bytes()) {
            self.kept = Kept::HandedOver;
        }
        true
    }

    pub(super) fn take_answer(&mut self, answer: &SubAck) {
        self.listening = Listening::Answered;
        for (topic, code) in self.of.spec.subscriptions.iter().zip(&answer.return_codes) {
            if *code == SubscribeReasonCode::Failure
                && *topic != self.of.spec.check_topic
                && self.of.told.listening.is_news(topic, Instant::now(), self.of.pace.between_lines)
            {
                warn!(
                    "the broker does not let us listen to {topic}: acknowledgements or signs sent there are not heard; \
                     allow it in the broker's access rules"
                );
            }
        }
    }

    pub(super) fn unanswered_since(&self) -> Option<Instant> {
        let asked = match self.listening {
            Listening::Asked(since) => Some(since),
            Listening::NotAsked | Listening::Answered => None,
        };
        [asked, self.under_way.as_ref().map(|under_way| under_way.since)].into_iter().flatten().min()
    }
}

/// As much of a topic as the log takes: a topic may be as long as a packet.
fn shortened(topic: &str) -> String {
    topic.chars().take(120).collect()
}
