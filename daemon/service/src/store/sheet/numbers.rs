//! Columns of numbers, packed.
//!
//! Values that are decimal fractions, as sensors print them, are kept as whole numbers of the last decimal; others as the floats they
//! are. What a noisy sensor says next is best told by how far it lies from the course of what it said before ([`SmoothCourse`]): the packer
//! itself knows steps from one value to the next only, and each step has the noise of two.

use pco::data_types::Number;
use pco::standalone::{simple_compress, simple_decompress_into};
use pco::{ChunkConfig, DeltaSpec};
use serde::{Deserialize, Serialize};

use super::SheetError;

/// Decimals tried at most; no sensor prints more.
pub(in crate::store) const MOST_DECIMALS: u8 = 6;
/// Gains that are tried, as parts of [`WHOLE_GAIN`]: from a course that hardly bends to the value before. Judgement: a finer choice
/// gains less than a thousandth.
const GAINS: [u8; 13] = [1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 40, 48, 64];
/// A gain of one, with which the course goes to each value at once.
const WHOLE_GAIN: u8 = 64;

/// How a column of values is kept. A kind is added at the end: its place is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) enum Form {
    /// Whole numbers of the decimal of that place.
    Decimals(u8),
    Floats,
    /// The same whole numbers, each as its distance from the course of those before it.
    Followed {
        decimals: u8,
        gain: u8,
        /// Where the course begins.
        first: i32,
    },
}

/// Packs values in the smallest of the ways there are.
pub(super) fn pack_values(values: &[f64]) -> Result<(Form, Vec<u8>), SheetError> {
    let Some((decimals, whole)) = decimals(values) else { return Ok((Form::Floats, pack_numbers(values)?)) };
    let plain = pack_numbers(&whole)?;
    let Some(first) = whole.first().copied() else { return Ok((Form::Decimals(decimals), plain)) };
    let gain = best_gain(first, &whole);
    let followed = pack(&distances(first, gain, &whole), DeltaSpec::NoOp)?;
    if plain.len() <= followed.len() {
        Ok((Form::Decimals(decimals), plain))
    } else {
        Ok((Form::Followed { decimals, gain, first }, followed))
    }
}

/// Unpacks what [`pack_values`] packed; `whole` is memory to work in.
pub(super) fn unpack_values(
    form: Form,
    packed: &[u8],
    readings: usize,
    whole: &mut Vec<i32>,
    values: &mut Vec<f64>,
) -> Result<(), SheetError> {
    let decimals = match form {
        Form::Floats => return unpack_numbers(packed, readings, values),
        Form::Decimals(decimals) | Form::Followed { decimals, .. } => decimals,
    };
    unpack_numbers(packed, readings, whole)?;
    if let Form::Followed { gain, first, .. } = form {
        if gain > WHOLE_GAIN {
            return Err(SheetError::Parts);
        }
        *whole = values_at(first, gain, std::mem::take(whole));
    }
    let one = 10_f64.powi(i32::from(decimals));
    values.clear();
    values.extend(whole.iter().map(|whole| f64::from(*whole) / one));
    Ok(())
}

/// The course of values: it goes a part of the way to each one that comes (exponential smoothing). In whole numbers throughout, so that
/// every machine finds the same.
#[derive(Debug, Clone, Copy)]
struct SmoothCourse {
    /// In parts of two to the power of [`SmoothCourse::PARTS`].
    level: i64,
    gain: u8,
}

impl SmoothCourse {
    const PARTS: u32 = 16;

    const fn begin(first: i32, gain: u8) -> Self {
        Self { level: (first as i64) << Self::PARTS, gain }
    }

    /// It lies between the least and the greatest value so far, so that no sum leaves its bounds.
    const fn expected(&self) -> i32 {
        ((self.level + (1 << (Self::PARTS - 1))) >> Self::PARTS) as i32
    }

    fn go_on(&mut self, value: i32) {
        let way = (i64::from(value) << Self::PARTS) - self.level;
        self.level += (way * i64::from(self.gain)) >> WHOLE_GAIN.ilog2();
    }

    /// How far a value lies from what was expected; one that is too far for 32 bits comes round from the other end.
    fn distance(&mut self, value: i32) -> i32 {
        let distance = value.wrapping_sub(self.expected());
        self.go_on(value);
        distance
    }

    /// The value at such a distance.
    fn value(&mut self, distance: i32) -> i32 {
        let value = self.expected().wrapping_add(distance);
        self.go_on(value);
        value
    }
}

/// How far each value lies from the course of those before it.
pub(super) fn distances(first: i32, gain: u8, whole: &[i32]) -> Vec<i32> {
    let mut course = SmoothCourse::begin(first, gain);
    whole.iter().map(|value| course.distance(*value)).collect()
}

/// The values at such distances, in their place.
pub(super) fn values_at(first: i32, gain: u8, mut distances: Vec<i32>) -> Vec<i32> {
    let mut course = SmoothCourse::begin(first, gain);
    for number in &mut distances {
        *number = course.value(*number);
    }
    distances
}

/// The gain with the least sum of squared distances.
fn best_gain(first: i32, whole: &[i32]) -> u8 {
    let squares = |gain: u8| {
        let mut course = SmoothCourse::begin(first, gain);
        whole.iter().map(|value| f64::from(course.distance(*value)).powi(2)).sum::<f64>()
    };
    let tried = GAINS.map(|gain| (gain, squares(gain)));
    tried.into_iter().min_by(|one, other| one.1.total_cmp(&other.1)).map_or(WHOLE_GAIN, |(gain, _)| gain)
}

/// The values as whole numbers of their last decimal, if every one of them comes back from it bit for bit.
pub(in crate::store) fn decimals(values: &[f64]) -> Option<(u8, Vec<i32>)> {
    // a decimal fraction is one of more decimals, too: no value needs to be looked at twice
    let most = values.iter().try_fold(0, |most, value| Some(whole_from(most, *value)?.0))?;
    let all: Option<Vec<i32>> = values.iter().map(|value| whole(*value, most)).collect();
    Some((most, all?))
}

/// A value as a whole number of the decimal of some place, of the first one from that place on of which it comes back bit for bit.
pub(in crate::store) fn whole_from(place: u8, value: f64) -> Option<(u8, i32)> {
    (place..=MOST_DECIMALS).find_map(|place| Some((place, whole(value, place)?)))
}

fn whole(value: f64, decimals: u8) -> Option<i32> {
    // out of bounds it ends at the bound, and then does not come back
    let whole = (value * 10_f64.powi(i32::from(decimals))).round() as i32;
    (of_whole(whole, decimals).to_bits() == value.to_bits()).then_some(whole)
}

/// The value that is so many of the decimal of that place.
pub(in crate::store) fn of_whole(whole: i32, decimals: u8) -> f64 {
    f64::from(whole) / 10_f64.powi(i32::from(decimals))
}

/// Packs in the smaller of two ways: the packer's own choice misses at times that values are best told by their steps. A third of its
/// ways tells each value by several before it; that one breaks off where a column ends with fewer values than it looks back at, and is
/// no better than [`SmoothCourse`].
pub(super) fn pack_numbers<T: Number>(numbers: &[T]) -> Result<Vec<u8>, SheetError> {
    let (own, steps) = (pack(numbers, DeltaSpec::Auto)?, pack(numbers, DeltaSpec::TryConsecutive(1))?);
    Ok(if own.len() <= steps.len() { own } else { steps })
}

fn pack<T: Number>(numbers: &[T], steps: DeltaSpec) -> Result<Vec<u8>, SheetError> {
    Ok(simple_compress(numbers, &ChunkConfig::default().with_delta_spec(steps))?)
}

pub(super) fn unpack_numbers<T: Number + Default>(
    packed: &[u8],
    readings: usize,
    numbers: &mut Vec<T>,
) -> Result<(), SheetError> {
    numbers.clear();
    numbers.resize(readings, T::default());
    let progress = simple_decompress_into(packed, numbers)?;
    if progress.n_processed == readings && progress.finished { Ok(()) } else { Err(SheetError::Parts) }
}
