//! Readings as a table.

use std::io::{self, Write};

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use chrono_tz::Tz;

use super::header::name_of;
use super::{BENCH, BY, NOTE, SIGN, TIME};
use crate::formula::guarded;
use crate::review::calendar::iso;
use crate::store::Recorded;

/// Writes instants as rows.
pub struct TableWriter<W: Write> {
    out: csv::Writer<W>,
    quantities: Vec<Quantity>,
    zone: Tz,
}

/// What stands in one row.
#[derive(Debug, Clone, Copy, Default)]
struct Cells<'a> {
    values: [Option<f64>; Quantity::ALL.len()],
    sign: Option<&'a Recorded>,
    noted: Option<&'a Recorded>,
}

impl<W: Write> TableWriter<W> {
    /// A table with columns for these quantities, and its header.
    ///
    /// # Errors
    /// When the writer fails.
    pub fn new(to: W, quantities: Vec<Quantity>, zone: Tz) -> io::Result<Self> {
        let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(to);
        let names = quantities.iter().map(|quantity| name_of(*quantity));
        let before = [TIME, BENCH].map(str::to_owned);
        out.write_record(before.into_iter().chain(names).chain([SIGN, NOTE, BY].map(str::to_owned)))?;
        Ok(Self { out, quantities, zone })
    }

    /// Writes all of one bench and instant: a row, and one more for each further sign and for what has a note of its own.
    ///
    /// # Errors
    /// When the writer fails.
    pub fn instant(&mut self, recorded: &[Recorded]) -> io::Result<()> {
        let Some(first) = recorded.first() else { return Ok(()) };
        let mut rows = vec![Cells::default()];
        for one in recorded {
            let noted = one.note.is_some() || one.by.is_some();
            match one.observed {
                Observed::Value(quantity, value) => {
                    let place = if noted { self::further(&mut rows) } else { 0 };
                    rows[place].values[quantity as usize] = Some(value);
                    rows[place].noted = noted.then_some(one);
                }
                Observed::Sign(_) => {
                    let place = if noted || rows[0].sign.is_some() { self::further(&mut rows) } else { 0 };
                    rows[place].sign = Some(one);
                    rows[place].noted = noted.then_some(one);
                }
            }
        }
        let time = iso(first.time, self.zone);
        for row in rows.iter().filter(|row| row.sign.is_some() || row.values.iter().any(Option::is_some)) {
            let values = self.quantities.iter().map(|quantity| {
                row.values[*quantity as usize].map(|value| value.to_string()).unwrap_or_default()
            });
            let sign = match row.sign.map(|recorded| recorded.observed) {
                Some(Observed::Sign(sign)) => sign.to_string(),
                _ => String::new(),
            };
            let added = |of: fn(&Recorded) -> &Option<String>| {
                row.noted
                    .and_then(|one| of(one).as_deref())
                    .map(|text| guarded(text).into_owned())
                    .unwrap_or_default()
            };
            let after = [sign, added(|one| &one.note), added(|one| &one.by)];
            let cells =
                [time.clone(), guarded(&first.bench).into_owned()].into_iter().chain(values).chain(after);
            self.out.write_record(cells)?;
        }
        Ok(())
    }

    /// Hands on what is still held back.
    ///
    /// # Errors
    /// When the writer fails.
    pub fn finish(mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// The place of a new row.
fn further(rows: &mut Vec<Cells<'_>>) -> usize {
    rows.push(Cells::default());
    rows.len() - 1
}
