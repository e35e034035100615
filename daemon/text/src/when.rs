//! Instants, dates and spans as people read them, by the local clocks of a house.

use bloom_model::event::Window;
use bloom_model::time::Time;
use chrono::{DateTime, Datelike, NaiveDate, TimeDelta};
use chrono_tz::Tz;

/// A weekday tells which day it was within so many days: the same weekday of last week is another one.
const A_WEEKDAY_TELLS_D: f64 = 6.0;

fn local(time: Time, zone: Tz) -> DateTime<Tz> {
    time.utc().with_timezone(&zone)
}

/// `16:15`.
pub fn clock(time: Time, zone: Tz) -> String {
    local(time, zone).format("%H:%M").to_string()
}

/// `22:04:09`.
pub fn clock_to_the_second(time: Time, zone: Tz) -> String {
    local(time, zone).format("%H:%M:%S").to_string()
}

/// `Wed 16:15`.
pub fn day_clock(time: Time, zone: Tz) -> String {
    local(time, zone).format("%a %H:%M").to_string()
}

/// `16:15` of today; `Tue 16:15` of the days before, and what is older or further ahead than a week with its date.
pub fn clock_seen_from(time: Time, now: Time, zone: Tz) -> String {
    let days = (now.local_date(zone) - time.local_date(zone)).num_days();
    match days {
        0 => clock(time, zone),
        -6..=6 => day_clock(time, zone),
        _ => date_clock(time, zone, local(time, zone).year() != now.local_date(zone).year()),
    }
}

/// `Wed 16:15` of the last days; of what is older the date alone, `6 Aug`.
pub(crate) fn day_clock_or_date(time: Time, now: Time, zone: Tz) -> String {
    if now.days_since(time) < A_WEEKDAY_TELLS_D {
        return day_clock(time, zone);
    }
    short_date(time.local_date(zone), false)
}

/// `2 Jun 16:45`; with the year where it is not plain from the rest.
pub fn date_clock(time: Time, zone: Tz, with_year: bool) -> String {
    format!("{} {}", short_date(time.local_date(zone), with_year), clock(time, zone))
}

/// `Wed 2 Jun 2027 21:40`.
pub fn moment(time: Time, zone: Tz) -> String {
    local(time, zone).format("%a %-d %b %Y %H:%M").to_string()
}

/// `Wed 2 Jun 2027 17:00 to Thu 08:00`.
pub fn window(window: &Window, zone: Tz) -> String {
    format!("{} to {}", moment(window.from, zone), day_clock(window.until, zone))
}

/// Two local hours of the day, `18:00 to 02:00`.
pub fn hours((from, until): (f64, f64)) -> String {
    let hour = |value: f64| format!("{:02.0}:{:02.0}", value.floor(), (value.fract() * 60.0).round());
    format!("{} to {}", hour(from), hour(until))
}

/// `2 Jun 2027`.
pub fn date(time: Time, zone: Tz) -> String {
    short_date(time.local_date(zone), true)
}

/// `2 Jun`; with the year where it is not plain from the rest.
pub fn short_date(date: NaiveDate, with_year: bool) -> String {
    date.format(if with_year { "%-d %b %Y" } else { "%-d %b" }).to_string()
}

/// `2 June 2027`.
pub fn long_date(date: NaiveDate) -> String {
    date.format("%-d %B %Y").to_string()
}

/// `Wednesday 2 June`; with the year where it is not plain from the rest.
pub fn weekday(time: Time, zone: Tz, with_year: bool) -> String {
    local(time, zone).format(if with_year { "%A %-d %B %Y" } else { "%A %-d %B" }).to_string()
}

/// `Jun 2027`.
pub fn month(date: NaiveDate) -> String {
    date.format("%b %Y").to_string()
}

/// `2027`.
pub fn year(date: NaiveDate) -> String {
    date.format("%Y").to_string()
}

/// How long ago, `12 min ago`.
pub fn ago(time: Time, now: Time) -> String {
    format!("{} ago", brief_span(now - time))
}

/// `4 s`, `12 min`, `3 h`, `2 d`.
pub fn brief_span(span: TimeDelta) -> String {
    match span.num_seconds().max(0) {
        seconds @ ..100 => format!("{seconds} s"),
        seconds @ ..6_000 => format!("{} min", seconds / 60),
        seconds @ ..172_800 => format!("{} h", seconds / 3_600),
        seconds => format!("{} d", seconds / 86_400),
    }
}

/// `90 min`, `5 h`, `3 days`: in a sentence.
pub(crate) fn span(span: TimeDelta) -> String {
    match span.num_minutes() {
        minutes @ ..180 => format!("{minutes} min"),
        minutes @ ..4_320 => format!("{} h", minutes / 60),
        minutes => format!("{} days", minutes / 1_440),
    }
}

/// `6 h`, `12 days`, `9 months` or `2.1 years`: how long something keeps or lasts.
pub fn long_span(days: f64) -> String {
    match days {
        days if days < 2.0 => format!("{:.0} h", days * 24.0),
        days if days < 92.0 => format!("{days:.0} days"),
        days if days < 730.0 => format!("{:.0} months", days / 30.44),
        days => format!("{:.1} years", days / 365.25),
    }
}

/// `2.0 years to 3.0 years`, or one span where both are the same.
pub fn long_spans((shortest, longest): (f64, f64)) -> String {
    let (one, other) = (long_span(shortest), long_span(longest));
    if one == other { one } else { format!("{one} to {other}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_said_in_the_unit_that_people_use() {
        let brief = |seconds| brief_span(TimeDelta::seconds(seconds));
        assert_eq!(
            (brief(4), brief(99 * 60), brief(100 * 60)),
            ("4 s".into(), "99 min".into(), "1 h".into())
        );
        assert_eq!(brief(3 * 86_400), "3 d");
        assert_eq!(brief(-3), "0 s", "a clock that was set back");
        assert_eq!(long_span(0.25), "6 h");
        assert_eq!(long_span(12.2), "12 days");
        assert_eq!(long_span(270.0), "9 months");
        assert_eq!(long_spans((730.0, 1095.0)), "2.0 years to 3.0 years");
        assert_eq!(long_spans((21.0, 21.0)), "21 days");
    }

    #[test]
    fn an_instant_has_as_much_of_its_date_as_it_needs() {
        let zone = chrono_tz::America::Halifax;
        // Wednesday 2 June 2027, 09:00
        let nine = Time::from_unix_ms(1_811_937_600_000);
        let days = |days: f64| clock_seen_from(nine.plus_hours(24.0 * days), nine, zone);
        assert_eq!(days(0.0), "09:00");
        assert_eq!((days(-1.0), days(6.0)), ("Tue 09:00".to_owned(), "Tue 09:00".to_owned()));
        assert_eq!(days(-7.0), "26 May 09:00");
        assert_eq!(days(-365.0), "2 Jun 2026 09:00");
        assert_eq!(moment(nine, zone), "Wed 2 Jun 2027 09:00");
        assert_eq!(weekday(nine, zone, true), "Wednesday 2 June 2027");
        assert_eq!(hours((18.0, 2.5)), "18:00 to 02:30");
    }
}
