//! The test alarm: when a bud is seen and when it slows, a person proves that alarms reach somebody.

use chrono::TimeDelta;

use super::Bench;
use crate::event::{Details, Event, EventKind};
use crate::site::is_waking_hour;
use crate::time::Time;

/// A test alarm that nobody acknowledged ends after this long.
pub const TEST_STANDS_FOR: TimeDelta = TimeDelta::hours(24);

impl Bench {
    /// Raises a test alarm now, or in the morning where people sleep: who is woken by tests turns alarms off.
    pub(super) fn plan_test(&mut self, now: Time, events: &mut Vec<Event>) {
        if !self.site.test_alarms {
            return;
        }
        if is_waking_hour(&self.site, now) {
            self.tell_test(now, events);
        } else {
            self.state.test_due = Some(now.next_local_hour(self.site.morning_hour, self.site.timezone));
        }
    }

    pub(super) fn tell_test(&mut self, now: Time, events: &mut Vec<Event>) {
        self.state.test_due = None;
        let mut event = self.event(now, EventKind::Test, Details::Test {});
        event.stands_until = Some(now + TEST_STANDS_FOR);
        events.push(event);
    }
}
