//! Steps of local time: the hours of a bloom, or the days and nights of a longer span.
//!
//! Night is from 21:00 to 06:00 by the site's clocks, whatever the season: a rule that can be checked by looking at a clock
//! (judgement).

use bloom_model::time::Time;
use bloom_text::when;
use chrono::{NaiveDate, Offset, TimeZone, Timelike};
use chrono_tz::Tz;

/// Night begins at this local hour.
pub const NIGHT_FROM_HOUR: u32 = 21;
/// Night ends at this local hour.
pub const NIGHT_UNTIL_HOUR: u32 = 6;
/// A span of up to so many days is told hour by hour, a longer one by days and nights: some 3,000 steps.
const HOURLY_UP_TO_D: f64 = 125.0;

/// Night or day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// From [`NIGHT_UNTIL_HOUR`] to [`NIGHT_FROM_HOUR`].
    Day,
    /// The rest; it has the date of its evening.
    Night,
}

/// How finely a span is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// Each local hour.
    Hours,
    /// Each day and each night.
    DaysAndNights,
}

/// A step of time, its end not included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// Its beginning.
    pub from: Time,
    /// Its end.
    pub until: Time,
    /// Which part of the day it belongs to.
    pub part: Part,
    /// The local date; of a night, that of its evening.
    pub date: NaiveDate,
}

/// The steps from one instant to another; the first and last may be cut short.
pub fn steps(from: Time, until: Time, zone: Tz) -> (Pace, Vec<Step>) {
    let pace = if until.days_since(from) <= HOURLY_UP_TO_D { Pace::Hours } else { Pace::DaysAndNights };
    let mut steps = Vec::new();
    let mut at = from;
    while at < until {
        let next = match pace {
            Pace::Hours => next_full_hour(at, zone),
            Pace::DaysAndNights => {
                at.next_local_hour(NIGHT_FROM_HOUR, zone).min(at.next_local_hour(NIGHT_UNTIL_HOUR, zone))
            }
        };
        let (part, date) = part_of(at, zone);
        steps.push(Step { from: at, until: next.min(until), part, date });
        at = next;
    }
    (pace, steps)
}

/// The nights that touch a span, each from its beginning to its end.
pub fn nights(from: Time, until: Time, zone: Tz) -> Vec<(Time, Time)> {
    let mut nights = Vec::new();
    // the night that is going on at `from` began less than a day before
    let mut at = from.plus_hours(-24.0);
    loop {
        let begins = at.next_local_hour(NIGHT_FROM_HOUR, zone);
        let ends = begins.next_local_hour(NIGHT_UNTIL_HOUR, zone);
        if begins >= until {
            return nights;
        }
        if ends > from {
            nights.push((begins, ends));
        }
        at = begins;
    }
}

/// The part of the day at an instant, and the date that it goes by.
pub fn part_of(time: Time, zone: Tz) -> (Part, NaiveDate) {
    let local = time.utc().with_timezone(&zone);
    let date = local.date_naive();
    match local.hour() {
        hour if hour >= NIGHT_FROM_HOUR => (Part::Night, date),
        hour if hour < NIGHT_UNTIL_HOUR => (Part::Night, date.pred_opt().unwrap_or(date)),
        _ => (Part::Day, date),
    }
}

/// The next instant at which local clocks show a full hour.
pub fn next_full_hour(time: Time, zone: Tz) -> Time {
    const HOUR_MS: i64 = 3_600_000;
    let offset_s = zone.offset_from_utc_datetime(&time.utc().naive_utc()).fix().local_minus_utc();
    let offset_ms = i64::from(offset_s) * 1000;
    let local_ms = time.unix_ms() + offset_ms;
    Time::from_unix_ms((local_ms.div_euclid(HOUR_MS) + 1) * HOUR_MS - offset_ms)
}

/// The first instant of the local day that an instant lies in.
pub fn midnight_before(time: Time, zone: Tz) -> Time {
    // a day has at most 25 hours; where clocks skip midnight the day begins an hour later
    let mut at = time.plus_hours(-26.0);
    loop {
        let next = at.next_local_hour(0, zone);
        if next > time || next <= at {
            return at;
        }
        at = next;
    }
}

/// An instant with its offset, as spreadsheets and programs read it: `2027-06-02T16:45:00-03:00`.
pub fn iso(time: Time, zone: Tz) -> String {
    time.utc().with_timezone(&zone).to_rfc3339_opts(chrono::SecondsFormat::AutoSi, false)
}

/// What night is.
pub(super) fn night_words() -> String {
    let night = when::hours((f64::from(NIGHT_FROM_HOUR), f64::from(NIGHT_UNTIL_HOUR)));
    format!("Night is {night} by local clocks.")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Time {
        Time::from(chrono::DateTime::parse_from_rfc3339(text).unwrap().with_timezone(&chrono::Utc))
    }

    const HALIFAX: Tz = chrono_tz::America::Halifax;

    /// On 14 March 2027 clocks in Halifax go from 01:59 to 03:00, on 7 November from 01:59 back to 01:00 (IANA time zones).
    #[test]
    fn nights_are_an_hour_shorter_in_spring_and_longer_in_autumn() {
        for (day, hours) in [("2027-03-13", 8.0), ("2027-06-01", 9.0), ("2027-11-06", 10.0)] {
            let noon = at(&format!("{day}T16:00:00Z"));
            let nights = nights(noon, noon.plus_hours(24.0), HALIFAX);
            assert_eq!(nights.len(), 1, "{day}");
            assert!((nights[0].1.hours_since(nights[0].0) - hours).abs() < 1e-9, "{day}");
            let (pace, steps) = steps(noon, noon.plus_hours(24.0), HALIFAX);
            assert_eq!((pace, steps.len()), (Pace::Hours, 24), "an hour is an hour");
            let night: f64 = steps
                .iter()
                .filter(|step| step.part == Part::Night)
                .map(|step| step.until.hours_since(step.from))
                .sum();
            assert!((night - hours).abs() < 1e-9, "{day}: {night}");
            assert!(steps.iter().filter(|step| step.part == Part::Night).all(|s| s.date == steps[0].date));
        }
    }

    #[test]
    fn hours_are_those_of_local_clocks() {
        let newfoundland = chrono_tz::America::St_Johns;
        let next = next_full_hour(at("2027-06-02T12:00:00Z"), newfoundland);
        assert_eq!(next.to_string(), "2027-06-02T12:30:00Z");
        assert_eq!(midnight_before(at("2027-06-02T02:59:00Z"), HALIFAX).to_string(), "2027-06-01T03:00:00Z");
        assert_eq!(midnight_before(at("2027-06-02T03:00:00Z"), HALIFAX).to_string(), "2027-06-02T03:00:00Z");
    }

    #[test]
    fn long_spans_go_by_days_and_nights_without_a_hole() {
        let (from, until) = (at("2024-01-01T00:00:00Z"), at("2027-01-01T00:00:00Z"));
        let (pace, steps) = steps(from, until, HALIFAX);
        assert_eq!(pace, Pace::DaysAndNights);
        assert!((2190..2200).contains(&steps.len()));
        assert!(steps.windows(2).all(|pair| pair[0].until == pair[1].from && pair[0].part != pair[1].part));
        assert_eq!((steps[0].from, steps.last().unwrap().until), (from, until));
    }
}
