//! What the record holds of a bench, told in the order of time and a day at once: no span is too long for memory.

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::sign::Sign;
use bloom_model::time::Time;

use crate::store::{Reader, StoreError, Which};

/// Read at once: a day, which the record packs together; of five sensors that report each second, ten megabytes.
const AT_ONCE_MS: i64 = 86_400_000;

/// A value of a sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Value {
    pub(super) time: Time,
    pub(super) quantity: Quantity,
    pub(super) value: f64,
}

/// A sign that a person booked.
#[derive(Debug, Clone, PartialEq)]
pub struct BookedSign {
    /// When it was seen.
    pub time: Time,
    /// What.
    pub sign: Sign,
    /// What was added.
    pub note: Option<String>,
    /// By whom.
    pub by: Option<String>,
}

/// The record of one bench.
#[derive(Debug, Clone, Copy)]
pub(super) struct Record<'a> {
    pub(super) reader: &'a Reader,
    pub(super) bench: &'a str,
}

impl Record<'_> {
    /// Tells every value of the sensors, its end not included, the air before the ranges that it corrects.
    pub(super) fn values(&self, from: Time, until: Time, tell: impl FnMut(Value)) -> Result<(), StoreError> {
        let mut values = Vec::new();
        for quantity in Quantity::ALL.into_iter().filter(|quantity| !quantity.by_hand()) {
            self.reader.series(self.bench, quantity, from, just_before(until), |time, value| {
                values.push(Value { time, quantity, value });
            })?;
        }
        values.sort_by_key(|value| (value.time, value.quantity));
        values.into_iter().for_each(tell);
        Ok(())
    }

    /// Heights taped by hand that hold, the end not included.
    pub(super) fn taped(&self, from: Time, until: Time) -> Result<Vec<(Time, f64)>, StoreError> {
        let mut taped = Vec::new();
        self.reader.series(self.bench, Quantity::Height, from, just_before(until), |time, height_m| {
            taped.push((time, height_m));
        })?;
        let withdrawn = self.reader.withdrawn_heights(self.bench, from, until)?;
        taped.retain(|(time, _)| !withdrawn.contains(time));
        Ok(taped)
    }

    /// Signs, in the order of time, the end not included.
    pub(super) fn signs(&self, from: Time, until: Time) -> Result<Vec<BookedSign>, StoreError> {
        let mut signs = Vec::new();
        self.reader.readings(self.bench, Which::Signs, from, just_before(until), |recorded| {
            if let Observed::Sign(sign) = recorded.observed {
                signs.push(BookedSign { time: recorded.time, sign, note: recorded.note, by: recorded.by });
            }
        })?;
        Ok(signs)
    }
}

/// The days (UTC) of a span, the first and last cut short.
pub(super) fn days(from: Time, until: Time) -> impl Iterator<Item = (Time, Time)> {
    let midnight_after =
        |time: Time| Time::from_unix_ms((time.unix_ms().div_euclid(AT_ONCE_MS) + 1) * AT_ONCE_MS);
    let begins = std::iter::successors(Some(from), move |time| Some(midnight_after(*time)));
    begins
        .take_while(move |begins| *begins < until)
        .map(move |begins| (begins, midnight_after(begins).min(until)))
}

/// The record counts both ends in.
const fn just_before(time: Time) -> Time {
    Time::from_unix_ms(time.unix_ms() - 1)
}
