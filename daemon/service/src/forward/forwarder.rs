//! The work: what waits is read, sent, and told to the keeper as sent.

use std::collections::HashSet;
use std::panic::AssertUnwindSafe;
use std::sync::Arc;
use std::time::{Duration, Instant};

use bloom_model::condition::{Change, Condition};
use bloom_model::time::Time;
use chrono::TimeDelta;
use futures_util::FutureExt;
use tokio::sync::{mpsc, watch};
use tracing::{info, warn};

use super::server::{Answer, Server};
use super::{ForwarderNews, ForwarderSpec};
use crate::clock::Clock;
use crate::notify::{Retries, Told};
use crate::store::{Forwarded, Late, LiveReader, Recorded, StoreError, Which};

/// Late spans that are taken up at once, and that wait at most for the keeper to write them down.
const LATE_AT_ONCE: u32 = 500;
/// The record is read in spans of time, so that a span brings the readings of some requests; none is shorter than this.
const SHORTEST_SPAN: TimeDelta = TimeDelta::seconds(1);
/// No span is longer than this.
const LONGEST_SPAN: TimeDelta = TimeDelta::hours(6);
/// The length of the first span, before it is known how many readings one brings.
const FIRST_SPAN: TimeDelta = TimeDelta::minutes(10);
/// A fault of ours or of a library is trouble like any other: it is told, and ends nothing.
const BROKE_OFF: &str =
    "forwarding broke off by a fault of this program: the log says where; please report it";

/// Forwards the record to one server until it is told to stop.
pub struct Forwarder {
    spec: ForwarderSpec,
    clock: Arc<Clock>,
    record: LiveReader,
    news: mpsc::Sender<ForwarderNews>,
    stop: watch::Receiver<bool>,
    server: Server,
    retries: Retries,
    trouble: Told,
    /// Nothing is taken though something waits; short failures that heal are nobody's business.
    behind: Condition<Duration>,
    skipped: Skipped,
    /// Sent up to here in this life; the record may be behind.
    sent_until: Option<Time>,
    /// Late spans that were sent and are not written down as sent yet.
    handed: HashSet<Late>,
    span: TimeDelta,
    /// Since the start, or since trouble, nothing was found to be waiting yet.
    catching_up: bool,
}

/// The service stops.
struct Stopped;

/// Why a round came to nothing.
enum Cut {
    Stopped,
    Record(StoreError),
}

impl From<Stopped> for Cut {
    fn from(_: Stopped) -> Self {
        Self::Stopped
    }
}

impl From<StoreError> for Cut {
    fn from(error: StoreError) -> Self {
        Self::Record(error)
    }
}

/// Lines that the server would not take.
#[derive(Debug, Default)]
struct Skipped {
    since_told: u64,
    told: Option<Instant>,
}

impl Forwarder {
    /// A forwarder of that record. The keeper hears by `news` and writes down what was sent.
    pub fn new(
        spec: ForwarderSpec,
        clock: Arc<Clock>,
        record: LiveReader,
        news: mpsc::Sender<ForwarderNews>,
        stop: watch::Receiver<bool>,
    ) -> Self {
        Self {
            retries: Retries::new(spec.destination()),
            behind: Condition::default(),
            spec,
            clock,
            record,
            news,
            stop,
            server: Server::new(),
            trouble: Told::default(),
            skipped: Skipped::default(),
            sent_until: None,
            handed: HashSet::new(),
            span: FIRST_SPAN,
            catching_up: true,
        }
    }

    /// Forwards until told to stop. What is under way then is sent again at the next start.
    pub async fn run(mut self) {
        info!(to = self.spec.destination(), "forwarding");
        loop {
            let outcome = match AssertUnwindSafe(self.turn()).catch_unwind().await {
                Ok(outcome) => outcome,
                // only what was taken counts as sent, so whatever a fault leaves half done is done again
                Err(_) => self.pause(BROKE_OFF.to_owned()).await,
            };
            if outcome.is_err() {
                return;
            }
        }
    }

    /// One round, and the rest or the pause after it.
    async fn turn(&mut self) -> Result<(), Stopped> {
        match self.round().await {
            Ok(true) => Ok(()),
            Ok(false) => self.rest().await,
            Err(Cut::Stopped) => Err(Stopped),
            Err(Cut::Record(error)) => {
                self.pause(format!("the record cannot be read for forwarding: {error}")).await
            }
        }
    }

    /// Sends one portion of what came late and one of what is new; false if there was neither.
    async fn round(&mut self) -> Result<bool, Cut> {
        let Some(state) = self.record.get()?.forwarding()? else { return Ok(false) };
        let sent_until = self.sent_until.map_or(state.sent_until, |sent| sent.max(state.sent_until));
        let late = self.send_late(sent_until).await?;
        let new = self.send_new(sent_until, state.newest).await?;
        Ok(late || new)
    }

    async fn send_late(&mut self, sent_until: Time) -> Result<bool, Cut> {
        let noted = self.record.get()?.late(LATE_AT_ONCE)?;
        // the oldest come first, so that what is no longer among them has been written down as sent
        self.handed.retain(|late| noted.contains(late));
        let mut lines = Vec::new();
        let mut sent = Vec::new();
        let new: Vec<Late> = noted.into_iter().filter(|late| !self.handed.contains(late)).collect();
        for late in new {
            // what lies ahead of the cursor comes with the rest
            if late.from <= sent_until {
                self.read(&late.bench, late.from, late.until, &mut lines)?;
            }
            sent.push(late);
            if lines.len() >= self.spec.lines_at_once {
                break;
            }
        }
        if sent.is_empty() {
            return Ok(false);
        }
        self.deliver(lines).await?;
        self.handed.extend(sent.iter().cloned());
        self.tell(ForwarderNews::Forwarded(Forwarded { until: None, late: sent })).await?;
        Ok(true)
    }

    async fn send_new(&mut self, sent_until: Time, newest: Time) -> Result<bool, Cut> {
        if sent_until >= newest {
            return Ok(false);
        }
        let until = match self.record.get()?.first_after(sent_until)? {
            Some(first) => (first + self.span).min(newest),
            None => newest,
        };
        let mut lines = Vec::new();
        let from = sent_until + TimeDelta::milliseconds(1);
        for bench in self.record.get()?.benches()? {
            self.read(&bench, from, until, &mut lines)?;
        }
        let read = lines.len();
        self.deliver(lines).await?;
        if read > 2 * self.spec.lines_at_once {
            self.span = (self.span / 2).max(SHORTEST_SPAN);
        } else if read < self.spec.lines_at_once / 2 {
            self.span = (self.span * 2).min(LONGEST_SPAN);
        }
        self.sent_until = Some(until);
        self.tell(ForwarderNews::Forwarded(Forwarded { until: Some(until), late: Vec::new() })).await?;
        Ok(true)
    }

    fn read(
        &mut self,
        bench: &str,
        from: Time,
        until: Time,
        lines: &mut Vec<Line>,
    ) -> Result<(), StoreError> {
        let labels = &self.spec.labels;
        self.record.get()?.readings(bench, Which::Everything, from, until, |recorded: Recorded| {
            let time = recorded.time;
            lines.extend(labels.line(&recorded).map(|text| Line { time, text }));
        })
    }

    /// Sends lines in the order of time until the server has taken each, or refused it by itself.
    async fn deliver(&mut self, mut lines: Vec<Line>) -> Result<(), Stopped> {
        lines.sort_by_key(|line| line.time);
        for request in lines.chunks(self.spec.lines_at_once.max(1)) {
            let mut parts = vec![request];
            while let Some(part) = parts.pop() {
                match self.attempt(part).await? {
                    Answer::Taken => {
                        // what was told is over only when nothing waits
                        if !self.behind.stands() {
                            self.behind = Condition::default();
                        }
                        self.retries.begin_anew();
                    }
                    Answer::Unfit(why) | Answer::TooLong(why) => match part {
                        [line] => self.skip(line, &why),
                        _ => {
                            // the first half is sent before the second, down to the line that is at fault
                            let (first, second) = part.split_at(part.len() / 2);
                            parts.extend([second, first]);
                        }
                    },
                    Answer::Away(why) => {
                        parts.push(part);
                        self.pause(why).await?;
                    }
                }
            }
        }
        Ok(())
    }

    async fn attempt(&mut self, lines: &[Line]) -> Result<Answer, Stopped> {
        let body: String = lines.iter().map(|line| line.text.as_str()).collect();
        tokio::select! {
            () = stopped(&mut self.stop) => Err(Stopped),
            answer = self.server.write(&self.spec, body) => Ok(answer),
        }
    }

    /// A line that the server refuses by itself is left out, lest it hold up the rest: it stays in the record.
    fn skip(&mut self, line: &Line, why: &str) {
        let now = Instant::now();
        let silent = |told: Instant| now.duration_since(told) < self.spec.pace.between_lines;
        if self.skipped.told.is_some_and(silent) {
            self.skipped.since_told += 1;
            return;
        }
        let others = std::mem::take(&mut self.skipped.since_told);
        self.skipped.told = Some(now);
        warn!(
            others,
            "{} refuses a reading, which stays in the record and is not forwarded: {} ({why})",
            self.spec.url,
            line.text.trim_end()
        );
    }

    /// Nothing waits: looks again in a while.
    async fn rest(&mut self) -> Result<(), Stopped> {
        if std::mem::take(&mut self.catching_up) {
            info!("all of the record is forwarded");
        }
        let now = self.clock.monotonic();
        if let Some(Change::Over { since, .. }) = self.behind.look(false, now, self.spec.behind) {
            self.tell(ForwarderNews::Over { lasting: now.saturating_sub(since) }).await?;
        }
        self.sleep(self.spec.pace.look).await
    }

    /// After a failure: a growing pause.
    async fn pause(&mut self, why: String) -> Result<(), Stopped> {
        self.catching_up = true;
        let pause = self.retries.pause(Duration::ZERO, &self.spec.pace);
        if self.trouble.is_news(&why, tokio::time::Instant::now(), self.spec.pace.between_lines) {
            warn!(
                "{why}; readings wait in the record, the next attempt comes in {:.1} s",
                pause.as_secs_f64()
            );
        }
        let now = self.clock.monotonic();
        if let Some(Change::Began(since)) = self.behind.look(true, now, self.spec.behind) {
            self.tell(ForwarderNews::Behind { lasting: now.saturating_sub(since), why }).await?;
        }
        self.sleep(pause).await
    }

    async fn sleep(&mut self, span: Duration) -> Result<(), Stopped> {
        tokio::select! {
            () = stopped(&mut self.stop) => Err(Stopped),
            () = tokio::time::sleep(span) => Ok(()),
        }
    }

    async fn tell(&mut self, news: ForwarderNews) -> Result<(), Stopped> {
        tokio::select! {
            () = stopped(&mut self.stop) => Err(Stopped),
            told = self.news.send(news) => told.map_err(|_| Stopped),
        }
    }
}

/// One reading, ready to be sent.
struct Line {
    time: Time,
    text: String,
}

async fn stopped(stop: &mut watch::Receiver<bool>) {
    // whoever could say so is gone: that is a stop too
    let _ = stop.wait_for(|stop| *stop).await;
}
