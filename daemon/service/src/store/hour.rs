//! The hours of a bench's day (UTC) in brief: of each quantity, and of what is derived, how many readings, the least, the mean and the
//! greatest.
//!
//! Pictures and tables of long spans are drawn from these. Least and greatest of a measured quantity are readings, bit for bit; a mean is
//! to a tenth of the last decimal. What is derived is rounded ([`decimals_of`]); the first reading of a day finds no partner of the
//! day before. Nothing in it depends on how a ranger hangs: heights are reckoned from ranges and air when they are drawn.

use std::sync::LazyLock;

use bloom_model::quantity::{Derived, Quantity, Variable};
use serde::{Deserialize, Serialize};

use super::sheet::{Entry, Sheet, SheetError, decimals};

/// Milliseconds in an hour.
pub(super) const HOUR_MS: i64 = 3_600_000;
/// Hours in a day.
pub(super) const HOURS: usize = 24;
/// Temperature and humidity make a pair if the other one was read so long before at most, ms.
const PAIR_MS: u32 = 15 * 60_000;
/// The mean of readings is kept in tenths of their last decimal.
const TENTHS: i64 = 10;

/// Decimals of what is derived: less than the last digit of a good sensor makes out.
const fn decimals_of(derived: Derived) -> u8 {
    match derived {
        Derived::VapourPressureDeficit => 3,
        Derived::DewPointSpread => 2,
    }
}

/// What was read in one hour, or in one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hour {
    /// How many readings; never none.
    pub readings: u32,
    /// The least.
    pub least: f64,
    /// The mean, each counting the same.
    pub mean: f64,
    /// The greatest.
    pub greatest: f64,
    /// The longest time within the hour (one hour of the day) without a reading, minutes, rounded up.
    pub silent_min: u8,
}

/// The hours of a day; `None` for one without a reading.
pub type Hours = [Option<Hour>; HOURS];

/// By what rules a summary was made: the sum of what is derived from some airs. Another rule gives another sum.
pub(super) static CALIBRATION: LazyLock<u32> = LazyLock::new(|| {
    let mut sum = crc32fast::Hasher::new();
    sum.update(&PAIR_MS.to_le_bytes());
    for derived in Derived::ALL {
        sum.update(Variable::from(derived).name().as_bytes());
        for (celsius, percent) in [(-5.0, 40.0), (5.0, 95.0), (18.5, 62.5), (27.3, 81.0), (36.0, 99.0)] {
            let rounded =
                derived.of_air(celsius, percent).map_or(i64::MIN, |value| (value * 1e6).round() as i64);
            sum.update(&rounded.to_le_bytes());
        }
    }
    sum.finalize()
});

/// The check sum of a summary: of its bytes, of the rules and of the sum of what it was made from.
pub(super) fn sum_of(body: &[u8], calibration: u32, sheet: u32) -> u32 {
    let mut sum = crc32fast::Hasher::new();
    sum.update(&calibration.to_le_bytes());
    sum.update(&sheet.to_le_bytes());
    sum.update(body);
    sum.finalize()
}

#[derive(Serialize, Deserialize)]
struct Frame<'a>(#[serde(borrow)] Vec<(i64, &'a [u8])>);

/// The hours of one variable.
#[derive(Serialize, Deserialize)]
struct Column {
    /// So many hours on end with so many readings and so long a silence.
    runs: Vec<(u8, u32, u8)>,
    figures: Figures,
}

/// Mean, least and greatest of each hour (or day) that has a reading.
#[derive(Serialize, Deserialize)]
enum Figures {
    /// In whole numbers of that decimal: the step of the mean, in tenths of it, and how far least and greatest lie from it.
    Decimals(u8, Vec<(i64, u32, u32)>),
    /// The same with whole steps.
    Rounded(u8, Vec<(i64, u32, u32)>),
    Floats(Vec<(f64, f64, f64)>),
}

/// By what a variable goes in a summary: the number of its series, or one below zero for what is derived.
pub(super) fn key_of(derived: Derived) -> i64 {
    let place = Derived::ALL.iter().position(|other| *other == derived).unwrap_or_default();
    -1 - place as i64
}

/// The summary of a sheet; `series` are those of its bench.
pub(super) fn pack(sheet: &Sheet, series: &[(Quantity, i64)]) -> Result<Vec<u8>, SheetError> {
    let mut columns = Vec::new();
    for (series, entries) in sheet.series() {
        columns.push((series, column(&hours_of(entries.iter().map(|entry| (entry.ms, entry.value))), None)?));
    }
    for derived in Derived::ALL {
        let hours = hours_of(of_both(sheet, series, derived).into_iter());
        if hours.iter().any(Option::is_some) {
            columns.push((key_of(derived), column(&hours, Some(decimals_of(derived)))?));
        }
    }
    body_of(&columns)
}

/// A summary of such columns.
pub(super) fn body_of(columns: &[(i64, Vec<u8>)]) -> Result<Vec<u8>, SheetError> {
    let frame = Frame(columns.iter().map(|(key, column)| (*key, &column[..])).collect());
    Ok(postcard::to_stdvec(&frame)?)
}

/// What is derived at each instant at which either part was read.
fn of_both(sheet: &Sheet, series: &[(Quantity, i64)], derived: Derived) -> Vec<(u32, f64)> {
    let part = |quantity: Quantity| {
        let found = series.iter().find(|(of, _)| *of == quantity);
        found.map_or(&[][..], |(_, series)| sheet.of(*series))
    };
    let (mut one, mut other) =
        (part(derived.parts()[0]).iter().peekable(), part(derived.parts()[1]).iter().peekable());
    let (mut first, mut second): (Option<&Entry>, Option<&Entry>) = (None, None);
    let mut values = Vec::new();
    while let Some(ms) = [one.peek(), other.peek()].into_iter().flatten().map(|entry| entry.ms).min() {
        first = one.next_if(|entry| entry.ms == ms).or(first);
        second = other.next_if(|entry| entry.ms == ms).or(second);
        if let (Some(first), Some(second)) = (first, second)
            && ms - first.ms.min(second.ms) <= PAIR_MS
            && let Some(value) = derived.of_air(first.value, second.value)
        {
            values.push((ms, value));
        }
    }
    values
}

/// The hours of readings in the order of time.
fn hours_of(readings: impl Iterator<Item = (u32, f64)>) -> Hours {
    let mut hours: Hours = [None; HOURS];
    let hour_ms = HOUR_MS as u32;
    let mut readings = readings.peekable();
    while let Some((ms, value)) = readings.next() {
        let place = (ms / hour_ms) as usize;
        let begins = ms - ms % hour_ms;
        let mut hour = Hour { readings: 1, least: value, mean: value, greatest: value, silent_min: 0 };
        let (mut sum, mut last, mut silent_ms) = (value, ms, ms - begins);
        while let Some((ms, value)) = readings.next_if(|(ms, _)| ms / hour_ms == begins / hour_ms) {
            hour.readings += 1;
            hour.least = hour.least.min(value);
            hour.greatest = hour.greatest.max(value);
            sum += value;
            silent_ms = silent_ms.max(ms - last);
            last = ms;
        }
        silent_ms = silent_ms.max(begins + hour_ms - last);
        // not by `clamp`, which does not bear a value that is no number
        hour.mean = (sum / f64::from(hour.readings)).max(hour.least).min(hour.greatest);
        hour.silent_min = silent_ms.div_ceil(60_000) as u8;
        if let Some(free) = hours.get_mut(place) {
            *free = Some(hour);
        }
    }
    hours
}

/// The column of one variable; what is derived is rounded to so many decimals.
pub(super) fn column(hours: &[Option<Hour>], rounded_to: Option<u8>) -> Result<Vec<u8>, SheetError> {
    let mut runs: Vec<(u8, u32, u8)> = Vec::new();
    for hour in hours {
        let (readings, silent) = hour.map_or((0, 0), |hour| (hour.readings, hour.silent_min));
        match runs.last_mut() {
            Some(run) if (run.1, run.2) == (readings, silent) => run.0 += 1,
            _ => runs.push((1, readings, silent)),
        }
    }
    let read = || hours.iter().flatten();
    let ends: Vec<f64> = read().flat_map(|hour| [hour.least, hour.greatest]).collect();
    let whole = match rounded_to {
        Some(places) => {
            Some((places, ends.iter().map(|value| (value * ten_to(places)).round() as i32).collect()))
        }
        None => decimals(&ends),
    };
    let parts = if rounded_to.is_some() { 1 } else { TENTHS };
    let figures = match whole {
        Some((places, ends)) => {
            let one = ten_to(places) * parts as f64;
            let mut before = 0;
            let steps = read().zip(ends.as_chunks::<2>().0).map(|(hour, [least, greatest])| {
                let (least, greatest) = (i64::from(*least), i64::from(*greatest));
                let mean = ((hour.mean * one).round() as i64).clamp(least * parts, greatest * parts);
                let step = mean - std::mem::replace(&mut before, mean);
                let whole = mean.div_euclid(parts);
                // from the least to the greatest whole number is what 32 bits hold
                (step, (whole - least) as u32, (greatest - whole) as u32)
            });
            match rounded_to {
                Some(_) => Figures::Rounded(places, steps.collect()),
                None => Figures::Decimals(places, steps.collect()),
            }
        }
        None => Figures::Floats(read().map(|hour| (hour.least, hour.mean, hour.greatest)).collect()),
    };
    Ok(postcard::to_stdvec(&Column { runs, figures })?)
}

fn ten_to(places: u8) -> f64 {
    10_f64.powi(i32::from(places))
}

/// The hours, or the days, of one variable out of a summary that its check sum has shown to be whole; `None` where it has none.
pub(super) fn unpack<const N: usize>(body: &[u8], key: i64) -> Result<Option<[Option<Hour>; N]>, SheetError> {
    let Frame(columns) = postcard::from_bytes(body)?;
    let Some((_, column)) = columns.into_iter().find(|(of, _)| *of == key) else { return Ok(None) };
    hours_in(column).map(Some)
}

/// The hours of every variable in a summary.
pub(super) fn unpack_all(body: &[u8]) -> Result<Vec<(i64, Hours)>, SheetError> {
    let Frame(columns) = postcard::from_bytes(body)?;
    columns.into_iter().map(|(key, column)| Ok((key, hours_in(column)?))).collect()
}

fn hours_in<const N: usize>(column: &[u8]) -> Result<[Option<Hour>; N], SheetError> {
    let Column { runs, figures } = postcard::from_bytes(column)?;
    let mut hours = [None; N];
    let mut places = hours.iter_mut();
    let mut figures = figures.into_iter();
    for (length, readings, silent_min) in runs {
        for _ in 0..length {
            let place = places.next().ok_or(SheetError::Parts)?;
            if readings > 0 {
                let (least, mean, greatest) = figures.next().ok_or(SheetError::Parts)?;
                *place = Some(Hour { readings, least, mean, greatest, silent_min });
            }
        }
    }
    if places.next().is_some() || figures.next().is_some() { Err(SheetError::Parts) } else { Ok(hours) }
}

impl Figures {
    /// Least, mean and greatest, one hour after the other.
    fn into_iter(self) -> Box<dyn Iterator<Item = (f64, f64, f64)>> {
        let (places, steps, parts) = match self {
            Self::Floats(figures) => return Box::new(figures.into_iter()),
            Self::Decimals(places, steps) => (places, steps, TENTHS),
            Self::Rounded(places, steps) => (places, steps, 1),
        };
        let one = ten_to(places);
        let mut mean = 0_i64;
        Box::new(steps.into_iter().map(move |(step, below, above)| {
            mean = mean.saturating_add(step);
            let whole = mean.div_euclid(parts);
            let least = whole.saturating_sub(i64::from(below));
            let greatest = whole.saturating_add(i64::from(above));
            (least as f64 / one, mean as f64 / (one * parts as f64), greatest as f64 / one)
        }))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const AIR: [(Quantity, i64); 2] = [(Quantity::Temperature, 1), (Quantity::Humidity, 2)];

    fn entries(values: impl IntoIterator<Item = (u32, f64)>) -> Vec<Entry> {
        values.into_iter().map(|(ms, value)| Entry { ms, value, taken: true }).collect()
    }

    /// Forty degrees of a day and noise, every ten seconds.
    fn day() -> Sheet {
        let noise = |n: u32| f64::from(n.wrapping_mul(2_654_435_761) % 9) - 4.0;
        let course = |n: u32| (f64::from(n) / 8_640.0 * std::f64::consts::TAU).sin();
        let mut sheet = Sheet::default();
        sheet.add(
            1,
            entries(
                (0..8_640).map(|n| (n * 10_000, ((2_400.0 + 400.0 * course(n)).round() + noise(n)) / 100.0)),
            ),
        );
        sheet.add(
            2,
            entries((0..8_640).map(|n| (n * 10_000, ((760.0 - 80.0 * course(n)).round() + noise(n)) / 10.0))),
        );
        sheet.add(3, entries((0..8_640).map(|n| (n * 10_000, (1_600.0 + noise(n)) / 1_000.0))));
        sheet
    }

    fn hours(body: &[u8], key: i64) -> Option<Hours> {
        unpack(body, key).unwrap()
    }

    #[test]
    fn the_hours_are_those_of_the_readings() {
        let sheet = day();
        let body = pack(&sheet, &AIR).unwrap();
        for series in 1..=3 {
            let hours = hours(&body, series).unwrap();
            for (hour, place) in hours.iter().zip(0..) {
                let hour = hour.unwrap();
                let begins = place * 3_600_000;
                let values: Vec<f64> = sheet
                    .of(series)
                    .iter()
                    .filter(|entry| (begins..begins + 3_600_000).contains(&entry.ms))
                    .map(|entry| entry.value)
                    .collect();
                let least = values.iter().copied().fold(f64::INFINITY, f64::min);
                let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                assert_eq!(
                    (hour.least.to_bits(), hour.greatest.to_bits()),
                    (least.to_bits(), greatest.to_bits())
                );
                assert!((hour.mean - values.iter().sum::<f64>() / 360.0).abs() < 0.006, "{hour:?}");
                assert_eq!((hour.readings, hour.silent_min), (360, 1));
            }
        }
        let deficit = hours(&body, key_of(Derived::VapourPressureDeficit)).unwrap();
        let greatest =
            of_both(&sheet, &AIR, Derived::VapourPressureDeficit).iter().fold(0.0_f64, |g, one| g.max(one.1));
        let shown = deficit.iter().flatten().fold(0.0_f64, |g, hour| g.max(hour.greatest));
        assert!(greatest > 0.9 && (shown - greatest).abs() <= 0.000_501, "{shown} {greatest}");
        assert_eq!(hours(&body, 9), None);
        assert!(body.len() < 480, "two of them on a page: {}", body.len());
    }

    #[test]
    fn an_hour_tells_its_longest_silence_and_a_reading_alone_has_no_deficit() {
        let minutes = |minutes: &[u32]| entries(minutes.iter().map(|minute| (minute * 60_000, 20.0)));
        let mut sheet = Sheet::default();
        sheet.add(1, minutes(&[0, 10, 20, 45, 55, 61, 180, 239]));
        sheet.add(2, minutes(&[210]));
        let body = pack(&sheet, &AIR).unwrap();
        let hours = hours(&body, 1).unwrap();
        let silent: Vec<_> =
            hours.iter().map(|hour| hour.map(|hour| (hour.readings, hour.silent_min))).collect();
        assert_eq!(silent[..4], [Some((5, 25)), Some((1, 59)), None, Some((2, 59))]);
        assert!(silent[4..].iter().all(Option::is_none));
        assert_eq!(super::unpack::<HOURS>(&body, key_of(Derived::DewPointSpread)).unwrap(), None);
    }

    proptest! {
        #[test]
        fn any_readings_have_their_least_and_greatest(
            values in prop::collection::vec((0..86_400_000_u32, any::<f64>().prop_filter("no number", |v| !v.is_nan())), 1..60),
            plain in prop::collection::vec((0..86_400_000_u32, -2_000_000_000..2_000_000_000_i32, 0..7_u8), 1..60),
        ) {
            let mut sheet = Sheet::default();
            sheet.add(1, entries(values));
            sheet.add(2, entries(plain.into_iter().map(|(ms, whole, places)| (ms, f64::from(whole) / ten_to(places)))));
            let body = pack(&sheet, &[]).unwrap();
            let ends = |series: i64| {
                let of = sheet.of(series).iter().map(|entry| entry.value);
                of.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
            };
            for (series, hours) in unpack_all(&body).unwrap() {
                let read = || hours.iter().flatten();
                let low = read().fold(f64::INFINITY, |low, hour| low.min(hour.least));
                let high = read().fold(f64::NEG_INFINITY, |high, hour| high.max(hour.greatest));
                prop_assert!((low, high) == ends(series));
                prop_assert_eq!(read().map(|hour| hour.readings as usize).sum::<usize>(), sheet.of(series).len());
            }
        }

        #[test]
        fn no_bytes_make_it_panic(body in prop::collection::vec(any::<u8>(), 0..200), place in any::<usize>(), byte in any::<u8>()) {
            let _ = unpack_all(&body);
            let mut whole = pack(&day(), &AIR).unwrap();
            let place = place % whole.len();
            whole[place] = byte;
            let _ = unpack_all(&whole);
        }
    }
}
