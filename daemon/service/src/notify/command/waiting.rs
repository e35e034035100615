//! What waits to be told by the alarm command, and when each is due.

use std::collections::VecDeque;
use std::time::Duration;

use tokio::time::Instant;

/// Alarms that wait at most, one entry an alarm. At one more the oldest gives way.
pub const MAX_WAITING: usize = 500;

/// An alarm, raised or repeated, as it is committed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Call {
    /// The event's id.
    pub event_id: String,
    /// The event as it leaves the house.
    pub payload: String,
    /// Its row in the outbox; `None` where there is no broker.
    pub row: Option<i64>,
    /// Whether the broker is waited for, or it is told at once though the broker takes it, for nobody has answered.
    pub unanswered: bool,
}

/// The alarms that wait, in the order in which they were handed over.
#[derive(Debug)]
pub(super) struct Waiting {
    calls: VecDeque<(Instant, Call)>,
    grace: Duration,
    away: bool,
}

impl Waiting {
    pub(super) const fn new(grace: Duration, away: bool) -> Self {
        Self { calls: VecDeque::new(), grace, away }
    }

    /// Puts a call in. In the place of an earlier one of the same alarm it keeps that one's time, or an alarm that is repeated
    /// more often than the program comes round would never be due. Gives the id of the alarm that gave way to the bound.
    pub(super) fn add(&mut self, call: Call, now: Instant) -> Option<String> {
        if let Some((_, earlier)) =
            self.calls.iter_mut().find(|(_, earlier)| earlier.event_id == call.event_id)
        {
            *earlier = call;
            return None;
        }
        let displaced = if self.calls.len() >= MAX_WAITING { self.calls.pop_front() } else { None };
        self.calls.push_back((now, call));
        displaced.map(|(_, call)| call.event_id)
    }

    /// Puts a call in the place of an earlier one of the same alarm that still waits; it waits no longer than one put in now.
    pub(super) fn confirm(&mut self, call: Call, now: Instant) {
        let same = |other: &Call| other.event_id == call.event_id && other.payload == call.payload;
        if let Some((since, earlier)) = self.calls.iter_mut().find(|(_, earlier)| same(earlier)) {
            *since = now.min(*since);
            *earlier = call;
        }
    }

    /// Lets go of a call that the broker took or a person answered; says whether there were any.
    pub(super) fn remove(&mut self, which: impl Fn(&Call) -> bool) -> bool {
        let before = self.calls.len();
        self.calls.retain(|(_, call)| !which(call));
        self.calls.len() < before
    }

    pub(super) const fn broker_is_away(&mut self, away: bool) {
        self.away = away;
    }

    /// When the first of them is due, perhaps in the past. An alarm for which the program is `under_way` waits for its end: a repeat
    /// would only add to what hangs.
    pub(super) fn next_due(&self, under_way: &[String]) -> Option<Instant> {
        let free = self.calls.iter().filter(|(_, call)| !under_way.contains(&call.event_id));
        free.map(|waits| self.due(waits)).min()
    }

    fn due(&self, (since, call): &(Instant, Call)) -> Instant {
        if self.away || call.unanswered { *since } else { *since + self.grace }
    }

    /// Takes the first, if it is due.
    pub(super) fn take_due(&mut self, now: Instant, under_way: &[String]) -> Option<Call> {
        let first = self.next_due(under_way).filter(|due| *due <= now)?;
        let is_first =
            |waits: &(Instant, Call)| !under_way.contains(&waits.1.event_id) && self.due(waits) == first;
        let place = self.calls.iter().position(is_first)?;
        self.calls.remove(place).map(|(_, call)| call)
    }

    pub(super) fn calls(&self) -> impl Iterator<Item = &Call> {
        self.calls.iter().map(|(_, call)| call)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GRACE: Duration = Duration::from_secs(120);

    fn call(id: &str, row: i64) -> Call {
        Call {
            event_id: id.to_owned(),
            payload: format!("{{\"row\":{row}}}"),
            row: Some(row),
            unanswered: false,
        }
    }

    #[test]
    fn the_broker_has_its_grace_and_what_it_took_is_let_go() {
        let start = Instant::now();
        let mut waiting = Waiting::new(GRACE, false);
        assert_eq!(waiting.next_due(&[]), None);
        waiting.add(call("east-3-2027a/opening-tonight/1", 7), start);
        waiting.add(call("east-4-2027a/opening-tonight/1", 8), start + GRACE / 2);
        assert_eq!(waiting.next_due(&[]), Some(start + GRACE));
        assert_eq!(waiting.take_due(start + GRACE - Duration::from_millis(1), &[]), None);
        assert!(waiting.remove(|call| call.row == Some(7)));
        assert!(!waiting.remove(|call| call.row == Some(7)));
        assert_eq!(waiting.take_due(start + GRACE, &[]), None);
        assert_eq!(
            waiting.take_due(start + GRACE * 3 / 2, &[]),
            Some(call("east-4-2027a/opening-tonight/1", 8))
        );
        assert_eq!(waiting.next_due(&[]), None);
    }

    #[test]
    fn there_is_no_grace_for_a_broker_that_is_away() {
        let start = Instant::now();
        let mut waiting = Waiting::new(GRACE, false);
        waiting.add(call("a", 1), start);
        waiting.add(call("b", 2), start);
        waiting.broker_is_away(true);
        assert_eq!(waiting.take_due(start, &[]), Some(call("a", 1)));
        waiting.broker_is_away(false);
        assert_eq!(waiting.take_due(start, &[]), None);
        assert_eq!(waiting.next_due(&[]), Some(start + GRACE));
    }

    #[test]
    fn one_that_nobody_answers_waits_for_no_broker_and_goes_ahead_of_those_that_do() {
        let start = Instant::now();
        let mut waiting = Waiting::new(GRACE, false);
        waiting.add(call("a", 1), start);
        let unanswered = Call { unanswered: true, ..call("b", 2) };
        waiting.add(unanswered.clone(), start);
        assert_eq!(waiting.take_due(start, &[]), Some(unanswered));
        assert_eq!(waiting.take_due(start, &[]), None);
        assert_eq!(waiting.next_due(&[]), Some(start + GRACE));
    }

    #[test]
    fn a_repeat_takes_the_place_and_the_time_of_the_one_before() {
        let start = Instant::now();
        let mut waiting = Waiting::new(GRACE, true);
        waiting.add(call("a", 1), start);
        waiting.add(call("b", 2), start);
        waiting.add(call("a", 3), start + GRACE);
        assert!(
            !waiting.remove(|call| call.row == Some(1)),
            "the row that was displaced says nothing of its repeat"
        );
        assert_eq!(waiting.take_due(start, &[]), Some(call("a", 3)));
        assert_eq!(waiting.calls().count(), 1);
    }

    #[test]
    fn one_that_the_store_was_slow_to_take_waits_no_longer_for_it_and_one_that_was_told_is_not_told_again() {
        let start = Instant::now();
        let mut waiting = Waiting::new(GRACE, true);
        let uncommitted = Call { row: None, ..call("a", 7) };
        waiting.add(uncommitted.clone(), start + GRACE);
        assert_eq!(waiting.take_due(start, &[]), None);
        waiting.confirm(call("a", 7), start);
        assert_eq!(waiting.take_due(start, &[]), Some(call("a", 7)));
        waiting.confirm(call("a", 7), start);
        assert_eq!(waiting.calls().count(), 0);
    }

    #[test]
    fn a_repeat_of_one_that_is_under_way_waits_for_its_end_and_the_next_alarm_does_not() {
        let start = Instant::now();
        let mut waiting = Waiting::new(GRACE, true);
        waiting.add(call("a", 1), start);
        let under_way = ["a".to_owned()];
        assert_eq!(waiting.next_due(&under_way), None);
        waiting.add(call("b", 2), start);
        assert_eq!(waiting.take_due(start, &under_way), Some(call("b", 2)));
        assert_eq!(waiting.take_due(start, &[]), Some(call("a", 1)));
    }

    #[test]
    fn too_many_displace_the_oldest() {
        let start = Instant::now();
        let mut waiting = Waiting::new(GRACE, true);
        for number in 0..=MAX_WAITING as i64 {
            let displaced = waiting.add(call(&number.to_string(), number), start);
            assert_eq!(displaced, (number == MAX_WAITING as i64).then(|| "0".to_owned()));
        }
        assert_eq!(waiting.calls().count(), MAX_WAITING);
    }
}
