//! A sheet: the readings of one bench on one day (UTC), packed.
//!
//! Column by column: for each series its instants and its values. Series that were read in the same packs share one column
//! of instants ([`numbers`] packs both). What is unpacked is what was packed, bit for bit.

mod numbers;
mod scratch;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::cursor::gives_way;
use numbers::{Form, pack_numbers, pack_values};

pub(super) use numbers::{MOST_DECIMALS, decimals, of_whole, whole_from};
pub(super) use scratch::Scratch;

/// Milliseconds in a day.
pub(super) const DAY_MS: i64 = 86_400_000;
/// Readings of a series in a day at most, nearly 200 a second: a damaged count must not take all the memory there is.
const MOST_READINGS: u32 = 1 << 24;

/// A reading within its day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Entry {
    /// Milliseconds since the day began.
    pub(super) ms: u32,
    pub(super) value: f64,
    /// Whether the model took it; else it is in the record only.
    pub(super) taken: bool,
}

/// Why a sheet cannot be packed or unpacked.
#[derive(Debug, thiserror::Error)]
pub(super) enum SheetError {
    #[error("its bytes are not those that were written")]
    Sum,
    #[error("its parts do not fit together")]
    Parts,
    #[error("series {0} has more than {MOST_READINGS} readings in a day")]
    TooMany(i64),
    #[error(transparent)]
    Frame(#[from] postcard::Error),
    #[error(transparent)]
    Numbers(#[from] pco::errors::PcoError),
}

/// A sheet as it lies in the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Packed {
    /// The columns.
    pub(super) body: Vec<u8>,
    /// CRC-32 (ISO-HDLC) of the body: a file that lies on flash for decades may rot.
    pub(super) sum: u32,
    /// Readings in it.
    pub(super) readings: u64,
}

#[derive(Serialize, Deserialize)]
struct Frame<'a> {
    #[serde(borrow)]
    instants: Vec<&'a [u8]>,
    #[serde(borrow)]
    columns: Vec<Column<'a>>,
}

#[derive(Serialize, Deserialize)]
struct Column<'a> {
    series: i64,
    taken: bool,
    readings: u32,
    /// Which of the sheet's columns of instants.
    instants: u32,
    form: Form,
    values: &'a [u8],
}

/// The readings of a bench's day by series, each sorted by time.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Sheet(BTreeMap<i64, Vec<Entry>>);

impl Sheet {
    /// Adds readings of a series; which one of an instant stays, [`gives_way`] says. Gives the number of those that changed nothing.
    pub(super) fn add(&mut self, series: i64, more: impl IntoIterator<Item = Entry>) -> usize {
        let entries = self.0.entry(series).or_default();
        let before = entries.len();
        entries.extend(more);
        let added = entries.len() - before;
        // stable: of the same instant, what was there comes first
        entries.sort_by_key(|entry| entry.ms);
        let mut replaced = 0;
        entries.dedup_by(|later, first| {
            let same = later.ms == first.ms;
            if same && gives_way(first.taken, later.taken) {
                *first = *later;
                replaced += 1;
            }
            same
        });
        added - replaced - (entries.len() - before)
    }

    /// The readings of each series, sorted by time.
    pub(super) fn series(&self) -> impl Iterator<Item = (i64, &[Entry])> {
        self.0.iter().map(|(series, entries)| (*series, entries.as_slice()))
    }

    /// The readings of one series, sorted by time.
    pub(super) fn of(&self, series: i64) -> &[Entry] {
        self.0.get(&series).map(Vec::as_slice).unwrap_or_default()
    }

    /// Every reading with its series, in the order of time and then of series.
    pub(super) fn in_order(&self) -> Vec<(i64, Entry)> {
        let mut all: Vec<_> = self
            .0
            .iter()
            .flat_map(|(series, entries)| entries.iter().map(|entry| (*series, *entry)))
            .collect();
        all.sort_by_key(|(series, entry)| (entry.ms, *series));
        all
    }

    pub(super) fn pack(&self) -> Result<Packed, SheetError> {
        let mut instants: Vec<(Vec<u32>, Vec<u8>)> = Vec::new();
        let mut columns = Vec::new();
        for (series, entries) in &self.0 {
            for taken in [true, false] {
                let of_kind = || entries.iter().filter(move |entry| entry.taken == taken);
                let times: Vec<u32> = of_kind().map(|entry| entry.ms).collect();
                if times.is_empty() {
                    continue;
                }
                let readings = u32::try_from(times.len()).unwrap_or(u32::MAX);
                if readings > MOST_READINGS {
                    return Err(SheetError::TooMany(*series));
                }
                let place = match instants.iter().position(|(known, _)| *known == times) {
                    Some(place) => place,
                    None => {
                        let packed = pack_numbers(&times)?;
                        instants.push((times, packed));
                        instants.len() - 1
                    }
                };
                let values: Vec<f64> = of_kind().map(|entry| entry.value).collect();
                let (form, values) = pack_values(&values)?;
                columns.push((*series, taken, readings, place as u32, form, values));
            }
        }
        let frame = Frame {
            instants: instants.iter().map(|(_, packed)| &packed[..]).collect(),
            columns: columns
                .iter()
                .map(|(series, taken, readings, instants, form, values)| Column {
                    series: *series,
                    taken: *taken,
                    readings: *readings,
                    instants: *instants,
                    form: *form,
                    values,
                })
                .collect(),
        };
        let body = postcard::to_stdvec(&frame)?;
        let readings = self.0.values().map(|entries| entries.len() as u64).sum();
        Ok(Packed { sum: crc32fast::hash(&body), body, readings })
    }

    pub(super) fn unpack(body: &[u8], sum: u32) -> Result<Self, SheetError> {
        let frame = open(body, sum)?;
        let mut scratch = Scratch::default();
        let mut sheet = Self::default();
        for column in &frame.columns {
            scratch.unpack(&frame, column)?;
            let (times, values) = (scratch.times(), scratch.values());
            let entry = |(ms, value): (&u32, &f64)| Entry { ms: *ms, value: *value, taken: column.taken };
            sheet.add(column.series, times.iter().zip(values).map(entry));
        }
        Ok(sheet)
    }
}

fn open(body: &[u8], sum: u32) -> Result<Frame<'_>, SheetError> {
    if crc32fast::hash(body) != sum {
        return Err(SheetError::Sum);
    }
    Ok(postcard::from_bytes(body)?)
}
