//! The rows of a bench, one instant after the other: readings that are not sealed yet, and what people booked.

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use rusqlite::types::Value;
use rusqlite::{Connection, Row};

use super::{CursorItem, Sink, gives_way, named};
use crate::store::readings::{Which, booked};
use crate::store::rows::{RowValue, Tables};

/// The question that finds the rows, of bench (?1), span (?2, ?3) and key (?4), and its key; `None` where there can be none. All parts
/// come sorted by their keys, so that nothing is gathered before it is told.
pub(super) fn question(
    conn: &Connection,
    which: Which,
    series: &[(Quantity, i64)],
) -> rusqlite::Result<Option<(String, Value)>> {
    let (of_series, key) = match (which, series) {
        (Which::Quantity(quantity), _) if quantity.by_hand() => ("", Value::Text(quantity.name().to_owned())),
        (Which::Quantity(_), []) => return Ok(None),
        (Which::Quantity(_), [(_, series), ..]) => ("series = ?4", Value::Integer(*series)),
        (Which::Everything, _) => {
            ("?4 IS NULL AND series IN (SELECT id FROM series WHERE bench = ?1)", Value::Null)
        }
        (Which::Signs, _) => ("", Value::Null),
    };
    let of_booked = match which {
        Which::Quantity(quantity) if quantity.by_hand() => "AND what = ?4",
        Which::Quantity(_) => "",
        Which::Everything => "AND ?4 IS NULL",
        Which::Signs => "AND value IS NULL AND ?4 IS NULL",
    };
    let mut parts = Vec::new();
    if !of_series.is_empty() {
        parts.push(Tables::of(conn)?.union(|table, place| {
            format!(
                "SELECT time_ms, series, value, fed, NULL, NULL, NULL, {place} FROM {table}
                 WHERE time_ms BETWEEN ?2 AND ?3 AND {of_series}"
            )
        }));
    }
    if !of_booked.is_empty() {
        parts.push(format!(
            "SELECT time_ms, NULL, value, fed, what, note, by, 9 FROM booked
             WHERE time_ms BETWEEN ?2 AND ?3 AND bench = ?1 {of_booked}"
        ));
    }
    Ok(Some((format!("{} ORDER BY 1, 8", parts.join(" UNION ALL ")), key)))
}

/// Rows of one instant after the other.
pub(super) struct UnsealedRows<'a> {
    rows: rusqlite::Rows<'a>,
    series: &'a [(Quantity, i64)],
    /// Those of the next instant.
    next: Vec<CursorItem>,
    /// The first of the instant after it.
    then: Option<CursorItem>,
}

impl<'a> UnsealedRows<'a> {
    pub(super) fn of(rows: rusqlite::Rows<'a>, series: &'a [(Quantity, i64)]) -> rusqlite::Result<Self> {
        let mut rows = Self { rows, series, next: Vec::new(), then: None };
        rows.then = rows.read()?;
        rows.gather()?;
        Ok(rows)
    }

    /// The next instant that has one.
    pub(super) fn next_time(&self) -> Option<i64> {
        self.next.first().map(|row| row.time_ms)
    }

    /// Tells those of the next instant and goes on.
    pub(super) fn take(&mut self, sink: &mut impl Sink) -> rusqlite::Result<()> {
        self.next.drain(..).for_each(|row| sink.take(row));
        self.gather()
    }

    /// Whether the next instant holds a row of that quantity to which a sealed reading gives way. One that is no better is passed over.
    pub(super) fn hold_better(&mut self, quantity: Quantity, taken: bool) -> rusqlite::Result<bool> {
        let Some(place) = self.next.iter().position(|row| measures(row, quantity)) else { return Ok(false) };
        if self.next.get(place).is_some_and(|row| gives_way(taken, row.fed.is_some())) {
            return Ok(true);
        }
        self.next.remove(place);
        if self.next.is_empty() {
            self.gather()?;
        }
        Ok(false)
    }

    fn gather(&mut self) -> rusqlite::Result<()> {
        while let Some(row) = self.then.take() {
            if self.next_time().is_some_and(|time_ms| time_ms != row.time_ms) {
                self.then = Some(row);
                break;
            }
            self.put(row);
            self.then = self.read()?;
        }
        Ok(())
    }

    /// Adds a row to the next instant. There may be one of the same series, from a table that was filled before.
    fn put(&mut self, row: CursorItem) {
        let same = match row.observed {
            Observed::Value(quantity, _) => self.next.iter_mut().find(|other| measures(other, quantity)),
            Observed::Sign(_) => None,
        };
        match same {
            Some(first) if gives_way(first.fed.is_some(), row.fed.is_some()) => *first = row,
            Some(_) => {}
            None => self.next.push(row),
        }
    }

    fn read(&mut self) -> rusqlite::Result<Option<CursorItem>> {
        let Some(row) = self.rows.next()? else { return Ok(None) };
        Ok(Some(CursorItem {
            time_ms: row.get(0)?,
            observed: observed(row, self.series)?,
            fed: row.get(3)?,
            note: row.get(5)?,
            by: row.get(6)?,
        }))
    }
}

/// Whether it is a sensor's reading of that quantity.
fn measures(row: &CursorItem, quantity: Quantity) -> bool {
    matches!(row.observed, Observed::Value(other, _) if other == quantity && !quantity.by_hand())
}

fn observed(row: &Row<'_>, series: &[(Quantity, i64)]) -> rusqlite::Result<Observed> {
    match row.get::<_, Option<i64>>(1)? {
        Some(key) => Ok(Observed::Value(named(series, key)?, row.get::<_, RowValue>(2)?.0)),
        None => booked(4, &row.get::<_, String>(4)?, row.get(2)?),
    }
}
