//! The site's time: the machine's time of day, but for what would scramble the record.
//!
//! The rule: **the site's time never goes back, and never begins before the newest reading of the record.**
//!
//! - A start with a time of day before that reading, or before this version was made, is a machine whose clock is not set yet
//!   (1970, a flat battery). Nothing is read for up to [`WAIT_AT_MOST`]; a clock that is not set by then is done without: time
//!   goes on from the newest reading, by the clock that nobody can set.
//! - Set forward, it is followed once it has stayed so for [`BELIEVED_AFTER`]: to the model that is a span without readings.
//! - Set back, the site's time goes on, slower by [`SLOWER`], until it has come down to the machine's: rates measured meanwhile
//!   are wrong by no more than that, and no reading is older than the one before it.
//! - While running, a clock is doubted once it has been wrong for [`BELIEVED_AFTER`]: what is put right sooner was nothing.

use std::time::Duration;

use bloom_model::event::ClockTrouble;
use bloom_model::time::Time;
use chrono::TimeDelta;

/// This version was made after 2026-11-01T00:00:00Z: no true time is earlier.
const MADE_AFTER: Time = Time::from_unix_ms(1_793_491_200_000);
/// How long a start waits for a clock to be set. A machine that finds its network has the time within a minute or two.
const WAIT_AT_MOST: Duration = Duration::from_secs(600);
/// A time of day that moved by more than this against the clock that nobody can set was set; less is followed at once.
const STEP: TimeDelta = TimeDelta::seconds(60);
/// A time that was set forward is believed when it has stayed for this long: a mistyped date is put right sooner.
const BELIEVED_AFTER: Duration = Duration::from_secs(300);
/// By this share the site's time runs slower while it is ahead of the machine's.
const SLOWER: f64 = 0.05;
/// A step is over this long after the last one, when the site's time is the machine's again.
const STEP_OVER_AFTER: Duration = Duration::from_secs(3_600);
/// A machine that has had no time from elsewhere this long after the start is not synchronised.
const UNSYNCHRONISED_AFTER: Duration = Duration::from_secs(1_800);

/// Both clocks at one moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    pub(super) wall: Time,
    pub(super) monotonic: Duration,
}

/// The site's time.
#[derive(Debug)]
pub(super) struct Timeline {
    floor: Time,
    started: Option<Duration>,
    /// The last look, and the site's time then; none while waiting.
    last: Option<(Look, Time)>,
    /// Since when the time of day has been far ahead.
    ahead_since: Option<Duration>,
    /// Since when the time of day has been below the floor.
    unset_since: Option<Duration>,
    /// The time of day was below the floor for long, and has not been believed since.
    not_set: bool,
    /// Since when it has been set, and by how much, forward or back, where that is not believed yet.
    set: Option<(Duration, TimeDelta)>,
    /// When it was last set, and by how much.
    stepped: Option<(Duration, TimeDelta)>,
}

impl Timeline {
    pub(super) const fn new() -> Self {
        Self {
            floor: MADE_AFTER,
            started: None,
            last: None,
            ahead_since: None,
            unset_since: None,
            not_set: false,
            set: None,
            stepped: None,
        }
    }

    pub(super) fn not_before(&mut self, newest: Time) {
        self.floor = self.floor.max(newest);
        // whoever asked before knew less
        self.last = None;
    }

    /// The site's time at this look. It stands at the newest reading while it waits to begin.
    pub(super) fn look(&mut self, now: &Look) -> Time {
        let started = *self.started.get_or_insert(now.monotonic);
        let site = match self.last {
            Some((last, site)) => self.go_on(now, last, site),
            None if now.wall >= self.floor => now.wall,
            None if now.monotonic.saturating_sub(started) >= WAIT_AT_MOST => {
                self.not_set = true;
                self.floor
            }
            None => return self.floor,
        };
        self.last = Some((*now, site));
        site
    }

    fn go_on(&mut self, now: &Look, last: Look, site: Time) -> Time {
        let elapsed = TimeDelta::from_std(now.monotonic.saturating_sub(last.monotonic)).unwrap_or_default();
        let kept = site + elapsed;
        let lasts = |since: Duration| now.monotonic.saturating_sub(since) >= BELIEVED_AFTER;
        // what the time of day was set by since the last look; what is put right again adds up to nothing
        let set_by = (now.wall - last.wall) - elapsed;
        if set_by.abs() > STEP {
            let (since, by) = self.set.unwrap_or((now.monotonic, TimeDelta::zero()));
            self.set = Some((since, by + set_by)).filter(|(_, by)| by.abs() > STEP);
        }
        if now.wall < self.floor {
            // a clock that is not set says nothing at all
            self.ahead_since = None;
            self.not_set |= lasts(*self.unset_since.get_or_insert(now.monotonic));
            return kept;
        }
        self.unset_since = None;
        if let Some((since, by)) = self.set.take_if(|(since, _)| lasts(*since))
            && by < -STEP
        {
            self.stepped = Some((since, by));
        }
        if now.wall - kept > STEP {
            let since = *self.ahead_since.get_or_insert(now.monotonic);
            if !lasts(since) {
                return kept;
            }
            self.ahead_since = None;
            // a clock that is set at last is what was asked for
            if !std::mem::take(&mut self.not_set) {
                self.stepped = Some((now.monotonic, now.wall - kept));
            }
            return now.wall;
        }
        self.ahead_since = None;
        self.not_set = false;
        let slower = TimeDelta::milliseconds((elapsed.num_milliseconds() as f64 * SLOWER) as i64);
        now.wall.max(kept - slower)
    }

    pub(super) const fn is_waiting(&self) -> bool {
        self.last.is_none()
    }

    /// Why the time is not to be trusted at the last look, if it is not.
    pub(super) fn doubt(&self, now: &Look, synchronised: Option<bool>) -> Option<ClockTrouble> {
        let (_, site) = self.last?;
        if self.not_set {
            return Some(ClockTrouble::NotSet);
        }
        if let Some((at, by)) = self.stepped {
            let still_ahead = site - now.wall > STEP;
            if still_ahead || now.monotonic.saturating_sub(at) < STEP_OVER_AFTER {
                return Some(ClockTrouble::Stepped(by));
            }
        }
        let long = now.monotonic.saturating_sub(self.started.unwrap_or_default()) >= UNSYNCHRONISED_AFTER;
        (synchronised == Some(false) && long).then_some(ClockTrouble::NotSynchronised)
    }
}

#[cfg(test)]
mod tests {
    use super::super::fake::FakeMachine;
    use super::*;
    use crate::clock::Clock;

    const NOON: Time = Time::from_unix_ms(1_811_937_600_000);
    const EPOCH: Time = Time::from_unix_ms(0);

    fn minutes(minutes: i64) -> TimeDelta {
        TimeDelta::minutes(minutes)
    }

    /// Looks every ten seconds for that long; the site's time must never go back. Gives what it gained.
    fn live(machine: &FakeMachine, clock: &Clock, span: TimeDelta) -> TimeDelta {
        let began = clock.now();
        let mut last = began;
        for _ in 0..span.num_seconds() / 10 {
            machine.pass(TimeDelta::seconds(10));
            let now = clock.now();
            assert!(now >= last, "{now} after {last}");
            last = now;
        }
        last - began
    }

    #[test]
    fn a_clock_that_keeps_time_is_followed() {
        let machine = FakeMachine::at(NOON);
        let clock = machine.clock();
        clock.not_before(NOON - minutes(5));
        assert!(!clock.is_waiting());
        assert_eq!(live(&machine, &clock, minutes(600)), minutes(600));
        assert_eq!((clock.now(), clock.doubt()), (NOON + minutes(600), None));
        // what a keeper of time corrects in the run of a day is no step
        machine.set(clock.now() - TimeDelta::seconds(20));
        live(&machine, &clock, minutes(10));
        assert_eq!(clock.now(), NOON + minutes(610) - TimeDelta::seconds(20));
        machine.set(clock.now() + TimeDelta::seconds(30));
        assert_eq!((clock.now(), clock.doubt()), (NOON + minutes(610) + TimeDelta::seconds(10), None));
    }

    #[test]
    fn a_start_in_1970_waits_until_the_clock_is_set() {
        let machine = FakeMachine::at(EPOCH);
        let clock = machine.clock();
        clock.not_before(NOON);
        live(&machine, &clock, minutes(9));
        assert_eq!((clock.is_waiting(), clock.now(), clock.doubt()), (true, NOON, None));
        machine.set(NOON + minutes(90));
        assert_eq!((clock.is_waiting(), clock.now(), clock.doubt()), (false, NOON + minutes(90), None));
    }

    #[test]
    fn a_clock_that_nobody_sets_is_done_without_and_followed_when_it_is_set_at_last() {
        for newest in [NOON, EPOCH] {
            let machine = FakeMachine::at(EPOCH);
            let clock = machine.clock();
            clock.not_before(newest);
            live(&machine, &clock, minutes(10));
            let began = clock.now();
            assert_eq!((clock.is_waiting(), began), (false, newest.max(MADE_AFTER)));
            assert_eq!(clock.doubt(), Some(ClockTrouble::NotSet));
            assert_eq!(live(&machine, &clock, minutes(300)), minutes(300), "an hour is an hour");
            machine.set(NOON + minutes(6000));
            assert_eq!(live(&machine, &clock, minutes(4)), minutes(4));
            live(&machine, &clock, minutes(2));
            assert_eq!(clock.now(), NOON + minutes(6006));
            assert_eq!(clock.doubt(), None);
        }
    }

    #[test]
    fn set_back_by_an_hour_time_goes_on_and_comes_down_slowly() {
        let machine = FakeMachine::at(NOON);
        let clock = machine.clock();
        clock.not_before(NOON - minutes(1));
        live(&machine, &clock, minutes(60));
        machine.set(NOON);
        let gained = live(&machine, &clock, minutes(100));
        assert_eq!(gained, minutes(95), "five in a hundred slower");
        assert_eq!(clock.doubt(), Some(ClockTrouble::Stepped(minutes(-60))));
        live(&machine, &clock, minutes(1200));
        assert_eq!((clock.now(), clock.doubt()), (NOON + minutes(1300), None));
    }

    #[test]
    fn set_forward_by_a_day_it_is_believed_when_it_stays() {
        let machine = FakeMachine::at(NOON);
        let clock = machine.clock();
        let day = TimeDelta::days(1);
        clock.now();
        machine.set(NOON + day);
        live(&machine, &clock, minutes(4));
        machine.set(NOON + minutes(4));
        live(&machine, &clock, minutes(60));
        assert_eq!(clock.now(), NOON + minutes(64), "a mistyped date that was put right did nothing");
        live(&machine, &clock, minutes(60));
        assert_eq!(clock.doubt(), None);
        machine.set(NOON + day);
        live(&machine, &clock, minutes(6));
        assert_eq!(clock.now(), NOON + day + minutes(6));
        assert!(matches!(clock.doubt(), Some(ClockTrouble::Stepped(by)) if by > TimeDelta::hours(20)));
    }

    #[test]
    fn what_is_put_right_time_and_again_is_nothing_and_a_step_is_over_an_hour_after_it() {
        let machine = FakeMachine::at(NOON);
        let clock = machine.clock();
        clock.now();
        for times in 0..3 {
            machine.set(EPOCH);
            assert_eq!(clock.doubt(), None);
            machine.set(NOON + minutes(6 * times));
            live(&machine, &clock, minutes(6));
            assert_eq!((clock.now(), clock.doubt()), (NOON + minutes(6 * (times + 1)), None));
        }
        machine.set(NOON + minutes(16));
        live(&machine, &clock, minutes(60) - TimeDelta::seconds(10));
        assert_eq!(clock.doubt(), Some(ClockTrouble::Stepped(minutes(-2))));
        live(&machine, &clock, TimeDelta::seconds(10));
        assert_eq!((clock.now(), clock.doubt()), (NOON + minutes(76), None));
    }

    #[test]
    fn a_clock_that_was_never_had_from_elsewhere_is_doubted_after_half_an_hour() {
        let machine = FakeMachine::at(NOON);
        let clock = machine.clock();
        machine.synchronise(Some(false));
        live(&machine, &clock, minutes(29));
        assert_eq!(clock.doubt(), None);
        live(&machine, &clock, minutes(2));
        assert_eq!(clock.doubt(), Some(ClockTrouble::NotSynchronised));
        machine.synchronise(Some(true));
        assert_eq!(clock.doubt(), None);
        machine.synchronise(None);
        assert_eq!(clock.doubt(), None, "what cannot be known is not held against it");
    }
}
