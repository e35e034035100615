//! One series of sheet after sheet, unpacked into memory that is used again.

use super::numbers::{unpack_numbers, unpack_values};
use super::{Column, Entry, Frame, MOST_READINGS, Sheet, SheetError, open};

/// Unpacks one series of sheet after sheet.
#[derive(Debug, Default)]
pub(in crate::store) struct Scratch {
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
    pub(in crate::store) fn load(&mut self, body: &[u8], sum: u32, series: i64) -> Result<(), SheetError> {
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
    pub(in crate::store) fn times(&self) -> &[u32] {
        &self.times
    }

    /// The values at those times.
    pub(in crate::store) fn values(&self) -> &[f64] {
        &self.values
    }

    /// Whether the model took the reading of that place.
    pub(in crate::store) fn taken(&self, place: usize) -> bool {
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

    pub(super) fn unpack(&mut self, frame: &Frame<'_>, column: &Column<'_>) -> Result<(), SheetError> {
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
        unpack_values(column.form, column.values, readings, &mut self.whole, &mut self.values)
    }
}
