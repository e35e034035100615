//! When an alarm is repeated that nobody took note of, and from when on it counts as unanswered.

use chrono::TimeDelta;

use crate::event::EventKind;
use crate::time::Time;

/// Minutes from the raising to the first repeat, from there to the second, and so on. Growing, for a person who does not
/// answer in half an hour will not answer sooner for being asked more often; quick at first, for an opening is over in a
/// night. Common practice; the numbers are our own.
const FIRST_REPEATS_MIN: [i64; 5] = [5, 5, 10, 20, 40];
/// Minutes between all further repeats.
const LATER_REPEATS_MIN: i64 = 60;
/// Repeats of one alarm, which take a little under two days. After them it stands unrepeated until it is acknowledged or ends.
const MAX_REPEATS: u32 = 48;
/// At this repeat, 40 minutes after the raising, an alarm counts as unanswered: it says so, and runs the alarm command too,
/// whatever the broker took, for a phone may be silent. The person has had five messages by then; an opening is young.
const UNANSWERED_AT: u32 = 4;
/// A test alarm counts as unanswered at this repeat, 140 minutes after the raising: a test may wait for the end of a meal.
const TEST_UNANSWERED_AT: u32 = 6;

/// The kind that proves that a person is reached.
const TEST: &str = EventKind::Test.name();

/// The repeats of one alarm so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repeats {
    is_test: bool,
    count: u32,
}

impl Repeats {
    /// So many of an alarm of that kind of event.
    pub fn of(kind: &str, count: u32) -> Self {
        Self { is_test: kind == TEST, count }
    }

    /// When the next is due, the last told message being of `now`; `None` after the last.
    pub fn next(self, now: Time) -> Option<Time> {
        (self.count < MAX_REPEATS).then(|| now + pause_after(self.count))
    }

    /// Whether one planned for `at` is due: or so far ahead that the clock must have been set back since. That must not silence an alarm.
    pub fn is_due(at: Time, now: Time) -> bool {
        at <= now || at > now + TimeDelta::minutes(LATER_REPEATS_MIN)
    }

    /// Whether the newest calls by the alarm command, too: a test does so once, any other alarm at each from then on.
    pub const fn calls(self) -> bool {
        if self.is_test { self.count == TEST_UNANSWERED_AT } else { self.count >= UNANSWERED_AT }
    }

    /// For how many minutes nobody has answered, once that is long.
    pub fn unanswered_min(self) -> Option<i64> {
        let unanswered_at = if self.is_test { TEST_UNANSWERED_AT } else { UNANSWERED_AT };
        let minutes = || (0..self.count).map(|earlier| pause_after(earlier).num_minutes()).sum();
        (self.count >= unanswered_at).then(minutes)
    }
}

fn pause_after(repeats: u32) -> TimeDelta {
    let pause = FIRST_REPEATS_MIN.get(repeats as usize).copied().unwrap_or(LATER_REPEATS_MIN);
    TimeDelta::minutes(pause)
}

#[cfg(test)]
mod tests {
    use super::*;

    const START: Time = Time::from_unix_ms(1_811_900_000_000);

    /// Of each repeat: the minute, for how many minutes nobody has answered, and whether the alarm command is run.
    fn course(kind: EventKind) -> Vec<(i64, Option<i64>, bool)> {
        let mut seen = Vec::new();
        let mut now = START;
        while let Some(next) = Repeats::of(kind.name(), seen.len() as u32).next(now) {
            now = next;
            let repeats = Repeats::of(kind.name(), seen.len() as u32 + 1);
            seen.push(((now - START).num_minutes(), repeats.unanswered_min(), repeats.calls()));
        }
        seen
    }

    #[test]
    fn they_come_at_growing_intervals_and_from_the_fourth_on_nobody_has_answered() {
        let seen = course(EventKind::OpeningTonight);
        assert_eq!(seen[..3], [(5, None, false), (10, None, false), (20, None, false)]);
        assert_eq!(seen[3..6], [40, 80, 140].map(|minute| (minute, Some(minute), true)));
        // 80 minutes for the first five, and 43 hours
        assert_eq!((seen.len(), seen.last()), (48, Some(&(2660, Some(2660), true))));
    }

    #[test]
    fn a_test_waits_for_the_sixth_and_calls_once() {
        let seen = course(EventKind::Test);
        let unanswered: Vec<i64> = seen.iter().filter_map(|(_, minutes, _)| *minutes).collect();
        assert_eq!((unanswered[0], unanswered.len()), (140, 43));
        let calls: Vec<i64> = seen.iter().filter(|(.., calls)| *calls).map(|(minute, ..)| *minute).collect();
        assert_eq!(calls, [140]);
    }

    #[test]
    fn a_clock_that_was_set_back_silences_nothing() {
        let minutes = TimeDelta::minutes;
        for (ahead, due) in
            [(minutes(0), true), (minutes(1), false), (minutes(60), false), (minutes(61), true)]
        {
            assert_eq!(Repeats::is_due(START + ahead, START), due, "{ahead}");
        }
    }
}
