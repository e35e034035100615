//! Instants and spans. Time is an argument here: nothing in this crate can ask for it.

use std::borrow::Cow;
use std::fmt;
use std::ops::{Add, Sub};
use std::time::Duration;

use chrono::{DateTime, MappedLocalTime, NaiveDate, NaiveTime, SecondsFormat, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};

/// An instant: whole milliseconds since 1970-01-01T00:00:00Z, leap seconds not counted.
///
/// Written as RFC 3339 where people read (JSON), as the bare number elsewhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Time(i64);

/// The latest instant accepted from outside: the end of the year 9999, so that every instant can be written.
const MAX_MS: i64 = 253_402_300_799_999;

impl Time {
    /// The instant `ms` milliseconds after the epoch, held within the years 0001 to 9999.
    pub const fn from_unix_ms(ms: i64) -> Self {
        Self(if ms > MAX_MS {
            MAX_MS
        } else if ms < -62_135_596_800_000 {
            -62_135_596_800_000
        } else {
            ms
        })
    }

    /// The instant `seconds` after the epoch, to the nearest millisecond; `None` outside 1970 to 9999 or not a number.
    pub fn from_unix_s(seconds: f64) -> Option<Self> {
        let ms = (seconds * 1e3).round();
        (ms >= 0.0 && ms <= MAX_MS as f64).then_some(Self(ms as i64))
    }

    /// Milliseconds since the epoch.
    pub const fn unix_ms(self) -> i64 {
        self.0
    }

    /// Hours from `earlier` to this instant; negative if `earlier` is later.
    pub fn hours_since(self, earlier: Self) -> f64 {
        (self.0 - earlier.0) as f64 / 3_600_000.0
    }

    /// Days from `earlier` to this instant; negative if `earlier` is later.
    pub fn days_since(self, earlier: Self) -> f64 {
        self.hours_since(earlier) / 24.0
    }

    /// This instant moved by a number of hours, to the nearest millisecond.
    pub fn plus_hours(self, hours: f64) -> Self {
        Self::from_unix_ms(self.0 + (hours * 3_600_000.0).round() as i64)
    }

    /// The nearest whole minute: estimates carry no seconds.
    pub const fn to_the_minute(self) -> Self {
        Self::from_unix_ms((self.0 + 30_000).div_euclid(60_000) * 60_000)
    }

    /// The first whole minute after this instant.
    pub const fn next_minute(self) -> Self {
        Self::from_unix_ms((self.0.div_euclid(60_000) + 1) * 60_000)
    }

    /// The same instant as a `chrono` value.
    pub fn utc(self) -> DateTime<Utc> {
        DateTime::from_timestamp_millis(self.0).unwrap_or(DateTime::UNIX_EPOCH)
    }

    /// The local date at this instant.
    pub fn local_date(self, zone: Tz) -> NaiveDate {
        self.utc().with_timezone(&zone).date_naive()
    }

    /// The local hour of the day with its fraction, 0 up to 24.
    pub fn local_hour(self, zone: Tz) -> f64 {
        use chrono::Timelike;
        f64::from(self.utc().with_timezone(&zone).num_seconds_from_midnight()) / 3600.0
    }

    /// The instant at which local clocks show an hour with its fraction; one that spring skips is taken an hour later.
    pub fn at_local_hour(date: NaiveDate, hour: f64, zone: Tz) -> Self {
        let naive = date.and_time(NaiveTime::MIN) + TimeDelta::minutes((hour * 60.0).round() as i64);
        let at = zone.from_local_datetime(&naive).earliest();
        let at = at.or_else(|| zone.from_local_datetime(&(naive + TimeDelta::hours(1))).earliest());
        at.map_or_else(|| Self::from(naive.and_utc()), |at| at.to_utc().into())
    }

    /// The first instant after this one at which local clocks show `hour` o'clock.
    ///
    /// An hour that the spring change skips is taken an hour later; of an autumn hour that comes twice the first is taken.
    pub fn next_local_hour(self, hour: u32, zone: Tz) -> Self {
        let clock = NaiveTime::from_hms_opt(hour.min(23), 0, 0).unwrap_or_default();
        self.next_of(clock, zone, |shown| [shown.earliest(), None])
    }

    /// The first instant after this one at which local clocks show that time of day.
    ///
    /// One that the spring change skips is taken an hour later; one that comes twice in autumn counts both times.
    pub fn next_local_time(self, clock: NaiveTime, zone: Tz) -> Self {
        self.next_of(clock, zone, |shown| [shown.earliest(), shown.latest()])
    }

    fn next_of(
        self,
        clock: NaiveTime,
        zone: Tz,
        which: impl Fn(&MappedLocalTime<DateTime<Tz>>) -> [Option<DateTime<Tz>>; 2],
    ) -> Self {
        let today = self.local_date(zone);
        for ahead in 0..3 {
            let naive = (today + chrono::Days::new(ahead)).and_time(clock);
            let [first, second] = which(&zone.from_local_datetime(&naive));
            let skipped = || zone.from_local_datetime(&(naive + TimeDelta::hours(1))).earliest();
            let shown = [first.or_else(skipped), second].into_iter().flatten();
            if let Some(at) = shown.map(|at| at.timestamp_millis()).find(|at| *at > self.0) {
                return Self(at);
            }
        }
        self + TimeDelta::days(1)
    }
}

/// Both clocks at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Now {
    /// The site's time.
    pub time: Time,
    /// The clock that nobody can set: time since some fixed instant.
    pub monotonic: Duration,
}

impl Now {
    /// The site's time of an earlier moment of the clock that nobody can set.
    pub fn time_of(self, earlier: Duration) -> Time {
        self.time - TimeDelta::from_std(self.monotonic.saturating_sub(earlier)).unwrap_or_default()
    }
}

impl From<DateTime<Utc>> for Time {
    fn from(at: DateTime<Utc>) -> Self {
        Self::from_unix_ms(at.timestamp_millis())
    }
}

impl Add<TimeDelta> for Time {
    type Output = Self;
    fn add(self, span: TimeDelta) -> Self {
        Self::from_unix_ms(self.0.saturating_add(span.num_milliseconds()))
    }
}

impl Sub<TimeDelta> for Time {
    type Output = Self;
    fn sub(self, span: TimeDelta) -> Self {
        Self::from_unix_ms(self.0.saturating_sub(span.num_milliseconds()))
    }
}

impl Sub for Time {
    type Output = TimeDelta;
    fn sub(self, earlier: Self) -> TimeDelta {
        TimeDelta::milliseconds(self.0.saturating_sub(earlier.0))
    }
}

impl fmt::Display for Time {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.utc().to_rfc3339_opts(SecondsFormat::AutoSi, true))
    }
}

impl Serialize for Time {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if serializer.is_human_readable() {
            serializer.collect_str(self)
        } else {
            serializer.serialize_i64(self.0)
        }
    }
}

impl<'de> Deserialize<'de> for Time {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        if deserializer.is_human_readable() {
            let text = String::deserialize(deserializer)?;
            let at = DateTime::parse_from_rfc3339(&text).map_err(D::Error::custom)?;
            Ok(at.with_timezone(&Utc).into())
        } else {
            Ok(Self::from_unix_ms(i64::deserialize(deserializer)?))
        }
    }
}

impl JsonSchema for Time {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Time".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "format": "date-time" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mornings_follow_daylight_saving_time() {
        let halifax = chrono_tz::America::Halifax;
        let winter =
            Time::from(DateTime::parse_from_rfc3339("2027-03-13T20:00:00Z").unwrap().with_timezone(&Utc));
        let before = winter.next_local_hour(7, halifax);
        let after = before.next_local_hour(7, halifax);
        assert_eq!(before.to_string(), "2027-03-14T10:00:00Z");
        assert_eq!(after.to_string(), "2027-03-15T10:00:00Z");
        // 02:00 does not exist on 2027-03-14 in Halifax: 03:00 local is taken, 06:00Z
        assert_eq!(winter.next_local_hour(2, halifax).to_string(), "2027-03-14T06:00:00Z");
    }

    #[test]
    fn a_time_of_day_is_the_next_that_clocks_show() {
        let halifax = chrono_tz::America::Halifax;
        let next = |now: &str, clock: &str| {
            let now = Time::from(DateTime::parse_from_rfc3339(now).unwrap().with_timezone(&Utc));
            now.next_local_time(clock.parse().unwrap(), halifax).to_string()
        };
        // 20:40 in Halifax
        assert_eq!(next("2027-06-02T23:40:00Z", "21:30:00"), "2027-06-03T00:30:00Z");
        assert_eq!(next("2027-06-02T23:40:00Z", "00:10:00"), "2027-06-03T03:10:00Z", "over midnight");
        assert_eq!(next("2027-06-02T23:40:00Z", "20:40:00"), "2027-06-03T23:40:00Z", "now is not ahead");
        // clocks are put back from 02:00 to 01:00 on 2027-11-07, and forward over 02:30 on 2027-03-14
        assert_eq!(next("2027-11-07T04:55:00Z", "01:50:00"), "2027-11-07T05:50:00Z");
        assert_eq!(next("2027-11-07T04:40:00Z", "01:50:00"), "2027-11-07T04:50:00Z");
        assert_eq!(next("2027-03-14T05:40:00Z", "02:30:00"), "2027-03-14T06:30:00Z");
    }
}
