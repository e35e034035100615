//! What people published, on its way from the broker to the keeper, and the word back that it is taken up.
//!
//! A message is acknowledged to the broker when the record holds what came of it, so that one that came just before a kill comes
//! again, and is known again by the number and the words that it came with.

use tokio::sync::{mpsc, watch};

/// Messages that wait for the keeper; the publisher holds what comes beyond them.
pub const HEARD_WAITING: usize = 64;

/// A message on a topic that was subscribed to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// Its number in this run, to be given back when it is taken up.
    pub number: u64,
    /// The topic.
    pub topic: String,
    /// At most 64 KiB; longer ones are refused.
    pub payload: Vec<u8>,
    /// Whether the broker had kept it for whoever comes.
    pub retained: bool,
    /// Whether the broker may have kept it for us while nobody listened.
    pub kept: bool,
    /// Whether the broker says that it may have been here before.
    pub again: bool,
    /// The number of its packet, which the broker gives to no other message until this one is acknowledged; 0 for one that is not
    /// acknowledged.
    pub packet: u16,
}

/// Numbers of messages that are taken up, from the keeper to the publisher. Bounded by what the publisher holds unanswered.
#[derive(Debug, Clone, Default)]
pub struct Taken(watch::Sender<Vec<u64>>);

impl Taken {
    /// These are taken up, or refused for good.
    pub fn say(&self, numbers: &[u64]) {
        if !numbers.is_empty() {
            self.0.send_modify(|taken| taken.extend(numbers));
        }
    }

    pub(super) fn gather(&self) -> Vec<u64> {
        let mut gathered = Vec::new();
        self.0.send_if_modified(|taken| {
            gathered = std::mem::take(taken);
            false
        });
        gathered
    }

    pub(super) fn listen(&self) -> watch::Receiver<Vec<u64>> {
        self.0.subscribe()
    }
}

/// The publisher's end.
#[derive(Debug)]
pub struct Inbox {
    /// To the keeper.
    pub heard: mpsc::Sender<Heard>,
    /// Back from it.
    pub taken: Taken,
}
