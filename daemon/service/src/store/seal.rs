//! Sealing: rows that are no longer needed one by one are packed into the sheets of their benches and days.
//!
//! Rows fill one of two tables; now and then the tables take turns ([`Tables`]). Of the closed one a slice is gathered, merged
//! with the sheets that are there and packed, bench by bench, all of it without holding anybody up; then one short transaction
//! puts the sheets in and takes the rows out. Whatever happens to the process or the power, each reading is in one of the
//! two places. If another process wrote meanwhile, the work is thrown away, to be done again.
//!
//! When nothing is left to seal, summaries of hours that are not what they should be are made anew, some at a time (`summaries`).
//!
//! The tables take turns only when the newest checkpoint counts all that was fed, so that a restart finds what it tells the
//! model again among the rows, with their running numbers.

use std::collections::BTreeMap;
use std::sync::Arc;

use bloom_model::time::Time;
use rusqlite::{Connection, TransactionBehavior};

use super::error::StoreError;
use super::readings::{named, newest_fed, series_names};
use super::rows::{RowValue, Tables, UNDATED};
use super::sealed::{self, Packed, day_of, instant};
use super::sheet::Entry;
use super::{Store, from_sql, to_sql};

/// A slice ends with the instant that brings it to so many rows: it is read, and in the end deleted, in some tens of
/// milliseconds.
const SLICE_ROWS: usize = 50_000;
/// 2020-01-01T00:00:00Z. A machine whose clock has not been set believes itself in 1970; what it stamped so is never sealed
/// among days in which nothing was measured, but stays where it can be found.
const NEVER_BEFORE_MS: i64 = 1_577_836_800_000;

/// A reading of later than this from now has a wrong time: no zone or sensor's clock is off by more.
const AHEAD_AT_MOST_MS: i64 = 86_400_000;

/// Rows that are to be packed together: all of the closed table between two instants of one day.
#[derive(Debug)]
pub(super) struct Slice {
    day: i64,
    from_ms: i64,
    /// Not included.
    until_ms: i64,
    /// Whether nothing that may be sealed is left after it.
    last: bool,
    /// Readings of later than this are kept apart.
    latest_ms: i64,
    /// What other connections had committed when it was gathered.
    data_version: i64,
    gathered: BTreeMap<Arc<str>, Gathered>,
    packed: Vec<(Arc<str>, Packed, u64)>,
}

/// A bench's rows in a slice.
#[derive(Debug, Default)]
struct Gathered {
    last_fed: u64,
    entries: BTreeMap<i64, Vec<Entry>>,
}

impl Store {
    /// Does a bounded piece of the sealing; says whether more is left to do now. None is before a checkpoint counts all that
    /// was fed, or while others write. `now` tells readings of days to come, which are kept apart.
    ///
    /// # Errors
    /// The disk's troubles; then the rows are as they were.
    pub fn seal_step(&mut self, now: Time) -> Result<bool, StoreError> {
        let outcome = match self.slice.take() {
            None => self.begin_slice(now.unix_ms() + AHEAD_AT_MOST_MS).and_then(|more| {
                // with nothing left to seal
                if more { Ok(true) } else { self.mending.step(&mut self.conn) }
            }),
            Some(mut slice) => match slice.gathered.pop_first() {
                Some((bench, rows)) => pack(&self.conn, slice.day, &bench, rows).map(|(packed, last_fed)| {
                    slice.packed.push((bench, packed, last_fed));
                    self.slice = Some(slice);
                    true
                }),
                None => put(&mut self.conn, &slice).map(|put| put && !slice.last),
            },
        };
        outcome.map_err(|error| self.error(error))
    }

    fn begin_slice(&mut self, latest_ms: i64) -> rusqlite::Result<bool> {
        let tables = Tables::of(&self.conn)?;
        if is_empty(&self.conn, tables.closed)? {
            return take_turns(&mut self.conn);
        }
        self.slice = gather(&self.conn, tables, latest_ms)?;
        if self.slice.is_none() {
            // nothing of it can be sealed
            let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            empty_closed(&tx, latest_ms)?;
            tx.commit()?;
        }
        Ok(self.slice.is_some())
    }
}

fn is_empty(conn: &Connection, table: &str) -> rusqlite::Result<bool> {
    conn.prepare_cached(&format!("SELECT 1 FROM {table}"))?.exists([]).map(|any| !any)
}

/// Closes the table that was filled, if a checkpoint counts all in it; says whether there is anything in it.
fn take_turns(conn: &mut Connection) -> rusqlite::Result<bool> {
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let fed = newest_fed(&tx)?;
    let counted = tx.query_row("SELECT coalesce(max(fed), 0) FROM checkpoint", [], |row| row.get(0))?;
    let tables = Tables::of(&tx)?;
    if fed > from_sql(counted) || is_empty(&tx, tables.filled)? {
        return Ok(false);
    }
    tx.execute("UPDATE turn SET other = NOT other, fed = ?1", [to_sql(fed)])?;
    tx.commit()?;
    Ok(true)
}

fn data_version(conn: &Connection) -> rusqlite::Result<i64> {
    conn.prepare_cached("PRAGMA data_version")?.query_row([], |row| row.get(0))
}

/// The oldest rows that may be sealed, if there are any.
fn gather(conn: &Connection, tables: Tables, latest_ms: i64) -> rusqlite::Result<Option<Slice>> {
    let data_version = data_version(conn)?;
    let names = series_names(conn)?;
    let mut statement = conn.prepare_cached(&format!(
        "SELECT time_ms, series, value, fed FROM {} WHERE time_ms BETWEEN ?1 AND ?2 ORDER BY time_ms",
        tables.closed
    ))?;
    let mut rows = statement.query([NEVER_BEFORE_MS, latest_ms])?;
    let mut slice: Option<Slice> = None;
    let (mut count, mut last_ms) = (0, 0);
    while let Some(row) = rows.next()? {
        let (time_ms, series, fed): (i64, i64, Option<i64>) = (row.get(0)?, row.get(1)?, row.get(3)?);
        let (day, ms) = day_of(time_ms);
        let slice = slice.get_or_insert_with(|| Slice {
            day,
            from_ms: time_ms,
            until_ms: instant(day + 1, 0),
            last: true,
            latest_ms,
            data_version,
            gathered: BTreeMap::new(),
            packed: Vec::new(),
        });
        if day != slice.day || (count >= SLICE_ROWS && time_ms > last_ms) {
            slice.last = false;
            slice.until_ms = slice.until_ms.min(time_ms);
            break;
        }
        (count, last_ms) = (count + 1, time_ms);
        let rows = slice.gathered.entry(Arc::clone(&named(&names, 1, series)?.0)).or_default();
        rows.last_fed = rows.last_fed.max(from_sql(fed.unwrap_or(0)));
        let RowValue(value) = row.get(2)?;
        let entry = Entry { ms, value, taken: fed.is_some() };
        rows.entries.entry(series).or_default().push(entry);
    }
    Ok(slice)
}

/// Merges a bench's rows with its sheet.
fn pack(conn: &Connection, day: i64, bench: &str, rows: Gathered) -> rusqlite::Result<(Packed, u64)> {
    let mut found = sealed::find(conn, bench, day)?;
    for (series, entries) in rows.entries {
        found.sheet.add(series, entries);
    }
    Ok((sealed::pack(conn, bench, &found.sheet)?, found.last_fed.max(rows.last_fed)))
}

/// Puts the sheets in and takes the rows out, unless another connection has committed anything since they were gathered; says
/// whether that was done.
fn put(conn: &mut Connection, slice: &Slice) -> rusqlite::Result<bool> {
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    if data_version(&tx)? != slice.data_version {
        return Ok(false);
    }
    for (bench, packed, last_fed) in &slice.packed {
        sealed::put(&tx, bench, slice.day, packed, *last_fed)?;
    }
    if slice.last {
        empty_closed(&tx, slice.latest_ms)?;
    } else {
        let closed = Tables::of(&tx)?.closed;
        tx.prepare_cached(&format!("DELETE FROM {closed} WHERE time_ms >= ?1 AND time_ms < ?2"))?
            .execute([slice.from_ms, slice.until_ms])?;
    }
    tx.commit()?;
    Ok(true)
}

/// Keeps the rows apart of which the time cannot be right, if any, and takes all others out at once; then the notes of commits
/// of which no row is left. The newest of those stays, for its number.
fn empty_closed(conn: &Connection, latest_ms: i64) -> rusqlite::Result<()> {
    let Tables { closed, closed_fed, .. } = Tables::of(conn)?;
    conn.prepare_cached(&format!(
        "INSERT INTO {UNDATED} SELECT * FROM {closed} WHERE time_ms < ?1 OR time_ms > ?2 ON CONFLICT DO NOTHING"
    ))?
    .execute([NEVER_BEFORE_MS, latest_ms])?;
    // without a condition: the pages are let go as they are, and none is written
    conn.prepare_cached(&format!("DELETE FROM {closed}"))?.execute([])?;
    conn.prepare_cached(
        "DELETE FROM feeding WHERE last_fed <= ?1 AND last_fed < (SELECT max(last_fed) FROM feeding)",
    )?
    .execute([to_sql(closed_fed)])?;
    Ok(())
}
