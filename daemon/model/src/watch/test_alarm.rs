//! The test alarm of the site, now and then: the proof that a person is reached, and not only a broker.
//!
//! It comes in the morning, so many days after the newest test of any kind in the record; where there is none yet, on the first
//! morning after a start.

use std::num::NonZeroU32;

use chrono::TimeDelta;

use crate::event::{Event, EventKind};
use crate::spec::SiteSpec;
use crate::time::Time;

/// A test comes some milliseconds after its hour, and that hour is another one when the clocks have been changed meanwhile: the next is
/// due on the morning after so much less, or it would come a day late.
const LATE_AT_MOST: TimeDelta = TimeDelta::hours(2);

/// When the next test alarm of the site is due.
#[derive(Debug, Clone, Copy)]
pub(super) struct SiteTests {
    every: TimeDelta,
    due: Time,
}

impl SiteTests {
    /// The first in a run that begins at `now`; the newest test before was at `last`.
    pub(super) fn plan(every_days: NonZeroU32, last: Option<Time>, now: Time, spec: &SiteSpec) -> Self {
        Self::after(last, TimeDelta::days(every_days.get().into()), now, spec)
    }

    /// The test that follows one of the instant `last`, seen at `now`.
    fn after(last: Option<Time>, every: TimeDelta, now: Time, spec: &SiteSpec) -> Self {
        let morning_after = |time: Time| time.next_local_hour(spec.morning_hour, spec.timezone);
        let due = last.map(|last| morning_after(last + every - LATE_AT_MOST));
        // what fell due while nobody was there comes on the next morning, not in the middle of a night
        Self { every, due: due.filter(|due| *due > now).unwrap_or_else(|| morning_after(now)) }
    }

    /// When the next is due.
    pub(super) const fn due(self) -> Time {
        self.due
    }

    /// An event was told: every test, of a bench or of the site, puts off the next one of the site.
    pub(super) fn noting(self, event: &Event, now: Time, spec: &SiteSpec) -> Self {
        match event.kind {
            EventKind::Test => Self::after(Some(event.time), self.every, now, spec),
            _ => self,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::example::saltmarsh;

    fn at(text: &str) -> Time {
        text.parse::<chrono::DateTime<chrono::Utc>>().unwrap().into()
    }

    #[test]
    fn a_test_comes_in_the_morning_so_many_days_after_the_last() {
        let every_days = NonZeroU32::new(30).unwrap();
        let due = |last: Option<&str>, now: &str| {
            SiteTests::plan(every_days, last.map(at), at(now), &saltmarsh()).due().to_string()
        };
        // 07:00 in Halifax is 10:00Z in summer and 11:00Z in winter
        assert_eq!(due(None, "2027-06-01T18:00:00Z"), "2027-06-02T10:00:00Z", "the first is near");
        assert_eq!(due(Some("2027-06-02T10:00:00Z"), "2027-06-02T10:00:00Z"), "2027-07-02T10:00:00Z");
        assert_eq!(
            due(Some("2027-06-02T10:00:00Z"), "2027-06-20T03:00:00Z"),
            "2027-07-02T10:00:00Z",
            "over a restart"
        );
        assert_eq!(due(Some("2027-10-20T10:00:00Z"), "2027-10-21T10:00:00Z"), "2027-11-19T11:00:00Z");
        assert_eq!(due(Some("2027-03-01T11:00:00Z"), "2027-03-01T11:00:00Z"), "2027-03-31T10:00:00Z");
        assert_eq!(due(Some("2027-06-02T10:00:00.004Z"), "2027-06-02T10:00:00.005Z"), "2027-07-02T10:00:00Z");
        assert_eq!(
            due(Some("2027-06-02T10:00:00Z"), "2028-01-05T02:00:00Z"),
            "2028-01-05T11:00:00Z",
            "not at night"
        );
    }
}
