//! Sheets in the file.

use rusqlite::{Connection, OptionalExtension, Row, params};

use super::error::unreadable;
use super::hour;
use super::readings::series_of;
use super::sheet::{self, DAY_MS, Sheet, SheetError};
use super::{from_sql, summaries, to_sql};

/// The day (UTC) of an instant, counted from 1970-01-01, and the milliseconds since it began.
pub(super) fn day_of(time_ms: i64) -> (i64, u32) {
    (time_ms.div_euclid(DAY_MS), time_ms.rem_euclid(DAY_MS) as u32)
}

/// The instant at so many milliseconds of a day.
pub(super) const fn instant(day: i64, ms: u32) -> i64 {
    day * DAY_MS + ms as i64
}

/// A bench's day as found in the file.
#[derive(Debug, Default)]
pub(super) struct Found {
    pub(super) sheet: Sheet,
    /// The highest running number of the model's among its readings.
    pub(super) last_fed: u64,
}

/// The sheet of a bench and day; an empty one if there is none.
pub(super) fn find(conn: &Connection, bench: &str, day: i64) -> rusqlite::Result<Found> {
    let found = conn
        .prepare_cached("SELECT sum, body, last_fed FROM sealed WHERE bench = ?1 AND day = ?2")?
        .query_row(params![bench, day], |row| {
            Ok(Found { sheet: whole(row, 0, 1)?, last_fed: from_sql(row.get(2)?) })
        })
        .optional()?;
    Ok(found.unwrap_or_default())
}

/// A bench's day as it is put into the file.
#[derive(Debug)]
pub(super) struct Packed {
    sheet: sheet::Packed,
    /// The summary of its hours.
    hours: Vec<u8>,
}

/// Packs a bench's day and the summary of its hours.
pub(super) fn pack(conn: &Connection, bench: &str, sheet: &Sheet) -> rusqlite::Result<Packed> {
    let hours = hours_of(conn, bench, sheet)?;
    Ok(Packed { sheet: sheet.pack().map_err(unpackable)?, hours })
}

/// The summary of the hours of a bench's day.
pub(super) fn hours_of(conn: &Connection, bench: &str, sheet: &Sheet) -> rusqlite::Result<Vec<u8>> {
    hour::pack(sheet, &series_of(conn, bench)?).map_err(unpackable)
}

/// No reading could cause it: a fault of our own.
pub(super) fn unpackable(error: SheetError) -> rusqlite::Error {
    rusqlite::Error::ToSqlConversionFailure(Box::new(error))
}

/// Puts a bench's day in the place of what was there.
pub(super) fn put(
    conn: &Connection,
    bench: &str,
    day: i64,
    packed: &Packed,
    last_fed: u64,
) -> rusqlite::Result<()> {
    let Packed { sheet: sheet::Packed { body, sum, readings }, hours } = packed;
    let id = conn
        .prepare_cached(
            "INSERT INTO sealed (bench, day, readings, last_fed, sum, body) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
             ON CONFLICT DO UPDATE SET readings = excluded.readings, last_fed = excluded.last_fed, sum = excluded.sum,
                                       body = excluded.body
             RETURNING id",
        )?
        .query_row(params![bench, day, to_sql(*readings), to_sql(last_fed), sum, body], |row| row.get(0))?;
    summaries::put(conn, (bench, day), id, *sum, hours)
}

/// The whole sheet out of a row's columns of sum and body.
pub(super) fn whole(row: &Row<'_>, sum: usize, body: usize) -> rusqlite::Result<Sheet> {
    let bytes = row.get_ref(body)?.as_blob()?;
    Sheet::unpack(bytes, row.get(sum)?).map_err(|error| damaged(body, error))
}

/// A sheet that is not what was written is damage of the file.
pub(super) fn damaged(column: usize, error: SheetError) -> rusqlite::Error {
    unreadable(column, error)
}

/// Unpacks every sheet there is; names those that cannot be.
pub(super) fn faults(conn: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement = conn.prepare("SELECT sum, body, bench, day, readings FROM sealed")?;
    let mut rows = statement.query([])?;
    let mut faults = Vec::new();
    while let Some(row) = rows.next()? {
        let outcome = match Sheet::unpack(row.get_ref(1)?.as_blob()?, row.get(0)?) {
            Ok(sheet) if sheet.in_order().len() as u64 == from_sql(row.get(4)?) => continue,
            Ok(_) => "it holds another number of readings than it says".to_owned(),
            Err(error) => error.to_string(),
        };
        let (bench, day): (String, i64) = (row.get(2)?, row.get(3)?);
        faults.push(format!("the sealed readings of {bench} on {}: {outcome}", date_of(day)));
    }
    Ok(faults)
}

/// The date of a day, for people.
pub(super) fn date_of(day: i64) -> chrono::NaiveDate {
    chrono::DateTime::from_timestamp_millis(instant(day, 0)).unwrap_or_default().date_naive()
}
