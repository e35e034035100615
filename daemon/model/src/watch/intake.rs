//! One intake, and whether anything comes by it.

use std::time::Duration;

use crate::condition::{Change, Condition, Delays};
use crate::time::Time;

/// A line that brings readings again is over its outage after this long: a loose plug is no recovery. Judgement.
const BACK_AFTER: Duration = Duration::from_secs(120);

/// What is known of one intake. Times are by the clock that nobody can set.
#[derive(Debug, Clone)]
pub struct Intake {
    name: String,
    /// It is a line whose sensors speak by themselves, so that its silence tells something.
    is_line: bool,
    /// When it last brought a reading, or when the watch began.
    heard: Duration,
    /// When it brought a reading again after an outage.
    revived: Option<Duration>,
    /// Since when it cannot be read, and why.
    down: Option<(Duration, String)>,
    out: Condition<Duration>,
    told: Option<ToldOutage>,
    readings: u64,
    refused: u64,
}

/// The outage of an intake that stands as an alarm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandingOutage {
    /// The id of its event.
    pub id: String,
    /// When it was raised.
    pub since: Time,
    /// The intake's name.
    pub intake: String,
}

/// An outage that was told and is not over.
#[derive(Debug, Clone)]
pub(super) struct ToldOutage {
    /// The id of the event that told it.
    pub(super) id: String,
    pub(super) since: Time,
    /// Whether it was told as leaving a bud unwatched.
    pub(super) as_alarm: bool,
}

impl Intake {
    /// A line that has not been heard of.
    pub fn of_line(name: String) -> Self {
        Self::new(name, true)
    }

    /// A recording or a pipe, which may well be quiet.
    pub fn of_recording(name: String) -> Self {
        Self::new(name, false)
    }

    fn new(name: String, is_line: bool) -> Self {
        Self {
            name,
            is_line,
            heard: Duration::ZERO,
            revived: None,
            down: None,
            out: Condition::default(),
            told: None,
            readings: 0,
            refused: 0,
        }
    }

    /// The port, file or pipe.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Readings that came by it in this run.
    pub const fn readings(&self) -> u64 {
        self.readings
    }

    /// Lines and records of it that were refused in this run.
    pub const fn refused(&self) -> u64 {
        self.refused
    }

    /// Why it cannot be read; `None` where it can be.
    pub fn why(&self) -> Option<&str> {
        self.down.as_ref().map(|(_, why)| why.as_str())
    }

    pub(super) const fn begin(&mut self, now: Duration) {
        self.heard = now;
    }

    pub(super) const fn count(&mut self, readings: usize, refused: u64) {
        self.readings += readings as u64;
        self.refused += refused;
    }

    /// It has brought something that was understood.
    pub(super) fn hear(&mut self, now: Duration, patience: Duration) {
        // a port that comes and goes within minutes gives no bench an excuse
        if self.is_told_out() && self.is_out(now, patience) {
            self.revived = Some(now);
        }
        self.heard = now;
        self.down = None;
        self.out.see(false, now);
    }

    /// It cannot be read.
    pub(super) fn lose(&mut self, why: String, now: Duration) {
        self.down.get_or_insert((now, why));
    }

    /// An outage that was told in a life before goes on.
    pub(super) fn adopt(&mut self, outage: ToldOutage, now: Duration) {
        self.out = Condition::standing(now);
        self.told = Some(outage);
    }

    /// Since when it has been out, if it is: its port is gone, or nothing has come by it for as long as a sensor may be silent.
    pub(super) fn out_since(&self, now: Duration, patience: Duration) -> Option<Duration> {
        let quiet = self.is_line && now.saturating_sub(self.heard) >= patience;
        match &self.down {
            Some((since, _)) => Some(if quiet { self.heard.min(*since) } else { *since }),
            None => quiet.then_some(self.heard),
        }
    }

    pub(super) fn is_out(&self, now: Duration, patience: Duration) -> bool {
        self.out_since(now, patience).is_some()
    }

    /// Takes a look at it; gives what that changed.
    pub(super) fn look(&mut self, now: Duration, patience: Duration) -> Option<Change<Duration>> {
        if let Some(since) = self.out_since(now, patience) {
            self.out.see(true, since);
        }
        self.out.turn(now, Delays { begin: patience, end: BACK_AFTER.min(patience) })
    }

    /// Its outage that was told and is not over.
    pub(super) const fn told(&self) -> Option<&ToldOutage> {
        self.told.as_ref()
    }

    pub(super) const fn is_told_out(&self) -> bool {
        self.told.is_some()
    }

    pub(super) fn tell(&mut self, outage: ToldOutage) {
        self.told = Some(outage);
    }

    pub(super) const fn end(&mut self) -> Option<ToldOutage> {
        self.told.take()
    }

    /// Whether it has brought anything since that moment, and has not been out for so long that whatever hangs on it had time to
    /// speak.
    pub(super) fn has_worked_since(&self, since: Duration, now: Duration, patience: Duration) -> bool {
        let revived_lately = self.revived.is_some_and(|revived| now.saturating_sub(revived) < patience);
        // a recording may be quiet, and that excuses nobody who is read from it
        let spoke = self.heard > since || !self.is_line;
        spoke && !self.is_told_out() && !self.is_out(now, patience) && !revived_lately
    }
}
