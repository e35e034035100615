//! What goes out though the store has not taken it.
//!
//! An event is on the disk before it leaves the house, as long as the disk works. A disk that is full, fails or hangs must not
//! keep an alarm: what the keeper is about to commit it offers here first, and takes back when it is committed. What has been
//! offered for longer than the store's patience is published as it is; it keeps its id, and is committed when the disk is back.

use std::time::Duration;

use tokio::sync::watch;
use tokio::time::Instant;

use crate::store::Message;

/// How long a message waits for the store before it goes out without it.
pub const STORE_PATIENCE: Duration = Duration::from_secs(10);

/// A message that the store has yet to take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Offered {
    message: Message,
    due: Instant,
}

/// The messages of the batch that the keeper is about to commit, shared with the publisher. The keeper bounds them.
#[derive(Debug, Clone)]
pub struct Direct(watch::Sender<Vec<Offered>>);

impl Default for Direct {
    fn default() -> Self {
        Self(watch::channel(Vec::new()).0)
    }
}

impl Direct {
    /// Offers messages in the place of those offered before. One that was among them keeps its time.
    pub fn offer(&self, messages: &[Message], hold: Duration) {
        let due = Instant::now() + hold;
        self.0.send_modify(|offered| {
            let offer = |message: &Message| {
                let before = offered.iter().find(|other| other.message == *message);
                let due = before.map_or(due, |before| before.due.min(due));
                Offered { message: message.clone(), due }
            };
            *offered = messages.iter().map(offer).collect();
        });
    }

    /// They are committed: they go out by the outbox.
    pub fn withdraw(&self) {
        self.0.send_if_modified(|offered| {
            let any = !offered.is_empty();
            offered.clear();
            any
        });
    }

    /// The first message that has waited long enough, or any when `all` are to go.
    pub fn due(&self, now: Instant, all: bool) -> Option<Message> {
        let offered = self.0.borrow();
        offered.iter().find(|offered| all || offered.due <= now).map(|offered| offered.message.clone())
    }

    /// When the next one has waited long enough.
    pub fn next_due(&self) -> Option<Instant> {
        self.0.borrow().iter().map(|offered| offered.due).min()
    }

    /// The broker has it, or can never take it.
    pub fn done(&self, message: &Message) {
        self.0.send_modify(|offered| offered.retain(|other| other.message != *message));
    }

    pub(super) fn listen(&self) -> watch::Receiver<Vec<Offered>> {
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
        direct.withdraw();
        assert_eq!((direct.next_due(), direct.due(due, true)), (None, None));
    }
}
