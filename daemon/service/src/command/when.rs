//! Times as people type them.

use bloom_model::time::Time;
use chrono::{
    DateTime, Datelike, Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, TimeZone, Utc, Weekday,
};
use chrono_tz::Tz;

/// What is said to whoever types something else.
const EXAMPLES: &str = "now, 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 30 May 08:10, 2027-05-30 08:10 or 2027-05-30T08:10:00Z";

/// Hours that parts of a day stand for. They are our choice; whoever says one is told which hour was taken.
const PARTS: [(&str, u32); 6] =
    [("morning", 8), ("noon", 12), ("midday", 12), ("afternoon", 15), ("evening", 20), ("night", 22)];

/// A span said in one number is no longer than this: longer ago there was no record.
const LONGEST_AGO_D: f64 = 36_525.0;

/// Reads `now`, `21:40`, `4:40 pm`, `an hour ago`, `yesterday 18:00`, `last night`, `Tue 18:00`, `30 May 08:10`, `2027-05-30 08:10`,
/// `2027-05-30` or RFC 3339; local unless it says otherwise. A weekday, or a date without a year, is the last such.
///
/// Of an autumn hour that comes twice the first is meant; an hour that spring skips does not exist.
///
/// # Errors
/// With what was typed, and what would be right.
pub(super) fn read(text: &str, now: Time, zone: Tz) -> Result<Time, String> {
    let text = text.trim();
    if let Ok(at) = DateTime::parse_from_rfc3339(text) {
        return Ok(at.with_timezone(&Utc).into());
    }
    let no_time = || format!("{text:?} is no time: give {EXAMPLES}");
    let lower = text.to_lowercase();
    let words: Vec<&str> = lower.split([' ', ',', '\t']).filter(|word| !word.is_empty()).collect();
    match words.as_slice() {
        ["now"] => return Ok(now),
        [span @ .., "ago"] => return read_span(span).map(|span| now - span).ok_or_else(no_time),
        _ => {}
    }
    let said = Said::read(&words, now, zone).ok_or_else(no_time)?;
    local(said.meant(now, zone).ok_or_else(no_time)?, zone)
}

/// `an hour`, `20 minutes`, `1 h 30 min`, `half an hour`.
fn read_span(words: &[&str]) -> Option<TimeDelta> {
    let mut days = 0.0;
    let mut rest = words;
    while let [first, further @ ..] = rest {
        if *first == "and" && days > 0.0 {
            rest = further;
            continue;
        }
        let (number, after) = match rest {
            ["half", "a" | "an", after @ ..] => (0.5, after),
            ["a" | "an" | "one", after @ ..] => (1.0, after),
            _ => {
                let end = first.find(|letter: char| !letter.is_ascii_digit() && letter != '.');
                let (number, unit) = first.split_at(end.unwrap_or(first.len()));
                let number: f64 = number.parse().ok()?;
                if !unit.is_empty() {
                    // `20min`
                    days += number * unit_days(unit)?;
                    rest = further;
                    continue;
                }
                (number, further)
            }
        };
        let (unit, after) = after.split_first()?;
        days += number * unit_days(unit)?;
        rest = after;
    }
    let whole = (0.0..=LONGEST_AGO_D).contains(&days) && !words.is_empty();
    whole.then(|| TimeDelta::milliseconds((days * 86_400_000.0).round() as i64))
}

fn unit_days(unit: &str) -> Option<f64> {
    Some(match unit {
        "s" | "sec" | "second" | "seconds" => 1.0 / 86_400.0,
        "min" | "mins" | "minute" | "minutes" => 1.0 / 1_440.0,
        "h" | "hr" | "hrs" | "hour" | "hours" => 1.0 / 24.0,
        "d" | "day" | "days" => 1.0,
        "week" | "weeks" => 7.0,
        _ => return None,
    })
}

/// A day as it was said.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Day {
    Of(NaiveDate),
    /// The last such.
    Weekday(Weekday),
    /// Of the last year in which it was.
    Yearly {
        month: u32,
        day: u32,
    },
}

/// A day and an hour as they were said, in either order.
#[derive(Debug, Default)]
struct Said {
    day: Option<Day>,
    clock: Option<NaiveTime>,
}

impl Said {
    fn read(words: &[&str], now: Time, zone: Tz) -> Option<Self> {
        let today = now.local_date(zone);
        let mut said = Self::default();
        let mut rest = words;
        while !rest.is_empty() {
            rest = match rest {
                ["at" | "on" | "this", after @ ..] if !after.is_empty() => after,
                ["last", "night", after @ ..] => {
                    said.day(Day::Of(today.pred_opt()?))?;
                    said.clock(part_of_day("night")?)?;
                    after
                }
                ["last", after @ ..] if after.first().is_some_and(|day| weekday(day).is_some()) => after,
                ["today", after @ ..] => {
                    said.day(Day::Of(today))?;
                    after
                }
                ["yesterday", after @ ..] => {
                    said.day(Day::Of(today.pred_opt()?))?;
                    after
                }
                [hour, "am" | "a.m." | "pm" | "p.m.", after @ ..] => {
                    said.clock(clock(&format!("{hour}{}", rest.get(1)?))?)?;
                    after
                }
                [one, other, after @ ..] if month_and_day(one, other).is_some() => {
                    let (month, day) = month_and_day(one, other)?;
                    let year =
                        after.first().filter(|word| word.len() == 4).and_then(|word| word.parse().ok());
                    said.day(match year {
                        Some(year) => Day::Of(NaiveDate::from_ymd_opt(year, month, day)?),
                        None => Day::Yearly { month, day },
                    })?;
                    after.get(usize::from(year.is_some())..)?
                }
                [word, after @ ..] => {
                    said.word(word)?;
                    after
                }
                [] => rest,
            };
        }
        Some(said)
    }

    fn word(&mut self, word: &str) -> Option<()> {
        if let Some(weekday) = weekday(word) {
            return self.day(Day::Weekday(weekday));
        }
        if let Some(part) = part_of_day(word) {
            return self.clock(part);
        }
        if let Ok(date) = NaiveDate::parse_from_str(word, "%Y-%m-%d") {
            return self.day(Day::Of(date));
        }
        match word.split_once('t') {
            Some((date, hour)) => {
                self.day(Day::Of(NaiveDate::parse_from_str(date, "%Y-%m-%d").ok()?))?;
                self.clock(clock(hour)?)
            }
            None => self.clock(clock(word)?),
        }
    }

    /// `None` where a day was said before.
    fn day(&mut self, day: Day) -> Option<()> {
        self.day.replace(day).is_none().then_some(())
    }

    /// `None` where an hour was said before.
    fn clock(&mut self, clock: NaiveTime) -> Option<()> {
        self.clock.replace(clock).is_none().then_some(())
    }

    /// What local clocks showed; a day alone is its beginning.
    fn meant(&self, now: Time, zone: Tz) -> Option<NaiveDateTime> {
        let today = now.local_date(zone);
        let hour = match (self.day, self.clock) {
            (None, None) => return None,
            (_, clock) => clock.unwrap_or(NaiveTime::MIN),
        };
        let is_past = |date: NaiveDate| local(date.and_time(hour), zone).map_or(date < today, |at| at <= now);
        match self.day {
            None => Some(today.and_time(hour)),
            Some(Day::Of(date)) => Some(date.and_time(hour)),
            Some(Day::Weekday(weekday)) => {
                let mut days = (0..=7).filter_map(|back| today.checked_sub_days(Days::new(back)));
                days.find(|date| date.weekday() == weekday && is_past(*date)).map(|date| date.and_time(hour))
            }
            Some(Day::Yearly { month, day }) => {
                // 29 February is eight years apart where a century is skipped
                let mut years =
                    (0..=8).filter_map(|back| NaiveDate::from_ymd_opt(today.year() - back, month, day));
                years.find(|date| is_past(*date)).map(|date| date.and_time(hour))
            }
        }
    }
}

fn part_of_day(word: &str) -> Option<NaiveTime> {
    let (_, hour) = PARTS.iter().find(|(name, _)| *name == word)?;
    NaiveTime::from_hms_opt(*hour, 0, 0)
}

/// `tue`, `tuesday`, `tues`.
fn weekday(word: &str) -> Option<Weekday> {
    let word = word.trim_end_matches('.');
    word.parse().ok().or(match word {
        "tues" => Some(Weekday::Tue),
        "thur" | "thurs" => Some(Weekday::Thu),
        _ => None,
    })
}

/// `30 may`, `may 30`.
fn month_and_day(one: &str, other: &str) -> Option<(u32, u32)> {
    let month = |word: &str| {
        word.trim_end_matches('.').parse::<chrono::Month>().ok().map(|month| month.number_from_month())
    };
    let day = |word: &str| {
        let digits = word.trim_end_matches(['.', 't', 'h', 's', 'n', 'd', 'r']);
        digits.parse().ok().filter(|day| (1..=31).contains(day))
    };
    day(one).zip(month(other)).map(|(day, month)| (month, day)).or_else(|| month(one).zip(day(other)))
}

/// `21:40`, `16.40`, `16h40`, `4:40pm`, `4pm`.
fn clock(word: &str) -> Option<NaiveTime> {
    let half = |ends: [&str; 2]| ends.iter().find_map(|end| word.strip_suffix(end));
    let (digits, noon) = match (half(["am", "a.m."]), half(["pm", "p.m."])) {
        (Some(digits), _) => (digits, Some(0)),
        (_, Some(digits)) => (digits, Some(12)),
        _ => (word, None),
    };
    let (hour, minute) = match digits.split_once([':', '.', 'h']) {
        Some((hour, minute)) if minute.len() == 2 => (hour, minute),
        None if noon.is_some() => (digits, "00"),
        _ => return None,
    };
    let whole =
        |text: &str| text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse::<u32>().ok())?;
    let (hour, minute) = (whole(hour)?, whole(minute)?);
    let hour = match noon {
        Some(noon) => (1..=12).contains(&hour).then_some(hour % 12 + noon)?,
        None => hour,
    };
    NaiveTime::from_hms_opt(hour, minute, 0)
}

/// The instant at which local clocks show a time; of an autumn hour that comes twice the first is meant.
///
/// # Errors
/// Where clocks skip it.
pub(super) fn local(naive: NaiveDateTime, zone: Tz) -> Result<Time, String> {
    let at = zone.from_local_datetime(&naive).earliest();
    at.map(|at| at.with_timezone(&Utc).into()).ok_or_else(|| {
        format!("{naive} does not exist in {zone}: clocks are put forward over it; give an hour later")
    })
}

/// A time as an answer says it: `today 21:40`, `yesterday 18:00`, `Tue 18:00`, and what is older with its date.
pub(super) fn said(time: Time, now: Time, zone: Tz) -> String {
    let clock = bloom_text::when::clock(time, zone);
    match (now.local_date(zone) - time.local_date(zone)).num_days() {
        0 => format!("today {clock}"),
        1 => format!("yesterday {clock}"),
        2..=6 => bloom_text::when::day_clock(time, zone),
        _ => bloom_text::when::moment(time, zone),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const ZONE: Tz = chrono_tz::America::Halifax;

    /// Wednesday 2 June 2027, 16:45 in Halifax.
    fn now() -> Time {
        read("2027-06-02T19:45:00Z", Time::from_unix_ms(0), ZONE).unwrap()
    }

    #[test]
    fn times_are_read_as_people_type_them() {
        let table = [
            ("now", "Wed 2 Jun 2027 16:45"),
            ("16:15", "Wed 2 Jun 2027 16:15"),
            ("16.40", "Wed 2 Jun 2027 16:40"),
            ("16h40", "Wed 2 Jun 2027 16:40"),
            ("4:40 pm", "Wed 2 Jun 2027 16:40"),
            ("4.40 P.M.", "Wed 2 Jun 2027 16:40"),
            ("4pm", "Wed 2 Jun 2027 16:00"),
            ("12 am", "Wed 2 Jun 2027 00:00"),
            ("at 12:05 pm", "Wed 2 Jun 2027 12:05"),
            ("an hour ago", "Wed 2 Jun 2027 15:45"),
            ("20 minutes ago", "Wed 2 Jun 2027 16:25"),
            ("20min ago", "Wed 2 Jun 2027 16:25"),
            ("half an hour ago", "Wed 2 Jun 2027 16:15"),
            ("1 h 30 min ago", "Wed 2 Jun 2027 15:15"),
            ("2 days ago", "Mon 31 May 2027 16:45"),
            ("yesterday 18:00", "Tue 1 Jun 2027 18:00"),
            ("18:00 yesterday", "Tue 1 Jun 2027 18:00"),
            ("yesterday at 6 pm", "Tue 1 Jun 2027 18:00"),
            ("yesterday evening", "Tue 1 Jun 2027 20:00"),
            ("this morning", "Wed 2 Jun 2027 08:00"),
            ("last night", "Tue 1 Jun 2027 22:00"),
            ("Tue 18:00", "Tue 1 Jun 2027 18:00"),
            ("Tuesday evening", "Tue 1 Jun 2027 20:00"),
            ("last Thursday 9:30", "Thu 27 May 2027 09:30"),
            ("Wed 16:15", "Wed 2 Jun 2027 16:15"),
            ("Wed 18:00", "Wed 26 May 2027 18:00"),
            ("30 May 08:10", "Sun 30 May 2027 08:10"),
            ("May 30, 8:10 am", "Sun 30 May 2027 08:10"),
            ("30th May 2026 08:10", "Sat 30 May 2026 08:10"),
            ("24 Dec 18:00", "Thu 24 Dec 2026 18:00"),
            ("2027-05-30 08:10", "Sun 30 May 2027 08:10"),
            ("2027-05-30T08:10", "Sun 30 May 2027 08:10"),
            ("2027-05-30", "Sun 30 May 2027 00:00"),
            ("2027-05-30T11:10:00Z", "Sun 30 May 2027 08:10"),
        ];
        for (text, wanted) in table {
            let read = read(text, now(), ZONE).map(|time| bloom_text::when::moment(time, ZONE));
            assert_eq!(read, Ok(wanted.to_owned()), "{text}");
        }
    }

    #[test]
    fn what_is_no_time_is_quoted_with_what_would_be_right() {
        for text in [
            "tea time",
            "",
            "25:00",
            "13 pm",
            "16:4",
            "ago",
            "ten hours ago",
            "18:00 19:00",
            "Tue Wed",
            "31 Feb 08:00",
            "-3 h ago",
        ] {
            let said = read(text, now(), ZONE).unwrap_err();
            assert!(
                said.starts_with(&format!("{text:?} is no time")) && said.contains("yesterday 18:00"),
                "{said}"
            );
        }
        assert!(read("2027-03-14 02:30", now(), ZONE).unwrap_err().contains("does not exist"));
    }

    #[test]
    fn an_answer_says_the_time_as_it_was_taken() {
        let said = |text: &str| said(read(text, now(), ZONE).unwrap(), now(), ZONE);
        assert_eq!(said("16:15"), "today 16:15");
        assert_eq!(said("last night"), "yesterday 22:00");
        assert_eq!(said("Mon 18:00"), "Mon 18:00");
        assert_eq!(said("24 Dec 18:00"), "Thu 24 Dec 2026 18:00");
    }

    proptest! {
        #[test]
        fn nothing_that_is_typed_ends_the_program(text in "\\PC{0,24}", near in "(last |this |at )?([a-z0-9:.]{1,5} ){0,3}(ago|pm|may|tue|night)?") {
            for text in [&text, &near] {
                let _ = read(text, now(), ZONE);
            }
        }

        #[test]
        fn an_hour_is_the_same_however_it_is_written(hour in 0_u32..24, minute in 0_u32..60) {
            let wanted = read(&format!("yesterday {hour:02}:{minute:02}"), now(), ZONE);
            let (twelve, half) = (if hour % 12 == 0 { 12 } else { hour % 12 }, if hour < 12 { "am" } else { "pm" });
            for text in [format!("{hour}.{minute:02} yesterday"), format!("1 Jun {hour}h{minute:02}"), format!("Tue {twelve}:{minute:02}{half}"), format!("yesterday at {twelve}.{minute:02} {half}")] {
                prop_assert_eq!(&read(&text, now(), ZONE), &wanted, "{}", text);
            }
        }
    }
}
