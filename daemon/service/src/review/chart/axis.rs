//! Where an axis has its ticks, and what they say.

use bloom_model::time::Time;
use bloom_text::when;
use chrono::{Datelike, Months, NaiveDate, TimeZone, Timelike};
use chrono_tz::Tz;

/// A tick of the time axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tick {
    pub(super) time: Time,
    pub(super) words: String,
}

/// Ticks at local hours, dates, months or years, at most `most` of them.
pub(super) fn ticks(from: Time, until: Time, zone: Tz, most: usize) -> Vec<Tick> {
    let most = most.max(2);
    let days = until.days_since(from);
    for hours in [1, 2, 3, 6, 12] {
        if days * 24.0 / f64::from(hours) <= most as f64 {
            return hour_ticks(from, until, zone, hours);
        }
    }
    let first = from.local_date(zone);
    let last = until.local_date(zone);
    for step in [1, 2, 7, 14] {
        if days / f64::from(step) <= most as f64 {
            // weeks begin on Mondays, and every other day is counted from the common era, so that charts share their ticks
            let dates = first.iter_days().take_while(|date| *date <= last);
            let chosen = dates.filter(|date| (date.num_days_from_ce() - 1).rem_euclid(step) == 0);
            return at_midnights(chosen, from, until, zone, |date| when::short_date(date, false));
        }
    }
    for months in [1, 2, 3, 6, 12, 24, 60, 120] {
        if days / 30.4 / f64::from(months) <= most as f64 {
            let start = first.with_day(1).unwrap_or(first);
            let every = (0..).map_while(|ahead| start.checked_add_months(Months::new(ahead)));
            let number = |date: &NaiveDate| date.year() * 12 + date.month0() as i32;
            let chosen =
                every.take_while(|date| *date <= last).filter(|date| number(date).rem_euclid(months) == 0);
            return at_midnights(
                chosen,
                from,
                until,
                zone,
                if months < 12 { when::month } else { when::year },
            );
        }
    }
    Vec::new()
}

fn hour_ticks(from: Time, until: Time, zone: Tz, every: u32) -> Vec<Tick> {
    let mut ticks = Vec::new();
    let mut at = from;
    while at <= until {
        let local = at.utc().with_timezone(&zone);
        if local.minute() == 0 && local.second() == 0 && local.hour().is_multiple_of(every) {
            let midnight = local.hour() == 0;
            let words =
                if midnight { when::short_date(local.date_naive(), false) } else { when::clock(at, zone) };
            ticks.push(Tick { time: at, words });
        }
        at = super::super::calendar::next_full_hour(at, zone);
    }
    ticks
}

fn at_midnights(
    dates: impl Iterator<Item = NaiveDate>,
    from: Time,
    until: Time,
    zone: Tz,
    words: impl Fn(NaiveDate) -> String,
) -> Vec<Tick> {
    dates
        .filter_map(|date| {
            let local = zone.from_local_datetime(&date.and_hms_opt(0, 0, 0)?).earliest()?;
            let time = Time::from(local.with_timezone(&chrono::Utc));
            (time >= from && time <= until).then(|| Tick { time, words: words(date) })
        })
        .collect()
}

/// The range of an axis that holds these values, from and to a round number, and the decimals of its ticks.
pub(super) fn range(values: impl Iterator<Item = f64>) -> (f64, f64, usize) {
    let (low, high) = values
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    if low > high {
        return (0.0, 1.0, 1);
    }
    let room = ((high - low) * 0.04).max(LEAST_ROOM * low.abs().max(high.abs())).max(1e-3);
    // what is never below zero, such as a deficit, gets an axis that begins there
    let low = if low >= 0.0 && low - room < 0.0 { 0.0 } else { low - room };
    let high = high + room;
    let step = round_step((high - low) / STEPS);
    let decimals = if step >= 1.0 { 0 } else { (-step.log10()).ceil() as usize };
    (low, high, decimals)
}

/// Room above and below values that are all but the same, as a share of their size: on a finer scale noise would fill the picture, and the
/// numbers of the axis would be longer than their place.
const LEAST_ROOM: f64 = 0.02;
/// An axis has no more steps than this.
const STEPS: f64 = 7.0;

/// The least of 1, 2 or 5 times a power of ten that is not below a size.
fn round_step(size: f64) -> f64 {
    let power = 10_f64.powf(size.log10().floor());
    [1.0, 2.0, 5.0]
        .into_iter()
        .map(|factor| factor * power)
        .find(|step| *step >= size * 0.999)
        .unwrap_or(10.0 * power)
}

/// The round values of an axis.
pub(super) fn levels(low: f64, high: f64) -> Vec<f64> {
    let step = round_step((high - low) / STEPS);
    let first = (low / step).ceil() as i64;
    (first..).map(|number| number as f64 * step).take_while(|value| *value <= high).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(from: &str, days: f64, most: usize) -> Vec<String> {
        let from =
            Time::from(chrono::DateTime::parse_from_rfc3339(from).unwrap().with_timezone(&chrono::Utc));
        let ticks = ticks(from, from.plus_hours(24.0 * days), chrono_tz::America::Halifax, most);
        ticks.into_iter().map(|tick| tick.words).collect()
    }

    #[test]
    fn ticks_are_round_in_local_time() {
        assert_eq!(
            words("2027-06-02T18:30:00Z", 0.5, 6),
            ["16:00", "18:00", "20:00", "22:00", "3 Jun", "02:00"]
        );
        assert_eq!(
            words("2027-06-01T03:00:00Z", 3.0, 8),
            ["1 Jun", "12:00", "2 Jun", "12:00", "3 Jun", "12:00", "4 Jun"]
        );
        // Mondays
        assert_eq!(
            words("2027-05-01T03:00:00Z", 40.0, 10),
            ["3 May", "10 May", "17 May", "24 May", "31 May", "7 Jun"]
        );
        // an even number of months from the year 0
        let alternate = words("2024-05-01T03:00:00Z", 300.0, 8);
        assert_eq!(alternate, ["May 2024", "Jul 2024", "Sep 2024", "Nov 2024", "Jan 2025"]);
        assert!(words("1997-05-01T03:00:00Z", 36_500.0, 10).len() <= 11);
    }

    #[test]
    fn axes_hold_their_values_between_round_ones() {
        let (low, high, decimals) = range([12.0, 31.0].into_iter());
        assert!(low < 12.0 && high > 31.0 && decimals == 0);
        assert_eq!(levels(low, high), [15.0, 20.0, 25.0, 30.0]);
        let (low, high, decimals) = range([0.02, 1.4].into_iter());
        assert!(low.abs() < 1e-12 && high > 1.4 && decimals == 1, "{low} {high} {decimals}");
        let (low, high, _) = range([3.0].into_iter());
        assert!(low < 3.0 && high > 3.0 && levels(low, high).len() > 1);
        // a thermometer that shows one figure
        let (low, high, decimals) = range([25.0, 25.01].into_iter());
        let said: Vec<String> = levels(low, high).iter().map(|value| format!("{value:.decimals$}")).collect();
        assert_eq!(said, ["24.6", "24.8", "25.0", "25.2", "25.4"]);
        assert_eq!(range(std::iter::empty()), (0.0, 1.0, 1));
    }
}
