//! The test alarm of the site, now and then: the proof that a person is reached, and not only a broker.
//!
//! It comes in the morning, so many days after the newest test of any kind in the record; where there is none yet, on the first
//! morning after a start. Only by the machine's clock: a recording that is played calls nobody.

use std::num::NonZeroU32;

use bloom_model::bench::TEST_STANDS_FOR;
use bloom_model::event::{Details, Event, EventKind};
use bloom_model::spec::SiteSpec;
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::Keeper;
use crate::store::StoreError;

/// A test comes some milliseconds after its hour, and that hour is another one when the clocks have been changed meanwhile: the next is
/// due on the morning after so much less, or it would come a day late.
const LATE_AT_MOST: TimeDelta = TimeDelta::hours(2);

/// When the next test alarm of the site is due.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tests {
    every: TimeDelta,
    due: Time,
}

impl Tests {
    /// The test that follows one of the instant `last`, seen at `now`.
    fn after(last: Option<Time>, every: TimeDelta, now: Time, spec: &SiteSpec) -> Self {
        let morning_after = |time: Time| time.next_local_hour(spec.morning_hour, spec.timezone);
        let due = last.map(|last| morning_after(last + every - LATE_AT_MOST));
        // what fell due while nobody was there comes on the next morning, not in the middle of a night
        Self { every, due: due.filter(|due| *due > now).unwrap_or_else(|| morning_after(now)) }
    }
}

impl Keeper {
    /// Takes up the tests where the record says they were left.
    pub(super) fn plan_tests(&mut self, every_days: Option<NonZeroU32>) -> Result<(), StoreError> {
        let Some(days) = every_days else { return Ok(()) };
        let last = self.store.newest_test(EventKind::Test.name())?;
        let every = TimeDelta::days(days.get().into());
        self.tests = Some(Tests::after(last, every, self.now(), self.site.spec()));
        Ok(())
    }

    /// When the next test of the site is due.
    pub(super) fn test_due(&self) -> Option<Time> {
        self.tests.map(|tests| tests.due)
    }

    /// Raises the test of the site if it is due.
    pub(super) fn test_whether_people_are_reached(&mut self, now: Time) {
        if self.test_due().is_none_or(|due| due > now) {
            return;
        }
        let mut event = self.site_event(now, EventKind::Test, Details::Test {});
        event.stands_until = Some(now + TEST_STANDS_FOR);
        self.raise(&event);
    }

    /// Every test puts off the next one of the site.
    pub(super) fn note_test(&mut self, event: &Event) {
        if let (EventKind::Test, Some(Tests { every, .. })) = (event.kind, self.tests) {
            self.tests = Some(Tests::after(Some(event.time), every, self.now(), self.site.spec()));
        }
    }
}

#[cfg(test)]
mod tests {
    use bloom_model::spec::Units;

    use super::*;

    fn spec() -> SiteSpec {
        SiteSpec {
            name: "saltmarsh".into(),
            timezone: chrono_tz::America::Halifax,
            units: Units::Metric,
            pressure_kpa: 101.325,
            morning_hour: 7,
            silent_after: TimeDelta::minutes(15),
            heat: bloom_model::heat::HeatLimits::default(),
            test_alarms: true,
        }
    }

    fn at(text: &str) -> Time {
        text.parse::<chrono::DateTime<chrono::Utc>>().unwrap().into()
    }

    #[test]
    fn a_test_comes_in_the_morning_so_many_days_after_the_last() {
        let every = TimeDelta::days(30);
        let due = |last: Option<&str>, now: &str| {
            Tests::after(last.map(at), every, at(now), &spec()).due.to_string()
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
