//! When forwarding has stood still for long enough to tell a person, and when that is over.

use std::time::Duration;

/// What is to be told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Change {
    /// Nothing has been taken for so long.
    Behind(Duration),
    /// It began so long ago, and all has been taken again.
    Over(Duration),
}

/// Follows attempts, by a clock that nobody can set. Short failures that heal are nobody's business.
#[derive(Debug)]
pub(super) struct Watch {
    behind_after: Duration,
    over_after: Duration,
    /// The first failure after which nothing was taken.
    failing_since: Option<Duration>,
    /// From when on what was told counts.
    told_since: Option<Duration>,
    /// Since when all has been taken, while a warning stands.
    well_since: Option<Duration>,
}

impl Watch {
    pub(super) const fn new(behind_after: Duration, over_after: Duration) -> Self {
        Self { behind_after, over_after, failing_since: None, told_since: None, well_since: None }
    }

    /// An attempt failed.
    pub(super) fn failed(&mut self, now: Duration) -> Option<Change> {
        self.well_since = None;
        let since = *self.failing_since.get_or_insert(now);
        let lasting = now.saturating_sub(since);
        if self.told_since.is_some() || lasting < self.behind_after {
            return None;
        }
        self.told_since = Some(since);
        Some(Change::Behind(lasting))
    }

    /// Something was taken.
    pub(super) const fn taken(&mut self) {
        self.failing_since = None;
    }

    /// Nothing waits.
    pub(super) fn idle(&mut self, now: Duration) -> Option<Change> {
        self.failing_since = None;
        let told = self.told_since?;
        let well = *self.well_since.get_or_insert(now);
        if now.saturating_sub(well) < self.over_after {
            return None;
        }
        (self.told_since, self.well_since) = (None, None);
        Some(Change::Over(now.saturating_sub(told)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE: Duration = Duration::from_secs(60);

    #[test]
    fn it_is_told_once_after_a_while_and_is_over_after_a_while() {
        let at = |minutes: u32| minutes * MINUTE;
        let mut watch = Watch::new(15 * MINUTE, 5 * MINUTE);
        assert_eq!(watch.failed(at(0)), None);
        assert_eq!(watch.failed(at(14)), None);
        assert_eq!(watch.failed(at(16)), Some(Change::Behind(16 * MINUTE)));
        assert_eq!(watch.failed(at(40)), None, "told once");
        watch.taken();
        assert_eq!(watch.idle(at(50)), None);
        assert_eq!(watch.idle(at(54)), None);
        assert_eq!(watch.failed(at(54)), None, "not well after all");
        assert_eq!(watch.idle(at(60)), None);
        assert_eq!(watch.idle(at(65)), Some(Change::Over(65 * MINUTE)));
        assert_eq!(watch.idle(at(90)), None, "told once");
    }

    #[test]
    fn what_heals_in_between_is_not_told() {
        let mut watch = Watch::new(15 * MINUTE, 5 * MINUTE);
        for minute in (0..120).step_by(10) {
            assert_eq!(watch.failed(minute * MINUTE), None);
            watch.taken();
        }
        for minute in (120..240).step_by(10) {
            assert_eq!(watch.failed(minute * MINUTE), None);
            assert_eq!(watch.idle((minute + 1) * MINUTE), None);
        }
    }
}
