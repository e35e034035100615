//! A note a commit: which running numbers it brought, between which times its readings lie, and their check sum.
//!
//! Sealed days carry a check sum of their own; what is not sealed yet is guarded by the note of its commit. The sum is that of
//! its rows', whatever their order: one row that changed changes it. Not guarded are rows without a running number (imports and
//! what came late), what a person said beside a booking, events and messages: those are few, and are not computed with.

use rusqlite::{Connection, params};

use super::rows::{RowValue, Tables};
use super::to_sql;

/// Commits that are named at most where rows are not what was committed.
const NAMED_AT_MOST: usize = 5;

/// What one commit brings.
#[derive(Debug, Default)]
pub(super) struct Commit {
    sum: u32,
    /// Between which times its readings lie.
    span_ms: Option<(i64, i64)>,
}

/// The check sum of a row of readings.
pub(super) fn sum_of_reading(time_ms: i64, series: i64, value: f64, fed: i64) -> u32 {
    let mut sum = crc32fast::Hasher::new();
    for number in [time_ms, series, fed] {
        sum.update(&number.to_le_bytes());
    }
    sum.update(&bits(value));
    sum.finalize()
}

/// A value as SQLite gives it back: it knows no zero below zero.
fn bits(value: f64) -> [u8; 8] {
    (value + 0.0).to_bits().to_le_bytes()
}

/// The check sum of a row of what was booked.
pub(super) fn sum_of_booked(time_ms: i64, bench: &str, what: &str, value: Option<f64>, fed: i64) -> u32 {
    let mut sum = crc32fast::Hasher::new();
    for number in [time_ms, fed] {
        sum.update(&number.to_le_bytes());
    }
    sum.update(&value.map_or([0xFF; 8], bits));
    for text in [bench, what] {
        sum.update(text.as_bytes());
        sum.update(&[0]);
    }
    sum.finalize()
}

impl Commit {
    /// Counts a row that was written with a running number.
    pub(super) const fn add(&mut self, sum: u32) {
        self.sum = self.sum.wrapping_add(sum);
    }

    /// Counts the time of a row of readings that has a running number.
    pub(super) fn reach(&mut self, time_ms: i64) {
        let (from, until) = self.span_ms.unwrap_or((time_ms, time_ms));
        self.span_ms = Some((from.min(time_ms), until.max(time_ms)));
    }

    /// Writes the note of a commit whose last row has that running number.
    pub(super) fn note(self, conn: &Connection, last_fed: u64) -> rusqlite::Result<()> {
        conn.prepare_cached(
            "INSERT INTO feeding (last_fed, from_ms, until_ms, sum) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING",
        )?
        .execute(params![
            to_sql(last_fed),
            self.span_ms.map(|(from, _)| from),
            self.span_ms.map(|(_, until)| until),
            self.sum,
        ])?;
        Ok(())
    }
}

/// Adds up again what the notes of commits speak of; names the commits whose rows are not what was written. Rows that are being
/// sealed are left out: they are in two places.
pub(super) fn faults(conn: &Connection) -> rusqlite::Result<Vec<String>> {
    let Tables { filled, closed_fed, .. } = Tables::of(conn)?;
    let closed_fed = to_sql(closed_fed);
    let mut notes = conn.prepare(
        "SELECT last_fed, coalesce(lag(last_fed) OVER (ORDER BY last_fed), 0), from_ms, until_ms, sum
         FROM feeding ORDER BY last_fed",
    )?;
    let mut measured = conn.prepare(&format!(
        "SELECT time_ms, series, value, fed FROM {filled}
         WHERE time_ms BETWEEN ?1 AND ?2 AND fed > ?3 AND fed <= ?4"
    ))?;
    let mut booked =
        conn.prepare("SELECT time_ms, bench, what, value, fed FROM booked WHERE fed > ?1 AND fed <= ?2")?;
    let mut wrong = Vec::new();
    let mut notes = notes.query([])?;
    while let Some(note) = notes.next()? {
        let last_fed: i64 = note.get(0)?;
        let after = note.get::<_, i64>(1)?.max(closed_fed);
        let Some(sum) = note.get::<_, Option<u32>>(4)?.filter(|_| last_fed > closed_fed) else { continue };
        let mut commit = Commit::default();
        if let (Some(from), Some(until)) = (note.get::<_, Option<i64>>(2)?, note.get::<_, Option<i64>>(3)?) {
            let mut rows = measured.query([from, until, after, last_fed])?;
            while let Some(row) = rows.next()? {
                let RowValue(value) = row.get(2)?;
                commit.add(sum_of_reading(row.get(0)?, row.get(1)?, value, row.get(3)?));
            }
        }
        let mut rows = booked.query([after, last_fed])?;
        while let Some(row) = rows.next()? {
            let (bench, what): (String, String) = (row.get(1)?, row.get(2)?);
            commit.add(sum_of_booked(row.get(0)?, &bench, &what, row.get(3)?, row.get(4)?));
        }
        if commit.sum != sum {
            wrong.push(format!("readings {} to {last_fed} are not those that were committed", after + 1));
        }
    }
    let more = wrong.len().saturating_sub(NAMED_AT_MOST);
    wrong.truncate(NAMED_AT_MOST);
    if more > 0 {
        wrong.push(format!("and those of {more} commits more"));
    }
    Ok(wrong)
}
