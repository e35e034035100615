//! What befalls intakes, the broker and what people send, told without flooding the log.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// The least time between two log lines about the same kind of trouble.
pub const BETWEEN_LINES: Duration = Duration::from_secs(60);

/// What was told of each kind of trouble. Holds one entry a kind; kinds are words of the program, so there are few.
#[derive(Debug, Default)]
pub struct Troubles {
    kinds: Vec<Told>,
}

#[derive(Debug)]
struct Told {
    kind: &'static str,
    last: Instant,
    not_told: u64,
}

impl Troubles {
    /// Notes a trouble at `now`. `Some` if it is to be told, with the number of earlier ones of its kind that were not.
    pub fn note(&mut self, kind: &'static str, now: Instant) -> Option<u64> {
        let Some(told) = self.kinds.iter_mut().find(|told| told.kind == kind) else {
            self.kinds.push(Told { kind, last: now, not_told: 0 });
            return Some(0);
        };
        if now.saturating_duration_since(told.last) < BETWEEN_LINES {
            told.not_told += 1;
            return None;
        }
        told.last = now;
        Some(std::mem::take(&mut told.not_told))
    }

    /// A kind of trouble of which some were not told, a minute after the last line about it, and how many.
    ///
    /// Asked now and then, so that the end of a flood is told too.
    pub fn overdue(&mut self, now: Instant) -> Option<(&'static str, u64)> {
        let due =
            |told: &&mut Told| told.not_told > 0 && now.saturating_duration_since(told.last) >= BETWEEN_LINES;
        let told = self.kinds.iter_mut().find(due)?;
        told.last = now;
        Some((told.kind, std::mem::take(&mut told.not_told)))
    }
}

/// Lines about one thing that comes and goes, within [`BETWEEN_LINES`].
const LINES_AT_ONCE: usize = 6;

/// Something that is there or away. Every change is told, until there are too many; then the present state, a while later.
#[derive(Debug, Default)]
pub struct Changes {
    lines: VecDeque<Instant>,
    /// The present state, if it is not told yet: whether it is bad, in what words, and how many changes were left out.
    waits: Option<(bool, String, u64)>,
}

impl Changes {
    /// Notes how it is from now on. `Some` if it is to be told at once.
    pub fn note(&mut self, bad: bool, text: String, now: Instant) -> Option<(bool, String)> {
        let left_out = self.waits.take().map_or(0, |(.., left_out)| left_out);
        if left_out == 0 && self.may_tell(now) {
            return Some((bad, text));
        }
        self.waits = Some((bad, text, left_out + 1));
        None
    }

    /// The present state, once it may be told, with the number of changes since the last line.
    pub fn overdue(&mut self, now: Instant) -> Option<(bool, String, u64)> {
        if self.waits.is_none() || !self.may_tell(now) {
            return None;
        }
        self.waits.take()
    }

    /// When there may be something to tell.
    pub fn next_look(&self) -> Option<Instant> {
        self.waits.as_ref().and(self.lines.front()).map(|first| *first + BETWEEN_LINES)
    }

    fn may_tell(&mut self, now: Instant) -> bool {
        while self.lines.pop_front_if(|line| now.saturating_duration_since(*line) >= BETWEEN_LINES).is_some()
        {
        }
        let may = self.lines.len() < LINES_AT_ONCE;
        if may {
            self.lines.push_back(now);
        }
        may
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_return_is_told_and_of_one_that_comes_and_goes_without_end_the_present_state() {
        let start = Instant::now();
        let at = |seconds| start + Duration::from_secs(seconds);
        let mut changes = Changes::default();
        for hour in 0..50 {
            let told = [(true, "gone"), (false, "back")]
                .map(|(bad, text)| changes.note(bad, text.to_owned(), at(3600 * hour)).map(|(_, text)| text));
            assert_eq!(told.map(Option::unwrap), ["gone", "back"], "the {hour}th time, too");
        }
        let start = 3600 * 50;
        let flaps = (0..100).map(|second| {
            let bad = second % 2 == 0;
            changes.note(bad, if bad { "gone" } else { "back" }.to_owned(), at(start + second / 2))
        });
        assert_eq!(flaps.flatten().count(), LINES_AT_ONCE);
        assert_eq!(changes.overdue(at(start + 59)), None);
        assert_eq!(changes.next_look(), Some(at(start + 60)));
        assert_eq!(changes.overdue(at(start + 60)), Some((false, "back".to_owned(), 94)));
        assert_eq!((changes.overdue(at(start + 600)), changes.next_look()), (None, None));
    }

    #[test]
    fn one_line_a_kind_then_one_a_minute_with_the_number_left_out() {
        let start = Instant::now();
        let at = |seconds| start + Duration::from_secs(seconds);
        let mut troubles = Troubles::default();
        assert_eq!(troubles.note("garbage", at(0)), Some(0));
        assert_eq!(troubles.note("gone", at(0)), Some(0));
        for second in 1..60 {
            assert_eq!(troubles.note("garbage", at(second)), None);
        }
        assert_eq!(troubles.overdue(at(59)), None);
        assert_eq!(troubles.note("garbage", at(60)), Some(59));
        assert_eq!(troubles.note("garbage", at(61)), None);
        assert_eq!(troubles.overdue(at(119)), None);
        assert_eq!(troubles.overdue(at(120)), Some(("garbage", 1)));
        assert_eq!(troubles.overdue(at(500)), None);
        assert_eq!(troubles.note("garbage", at(179)), None);
        assert_eq!(troubles.note("gone", at(3600)), Some(0));
    }
}
