//! The edge where text becomes readings: what passes here is possible, in its unit, and of a bench that exists.

use std::collections::HashMap;
use std::fmt;

use bloom_model::quantity::{Impossible, Quantity};
use bloom_model::reading::{BenchNumber, Observed, Reading};
use bloom_model::sign::{Sign, UnknownSign};
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::lines::Line;
use super::senml::{self, MAX_LINE_BYTES, PackFault, Record, RecordFault, Value, shown};

/// A live sensor's own time may be this far ahead of ours; beyond that its clock is wrong.
pub const MOST_AHEAD: TimeDelta = TimeDelta::minutes(2);
/// The quantity name under which signs come.
const SIGN: &str = "sign";
/// Some editors put it before the first line.
const BYTE_ORDER_MARK: &[u8] = "\u{feff}".as_bytes();

/// Whose time a record has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ArrivalTime {
    /// Every record carries its absolute time, as in a recording.
    Carried,
    /// The line is complete now: what carries no time has this one, and nothing may lie more than [`MOST_AHEAD`] after it.
    Stamped(Time),
}

/// What was refused, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Refusal {
    /// The line, from 1.
    pub line: u64,
    /// The record's place in its pack, from 1; none if the whole line or pack is refused.
    pub record: Option<usize>,
    /// Why.
    pub reason: Reason,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}", self.line)?;
        if let Some(record) = self.record {
            write!(f, ", record {record}")?;
        }
        write!(f, ": {}", self.reason)
    }
}

/// Why a line, pack or record is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Reason {
    /// The line is too long to be kept.
    #[error("longer than {MAX_LINE_BYTES} bytes: send shorter packs, a line each")]
    TooLong,
    /// The pack cannot be read.
    #[error(transparent)]
    Pack(#[from] PackFault),
    /// The record is no SenML.
    #[error(transparent)]
    Record(#[from] RecordFault),
    /// The name has no slash.
    #[error("the name {0:?} is not BENCH/QUANTITY")]
    Name(String),
    /// No bench of that id.
    #[error("no bench {0:?} in the configuration")]
    UnknownBench(String),
    /// No quantity of that name.
    #[error("no quantity {0:?}")]
    UnknownQuantity(String),
    /// Another unit than the quantity's.
    #[error("{quantity} in {unit:?}: it is measured in {right}")]
    WrongUnit {
        /// The quantity, or `sign`.
        quantity: &'static str,
        /// The unit that came.
        unit: String,
        /// The unit that would be right.
        right: &'static str,
    },
    /// The value is a string, a truth value, data or only a sum.
    #[error("{0} without a number: it belongs in `v`")]
    NoNumber(&'static str),
    /// Outside the quantity's range.
    #[error(transparent)]
    Impossible(#[from] Impossible),
    /// A sign without a string.
    #[error("a sign without a string: it belongs in `vs`")]
    NoSign,
    /// No such sign.
    #[error(transparent)]
    UnknownSign(#[from] UnknownSign),
    /// Not within the years 1970 to 9999.
    #[error("the time {0} s is outside the years 1970 to 9999")]
    NoInstant(f64),
    /// The sensor's clock is ahead.
    #[error(
        "the time {time} is more than 2 minutes after its arrival at {arrival}: set the sensor's clock, or leave the time out"
    )]
    Ahead {
        /// What the record says.
        time: Time,
        /// When it came.
        arrival: Time,
    },
}

impl Reason {
    /// The kind of trouble, in words.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::TooLong => "a line too long",
            Self::Pack(_) => "no readable pack",
            Self::Record(_) => "no valid record",
            Self::Name(_) | Self::UnknownBench(_) => "an unknown bench",
            Self::UnknownQuantity(_) => "an unknown quantity",
            Self::WrongUnit { .. } => "a wrong unit",
            Self::NoNumber(_) | Self::Impossible(_) => "an impossible value",
            Self::NoSign | Self::UnknownSign(_) => "an unknown sign",
            Self::NoInstant(_) | Self::Ahead { .. } => "an impossible time",
        }
    }
}

/// How much has come in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Lines, blank ones too.
    pub lines: u64,
    /// Readings that passed.
    pub readings: u64,
    /// Lines, packs and records refused.
    pub refused: u64,
}

/// Turns lines into readings of the benches that exist.
#[derive(Debug, Clone)]
pub struct Decoder {
    benches: HashMap<Box<str>, BenchNumber>,
    line: u64,
    counts: Counts,
}

impl Decoder {
    /// For these bench ids, in the order of the configuration.
    pub fn new<'a>(benches: impl IntoIterator<Item = &'a str>) -> Self {
        let benches =
            (0..=u16::MAX).zip(benches).map(|(number, id)| (id.into(), BenchNumber(number))).collect();
        Self { benches, line: 0, counts: Counts::default() }
    }

    /// How much has come in since this decoder was made.
    pub fn counts(&self) -> Counts {
        self.counts
    }

    /// Counts lines from 1 again: another file begins.
    pub fn begin(&mut self) {
        self.line = 0;
    }

    /// Adds the readings of one line to `readings`, in chronological order, and what is wrong with it to `refused`.
    ///
    /// Nothing on a line stops what else is on it.
    pub fn line(
        &mut self,
        line: &Line<'_>,
        time: ArrivalTime,
        readings: &mut Vec<Reading>,
        refused: &mut Vec<Refusal>,
    ) {
        self.line += 1;
        let (had, had_refused) = (readings.len(), refused.len());
        match line {
            Line::Whole(text) => {
                let text =
                    if self.line == 1 { text.strip_prefix(BYTE_ORDER_MARK).unwrap_or(text) } else { text };
                self.packs(text, time, false, readings, refused);
            }
            Line::TooLong => refused.push(Refusal { line: self.line, record: None, reason: Reason::TooLong }),
        }
        self.counts.lines += 1;
        self.counts.readings += (readings.len() - had) as u64;
        self.counts.refused += (refused.len() - had_refused) as u64;
    }

    /// As [`Self::line`], for the first line after a port was opened: it may have begun before, and is not blamed for it.
    pub fn first_line(&mut self, line: &Line<'_>, time: ArrivalTime, readings: &mut Vec<Reading>) {
        let mut not_counted = Vec::new();
        self.line(line, time, readings, &mut not_counted);
        self.counts.refused -= not_counted.len() as u64;
    }

    fn packs(
        &self,
        text: &[u8],
        time: ArrivalTime,
        is_mended: bool,
        readings: &mut Vec<Reading>,
        refused: &mut Vec<Refusal>,
    ) {
        let now_s = match time {
            ArrivalTime::Carried => None,
            ArrivalTime::Stamped(arrival) => Some(arrival.unix_ms() as f64 / 1e3),
        };
        let (had, had_refused) = (readings.len(), refused.len());
        for pack in senml::packs(text, now_s) {
            match pack {
                Ok(pack) => {
                    for record in &pack.records {
                        match self.reading(record, time) {
                            Ok(reading) => readings.push(reading),
                            Err(reason) => refused.push(self.refusal(Some(record.place), reason)),
                        }
                    }
                    let faults = pack.refused.into_iter();
                    refused.extend(faults.map(|(place, fault)| self.refusal(Some(place), fault.into())));
                }
                Err(PackFault::NotAPack(_)) if !is_mended && let Some(mended) = senml::mended(text) => {
                    readings.truncate(had);
                    refused.truncate(had_refused);
                    return self.packs(&mended, time, true, readings, refused);
                }
                Err(fault) => refused.push(self.refusal(None, fault.into())),
            }
        }
    }

    fn refusal(&self, record: Option<usize>, reason: Reason) -> Refusal {
        Refusal { line: self.line, record, reason }
    }

    fn reading(&self, record: &Record<'_>, arrival: ArrivalTime) -> Result<Reading, Reason> {
        let Some((bench, quantity)) = record.name.split_at_last_slash() else {
            return Err(Reason::Name(shown(&record.name.to_string())));
        };
        let Some(&bench) = self.benches.get(&*bench) else {
            return Err(Reason::UnknownBench(shown(&bench)));
        };
        let observed = observed(&quantity, record)?;
        let time = Time::from_unix_s(record.time_s).ok_or(Reason::NoInstant(record.time_s))?;
        match arrival {
            ArrivalTime::Stamped(arrival) if time - arrival > MOST_AHEAD => {
                Err(Reason::Ahead { time, arrival })
            }
            _ => Ok(Reading { bench, time, observed }),
        }
    }
}

fn observed(name: &str, record: &Record<'_>) -> Result<Observed, Reason> {
    if name == SIGN {
        right_unit(SIGN, "no unit", record, |_| false)?;
        return match &record.value {
            Some(Value::Text(text)) => Ok(Observed::Sign(text.parse::<Sign>()?)),
            _ => Err(Reason::NoSign),
        };
    }
    let quantity = Quantity::from_name(name).ok_or_else(|| Reason::UnknownQuantity(shown(name)))?;
    right_unit(quantity.name(), quantity.unit(), record, |unit| unit == quantity.unit())?;
    match record.value {
        Some(Value::Number(value)) => Ok(Observed::Value(quantity, quantity.possible(value)?)),
        _ => Err(Reason::NoNumber(quantity.name())),
    }
}

/// A unit may be left out (RFC 8428, 4.5.2), never be wrong.
fn right_unit(
    quantity: &'static str,
    right: &'static str,
    record: &Record<'_>,
    fits: impl FnOnce(&str) -> bool,
) -> Result<(), Reason> {
    match &record.unit {
        Some(unit) if !fits(unit) => Err(Reason::WrongUnit { quantity, unit: shown(unit), right }),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests;
