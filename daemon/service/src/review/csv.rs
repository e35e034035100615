//! The same numbers for a spreadsheet: RFC 4180, one figure a line, so that it can be filtered, pivoted and joined.

use bloom_text::number;
use std::collections::HashMap;
use std::io::{self, Write};

use super::calendar::iso;
use super::tables::{Cell, Name};
use super::{Earlier, Review};
use crate::formula::guarded;

/// Further decimals than people are shown.
const FURTHER_DECIMALS: usize = 3;

/// Writes every figure as `table,row,figure,unit,value`; what is not known is left out, never written as zero. Text that a
/// spreadsheet would run is [guarded].
///
/// # Errors
/// When the writer fails.
pub fn write(review: &Review, earlier: Option<&Earlier<'_>>, to: impl Write) -> io::Result<()> {
    let (zone, units) = (review.site.timezone, review.site.units);
    let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(to);
    out.write_record(["table", "row", "figure", "unit", "value"])?;
    for table in review.tables(earlier) {
        let mut named: HashMap<String, u32> = HashMap::new();
        for row in &table.rows {
            let mut name = match &row.name {
                Name::Text(text) => text.clone(),
                Name::Date(date) => date.to_string(),
                Name::Time(time) => iso(*time, zone),
            };
            // two events of one instant: the second is told apart
            let times = named.entry(name.clone()).or_default();
            *times += 1;
            if *times > 1 {
                name.push_str(&format!(" #{times}"));
            }
            for (column, cell) in table.columns.iter().zip(&row.cells) {
                let (unit, value) = match cell {
                    Cell::Nothing => continue,
                    Cell::Text(text) => ("", guarded(text).into_owned()),
                    Cell::Number(value, measure) => {
                        (measure.unit(units), number(*measure, units, *value, FURTHER_DECIMALS))
                    }
                    Cell::Time(time) => ("", iso(*time, zone)),
                };
                out.write_record([table.key, &*guarded(&name), &*column.0, unit, &value])?;
            }
        }
    }
    out.flush()
}
