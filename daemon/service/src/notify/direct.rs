//! What goes out though the store has not taken it.
//!
//! An event is on the disk before it leaves the house, as long as the disk works. A disk that is full, fails or hangs must not
//! keep an alarm: what the keeper is about to commit it offers here first, and takes back when it is committed. What has been
//! offered for longer than the store's patience is published as it is; it keeps its id, and is committed when the disk is back.
//! A disk that takes and does not give must not keep one either: what was committed and not yet delivered is held here too.

use std::collections::VecDeque;
use std::time::Duration;

use tokio::sync::watch;
use tokio::time::Instant;

use crate::store::{Message, Outgoing};

/// How long a message waits for the store before it goes out without it.
pub const STORE_PATIENCE: Duration = Duration::from_secs(10);
/// Committed messages that are held until they are delivered; the oldest give way. All are in the outbox.
const COMMITTED_HELD: usize = 1_000;

/// A message that the store has yet to take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Offered {
    message: Message,
    due: Instant,
}

/// What the publisher may send without reading the store.
#[derive(Debug, Default)]
pub(super) struct Held {
    /// Of the batch that the keeper is about to commit. The keeper bounds them.
    offered: Vec<Offered>,
    /// In the order of their numbers, each with what it displaces.
    committed: VecDeque<(Outgoing, Option<String>)>,
}

/// Messages that the store has yet to take, or may not give back, shared by keeper and publisher.
#[derive(Debug, Clone, Default)]
pub struct Direct(watch::Sender<Held>);

impl Direct {
    /// Offers messages in the place of those offered before. One that was among them keeps its time.
    pub fn offer(&self, messages: &[Message], hold: Duration) {
        let due = Instant::now() + hold;
        self.0.send_modify(|held| {
            let offered = &mut held.offered;
            let offer = |message: &Message| {
                let before = offered.iter().find(|other| other.message == *message);
                let due = before.map_or(due, |before| before.due.min(due));
                Offered { message: message.clone(), due }
            };
            *offered = messages.iter().map(offer).collect();
        });
    }

    /// They are committed, as the rows of these numbers: they go out by the outbox, unless it cannot be read.
    pub fn committed(&self, messages: &[Message], rows: &[i64]) {
        self.0.send_if_modified(|held| {
            for (message, id) in messages.iter().zip(rows) {
                let Message { topic, payload, retain, displaces, .. } = message.clone();
                held.committed.retain(|(_, other)| other.is_none() || *other != displaces);
                held.committed.push_back((Outgoing { id: *id, topic, payload, retain }, displaces));
            }
            let over = held.committed.len().saturating_sub(COMMITTED_HELD);
            held.committed.drain(..over);
            let any = !held.offered.is_empty();
            held.offered.clear();
            any
        });
    }

    /// The broker has the rows up to that number.
    pub fn delivered(&self, row: i64) {
        self.0.send_if_modified(|held| {
            held.committed.retain(|(outgoing, _)| outgoing.id > row);
            false
        });
    }

    /// The committed message with the lowest number above `row` that is held.
    pub fn oldest_after(&self, row: i64) -> Option<Outgoing> {
        let held = self.0.borrow();
        held.committed.iter().map(|(outgoing, _)| outgoing).find(|outgoing| outgoing.id > row).cloned()
    }

    /// The first message that has waited long enough, or any when `all` are to go.
    pub fn due(&self, now: Instant, all: bool) -> Option<Message> {
        let held = self.0.borrow();
        held.offered.iter().find(|offered| all || offered.due <= now).map(|offered| offered.message.clone())
    }

    /// When the next one has waited long enough.
    pub fn next_due(&self) -> Option<Instant> {
        self.0.borrow().offered.iter().map(|offered| offered.due).min()
    }

    /// The broker has it, or can never take it.
    pub fn done(&self, message: &Message) {
        self.0.send_modify(|held| held.offered.retain(|other| other.message != *message));
    }

    pub(super) fn listen(&self) -> watch::Receiver<Held> {
        self.0.subscribe()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Importance;

    fn message(payload: &str) -> Message {
        Message {
            topic: "anthesis/saltmarsh/east-3/event".to_owned(),
            payload: payload.to_owned(),
            retain: false,
            importance: Importance::Alarm,
            displaces: None,
        }
    }

    #[test]
    fn what_the_store_does_not_take_in_time_is_due_and_what_it_took_is_not() {
        let direct = Direct::default();
        let hold = Duration::from_secs(10);
        let start = Instant::now();
        direct.offer(&[message("a")], hold);
        assert_eq!(direct.due(start, false), None);
        let due = direct.next_due().unwrap();
        // offered again with another, it keeps its time
        direct.offer(&[message("a"), message("b")], hold * 2);
        assert_eq!(direct.next_due(), Some(due));
        assert_eq!(direct.due(due, false), Some(message("a")));
        direct.done(&message("a"));
        assert_eq!(direct.due(due, false), None);
        assert_eq!(direct.due(due, true), Some(message("b")), "at the end all of them go");
        direct.offer(&[message("b")], Duration::ZERO);
        assert_eq!(
            direct.due(Instant::now(), false),
            Some(message("b")),
            "a store that fails has had its time"
        );
        direct.committed(&[message("b")], &[1]);
        assert_eq!((direct.next_due(), direct.due(due, true)), (None, None));
    }

    #[test]
    fn what_is_committed_is_held_until_it_is_delivered_or_displaced() {
        let direct = Direct::default();
        let held = |after| direct.oldest_after(after).map(|outgoing| (outgoing.id, outgoing.payload));
        let repeat = |payload| Message { displaces: Some("an alarm".to_owned()), ..message(payload) };
        direct.committed(&[message("a"), repeat("b")], &[3, 4]);
        assert_eq!(held(0), Some((3, "a".to_owned())));
        direct.committed(&[repeat("c")], &[5]);
        assert_eq!(
            held(3),
            Some((5, "c".to_owned())),
            "as in the outbox, a repeat takes the place of the one before"
        );
        direct.delivered(3);
        assert_eq!(held(0), Some((5, "c".to_owned())));
        let rows: Vec<i64> = (6..6 + COMMITTED_HELD as i64).collect();
        direct.committed(&vec![message("d"); COMMITTED_HELD], &rows);
        assert_eq!(held(0), Some((6, "d".to_owned())), "the oldest give way");
        direct.delivered(2_000);
        assert_eq!(held(0), None);
    }
}
