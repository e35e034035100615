//! Each look at the machine's time of day goes wrong in its turn: the n-th, once and from then on, for every n until a run is not touched.
//!
//! The model of these faults: whatever the time of day is asked for, it may be wrong by any span. Not modelled: the boot-time
//! clock, which nobody can set.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use bloom_model::event::ClockTrouble;
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::fake::FakeMachine;
use super::{Clock, Source};

const NOON: Time = Time::from_unix_ms(1_811_937_600_000);
/// The newest reading of the record when the run begins.
const NEWEST: Time = Time::from_unix_ms(1_811_937_600_000 - 2 * 3_600_000);
/// The keeper looks this often.
const STEP_S: i64 = 10;
/// Afterwards, when all is well and hours pass, more seldom.
const LATER_STEP_S: i64 = 600;
/// The run: so many rounds with a machine that has had no time yet, and as many when it has.
const ROUNDS: u64 = 12;
/// What `clock-untrusted` waits for while running (GROWER.md).
const TOLD_AFTER: TimeDelta = TimeDelta::minutes(5);
/// What it waits for at a start (GROWER.md).
const TOLD_AFTER_START: TimeDelta = TimeDelta::minutes(10);
/// What its end waits for (GROWER.md).
const OVER_AFTER: TimeDelta = TimeDelta::minutes(60);
/// What a look that was wrong may leave behind: what was worked off in that round.
const LEFT: TimeDelta = TimeDelta::milliseconds(500);

/// What a wrong look says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fault {
    /// 1970.
    Epoch,
    /// Off by so many hours.
    Hours(i64),
}

/// A machine whose time of day is wrong from a look on, for so many looks.
#[derive(Debug, Clone)]
struct Faulty {
    machine: FakeMachine,
    fault: Fault,
    looks: Arc<AtomicU64>,
    first: u64,
    end: Arc<AtomicU64>,
}

impl Source for Faulty {
    fn wall(&self) -> Time {
        let look = self.looks.fetch_add(1, Ordering::Relaxed);
        let right = self.machine.wall();
        match self.fault {
            _ if look < self.first || look >= self.end.load(Ordering::Relaxed) => right,
            Fault::Epoch => Time::from_unix_ms(0),
            Fault::Hours(hours) => right + TimeDelta::hours(hours),
        }
    }

    fn monotonic(&self) -> Duration {
        self.machine.monotonic()
    }

    fn synchronised(&self) -> Option<bool> {
        self.machine.synchronised()
    }
}

/// A run of the clock as the keeper has it, each round held against what holds always.
struct Run {
    faulty: Faulty,
    clock: Clock,
    newest: Time,
    case: String,
}

/// What the keeper asks in a round, each of which looks at the time of day.
const LOOKS_A_ROUND: u64 = 3;

/// How a round left it.
#[derive(Debug, Clone, Copy)]
struct Round {
    site: Time,
    right: Time,
    doubt: Option<ClockTrouble>,
}

impl Run {
    fn of(fault: Fault, first: u64, once: bool) -> Self {
        let machine = FakeMachine::at(NOON);
        machine.synchronise(Some(false));
        let end = Arc::new(AtomicU64::new(if once { first + 1 } else { u64::MAX }));
        let faulty = Faulty { machine, fault, looks: Arc::default(), first, end };
        let clock = Clock::of_source(Box::new(faulty.clone()));
        clock.not_before(NEWEST);
        let case = format!("look {first} says {fault:?}, {}", if once { "once" } else { "and all after it" });
        Self { faulty, clock, newest: NEWEST, case }
    }

    /// A round: the keeper asks what it asks, and time passes.
    fn round(&mut self, step_s: i64) -> Round {
        self.clock.is_waiting();
        let site = self.clock.now();
        let doubt = self.clock.doubt();
        assert!(site >= self.newest, "{}: {site} after {}", self.case, self.newest);
        self.newest = site;
        let right = self.faulty.machine.wall();
        self.faulty.machine.pass(TimeDelta::seconds(step_s));
        Round { site, right, doubt }
    }

    /// The run itself: no time from elsewhere at first, then there is.
    fn begin(&mut self) -> Vec<Round> {
        let mut rounds: Vec<Round> = (0..ROUNDS).map(|_| self.round(STEP_S)).collect();
        self.faulty.machine.synchronise(Some(true));
        rounds.extend((0..ROUNDS).map(|_| self.round(STEP_S)));
        rounds
    }

    /// Twenty minutes more.
    fn go_on(&mut self) -> impl Iterator<Item = Round> {
        (0..20 * 60 / STEP_S).map(|_| self.round(STEP_S))
    }

    fn looks(&self) -> u64 {
        self.faulty.looks.load(Ordering::Relaxed)
    }
}

/// Plays the run with each look wrong in its turn, until one is not touched.
fn for_every_look(once: bool, mut check: impl FnMut(Fault, u64, Run, Vec<Round>)) {
    for fault in [Fault::Epoch, Fault::Hours(-24), Fault::Hours(-1), Fault::Hours(1), Fault::Hours(24)] {
        let mut touched = 0;
        for first in 0.. {
            let mut run = Run::of(fault, first, once);
            let rounds = run.begin();
            if run.looks() <= first {
                assert!(rounds.iter().all(|round| round.site == round.right && round.doubt.is_none()));
                break;
            }
            touched += 1;
            check(fault, first, run, rounds);
        }
        assert_eq!(touched, LOOKS_A_ROUND * 2 * ROUNDS, "{fault:?}");
    }
}

fn rounds_in(span: TimeDelta) -> usize {
    usize::try_from(span.num_seconds() / STEP_S).unwrap()
}

/// Whether a first look that says so is taken for the time: there is nothing to hold it against.
fn is_taken_up(fault: Fault, first: u64) -> bool {
    first == 0 && matches!(fault, Fault::Hours(-1 | 1 | 24))
}

/// The clock is right from here on: what was ahead is worked off by a twentieth, and then nothing is left of it.
fn ends_well(run: &mut Run) {
    let ahead = run.newest - run.faulty.machine.wall();
    let worked_off = (ahead * 20).max(TimeDelta::zero());
    let rounds = (worked_off + OVER_AFTER).num_seconds() / LATER_STEP_S + 2;
    let last = (0..rounds).map(|_| run.round(LATER_STEP_S)).last().unwrap();
    assert_eq!(last.doubt, None, "{}: {last:?}", run.case);
    assert!((last.site - last.right).abs() <= LEFT, "{}: {last:?}", run.case);
}

#[test]
fn one_wrong_look_changes_nothing_that_lasts() {
    for_every_look(true, |fault, first, mut run, mut rounds| {
        rounds.extend(run.go_on());
        if is_taken_up(fault, first) {
            let told = rounds.iter().position(|round| round.doubt.is_some());
            assert_eq!(told, Some(rounds_in(TOLD_AFTER)), "{}", run.case);
        } else {
            for round in &rounds {
                assert_eq!(round.doubt, None, "{}: {round:?}", run.case);
                assert!((round.site - round.right).abs() <= LEFT, "{}: {round:?}", run.case);
            }
        }
        ends_well(&mut run);
    });
}

#[test]
fn what_stays_wrong_is_told_in_time_and_its_end_too() {
    for_every_look(false, |fault, first, mut run, mut rounds| {
        rounds.extend(run.go_on());
        let began = usize::try_from(first / LOOKS_A_ROUND).unwrap();
        let wanted = match fault {
            _ if is_taken_up(fault, first) => None,
            _ if first == 0 => Some(rounds_in(TOLD_AFTER_START)),
            _ => Some(began + rounds_in(TOLD_AFTER)),
        };
        let told = rounds.iter().position(|round| round.doubt.is_some());
        assert_eq!(told, wanted, "{}", run.case);
        // what is set forward and stays, or was never known otherwise, is believed; for the rest time goes on, a twentieth slower at most
        let last = rounds[rounds.len() - 1];
        match fault {
            Fault::Hours(hours) if hours > 0 || is_taken_up(fault, first) => {
                assert_eq!(last.site, last.right + TimeDelta::hours(hours), "{}: {last:?}", run.case);
            }
            _ if first == 0 => {
                assert_eq!(
                    last.site - NEWEST,
                    last.right - NOON - TOLD_AFTER_START,
                    "{}: {last:?}",
                    run.case
                );
            }
            _ => {
                let slower = (last.right - NOON) / 20 + LEFT;
                assert!(last.right - last.site <= slower, "{}: {last:?}", run.case);
            }
        }
        run.faulty.end.store(0, Ordering::Relaxed);
        ends_well(&mut run);
    });
}
