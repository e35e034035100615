//! The season's hours and the local clock.

use bloom_model::event::Window;
use bloom_model::time::Time;
use chrono::{NaiveDate, NaiveTime, TimeDelta, TimeZone};
use chrono_tz::Tz;

/// The zone whose clocks the house keeps.
pub(crate) const ZONE: Tz = chrono_tz::America::Halifax;

/// Hours since the season's start, which is a local midnight.
///
/// The sun, the house's timers and the staff's day go by hours since that midnight: within an hour of local clocks, for
/// none of them follows a change of the clocks at once. What is told by the clock (the crack) is placed by [`at_clock`].
///
/// [`at_clock`]: Calendar::at_clock
#[derive(Debug, Clone, Copy)]
pub(crate) struct Calendar {
    first_day: NaiveDate,
    start: Time,
}

impl Calendar {
    pub(crate) fn new(first_day: NaiveDate) -> Self {
        Self { first_day, start: local_instant(first_day, 0.0) }
    }

    pub(crate) const fn first_day(&self) -> NaiveDate {
        self.first_day
    }

    pub(crate) fn time(&self, hour: f64) -> Time {
        self.start.plus_hours(hour)
    }

    pub(crate) fn hour(&self, time: Time) -> f64 {
        time.hours_since(self.start)
    }

    pub(crate) fn window(&self, from_h: f64, until_h: f64) -> Window {
        Window { from: self.time(from_h), until: self.time(until_h) }
    }

    /// Hours since the start at which local clocks show `clock_hour` on the day with this number.
    pub(crate) fn at_clock(&self, day: u32, clock_hour: f64) -> f64 {
        let date = self.first_day + TimeDelta::days(i64::from(day));
        self.hour(local_instant(date, clock_hour))
    }
}

/// The instant at which local clocks show this hour, to the second; in the hour that spring skips, an hour later.
fn local_instant(date: NaiveDate, clock_hour: f64) -> Time {
    let naive = date.and_time(NaiveTime::MIN) + TimeDelta::seconds((clock_hour * 3600.0).round() as i64);
    let later = naive + TimeDelta::hours(1);
    ZONE.from_local_datetime(&naive)
        .earliest()
        .or_else(|| ZONE.from_local_datetime(&later).earliest())
        .map_or_else(|| naive.and_utc().into(), |at| at.to_utc().into())
}
