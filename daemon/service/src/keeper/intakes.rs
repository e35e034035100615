//! Intakes that stay away: one event for the line, however many benches hang on it.
//!
//! A line is out when its port is gone, or when nothing has come by it for as long as a sensor may be silent. It is said after
//! that same span, counted by the clock that nobody can set; it is over when the line has brought readings for
//! [`BACK_AFTER`] without another outage.

use std::sync::Arc;
use std::time::Duration;

use bloom_model::bench::Bench;
use bloom_model::condition::{Change, Condition, Delays};
use bloom_model::event::{Severity, SiteTrouble};
use bloom_model::reading::BenchNumber;
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::Keeper;
use crate::facts::IntakeFacts;
use crate::intake::IntakeNews;

/// A line that brings readings again is over its outage after this long: a loose plug is no recovery.
const BACK_AFTER: Duration = Duration::from_secs(120);

/// What is known of one intake.
#[derive(Debug, Clone)]
pub struct IntakeWatch {
    /// The port, file or pipe.
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
    /// Readings that came by it, and lines and records that were refused, in this run.
    counted: Counted,
}

#[derive(Debug, Clone, Copy, Default)]
struct Counted {
    readings: u64,
    refused: u64,
}

#[derive(Debug, Clone)]
struct ToldOutage {
    id: String,
    since: Time,
    /// Whether it was told as leaving a bud unwatched.
    as_alarm: bool,
}

impl IntakeWatch {
    /// A line that has not been heard of.
    pub fn of_line(name: String) -> Self {
        Self::new(name, true)
    }

    /// A recording or a pipe, which may well be quiet.
    pub fn of_recording(name: String) -> Self {
        Self::new(name, false)
    }

    fn new(name: String, is_line: bool) -> Self {
        let heard = Duration::ZERO;
        let (out, counted) = (Condition::default(), Counted::default());
        Self { name, is_line, heard, revived: None, down: None, out, told: None, counted }
    }

    /// The port, file or pipe.
    pub(super) fn name(&self) -> &str {
        &self.name
    }

    pub(super) const fn begin(&mut self, now: Duration) {
        self.heard = now;
    }

    /// Since when it has been out, if it is.
    fn out_since(&self, now: Duration, patience: Duration) -> Option<Duration> {
        let quiet = self.is_line && now.saturating_sub(self.heard) >= patience;
        match &self.down {
            Some((since, _)) => Some(if quiet { self.heard.min(*since) } else { *since }),
            None => quiet.then_some(self.heard),
        }
    }

    /// Whether its outage has been told and is not over.
    pub(super) const fn is_told_out(&self) -> bool {
        self.told.is_some()
    }

    pub(super) fn is_out(&self, now: Duration, patience: Duration) -> bool {
        self.out_since(now, patience).is_some()
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

impl Keeper {
    /// Takes up the outages that stand as alarms from a life before: they are over when their line is back, and are not told again
    /// until then. One of a line that is no longer configured is over.
    pub(super) fn adopt_outages(&mut self) {
        let (now, monotonic) = (self.now(), self.clock.monotonic());
        let mut ended = Vec::new();
        for (id, since, what) in self.standing.outages() {
            match self.intakes.iter_mut().find(|watch| watch.name == what) {
                Some(watch) => {
                    watch.out = Condition::standing(monotonic);
                    watch.told = Some(ToldOutage { id, since, as_alarm: true });
                }
                None => ended.extend(self.standing.end(&id, now)),
            }
        }
        self.tell_changed(ended);
    }

    pub(super) fn hear_of_intake(&mut self, news: IntakeNews) {
        let now = self.clock.monotonic();
        match news {
            IntakeNews::Down { intake, why } => {
                if let Some(watch) = self.intakes.get_mut(intake) {
                    watch.down.get_or_insert((now, why));
                }
            }
            IntakeNews::Up { intake } => self.hear_on_intake(intake, now),
            // a recording's end is no trouble; its intake logs it
            IntakeNews::Ended { .. } | IntakeNews::Readings { .. } => {}
        }
    }

    /// So many readings came by the intake, and so many lines and records of it were refused.
    pub(super) fn count_on_intake(&mut self, intake: usize, readings: usize, refused: u64) {
        if let Some(watch) = self.intakes.get_mut(intake) {
            watch.counted.readings += readings as u64;
            watch.counted.refused += refused;
        }
    }

    /// The intakes as whoever shows the house sees them.
    pub(super) fn intake_facts(&self, now: Time) -> Vec<IntakeFacts> {
        let (monotonic, patience) = (self.clock.monotonic(), self.patience());
        let ago = |since| {
            let quiet = TimeDelta::from_std(monotonic.saturating_sub(since)).unwrap_or_default();
            now - quiet
        };
        let of = |watch: &IntakeWatch| IntakeFacts {
            intake: watch.name.clone(),
            readings: watch.counted.readings,
            refused: watch.counted.refused,
            out_since: watch.out_since(monotonic, patience).map(ago),
            why: watch.down.as_ref().map(|(_, why)| why.clone()),
        };
        self.intakes.iter().map(of).collect()
    }

    /// The intake has brought something that was understood.
    pub(super) fn hear_on_intake(&mut self, intake: usize, now: Duration) {
        let patience = self.patience();
        if let Some(watch) = self.intakes.get_mut(intake) {
            // a port that comes and goes within minutes gives no bench an excuse
            if watch.is_told_out() && watch.is_out(now, patience) {
                watch.revived = Some(now);
            }
            watch.heard = now;
            watch.down = None;
            watch.out.see(false, now);
        }
    }

    /// How long a line may be quiet.
    pub(super) fn patience(&self) -> Duration {
        self.site.spec().silent_after.to_std().unwrap_or(Duration::MAX)
    }

    /// Says which intakes are newly out, and which are newly back.
    pub(super) fn look_at_intakes(&mut self, now: Time) {
        let (monotonic, patience) = (self.clock.monotonic(), self.patience());
        for intake in 0..self.intakes.len() {
            let Some(watch) = self.intakes.get_mut(intake) else { continue };
            let out_since = watch.out_since(monotonic, patience);
            if let Some(since) = out_since {
                watch.out.see(true, since);
            }
            let delays = Delays { begin: patience, end: BACK_AFTER.min(patience) };
            let told_as_warning = watch.told.as_ref().is_some_and(|told| !told.as_alarm);
            match watch.out.turn(monotonic, delays) {
                Some(Change::Began(_)) => self.tell_intake_is_out(intake, now),
                Some(Change::Over { gone, .. }) => self.tell_intake_is_back(intake, gone, now),
                // a bud has been booked since, or another of its rangers has gone
                None if out_since.is_some() && told_as_warning && !self.left_blind_by(intake).is_empty() => {
                    self.tell_intake_is_out(intake, now);
                }
                None => {}
            }
        }
    }

    fn tell_intake_is_back(&mut self, intake: usize, back: Duration, now: Time) {
        let Some(watch) = self.intakes.get_mut(intake) else { return };
        let Some(told) = watch.told.take() else { return };
        let what = watch.name.clone();
        let read = self.benches_that(|keeper, _, number| keeper.has_come_by(intake, number, back));
        let mut event = self.trouble(now, SiteTrouble::LineWorks { read }, what, told.since);
        event.ends.push(told.id);
        self.raise(&event);
    }

    fn tell_intake_is_out(&mut self, intake: usize, now: Time) {
        let (monotonic, patience) = (self.clock.monotonic(), self.patience());
        let Some(watch) = self.intakes.get(intake) else { return };
        let Some(since) = watch.out_since(monotonic, patience) else { return };
        let quiet = TimeDelta::from_std(monotonic.saturating_sub(since)).unwrap_or_default();
        let (what, since) = (watch.name.clone(), now - quiet);
        let why = watch.down.as_ref().map(|(_, why)| why.clone());
        let unwatched = self.left_blind_by(intake);
        let as_alarm = !unwatched.is_empty();
        let not_read = self.benches_that(|keeper, _, number| keeper.hangs_on(intake, number));
        let mut event = self.trouble(now, SiteTrouble::LineDead { why, unwatched, not_read }, what, since);
        event.severity = if as_alarm { Severity::Alarm } else { Severity::Warning };
        if let Some(watch) = self.intakes.get_mut(intake) {
            watch.told = Some(ToldOutage { id: event.id.clone(), since, as_alarm });
        }
        self.raise(&event);
    }

    /// The benches in bud or open that have no ranger left while that line is out.
    fn left_blind_by(&self, intake: usize) -> Vec<Arc<str>> {
        self.benches_that(|keeper, bench, number| keeper.leaves_blind(intake, bench, number))
    }

    fn benches_that(&self, holds: impl Fn(&Self, &Bench, BenchNumber) -> bool) -> Vec<Arc<str>> {
        let numbered = self.site.benches().zip(0_u16..);
        let meant = numbered.filter(|(bench, number)| holds(self, bench, BenchNumber(*number)));
        meant.map(|(bench, _)| Arc::clone(&bench.spec().id)).collect()
    }
}
