//! Troubles of a link, told without flooding the log.

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

#[cfg(test)]
mod tests {
    use super::*;

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
