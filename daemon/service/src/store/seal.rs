//! Sealing: rows that are no longer needed one by one are packed into the sheets of their benches and days.
//!
//! A slice of the oldest rows is gathered, merged with the sheets that are there and packed, bench by bench, all of it
//! without holding anybody up; then one short transaction puts the sheets in and takes the rows out. Whatever happens to the
//! process or the power, each reading is in one of the two places. If anybody touched the slice meanwhile, the work is
//! thrown away, to be done again.
//!
//! Sealed is only what the newest checkpoint counts, so that a restart finds what it tells the model again among the rows,
//! with their running numbers.

use std::collections::BTreeMap;
use std::sync::Arc;

use bloom_model::time::Time;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use super::error::StoreError;
use super::readings::{named, series_names};
use super::sealed::{self, day_of, instant};
use super::sheet::{Entry, Packed, SheetError};
use super::{Store, from_sql};

/// A slice ends with the instant that brings it to so many rows: it is read, and in the end deleted, in some tens of
/// milliseconds.
const SLICE_ROWS: usize = 50_000;
/// 2020-01-01T00:00:00Z. A machine whose clock has not been set believes itself in 1970; what it stamped so is never sealed
/// among days in which nothing was measured, but stays where it can be found.
const NEVER_BEFORE_MS: i64 = 1_577_836_800_000;

/// Rows that are to be packed together: all that may be sealed between two instants of one day.
#[derive(Debug)]
pub(super) struct Slice {
    from_ms: i64,
    /// Not included.
    until_ms: i64,
    day: i64,
    up_to_fed: i64,
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

impl Slice {
    /// Whether readings of that time lie in the slice: then it is no longer what was gathered.
    pub(super) fn holds(&self, time: Time) -> bool {
        (self.from_ms..self.until_ms).contains(&time.unix_ms())
    }
}

impl Store {
    /// Does a bounded piece of the sealing of rows older than `until`; says whether more is left to do now. None is while
    /// others write: it is for later then.
    ///
    /// `until` must come from a clock that can be trusted: leave this out as long as it cannot.
    ///
    /// # Errors
    /// The disk's troubles; then the rows are as they were.
    pub fn seal_step(&mut self, until: Time) -> Result<bool, StoreError> {
        let outcome = match self.slice.take() {
            None => gather(&self.conn, until.unix_ms()).map(|slice| {
                self.slice = slice;
                self.slice.is_some()
            }),
            Some(mut slice) => match slice.gathered.pop_first() {
                Some((bench, rows)) => pack(&self.conn, slice.day, &bench, rows).map(|(packed, last_fed)| {
                    slice.packed.push((bench, packed, last_fed));
                    self.slice = Some(slice);
                    true
                }),
                None => put(&mut self.conn, &slice),
            },
        };
        outcome.map_err(|error| self.error(error))
    }

    /// Seals all that there is to seal, as at the end of an import.
    ///
    /// # Errors
    /// As [`Store::seal_step`].
    pub fn seal(&mut self, until: Time) -> Result<(), StoreError> {
        while self.seal_step(until)? {}
        Ok(())
    }
}

/// The highest running number that a restart has no need of: all benches are checkpointed together, and the checkpoint of
/// one that is older belongs to a bench that was not configured when the others were written.
pub(super) fn counted_fed(conn: &Connection) -> rusqlite::Result<i64> {
    conn.prepare_cached("SELECT coalesce(max(fed), 0) FROM checkpoint")?.query_row([], |row| row.get(0))
}

fn data_version(conn: &Connection) -> rusqlite::Result<i64> {
    conn.prepare_cached("PRAGMA data_version")?.query_row([], |row| row.get(0))
}

/// The oldest rows that may be sealed, if there are any.
fn gather(conn: &Connection, until_ms: i64) -> rusqlite::Result<Option<Slice>> {
    let data_version = data_version(conn)?;
    let up_to_fed = counted_fed(conn)?;
    let may_be_sealed = "time_ms >= ?1 AND time_ms < ?2 AND (fed IS NULL OR fed <= ?3)";
    let oldest: Option<i64> = conn
        .prepare_cached(&format!(
            "SELECT time_ms FROM reading WHERE {may_be_sealed} ORDER BY time_ms LIMIT 1"
        ))?
        .query_row(params![NEVER_BEFORE_MS, until_ms, up_to_fed], |row| row.get(0))
        .optional()?;
    let Some(from_ms) = oldest else { return Ok(None) };
    let (day, _) = day_of(from_ms);
    let mut until_ms = until_ms.min(instant(day + 1, 0));

    let names = series_names(conn)?;
    let mut statement = conn.prepare_cached(&format!(
        "SELECT time_ms, series, value, fed FROM reading WHERE {may_be_sealed} ORDER BY time_ms"
    ))?;
    let mut rows = statement.query(params![from_ms, until_ms, up_to_fed])?;
    let mut gathered: BTreeMap<Arc<str>, Gathered> = BTreeMap::new();
    let (mut count, mut last_ms) = (0, from_ms);
    while let Some(row) = rows.next()? {
        let (time_ms, series, fed): (i64, i64, Option<i64>) = (row.get(0)?, row.get(1)?, row.get(3)?);
        if count >= SLICE_ROWS && time_ms > last_ms {
            until_ms = time_ms;
            break;
        }
        (count, last_ms) = (count + 1, time_ms);
        let rows = gathered.entry(Arc::clone(&named(&names, 1, series)?.0)).or_default();
        rows.last_fed = rows.last_fed.max(from_sql(fed.unwrap_or(0)));
        let entry = Entry { ms: day_of(time_ms).1, value: row.get(2)?, taken: fed.is_some() };
        rows.entries.entry(series).or_default().push(entry);
    }
    let packed = Vec::new();
    Ok(Some(Slice { from_ms, until_ms, day, up_to_fed, data_version, gathered, packed }))
}

/// Merges a bench's rows with its sheet.
fn pack(conn: &Connection, day: i64, bench: &str, rows: Gathered) -> rusqlite::Result<(Packed, u64)> {
    let mut found = sealed::find(conn, bench, day)?;
    for (series, entries) in rows.entries {
        found.sheet.add(series, entries);
    }
    Ok((found.sheet.pack().map_err(unpackable)?, found.last_fed.max(rows.last_fed)))
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
    tx.prepare_cached(
        "DELETE FROM reading WHERE time_ms >= ?1 AND time_ms < ?2 AND (fed IS NULL OR fed <= ?3)",
    )?
    .execute(params![slice.from_ms, slice.until_ms, slice.up_to_fed])?;
    forget_feeding(&tx, slice.up_to_fed, slice.until_ms)?;
    tx.commit()?;
    Ok(true)
}

/// Takes out the notes of commits of which no row is left; the newest one stays, for its number.
fn forget_feeding(conn: &Connection, up_to_fed: i64, until_ms: i64) -> rusqlite::Result<()> {
    conn.prepare_cached(
        "DELETE FROM feeding WHERE last_fed <= ?1 AND coalesce(until_ms, 0) < ?2
            AND last_fed < (SELECT max(last_fed) FROM feeding)",
    )?
    .execute(params![up_to_fed, until_ms])?;
    Ok(())
}

/// No row of its making could cause it: a fault of our own.
pub(super) fn unpackable(error: SheetError) -> rusqlite::Error {
    rusqlite::Error::ToSqlConversionFailure(Box::new(error))
}
