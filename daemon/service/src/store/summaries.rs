//! Summaries of hours in the file: beside each sealed day, and made anew where one is absent, damaged or of other rules; those of days
//! (`days`) after them.

use rusqlite::{Connection, OptionalExtension, Row, TransactionBehavior, params};
use tracing::{info, warn};

use super::days;
use super::hour::{CALIBRATION, sum_of};
use super::sealed::{self, date_of};
use super::sheet::Sheet;

/// Summaries that are looked at in one piece of work, and made anew at most: that takes some ten milliseconds.
const LOOKED_AT_ONCE: usize = 256;
const MADE_AT_ONCE: usize = 8;
/// The same after each sealing, which is every hour: ten years of forty benches are looked at within two days. An old record has its
/// summaries made within a week or two.
const LOOKED_AN_HOUR: usize = 4_096;
const MADE_AN_HOUR: usize = 512;

/// Puts the summary of a bench's sealed day in the place of what was there.
pub(super) fn put(
    conn: &Connection,
    (bench, day): (&str, i64),
    id: i64,
    sheet: u32,
    body: &[u8],
) -> rusqlite::Result<()> {
    days::forget(conn, bench, day)?;
    let calibration = *CALIBRATION;
    conn.prepare_cached(
        "REPLACE INTO hours (id, calibration, sheet, sum, body) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![id, calibration, sheet, sum_of(body, calibration, sheet), body])?;
    Ok(())
}

/// What a summary is good for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    Sound,
    /// Of a record that was made before there were any.
    Absent,
    /// Made by other rules than those of today.
    Other,
    Damaged,
}

impl State {
    /// Out of a row's columns of calibration, sheet, sum and body, from one on.
    fn of(row: &Row<'_>, first: usize) -> rusqlite::Result<Self> {
        let Some(calibration) = row.get::<_, Option<u32>>(first)? else { return Ok(Self::Absent) };
        let (sheet, sum) = (row.get(first + 1)?, row.get::<_, u32>(first + 2)?);
        let body = row.get_ref(first + 3)?.as_blob()?;
        Ok(match sum_of(body, calibration, sheet) == sum {
            false => Self::Damaged,
            true if calibration != *CALIBRATION => Self::Other,
            true => Self::Sound,
        })
    }

    /// The same, held against the sum of what it must be of.
    pub(super) fn beside(row: &Row<'_>, first: usize, sheet: u32) -> rusqlite::Result<Self> {
        Ok(match Self::of(row, first)? {
            Self::Sound if row.get::<_, u32>(first + 1)? != sheet => Self::Damaged,
            state => state,
        })
    }

    /// What is wrong with one that is there, in words.
    pub(super) const fn fault(self) -> Option<&'static str> {
        match self {
            Self::Sound | Self::Absent => None,
            Self::Other => Some("it was made by other rules"),
            Self::Damaged => Some("its bytes are not those that were written"),
        }
    }
}

/// Does something with the bytes of a sound summary; `None` where there is none.
pub(super) fn with_sound<T>(
    conn: &Connection,
    id: i64,
    read: impl FnOnce(&[u8]) -> T,
) -> rusqlite::Result<Option<T>> {
    let found = conn
        .prepare_cached("SELECT calibration, sheet, sum, body FROM hours WHERE id = ?1")?
        .query_row([id], |row| sound_in(row, 0, id, read))
        .optional()?;
    Ok(found.flatten())
}

/// The same of a row that has them in its columns from one on.
pub(super) fn sound_in<T>(
    row: &Row<'_>,
    first: usize,
    id: i64,
    read: impl FnOnce(&[u8]) -> T,
) -> rusqlite::Result<Option<T>> {
    match State::of(row, first)? {
        State::Sound => Ok(Some(read(row.get_ref(first + 3)?.as_blob()?))),
        State::Damaged => {
            warn!(
                row = id,
                "a summary of hours is damaged: the readings themselves are read; the service makes it anew"
            );
            Ok(None)
        }
        State::Absent | State::Other => Ok(None),
    }
}

/// Names the summaries that are damaged or made by other rules.
pub(super) fn damaged(conn: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement = conn.prepare(
        "SELECT bench, day, sealed.sum, calibration, sheet, hours.sum, hours.body FROM sealed JOIN hours USING (id)",
    )?;
    let mut rows = statement.query([])?;
    let mut named = Vec::new();
    while let Some(row) = rows.next()? {
        let Some(why) = State::beside(row, 3, row.get(2)?)?.fault() else { continue };
        let (bench, day): (String, i64) = (row.get(0)?, row.get(1)?);
        named.push(format!("the summary of the hours of {bench} on {}: {why}", date_of(day)));
    }
    named.extend(days::damaged(conn)?);
    Ok(named)
}

/// Looks at one summary after the other, round and round, and makes those anew that need it: of hours, and then of days.
#[derive(Debug, Default)]
pub(super) struct Mending {
    /// The last that was looked at.
    after: i64,
    /// Since the last sealing.
    looked: usize,
    made: usize,
    /// That of the hours is done until the next sealing.
    hours_done: bool,
    days: days::DaysMending,
}

impl Mending {
    /// A bounded piece of it; says whether there is more to do now.
    pub(super) fn step(&mut self, conn: &mut Connection) -> rusqlite::Result<bool> {
        if !self.hours_done {
            let looked = self.look(conn)?;
            if looked && self.looked < LOOKED_AN_HOUR && self.made < MADE_AN_HOUR {
                return Ok(true);
            }
            (self.looked, self.made) = (0, 0);
        }
        self.hours_done = self.days.step(conn)?;
        Ok(self.hours_done)
    }

    /// Says whether it has not come to the end.
    fn look(&mut self, conn: &mut Connection) -> rusqlite::Result<bool> {
        let mut wrong = Vec::new();
        let mut statement = conn.prepare_cached(
            "SELECT sealed.id, sealed.sum, calibration, sheet, hours.sum, hours.body, bench, day
             FROM sealed LEFT JOIN hours USING (id) WHERE sealed.id > ?1 ORDER BY sealed.id LIMIT ?2",
        )?;
        let mut rows = statement.query(params![self.after, LOOKED_AT_ONCE as i64])?;
        let mut looked = 0;
        while wrong.len() < MADE_AT_ONCE
            && let Some(row) = rows.next()?
        {
            looked += 1;
            self.after = row.get(0)?;
            let (bench, day): (String, i64) = (row.get(6)?, row.get(7)?);
            match State::beside(row, 2, row.get(1)?)? {
                State::Sound => continue,
                State::Absent => {}
                State::Other => {
                    info!(%bench, date = %date_of(day), "a summary of hours was made by other rules")
                }
                State::Damaged => {
                    warn!(%bench, date = %date_of(day), "a summary of hours is damaged: it is made anew")
                }
            }
            wrong.push((self.after, bench, day));
        }
        drop(rows);
        drop(statement);
        if looked == 0 {
            self.after = 0;
            return Ok(false);
        }
        self.looked += looked;
        self.made += wrong.len();
        make(conn, &wrong)?;
        Ok(true)
    }
}

/// Makes summaries anew.
fn make(conn: &mut Connection, wrong: &[(i64, String, i64)]) -> rusqlite::Result<()> {
    if wrong.is_empty() {
        return Ok(());
    }
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    for (id, bench, day) in wrong {
        let found = tx
            .prepare_cached("SELECT sum, body FROM sealed WHERE id = ?1")?
            .query_row([id], |row| {
                let sum: u32 = row.get(0)?;
                Ok((sum, Sheet::unpack(row.get_ref(1)?.as_blob()?, sum)))
            })
            .optional()?;
        // a sheet that is damaged itself is told of by the record's check
        if let Some((sum, Ok(sheet))) = found {
            put(&tx, (bench, *day), *id, sum, &sealed::hours_of(&tx, bench, &sheet)?)?;
        }
    }
    tx.commit()
}
