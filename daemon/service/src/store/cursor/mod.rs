//! The one way through the record of a bench: newest rows, what people booked and sealed days as one, each reading once, in the order of
//! time.
//!
//! Everybody who reads a bench back goes through [`tell`]: `readings` and `series` for the outside, charts among them. Only a restart does
//! not (`replay`): it wants what the model took, in the order in which it took it. Which of two readings of one instant stays is decided by
//! [`gives_way`] alone, here as well as where rows are written and sheets are packed.

mod rows;

use std::ops::RangeInclusive;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use rusqlite::{Connection, Row, Transaction, params};

use super::days::{self, STRETCH_DAYS, stretch_of};
use super::error::{UnknownName, unreadable};
use super::hour::{self, HOUR_MS, Hour, Hours};
use super::readings::{Which, series_of};
use super::sealed::{damaged, day_of, instant, whole};
use super::sheet::{DAY_MS, Entry, Scratch};
use super::summaries;
use rows::UnsealedRows;

/// Whether the first of two readings of one series and instant gives way to the later one. The first stays, except that one that the model
/// took stays in place of one that it did not: it had it, and must not forget it in a restart.
pub(super) const fn gives_way(first_taken: bool, later_taken: bool) -> bool {
    later_taken && !first_taken
}

/// The same rule, of a row in that table and one that is put in.
pub(super) fn gives_way_in(table: &str) -> String {
    format!("{table}.fed IS NULL AND excluded.fed IS NOT NULL")
}

/// What is asked of the record.
#[derive(Debug, Clone)]
pub(super) struct CursorQuestion<'a> {
    pub(super) bench: &'a str,
    pub(super) which: Which,
    /// Between two instants in milliseconds, both included.
    pub(super) span: RangeInclusive<i64>,
}

/// What is told of an instant.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CursorItem {
    pub(super) time_ms: i64,
    pub(super) observed: Observed,
    /// The running number, of a row of which the model took the reading.
    pub(super) fed: Option<i64>,
    pub(super) note: Option<String>,
    pub(super) by: Option<String>,
}

/// How coarse is fine enough.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Grain {
    Readings,
    Hours,
    Days,
}

impl Grain {
    /// How long one of its summaries is, ms.
    pub(super) const fn ms(self) -> i64 {
        match self {
            Self::Readings => 1,
            Self::Hours => HOUR_MS,
            Self::Days => DAY_MS,
        }
    }
}

/// Whoever takes in what is told.
pub(super) trait Sink {
    fn take(&mut self, told: CursorItem);

    /// Readings of the one quantity that was asked for, at so many milliseconds after `midnight_ms`, in the order of time.
    fn take_day(&mut self, quantity: Quantity, midnight_ms: i64, times: &[u32], values: &[f64]) {
        for (ms, value) in times.iter().zip(values) {
            self.take(of_sensor(midnight_ms + i64::from(*ms), quantity, *value));
        }
    }

    /// What of one quantity may be told by a summary.
    fn grain(&self) -> Grain {
        Grain::Readings
    }

    /// A whole hour or day, in place of its readings.
    fn take_brief(&mut self, _begins_ms: i64, _brief: &Hour) {}
}

const fn of_sensor(time_ms: i64, quantity: Quantity, value: f64) -> CursorItem {
    CursorItem { time_ms, observed: Observed::Value(quantity, value), fed: None, note: None, by: None }
}

/// Holds the file as it is at this moment, so that what is sealed while it is read is told neither twice nor not at all. Within
/// another reading that one's moment holds.
pub(super) fn snapshot(conn: &Connection) -> rusqlite::Result<Option<Transaction<'_>>> {
    conn.is_autocommit().then(|| conn.unchecked_transaction()).transpose()
}

/// Tells what the record holds of a bench; gives the number of sheets that were opened for it.
pub(super) fn tell(
    conn: &Connection,
    asked: &CursorQuestion<'_>,
    sink: &mut impl Sink,
) -> rusqlite::Result<u64> {
    let _snapshot = snapshot(conn)?;
    let series: Vec<(Quantity, i64)> = match asked.which {
        Which::Everything => series_of(conn, asked.bench)?,
        Which::Quantity(one) if !one.by_hand() => {
            series_of(conn, asked.bench)?.into_iter().filter(|(quantity, _)| *quantity == one).collect()
        }
        Which::Quantity(_) | Which::Signs => Vec::new(),
    };
    let Some((sql, key)) = rows::question(conn, asked.which, &series)? else { return Ok(0) };
    let mut statement = conn.prepare_cached(&sql)?;
    let (from, until) = (asked.span.start(), asked.span.end());
    let rows = UnsealedRows::of(statement.query(params![asked.bench, from, until, key])?, &series)?;
    let mut merging =
        Merging { conn, asked, series: &series, rows, sink, scratch: Scratch::default(), opened: 0 };
    if !series.is_empty() {
        merging.tell_days()?;
    }
    while merging.rows.next_time().is_some() {
        merging.rows.take(merging.sink)?;
    }
    Ok(merging.opened)
}

/// Merges rows and sealed days.
struct Merging<'a, T> {
    conn: &'a Connection,
    asked: &'a CursorQuestion<'a>,
    series: &'a [(Quantity, i64)],
    rows: UnsealedRows<'a>,
    sink: &'a mut T,
    scratch: Scratch,
    opened: u64,
}

impl<T: Sink> Merging<'_, T> {
    /// Tells sealed days, and the rows before and between their readings.
    fn tell_days(&mut self) -> rusqlite::Result<()> {
        let days = day_of(*self.asked.span.start()).0..=day_of(*self.asked.span.end()).0;
        // one quantity alone may be told by summaries
        let grain = if let [_] = self.series { self.sink.grain() } else { Grain::Readings };
        if grain < Grain::Days {
            return self.tell_each_day(days, grain);
        }
        let Some((first, last)) = self.first_and_last(&days)? else { return Ok(()) };
        for stretch in stretch_of(first)..=stretch_of(last) {
            let begins = stretch * STRETCH_DAYS as i64;
            if !self.tell_stretch(begins, stretch)? {
                let ends = begins + STRETCH_DAYS as i64 - 1;
                self.tell_each_day(begins.max(*days.start())..=ends.min(*days.end()), grain)?;
            }
        }
        Ok(())
    }

    /// The first and the last sealed day among some.
    fn first_and_last(&self, days: &RangeInclusive<i64>) -> rusqlite::Result<Option<(i64, i64)>> {
        let end = |end: &str| {
            let sql = format!("SELECT {end}(day) FROM sealed WHERE bench = ?1 AND day BETWEEN ?2 AND ?3");
            let asked = params![self.asked.bench, days.start(), days.end()];
            self.conn.prepare_cached(&sql)?.query_row(asked, |row| row.get::<_, Option<i64>>(0))
        };
        Ok(end("min")?.zip(end("max")?))
    }

    /// Tells a stretch by its summary, if that can be.
    fn tell_stretch(&mut self, begins: i64, stretch: i64) -> rusqlite::Result<bool> {
        let [(_, series)] = self.series else { return Ok(false) };
        let (from_ms, until_ms) = (instant(begins, 0), instant(begins + STRETCH_DAYS as i64, 0) - 1);
        if !self.has_whole(from_ms, until_ms)? {
            return Ok(false);
        }
        let Some(days) = days::of(self.conn, self.asked.bench, stretch, *series)? else { return Ok(false) };
        self.tell_brief(from_ms, DAY_MS, &days);
        Ok(true)
    }

    /// Whether a span lies within what is asked for, and no row has come for it since it was sealed. The rows before it are told.
    fn has_whole(&mut self, from_ms: i64, until_ms: i64) -> rusqlite::Result<bool> {
        self.tell_rows_before(from_ms)?;
        let within = *self.asked.span.start() <= from_ms && until_ms <= *self.asked.span.end();
        Ok(within && self.rows.next_time().is_none_or(|next| next > until_ms))
    }

    fn tell_rows_before(&mut self, time_ms: i64) -> rusqlite::Result<()> {
        while self.rows.next_time().is_some_and(|next| next < time_ms) {
            self.rows.take(self.sink)?;
        }
        Ok(())
    }

    fn tell_brief(&mut self, from_ms: i64, each_ms: i64, brief: &[Option<Hour>]) {
        for (brief, place) in brief.iter().zip(0..) {
            if let Some(brief) = brief {
                self.sink.take_brief(from_ms + place * each_ms, brief);
            }
        }
    }

    fn tell_each_day(&mut self, days: RangeInclusive<i64>, grain: Grain) -> rusqlite::Result<()> {
        // the index has day and number; of a day in brief the sheet itself is not touched
        let mut statement = self.conn.prepare_cached(match grain {
            Grain::Readings => {
                "SELECT day, id FROM sealed WHERE bench = ?1 AND day BETWEEN ?2 AND ?3 ORDER BY day"
            }
            Grain::Hours | Grain::Days => {
                "SELECT day, id, calibration, sheet, hours.sum, hours.body FROM sealed LEFT JOIN hours USING (id)
                 WHERE bench = ?1 AND day BETWEEN ?2 AND ?3 ORDER BY day"
            }
        })?;
        let mut found = statement.query(params![self.asked.bench, days.start(), days.end()])?;
        while let Some(row) = found.next()? {
            let (day, id) = (row.get(0)?, row.get(1)?);
            let midnight = instant(day, 0);
            let may_be_brief = grain > Grain::Readings && self.has_whole(midnight, midnight + DAY_MS - 1)?;
            let brief = match self.series {
                [(_, series)] if may_be_brief => hours_in(row, id, *series)?,
                _ => None,
            };
            match brief {
                Some(hours) => self.tell_brief(midnight, HOUR_MS, &hours),
                None => self.tell_sheet(day, id)?,
            }
        }
        Ok(())
    }

    /// Tells the readings of a day.
    fn tell_sheet(&mut self, day: i64, id: i64) -> rusqlite::Result<()> {
        self.opened += 1;
        let mut sheet = self.conn.prepare_cached("SELECT sum, body FROM sealed WHERE id = ?1")?;
        match self.series {
            [(quantity, series)] => {
                sheet.query_row([id], |row| {
                    let body = row.get_ref(1)?.as_blob()?;
                    self.scratch.load(body, row.get(0)?, *series).map_err(|error| damaged(1, error))
                })?;
                self.tell_one(day, *quantity)
            }
            series => {
                for (key, Entry { ms, value, taken }) in
                    sheet.query_row([id], |row| whole(row, 0, 1))?.in_order()
                {
                    let time_ms = instant(day, ms);
                    if self.asked.span.contains(&time_ms) {
                        let quantity = named(series, key)?;
                        self.merge(time_ms, quantity, value, taken)?;
                    }
                }
                Ok(())
            }
        }
    }

    /// Tells the readings of the one quantity that was asked for, which are unpacked.
    fn tell_one(&mut self, day: i64, quantity: Quantity) -> rusqlite::Result<()> {
        let first = self.scratch.times().partition_point(|ms| instant(day, *ms) < *self.asked.span.start());
        let end = self.scratch.times().partition_point(|ms| instant(day, *ms) <= *self.asked.span.end());
        let times = &self.scratch.times()[first..end];
        let Some(last) = times.last() else { return Ok(()) };
        if self.rows.next_time().is_none_or(|next| next > instant(day, *last)) {
            let values = &self.scratch.values()[first..end];
            self.sink.take_day(quantity, instant(day, 0), times, values);
            return Ok(());
        }
        for place in first..end {
            let (ms, value) = (self.scratch.times()[place], self.scratch.values()[place]);
            self.merge(instant(day, ms), quantity, value, self.scratch.taken(place))?;
        }
        Ok(())
    }

    /// Tells a sealed reading in its place among the rows, unless it gives way to one of them.
    fn merge(&mut self, time_ms: i64, quantity: Quantity, value: f64, taken: bool) -> rusqlite::Result<()> {
        self.tell_rows_before(time_ms)?;
        if self.rows.next_time() != Some(time_ms) || !self.rows.hold_better(quantity, taken)? {
            self.sink.take(of_sensor(time_ms, quantity, value));
        }
        Ok(())
    }
}

/// The hours of one series out of a row of [`Merging::tell_each_day`], none of them with a reading where it has none; `None` where there is
/// no sound summary.
fn hours_in(row: &Row<'_>, id: i64, series: i64) -> rusqlite::Result<Option<Hours>> {
    let found = summaries::sound_in(row, 2, id, |body| hour::unpack(body, series))?;
    // bytes whose sum is right and that are no summary were written by a fault of our own: the readings tell
    Ok(found.and_then(Result::ok).map(Option::unwrap_or_default))
}

fn named(series: &[(Quantity, i64)], key: i64) -> rusqlite::Result<Quantity> {
    let found = series.iter().find(|(_, id)| *id == key);
    found.map(|(quantity, _)| *quantity).ok_or_else(|| unreadable(1, UnknownName(format!("series {key}"))))
}
