//! A sheet: the readings of one bench on one day (UTC), packed.
//!
//! Column by column: for each series its instants and its values. Series that were read in the same packs share one column
//! of instants. Values that are decimal fractions, as sensors print them, are kept as whole numbers of the last decimal;
//! others as the floats they are. What is unpacked is what was packed, bit for bit.

use std::collections::BTreeMap;

use pco::data_types::Number;
use pco::standalone::{simple_compress, simple_decompress_into};
use pco::{ChunkConfig, DeltaSpec};
use serde::{Deserialize, Serialize};

/// Milliseconds in a day.
pub(super) const DAY_MS: i64 = 86_400_000;
/// Decimals tried at most; no sensor prints more.
const MOST_DECIMALS: u8 = 6;
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

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
enum Form {
    /// Whole numbers of the decimal of that place.
    Decimals(u8),
    Floats,
}

/// The readings of a bench's day by series, each sorted by time.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Sheet(BTreeMap<i64, Vec<Entry>>);

impl Sheet {
    /// Adds readings of a series. The first of an instant wins, except that one that the model took wins over one that it
    /// did not. Gives the number of those that changed nothing.
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
            if same && later.taken && !first.taken {
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
                let (form, values) = match decimals(&values) {
                    Some((decimals, whole)) => (Form::Decimals(decimals), pack_numbers(&whole)?),
                    None => (Form::Floats, pack_numbers(&values)?),
                };
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

/// Unpacks one series of sheet after sheet into memory that is used again.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    /// The instants as they were packed: those of the next day are often the same, and need no unpacking.
    packed_times: Vec<u8>,
    times: Vec<u32>,
    whole: Vec<i32>,
    values: Vec<f64>,
    taken: Taken,
}

/// Which readings the model took.
#[derive(Debug)]
enum Taken {
    All(bool),
    Each(Vec<bool>),
}

impl Default for Taken {
    fn default() -> Self {
        Self::All(true)
    }
}

impl Scratch {
    /// Takes in the readings of one series on a sheet, in place of what was there.
    pub(super) fn load(&mut self, body: &[u8], sum: u32, series: i64) -> Result<(), SheetError> {
        let frame = open(body, sum)?;
        let mut columns = frame.columns.iter().filter(|column| column.series == series);
        match (columns.next(), columns.next()) {
            (Some(only), None) => {
                self.unpack(&frame, only)?;
                self.taken = Taken::All(only.taken);
            }
            (None, _) => self.set(&[]),
            // some were taken by the model and some not: seldom
            (Some(_), Some(_)) => {
                let sheet = Sheet::unpack(body, sum)?;
                self.set(sheet.of(series));
            }
        }
        Ok(())
    }

    /// Milliseconds since the day began, ascending.
    pub(super) fn times(&self) -> &[u32] {
        &self.times
    }

    /// The values at those times.
    pub(super) fn values(&self) -> &[f64] {
        &self.values
    }

    /// Whether the model took the reading of that place.
    pub(super) fn taken(&self, place: usize) -> bool {
        match &self.taken {
            Taken::All(taken) => *taken,
            Taken::Each(each) => each.get(place).is_some_and(|taken| *taken),
        }
    }

    fn set(&mut self, entries: &[Entry]) {
        self.packed_times.clear();
        self.times = entries.iter().map(|entry| entry.ms).collect();
        self.values = entries.iter().map(|entry| entry.value).collect();
        self.taken = Taken::Each(entries.iter().map(|entry| entry.taken).collect());
    }

    fn unpack(&mut self, frame: &Frame<'_>, column: &Column<'_>) -> Result<(), SheetError> {
        if column.readings > MOST_READINGS {
            return Err(SheetError::TooMany(column.series));
        }
        let readings = column.readings as usize;
        let packed = *frame.instants.get(column.instants as usize).ok_or(SheetError::Parts)?;
        if packed != self.packed_times || self.times.len() != readings {
            self.packed_times.clear();
            unpack_numbers(packed, readings, &mut self.times)?;
            self.packed_times.extend_from_slice(packed);
        }
        match column.form {
            Form::Floats => unpack_numbers(column.values, readings, &mut self.values)?,
            Form::Decimals(decimals) => {
                unpack_numbers(column.values, readings, &mut self.whole)?;
                let one = 10_f64.powi(i32::from(decimals));
                self.values.clear();
                self.values.extend(self.whole.iter().map(|whole| f64::from(*whole) / one));
            }
        }
        Ok(())
    }
}

fn open(body: &[u8], sum: u32) -> Result<Frame<'_>, SheetError> {
    if crc32fast::hash(body) != sum {
        return Err(SheetError::Sum);
    }
    Ok(postcard::from_bytes(body)?)
}

/// The values as whole numbers of their last decimal, if every one of them comes back from it bit for bit.
pub(super) fn decimals(values: &[f64]) -> Option<(u8, Vec<i32>)> {
    let whole = |value: f64, decimals: u8| {
        let one = 10_f64.powi(i32::from(decimals));
        // out of bounds it ends at the bound, and then does not come back
        let whole = (value * one).round() as i32;
        ((f64::from(whole) / one).to_bits() == value.to_bits()).then_some(whole)
    };
    // a decimal fraction is one of more decimals, too: no value needs to be looked at twice
    let mut most = 0;
    for value in values {
        while whole(*value, most).is_none() {
            most += 1;
            if most > MOST_DECIMALS {
                return None;
            }
        }
    }
    let all: Option<Vec<i32>> = values.iter().map(|value| whole(*value, most)).collect();
    Some((most, all?))
}

/// Packs in the smaller of two ways: the packer's own choice misses at times that noisy values are best told by their steps. It has a
/// third, which tells each value by several before it and is some hundredths smaller. That one breaks off where a column ends with
/// fewer values than it looks back at.
fn pack_numbers<T: Number>(numbers: &[T]) -> Result<Vec<u8>, SheetError> {
    let packed = |steps| simple_compress(numbers, &ChunkConfig::default().with_delta_spec(steps));
    let (own, steps) = (packed(DeltaSpec::Auto)?, packed(DeltaSpec::TryConsecutive(1))?);
    Ok(if own.len() <= steps.len() { own } else { steps })
}

fn unpack_numbers<T: Number + Default>(
    packed: &[u8],
    readings: usize,
    numbers: &mut Vec<T>,
) -> Result<(), SheetError> {
    numbers.clear();
    numbers.resize(readings, T::default());
    let progress = simple_decompress_into(packed, numbers)?;
    if progress.n_processed == readings && progress.finished { Ok(()) } else { Err(SheetError::Parts) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn entry(ms: u32, value: f64, taken: bool) -> Entry {
        Entry { ms, value, taken }
    }

    fn bits(sheet: &Sheet) -> Vec<(i64, u32, u64, bool)> {
        sheet.in_order().into_iter().map(|(series, e)| (series, e.ms, e.value.to_bits(), e.taken)).collect()
    }

    #[test]
    fn what_is_unpacked_is_what_was_packed() {
        let mut sheet = Sheet::default();
        sheet.add(1, (0..8_640).map(|n| entry(n * 10_000, f64::from(2_000 + n % 700) / 100.0, true)));
        sheet.add(2, (0..8_640).map(|n| entry(n * 10_000, f64::from(n) / 3.0, n % 5 > 0)));
        sheet.add(3, [entry(7, -0.0, true), entry(86_399_999, f64::MIN_POSITIVE, false)]);
        let packed = sheet.pack().unwrap();
        assert_eq!(packed.readings, 2 * 8_640 + 2);
        let again = Sheet::unpack(&packed.body, packed.sum).unwrap();
        assert!(bits(&again) == bits(&sheet));
        let mut scratch = Scratch::default();
        for series in 1..=4 {
            scratch.load(&packed.body, packed.sum, series).unwrap();
            let places = 0..scratch.times().len();
            let told = places
                .map(|place| (scratch.times[place], scratch.values[place].to_bits(), scratch.taken(place)));
            let expected = bits(&sheet).into_iter().filter(|one| one.0 == series);
            assert!(told.eq(expected.map(|(_, ms, value, taken)| (ms, value, taken))));
        }
    }

    #[test]
    fn series_of_the_same_packs_share_their_instants() {
        // milliseconds of arrival, which are what costs most
        let times: Vec<u32> =
            (0..8_640_u32).map(|n| n * 10_000 + n.wrapping_mul(2_654_435_761) % 40).collect();
        let sheet_of = |series: i64| {
            let mut sheet = Sheet::default();
            for series in 0..series {
                sheet.add(series, times.iter().map(|ms| entry(*ms, 27.31, true)));
            }
            sheet.pack().unwrap().body.len()
        };
        assert!(sheet_of(3) < sheet_of(1) + 200, "{} {}", sheet_of(3), sheet_of(1));
    }

    #[test]
    fn the_first_of_an_instant_wins_unless_the_model_took_another() {
        let mut sheet = Sheet::default();
        assert_eq!(sheet.add(1, [entry(5, 1.0, true), entry(9, 2.0, false), entry(5, 3.0, true)]), 1);
        assert_eq!(sheet.add(1, [entry(9, 4.0, true), entry(5, 5.0, false), entry(1, 6.0, false)]), 1);
        let left = [entry(1, 6.0, false), entry(5, 1.0, true), entry(9, 4.0, true)];
        assert_eq!(sheet.0[&1], left);
    }

    #[test]
    fn a_changed_byte_is_noticed() {
        let mut sheet = Sheet::default();
        sheet.add(1, (0..100).map(|n| entry(n, f64::from(n), true)));
        let packed = sheet.pack().unwrap();
        for place in 0..packed.body.len() {
            let mut body = packed.body.clone();
            body[place] ^= 0x10;
            assert!(matches!(Sheet::unpack(&body, packed.sum), Err(SheetError::Sum)));
        }
    }

    /// A packer that works in batches must take a column that ends anywhere in one.
    #[test]
    fn columns_of_every_length_come_back() {
        for length in 1..=600_u32 {
            let noisy = |n: u32| f64::from(2_000 + n.wrapping_mul(2_654_435_761) % 41) / 100.0;
            let mut sheet = Sheet::default();
            sheet.add(1, (0..length).map(|n| entry(n * 10_000, noisy(n), true)));
            let packed = sheet.pack().unwrap();
            let again = Sheet::unpack(&packed.body, packed.sum).unwrap();
            assert!(bits(&again) == bits(&sheet), "{length}");
        }
    }

    proptest! {
        #[test]
        fn any_values_come_back_bit_for_bit(
            values in prop::collection::vec(any::<f64>(), 1..300),
            plain in prop::collection::vec((-2_000_000..2_000_000_i32, 0..8_u8), 1..300),
        ) {
            let mut sheet = Sheet::default();
            sheet.add(1, values.iter().zip(0..).map(|(value, ms)| entry(ms, *value, ms % 3 == 0)));
            let decimal = |(whole, decimals): &(i32, u8)| f64::from(*whole) / 10_f64.powi(i32::from(*decimals));
            sheet.add(2, plain.iter().zip(0..).map(|(one, ms)| entry(ms * 7, decimal(one), true)));
            let packed = sheet.pack().unwrap();
            prop_assert!(bits(&Sheet::unpack(&packed.body, packed.sum).unwrap()) == bits(&sheet));
        }

        #[test]
        fn no_bytes_make_it_panic(mut body in prop::collection::vec(any::<u8>(), 0..400), flip in any::<usize>()) {
            let _ = Sheet::unpack(&body, crc32fast::hash(&body));
            let mut sheet = Sheet::default();
            sheet.add(1, (0..50).map(|n| entry(n * 3, f64::from(n), true)));
            let whole = sheet.pack().unwrap().body;
            let place = flip % whole.len();
            body.truncate(1);
            let mut changed = whole;
            changed[place] ^= body.first().copied().unwrap_or(1);
            let _ = Sheet::unpack(&changed, crc32fast::hash(&changed));
        }
    }
}
