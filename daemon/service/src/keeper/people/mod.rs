//! What people published, heard in its turn: so much at a time, one topic after the other, and never before the lines.
//!
//! A message is answered to the broker when what came of it is committed, or while the store fails when it is in memory. What was
//! sent while nobody listened comes at the next connection, and its time is not known: it acknowledges nothing that was raised
//! since, nobody comes by a time that it names, and a sign without a time of its own is asked for.

mod asked;

use std::collections::{BTreeMap, VecDeque};
use std::ops::Bound::{Excluded, Unbounded};
use std::time::{Duration, Instant};

use bloom_model::time::Time;
use bloom_text::Words;
use chrono::TimeDelta;
use tokio::sync::mpsc;
use tracing::{info, warn};

use super::Keeper;
use crate::facts::BrokerFacts;
use crate::intake::trouble::Troubles;
use crate::notify::incoming;
use crate::notify::{BrokerNews, Heard};
use crate::store::{HeardMessage, KNOWN_AGAIN, Listened};

/// Messages heard at most before the lines have their turn again.
const HEARD_AT_ONCE: usize = 32;
/// Messages are heard for no longer than this before the lines have their turn again.
const HEARD_FOR: Duration = Duration::from_millis(100);
/// Messages gathered at most; the others wait at the publisher.
const GATHERED: usize = 256;
/// What was heard is on the disk, and answered, within this.
const ANSWERED_WITHIN: Duration = Duration::from_millis(250);
/// What was heard is written and answered at once when so many wait for it: a broker may hand over no more than 20 unanswered ones.
const ANSWERED_AT: usize = 10;
/// Until when everything was heard is written down this often at least.
const WRITTEN_EVERY: Duration = Duration::from_secs(300);
/// A broker that is gone is missed so much later at most: twice the time after which it is asked for a sign of life, and a half.
const MISSED_AFTER: TimeDelta = TimeDelta::seconds(90);
/// Longest part of what a person sent that the log repeats, in characters.
const LONGEST_WHY: usize = 400;

/// Why something that people sent changed nothing, to be logged by cause: (cause, sentence).
pub(super) type Refusal = (&'static str, String);

/// What people published and the keeper has yet to take up, or the broker to be answered.
#[derive(Debug, Default)]
pub(super) struct People {
    waiting: BTreeMap<String, VecDeque<Heard>>,
    gathered: usize,
    /// The topic that had its turn.
    last: String,
    /// Numbers of messages that are in the batch.
    unanswered: Vec<u64>,
    unanswered_since: Option<Instant>,
    /// The newest messages that were taken up.
    known: VecDeque<HeardMessage>,
    counted: u64,
    pub(super) refusals: Troubles,
    broker: Broker,
    /// Until when everything was heard.
    listened: Option<Time>,
    written: Option<Instant>,
    /// What is known of when that was sent which the broker kept for us.
    kept: Option<Kept>,
}

/// When that was sent which the broker kept for us.
#[derive(Debug, Clone, Copy)]
struct Kept {
    /// Everything before was heard; `None` where nothing is known of it.
    listened: Option<Time>,
    /// It was all sent before.
    until: Time,
}

/// How it stands with the broker.
#[derive(Debug, Default)]
struct Broker {
    connected: bool,
    /// What it kept for us is handed over.
    listening: bool,
    away_since: Option<Time>,
    why: Option<String>,
}

impl People {
    /// What was known in the life before.
    pub(super) fn restore(listened: Option<Time>, known: Vec<HeardMessage>, now: Time) -> Self {
        let broker = Broker { away_since: Some(now), ..Broker::default() };
        Self { listened, known: known.into(), broker, ..Self::default() }
    }

    pub(super) const fn has_room(&self) -> bool {
        self.gathered < GATHERED
    }

    pub(super) const fn waits(&self) -> bool {
        self.gathered > 0
    }

    pub(super) fn gather(&mut self, heard: Heard) {
        self.gathered += 1;
        self.waiting.entry(heard.topic.clone()).or_default().push_back(heard);
    }

    /// The next message: of each topic one, in turn.
    fn next(&mut self) -> Option<Heard> {
        let after = self.waiting.range::<str, _>((Excluded(self.last.as_str()), Unbounded)).next();
        let topic = after.or_else(|| self.waiting.iter().next()).map(|(topic, _)| topic.clone())?;
        let queue = self.waiting.get_mut(&topic)?;
        let heard = queue.pop_front();
        if queue.is_empty() {
            self.waiting.remove(&topic);
        }
        self.gathered -= usize::from(heard.is_some());
        self.last = topic;
        heard
    }

    /// Whether answers are due, which a commit gives.
    pub(super) fn answers_are_due(&self) -> bool {
        self.unanswered.len() >= ANSWERED_AT
            || self.unanswered_since.is_some_and(|since| since.elapsed() >= ANSWERED_WITHIN)
    }

    /// When they will be.
    pub(super) fn next_answer(&self) -> Option<Instant> {
        self.unanswered_since.map(|since| since + ANSWERED_WITHIN)
    }

    pub(super) fn answered(&mut self) -> Vec<u64> {
        self.unanswered_since = None;
        std::mem::take(&mut self.unanswered)
    }

    /// Lets the next commit hold until when everything was heard, however lately that was written.
    pub(super) const fn write_listened(&mut self) {
        self.written = None;
    }

    fn answer_with_the_batch(&mut self, number: u64) {
        self.unanswered.push(number);
        self.unanswered_since.get_or_insert_with(Instant::now);
    }
}

fn sum(heard: &Heard) -> HeardMessage {
    let mut sum = crc32fast::Hasher::new();
    sum.update(heard.topic.as_bytes());
    sum.update(&[0]);
    sum.update(&heard.payload);
    HeardMessage { packet: heard.packet, sum: sum.finalize() }
}

impl Keeper {
    /// Takes up what people published, so much at a time.
    pub(super) fn hear_people(
        &mut self,
        people: &mut mpsc::Receiver<Heard>,
        broker: &mut mpsc::Receiver<BrokerNews>,
    ) {
        while self.people.has_room() {
            match people.try_recv() {
                Ok(heard) => self.people.gather(heard),
                Err(_) => break,
            }
        }
        // what a message comes behind was told before it
        self.hear_all_of_broker(broker);
        let began = Instant::now();
        for _ in 0..HEARD_AT_ONCE {
            let Some(heard) = self.people.next() else { break };
            self.hear_person(heard);
            if began.elapsed() >= HEARD_FOR {
                break;
            }
        }
        while let Some((cause, more)) = self.people.refusals.overdue(Instant::now()) {
            warn!(more, "more of what people sent changed nothing: {cause}");
        }
    }

    pub(super) fn hear_all_of_broker(&mut self, broker: &mut mpsc::Receiver<BrokerNews>) {
        while let Ok(news) = broker.try_recv() {
            self.hear_broker(news);
        }
    }

    /// A message of a person.
    pub(super) fn hear_person(&mut self, heard: Heard) {
        let message = sum(&heard);
        if heard.again && heard.packet != 0 && self.people.known.contains(&message) {
            // its answer was lost; the first copy is in the record, or in the batch that comes next
            return self.people.answer_with_the_batch(heard.number);
        }
        let now = self.now();
        let Heard { number, topic, payload, retained, kept, packet, .. } = heard;
        let asked = incoming::read(self.voice.topics(), &topic, &payload, retained, now)
            .map_err(|why| ("it is not understood", why))
            .and_then(|request| self.take_request(request, kept, now));
        if let Err((cause, why)) = asked {
            self.refuse(cause, &format!("a message on {}: {why}", beginning(&topic, 120)));
            self.voice.taken(&[number]);
            return;
        }
        if packet != 0 {
            self.people.counted += 1;
            let written = &mut self.batch.listened.messages;
            written.push((self.people.counted, message));
            // while the store fails
            if written.len() as u64 > KNOWN_AGAIN {
                // while the store fails
                written.remove(0);
            }
            self.people.known.push_back(message);
            if self.people.known.len() as u64 > KNOWN_AGAIN {
                self.people.known.pop_front();
            }
        }
        self.people.answer_with_the_batch(number);
    }

    /// Logs why something that people sent changed nothing: each cause once a minute, with the number of those left out.
    pub(super) fn refuse(&mut self, cause: &'static str, why: &str) {
        if let Some(before) = self.people.refusals.note(cause, Instant::now()) {
            warn!(cause, before, "what a person sent changed nothing: {}", beginning(why, LONGEST_WHY));
        }
    }

    /// The broker hears that what was heard is kept.
    pub(super) fn answer_people(&mut self) {
        let answered = self.people.answered();
        self.voice.taken(&answered);
    }

    pub(super) fn broker_is_there(&mut self, resumed: bool) {
        let now = self.now();
        let listened = self.people.listened;
        self.people.broker = Broker { connected: true, ..Broker::default() };
        self.people.kept = resumed.then_some(Kept { listened, until: now });
        self.show_soon();
        if !resumed {
            self.people.known.clear();
            self.batch.listened = Listened { forget: true, ..Listened::default() };
            if let Some(listened) = self.people.listened {
                let site = self.site.spec();
                let since = Words::new(site, &site.name, None).date_clock(listened);
                info!(
                    "the broker kept nothing for us: what people sent to it since {since} is not heard, if they did"
                );
            }
        }
    }

    pub(super) fn broker_is_heard(&mut self) {
        self.people.broker.listening = true;
    }

    pub(super) fn broker_is_gone(&mut self, why: String, heard_ago: Option<Duration>) {
        let now = self.now();
        let broker = &mut self.people.broker;
        broker.why = Some(why);
        if broker.connected {
            let ago = heard_ago.and_then(|ago| TimeDelta::from_std(ago).ok()).unwrap_or_default();
            if broker.listening && !self.people.waits() {
                self.people.listened =
                    Some(self.people.listened.map_or(now - ago, |listened| listened.max(now - ago)));
            }
            let broker = &mut self.people.broker;
            broker.away_since = Some(now - ago);
            broker.connected = false;
            broker.listening = false;
        }
        self.show_soon();
    }

    /// Puts to the batch until when everything was heard.
    pub(super) fn note_listened(&mut self) {
        if self.people.broker.listening && !self.people.waits() {
            self.people.listened = Some(self.now());
        }
        let people = &mut self.people;
        let is_due = people.written.is_none_or(|written| written.elapsed() >= WRITTEN_EVERY);
        if is_due || !self.batch.events.is_empty() || !self.batch.alarms.is_empty() {
            self.batch.listened.until = people.listened;
            people.written = Some(Instant::now());
        }
    }

    /// The broker as whoever shows the house sees it; `None` where none is configured.
    pub(super) fn broker_facts(&self) -> Option<BrokerFacts> {
        self.voice.has_broker().then(|| {
            let Broker { connected, away_since, why, .. } = &self.people.broker;
            BrokerFacts {
                away_since: if *connected { None } else { *away_since },
                why: if *connected { None } else { why.clone() },
                messages_waiting: self.store.outbox().map_or(0, |outbox| outbox.rows),
            }
        })
    }
}

pub(super) fn no_bench(bench: &str) -> Refusal {
    ("no such bench", format!("{:?} is not configured", beginning(bench, 60)))
}

/// As much of a text as the log takes.
fn beginning(text: &str, longest: usize) -> String {
    text.chars().take(longest).collect()
}

#[cfg(test)]
mod tests;
