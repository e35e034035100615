//! One quantity of one bench over a span of time, as charts and reviews read it.

use bloom_model::quantity::Quantity;
use bloom_model::time::Time;
use rusqlite::{Connection, OptionalExtension, Rows, params};

use super::Reader;
use super::chart::{Chart, ChartPoint};
use super::error::StoreError;
use super::merge::snapshot;
use super::sealed::{damaged, day_of, instant};
use super::sheet::Scratch;

impl Reader {
    /// Tells each value of one quantity of one bench between two instants, both included, in the order of time. A bench or
    /// quantity that the record does not know has none.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn series(
        &self,
        bench: &str,
        quantity: Quantity,
        from: Time,
        until: Time,
        tell: impl FnMut(Time, f64),
    ) -> Result<(), StoreError> {
        let read = if quantity.by_hand() { booked } else { measured };
        read(&self.conn, bench, quantity, from.unix_ms()..=until.unix_ms(), tell)
            .map_err(|error| self.error(error))
    }

    /// The same as a chart of so many points at most: least, mean and greatest value of each, those without a reading left
    /// out.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn chart(
        &self,
        bench: &str,
        quantity: Quantity,
        from: Time,
        until: Time,
        points: usize,
    ) -> Result<Vec<ChartPoint>, StoreError> {
        let mut chart = Chart::new(from, until, points);
        self.series(bench, quantity, from, until, |time, value| chart.add(time, value))?;
        Ok(chart.points())
    }
}

/// Two instants in milliseconds, both included.
type Span = std::ops::RangeInclusive<i64>;

fn booked(
    conn: &Connection,
    bench: &str,
    quantity: Quantity,
    span: Span,
    mut tell: impl FnMut(Time, f64),
) -> rusqlite::Result<()> {
    let mut statement = conn.prepare_cached(
        "SELECT time_ms, value FROM booked WHERE time_ms BETWEEN ?3 AND ?4 AND bench = ?1 AND what = ?2
         ORDER BY time_ms",
    )?;
    let mut rows = statement.query(params![bench, quantity.name(), span.start(), span.end()])?;
    while let Some(row) = rows.next()? {
        tell(Time::from_unix_ms(row.get(0)?), row.get(1)?);
    }
    Ok(())
}

fn measured(
    conn: &Connection,
    bench: &str,
    quantity: Quantity,
    span: Span,
    mut tell: impl FnMut(Time, f64),
) -> rusqlite::Result<()> {
    let _snapshot = snapshot(conn)?;
    let series: Option<i64> = conn
        .prepare_cached("SELECT id FROM series WHERE bench = ?1 AND quantity = ?2")?
        .query_row(params![bench, quantity.name()], |row| row.get(0))
        .optional()?;
    let Some(series) = series else { return Ok(()) };
    let mut rows = conn.prepare_cached(
        "SELECT time_ms, value, fed IS NOT NULL FROM reading WHERE time_ms BETWEEN ?2 AND ?3 AND series = ?1
         ORDER BY time_ms",
    )?;
    let mut rows = PlainRows::of(rows.query(params![series, span.start(), span.end()])?)?;
    let mut sheets = conn.prepare_cached(
        "SELECT day, sum, body FROM sealed WHERE bench = ?1 AND day BETWEEN ?2 AND ?3 ORDER BY day",
    )?;
    let mut sheets = sheets.query(params![bench, day_of(*span.start()).0, day_of(*span.end()).0])?;
    let mut scratch = Scratch::default();
    while let Some(row) = sheets.next()? {
        let day: i64 = row.get(0)?;
        let body = row.get_ref(2)?.as_blob()?;
        scratch.load(body, row.get(1)?, series).map_err(|error| damaged(2, error))?;
        let midnight = instant(day, 0);
        let at = |ms: u32| midnight + i64::from(ms);
        let times = scratch.times();
        let first = times.partition_point(|ms| at(*ms) < *span.start());
        let end = times.partition_point(|ms| at(*ms) <= *span.end());
        let sealed = times.iter().zip(scratch.values()).enumerate().take(end).skip(first);
        let rows_between = end.checked_sub(1).is_some_and(|last| rows.begin_by(at(times[last])));
        if !rows_between {
            sealed.for_each(|(_, (ms, value))| tell(Time::from_unix_ms(at(*ms)), *value));
            continue;
        }
        for (place, (ms, value)) in sealed {
            rows.tell_before(at(*ms), &mut tell)?;
            // the first wins, except that one that the model took wins over one that it did not
            match rows.next {
                Some(row) if row.time_ms == at(*ms) && row.taken && !scratch.taken(place) => {}
                Some(row) if row.time_ms == at(*ms) => {
                    rows.advance()?;
                    tell(Time::from_unix_ms(at(*ms)), *value);
                }
                _ => tell(Time::from_unix_ms(at(*ms)), *value),
            }
        }
    }
    rows.tell_before(i64::MAX, &mut tell)
}

/// Rows of one series, with the next of them in view.
struct PlainRows<'a> {
    rows: Rows<'a>,
    next: Option<PlainRow>,
}

#[derive(Clone, Copy)]
struct PlainRow {
    time_ms: i64,
    value: f64,
    taken: bool,
}

impl<'a> PlainRows<'a> {
    fn of(rows: Rows<'a>) -> rusqlite::Result<Self> {
        let mut rows = Self { rows, next: None };
        rows.advance()?;
        Ok(rows)
    }

    fn advance(&mut self) -> rusqlite::Result<()> {
        self.next = match self.rows.next()? {
            Some(row) => Some(PlainRow { time_ms: row.get(0)?, value: row.get(1)?, taken: row.get(2)? }),
            None => None,
        };
        Ok(())
    }

    /// Whether there is one of that instant or earlier.
    fn begin_by(&self, time_ms: i64) -> bool {
        self.next.is_some_and(|row| row.time_ms <= time_ms)
    }

    fn tell_before(&mut self, time_ms: i64, tell: &mut impl FnMut(Time, f64)) -> rusqlite::Result<()> {
        while let Some(row) = self.next.filter(|row| row.time_ms < time_ms) {
            tell(Time::from_unix_ms(row.time_ms), row.value);
            self.advance()?;
        }
        Ok(())
    }
}
