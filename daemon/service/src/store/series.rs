//! One quantity of one bench over a span of time, as charts and reviews read it.

use bloom_model::quantity::by::ByVariable;
use bloom_model::quantity::{Derived, Quantity};
use bloom_model::time::Time;
use rusqlite::{Connection, OptionalExtension, Rows, params};

use super::Reader;
use super::chart::{Chart, ChartPoint};
use super::error::StoreError;
use super::hour::{self, HOUR_MS, Hour, Hours};
use super::merge::snapshot;
use super::readings::series_of;
use super::rows::Tables;
use super::sealed::{damaged, day_of, instant};
use super::sheet::{DAY_MS, Scratch};
use super::summaries;

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
        told(&self.conn, bench, quantity, from.unix_ms()..=until.unix_ms(), &mut OneByOne(tell))
            .map_err(|error| self.error(error))
    }

    /// The same as a chart of so many points at most: least, mean and greatest value of each, those without a reading left
    /// out. Where its points are hours or more, sealed days are told by the summaries of their hours.
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
        told(&self.conn, bench, quantity, from.unix_ms()..=until.unix_ms(), &mut chart)
            .map_err(|error| self.error(error))?;
        Ok(chart.points())
    }
}

/// The hours of a day (UTC), by what was measured and derived.
pub type DayInHours = Box<ByVariable<Hours>>;

impl Reader {
    /// The hours of a bench's day (UTC) by the summary of it; `None` where there is none that is sound, or where readings of that day
    /// have yet to be sealed.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn day_in_hours(&self, bench: &str, midnight: Time) -> Result<Option<DayInHours>, StoreError> {
        day_in_hours(&self.conn, bench, midnight.unix_ms()).map_err(|error| self.error(error))
    }
}

fn day_in_hours(conn: &Connection, bench: &str, midnight_ms: i64) -> rusqlite::Result<Option<DayInHours>> {
    let _snapshot = snapshot(conn)?;
    let id = conn
        .prepare_cached("SELECT id FROM sealed WHERE bench = ?1 AND day = ?2")?
        .query_row(params![bench, day_of(midnight_ms).0], |row| row.get(0))
        .optional()?;
    let Some(id) = id else { return Ok(None) };
    let waiting = Tables::of(conn)?.union(|table, _| {
        format!(
            "SELECT 1 FROM {table} WHERE time_ms >= ?1 AND time_ms < ?2
             AND series IN (SELECT id FROM series WHERE bench = ?3)"
        )
    });
    if conn.prepare_cached(&waiting)?.exists(params![midnight_ms, midnight_ms + DAY_MS, bench])? {
        return Ok(None);
    }
    let Some(Ok(found)) = summaries::with_sound(conn, id, hour::unpack_all)? else { return Ok(None) };
    let series = series_of(conn, bench)?;
    let mut day = DayInHours::default();
    for (key, hours) in found {
        if let Some((quantity, _)) = series.iter().find(|(_, id)| *id == key) {
            day[*quantity] = hours;
        }
        if let Some(derived) = Derived::ALL.into_iter().find(|derived| hour::key_of(*derived) == key) {
            day[derived] = hours;
        }
    }
    Ok(Some(day))
}

/// Whoever takes in readings; a day's at once where that is quicker.
trait Teller {
    fn one(&mut self, time_ms: i64, value: f64);

    /// Readings at so many milliseconds after `midnight_ms`, in the order of time.
    fn many(&mut self, midnight_ms: i64, times: &[u32], values: &[f64]) {
        for (ms, value) in times.iter().zip(values) {
            self.one(midnight_ms + i64::from(*ms), *value);
        }
    }

    /// Whether an hour that lies in the span may be told as one.
    fn takes_hours(&self) -> bool {
        false
    }

    /// A whole hour.
    fn hour(&mut self, _begins_ms: i64, _hour: &Hour) {}
}

/// One after the other.
struct OneByOne<F>(F);

impl<F: FnMut(Time, f64)> Teller for OneByOne<F> {
    fn one(&mut self, time_ms: i64, value: f64) {
        (self.0)(Time::from_unix_ms(time_ms), value);
    }
}

impl Teller for Chart {
    fn one(&mut self, time_ms: i64, value: f64) {
        self.add(Time::from_unix_ms(time_ms), value);
    }

    fn many(&mut self, midnight_ms: i64, times: &[u32], values: &[f64]) {
        self.add_day(midnight_ms, times, values);
    }

    fn takes_hours(&self) -> bool {
        self.is_of_hours()
    }

    fn hour(&mut self, begins_ms: i64, hour: &Hour) {
        self.add_hour(begins_ms, hour);
    }
}

/// Two instants in milliseconds, both included.
type Span = std::ops::RangeInclusive<i64>;

fn told(
    conn: &Connection,
    bench: &str,
    quantity: Quantity,
    span: Span,
    teller: &mut impl Teller,
) -> rusqlite::Result<()> {
    if quantity.by_hand() {
        booked(conn, bench, quantity, span, teller)
    } else {
        measured(conn, bench, quantity, span, teller)
    }
}

fn booked(
    conn: &Connection,
    bench: &str,
    quantity: Quantity,
    span: Span,
    teller: &mut impl Teller,
) -> rusqlite::Result<()> {
    let mut statement = conn.prepare_cached(
        "SELECT time_ms, value FROM booked WHERE time_ms BETWEEN ?3 AND ?4 AND bench = ?1 AND what = ?2
         ORDER BY time_ms",
    )?;
    let mut rows = statement.query(params![bench, quantity.name(), span.start(), span.end()])?;
    while let Some(row) = rows.next()? {
        teller.one(row.get(0)?, row.get(1)?);
    }
    Ok(())
}

fn measured(
    conn: &Connection,
    bench: &str,
    quantity: Quantity,
    span: Span,
    teller: &mut impl Teller,
) -> rusqlite::Result<()> {
    let _snapshot = snapshot(conn)?;
    let series: Option<i64> = conn
        .prepare_cached("SELECT id FROM series WHERE bench = ?1 AND quantity = ?2")?
        .query_row(params![bench, quantity.name()], |row| row.get(0))
        .optional()?;
    let Some(series) = series else { return Ok(()) };
    let rows = Tables::of(conn)?.union(|table, place| {
        format!(
            "SELECT time_ms, value, fed IS NOT NULL, {place} FROM {table}
             WHERE time_ms BETWEEN ?2 AND ?3 AND series = ?1"
        )
    });
    let mut rows = conn.prepare_cached(&format!("{rows} ORDER BY 1, 4"))?;
    let mut rows = PlainRows::of(rows.query(params![series, span.start(), span.end()])?)?;
    // the index has these; of a day in brief the sheet itself is not touched
    let mut days = conn.prepare_cached(
        "SELECT day, id FROM sealed WHERE bench = ?1 AND day BETWEEN ?2 AND ?3 ORDER BY day",
    )?;
    let mut days = days.query(params![bench, day_of(*span.start()).0, day_of(*span.end()).0])?;
    let mut sheet = conn.prepare_cached("SELECT sum, body FROM sealed WHERE id = ?1")?;
    let mut scratch = Scratch::default();
    while let Some(row) = days.next()? {
        let (midnight, id) = (instant(row.get(0)?, 0), row.get(1)?);
        if teller.takes_hours()
            && *span.start() <= midnight
            && midnight + DAY_MS <= *span.end() + 1
            && let Some(hours) = hours_of(conn, id, series)?
        {
            let read = hours
                .iter()
                .zip(0..)
                .filter_map(|(hour, place)| Some((midnight + place * HOUR_MS, hour.as_ref()?)));
            // what has come since for one of these hours may be one of its readings
            if !read.clone().last().is_some_and(|(begins_ms, _)| rows.begin_by(begins_ms + HOUR_MS - 1)) {
                read.for_each(|(begins_ms, hour)| teller.hour(begins_ms, hour));
                continue;
            }
        }
        sheet.query_row([id], |row| {
            let body = row.get_ref(1)?.as_blob()?;
            scratch.load(body, row.get(0)?, series).map_err(|error| damaged(1, error))
        })?;
        let at = |ms: u32| midnight + i64::from(ms);
        let first = scratch.times().partition_point(|ms| at(*ms) < *span.start());
        let end = scratch.times().partition_point(|ms| at(*ms) <= *span.end());
        let (times, values) = (&scratch.times()[first..end], &scratch.values()[first..end]);
        if !times.last().is_some_and(|last| rows.begin_by(at(*last))) {
            teller.many(midnight, times, values);
            continue;
        }
        for (place, (ms, value)) in (first..).zip(times.iter().zip(values)) {
            rows.tell_before(at(*ms), teller)?;
            // the first wins, except that one that the model took wins over one that it did not
            match rows.next {
                Some(row) if row.time_ms == at(*ms) && row.taken && !scratch.taken(place) => {}
                Some(row) if row.time_ms == at(*ms) => {
                    rows.advance()?;
                    teller.one(at(*ms), *value);
                }
                _ => teller.one(at(*ms), *value),
            }
        }
    }
    rows.tell_before(i64::MAX, teller)
}

/// The hours of one series on a sealed day, none of them with a reading where it has none; `None` where there is no sound summary.
fn hours_of(conn: &Connection, id: i64, series: i64) -> rusqlite::Result<Option<Hours>> {
    let found = summaries::with_sound(conn, id, |body| hour::unpack(body, series))?;
    // bytes whose sum is right and that are no summary were written by a fault of our own: the readings tell
    Ok(found.and_then(Result::ok).map(Option::unwrap_or_default))
}

/// Rows of one series, with the next of them in view.
struct PlainRows<'a> {
    rows: Rows<'a>,
    next: Option<PlainRow>,
    /// The one after it.
    then: Option<PlainRow>,
}

#[derive(Clone, Copy)]
struct PlainRow {
    time_ms: i64,
    value: f64,
    taken: bool,
}

impl<'a> PlainRows<'a> {
    fn of(rows: Rows<'a>) -> rusqlite::Result<Self> {
        let mut rows = Self { rows, next: None, then: None };
        rows.then = rows.read()?;
        rows.advance()?;
        Ok(rows)
    }

    /// Goes on to the next instant. Of two rows of one, from two tables, the first wins, unless the model took the other only.
    fn advance(&mut self) -> rusqlite::Result<()> {
        self.next = self.then.take();
        self.then = self.read()?;
        while let (Some(next), Some(then)) = (&mut self.next, self.then)
            && next.time_ms == then.time_ms
        {
            if then.taken && !next.taken {
                *next = then;
            }
            self.then = self.read()?;
        }
        Ok(())
    }

    fn read(&mut self) -> rusqlite::Result<Option<PlainRow>> {
        let Some(row) = self.rows.next()? else { return Ok(None) };
        Ok(Some(PlainRow { time_ms: row.get(0)?, value: row.get(1)?, taken: row.get(2)? }))
    }

    /// Whether there is one of that instant or earlier.
    fn begin_by(&self, time_ms: i64) -> bool {
        self.next.is_some_and(|row| row.time_ms <= time_ms)
    }

    fn tell_before(&mut self, time_ms: i64, teller: &mut impl Teller) -> rusqlite::Result<()> {
        while let Some(row) = self.next.filter(|row| row.time_ms < time_ms) {
            teller.one(row.time_ms, row.value);
            self.advance()?;
        }
        Ok(())
    }
}
