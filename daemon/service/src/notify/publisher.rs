//! The task that publishes: what waits in the outbox, and the retained states.
//!
//! A row of the outbox is handed to the broker only while connected, one at a time, at QoS 1, and counts as delivered when
//! the broker has acknowledged it. What is under way when a connection breaks is sent again: every row arrives at least
//! once and in its order; a receiver knows a second copy by the event's id. What the broker does with what it has
//! acknowledged is not ours to see.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};
use tokio::time::Instant;
use tracing::{info, warn};

use super::direct::Direct;
use super::inbox::Inbox;
use super::mqtt::PublisherSpec;
use super::pace::{Pace, Told};
use super::retained::StateMessage;
use crate::intake::trouble::{Changes, Troubles};
use crate::store::{LiveReader, Message, Outgoing};
use crate::watchdog::Stage;

/// Where messages wait, in the order in which they leave. Their numbers grow and are never used again, even when it was
/// empty in between: a lower one would wait for ever.
pub trait Outbox: Send {
    /// The message with the lowest number above `id`; quick enough to be asked from an async task.
    ///
    /// # Errors
    /// With a sentence for the log, when it cannot be read; it is asked again after a while.
    fn oldest_after(&mut self, id: i64) -> Result<Option<Outgoing>, String>;
}

impl Outbox for LiveReader {
    fn oldest_after(&mut self, id: i64) -> Result<Option<Outgoing>, String> {
        self.get().and_then(|reader| reader.oldest_outgoing(id)).map_err(|error| error.to_string())
    }
}

/// What the keeper hears of the broker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BrokerNews {
    /// A connection stands.
    Connected {
        /// Whether the broker still knew us: then it hands over what was published meanwhile. Otherwise that is lost.
        resumed: bool,
    },
    /// What the broker kept for us is handed over: what comes from here on was published since.
    Listening,
    /// The connection is gone, or could not be made for another reason than before.
    Disconnected {
        /// What happened, where, and what to do.
        why: String,
        /// How long ago the broker was last heard; `None` where no connection came about.
        heard_ago: Option<Duration>,
    },
    /// The broker has acknowledged the row of that number: it may be taken out.
    Delivered(i64),
    /// The broker has acknowledged a message that the store had not taken in time.
    ToldDirectly(Message),
}

/// How the keeper speaks to the publisher and hears of it. When one of the keeper's ends is gone, the publisher says its
/// goodbye as if it were told to stop.
#[derive(Debug)]
pub struct Channels {
    /// Counted up when rows were added to the outbox.
    pub rows: watch::Receiver<u64>,
    /// The retained states, one entry a topic, the service's own among them.
    pub states: watch::Receiver<Arc<Vec<StateMessage>>>,
    /// What the store has yet to take.
    pub direct: Direct,
    /// To the keeper. While it is full nothing is published.
    pub news: mpsc::Sender<BrokerNews>,
    /// What people published.
    pub inbox: Inbox,
    /// Turns true for an orderly stop.
    pub stop: watch::Receiver<bool>,
    /// Watched, so that one that is stuck is noticed.
    pub stage: Stage,
}

/// Publishes to one broker, over as many connections as it takes.
pub struct Publisher<O> {
    pub(super) spec: PublisherSpec,
    pub(super) pace: Pace,
    pub(super) outbox: O,
    pub(super) channels: Channels,
    /// The newest row that the broker has acknowledged; its deletion may still be under way.
    pub(super) delivered: i64,
    /// Since when the present connection has stood.
    pub(super) connected: Option<Instant>,
    /// Messages that were heard in this run.
    pub(super) heard: u64,
    /// Marks that were said in this run.
    pub(super) marks: u64,
    /// Connections lost over the mark, one after the other: the broker's rules may forbid it, and alarms must get through.
    pub(super) cuts_over_mark: u32,
    pub(super) told: Tellings,
    pub(super) cut: Cut,
}

/// What was last logged, of each kind.
#[derive(Debug, Default)]
pub(super) struct Tellings {
    pub(super) broker: Changes,
    pub(super) trouble: Told,
    pub(super) outbox: Told,
    pub(super) incoming: Troubles,
    pub(super) listening: Told,
}

impl Tellings {
    /// A good connection is over: what befalls the next is news, however often the last one was told.
    pub(super) fn begin_anew(&mut self) {
        self.trouble = Told::default();
        self.outbox = Told::default();
        self.listening = Told::default();
    }

    /// Says what was held back, when it is time.
    pub(super) fn look(&mut self, now: Instant) {
        match self.broker.overdue(now.into_std()) {
            Some((false, text, changes)) => info!(changes, "{text}"),
            Some((true, text, changes)) => warn!(changes, "{text}"),
            None => {}
        }
        while let Some((why, more)) = self.incoming.overdue(now.into_std()) {
            warn!(more, "more messages from the broker were dropped: {why}");
        }
    }

    pub(super) fn next_look(&self) -> Option<Instant> {
        self.broker.next_look().map(Instant::from_std)
    }
}

/// The row that was under way when connections broke, and how many in a row.
#[derive(Debug, Default)]
pub(super) struct Cut {
    pub(super) row: i64,
    pub(super) times: u32,
}

impl<O: Outbox> Publisher<O> {
    /// A publisher that begins with the outbox's oldest row.
    pub fn new(spec: PublisherSpec, pace: Pace, outbox: O, channels: Channels) -> Self {
        Self {
            spec,
            pace,
            outbox,
            channels,
            delivered: 0,
            connected: None,
            heard: 0,
            marks: 0,
            cuts_over_mark: 0,
            told: Tellings::default(),
            cut: Cut::default(),
        }
    }

    /// Tells the keeper, and waits until it listens; once told to stop, it is told only if it listens at once.
    pub(super) async fn tell(&mut self, news: BrokerNews) {
        tokio::select! {
            biased;
            permit = self.channels.news.reserve() => {
                if let Ok(permit) = permit {
                    permit.send(news);
                }
            }
            () = stopped(&mut self.channels.stop) => {}
        }
    }
}

/// Ends when the service is told to stop, or nobody is left who could say so.
pub(super) async fn stopped(stop: &mut watch::Receiver<bool>) {
    let _ = stop.wait_for(|stop| *stop).await;
}
