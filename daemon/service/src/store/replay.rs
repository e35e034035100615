//! What the model was told after a checkpoint, in the order in which it was told.
//!
//! Rows hold the running number in which each was told. A sheet does not: it is needed only where a state must be reckoned
//! anew, after an upgrade say, and is told in the order of time, which within a series is the same.

use std::sync::Arc;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use rusqlite::{Connection, Row, params};

use super::error::StoreError;
use super::readings::{SeriesNames, booked, named, series_names};
use super::rows::{RowValue, Tables};
use super::sealed::{instant, whole};
use super::{Reader, Store, from_sql, to_sql};

/// Running numbers that are sorted at once: some 5 MB of memory, whatever the length of the replay.
const PORTION: usize = 100_000;

/// Sealed readings older than this, counted from the newest, are not told again: no bloom lasts longer, fruit and all, and
/// a start must not take an hour.
const REACH_DAYS: i64 = 400;

/// One thing that happened to the model.
#[derive(Debug, Clone, PartialEq)]
pub enum Replayed {
    /// It took a reading.
    Fed {
        /// The running number; of a sealed reading the highest of its bench and day.
        fed: u64,
        /// The bench's id.
        bench: Arc<str>,
        /// When it was observed.
        time: Time,
        /// What.
        observed: Observed,
    },
    /// It raised an event after the readings before: time had been passed up to this instant at least.
    Raised {
        /// The event's id.
        id: String,
        /// The instant it speaks of.
        time: Time,
    },
}

impl Replayed {
    const fn time(&self) -> Time {
        match self {
            Self::Fed { time, .. } | Self::Raised { time, .. } => *time,
        }
    }
}

/// Running numbers, and between which times their sensor readings lie.
struct Portion {
    after: i64,
    up_to: i64,
    from_ms: i64,
    until_ms: i64,
}

/// A record that the model can be told again from: its keeper's, or a reader's.
pub trait Retells {
    /// The ids of all benches that the record knows, configured or not.
    ///
    /// # Errors
    /// The disk's troubles.
    fn benches_known(&self) -> Result<Vec<Arc<str>>, StoreError>;

    /// Tells, one after the other, every reading and sign that the model took after running number `fed`, in that order,
    /// and between them the events where they were raised. An event raised right after `fed` itself is among them:
    /// whether the checkpoint counts it cannot be known, and passing time to the same instant twice changes nothing.
    /// Of a sealed day all is told, if anything on it is newer than `fed`: a reading that is no news to the model changes
    /// nothing either.
    ///
    /// # Errors
    /// The disk's troubles.
    fn replay_since(&self, fed: u64, tell: impl FnMut(Replayed)) -> Result<(), StoreError>;
}

impl Retells for Store {
    fn benches_known(&self) -> Result<Vec<Arc<str>>, StoreError> {
        self.benches()
    }

    fn replay_since(&self, fed: u64, tell: impl FnMut(Replayed)) -> Result<(), StoreError> {
        replay_since(&self.conn, fed, tell).map_err(|error| self.error(error))
    }
}

impl Retells for Reader {
    fn benches_known(&self) -> Result<Vec<Arc<str>>, StoreError> {
        self.benches()
    }

    fn replay_since(&self, fed: u64, tell: impl FnMut(Replayed)) -> Result<(), StoreError> {
        replay_since(&self.conn, fed, tell).map_err(|error| self.error(error))
    }
}

fn replay_since(conn: &Connection, fed: u64, mut tell: impl FnMut(Replayed)) -> rusqlite::Result<()> {
    let names = series_names(conn)?;
    let fed = to_sql(fed);
    let (booked_after, mut raised_from) = match newest_sealed(conn)?.filter(|last| *last > fed) {
        Some(last) => {
            replay_sealed(conn, &names, fed, last, &mut tell)?;
            (last, last + 1)
        }
        None => (fed, fed),
    };
    for portion in &portions(conn, fed)? {
        let raised_until = portion.up_to.max(raised_from - 1);
        replay_portion(conn, &names, portion, booked_after, raised_from, raised_until, &mut tell)?;
        raised_from = raised_until + 1;
    }
    let nothing = Portion { after: i64::MAX, up_to: i64::MAX, from_ms: 1, until_ms: 0 };
    replay_portion(conn, &names, &nothing, i64::MAX, raised_from, i64::MAX, &mut tell)
}

/// The highest running number that was sealed.
fn newest_sealed(conn: &Connection) -> rusqlite::Result<Option<i64>> {
    conn.prepare_cached("SELECT max(last_fed) FROM sealed")?.query_row([], |row| row.get(0))
}

/// Tells sealed days with what was booked and raised on them, in the order of time.
fn replay_sealed(
    conn: &Connection,
    names: &SeriesNames,
    after: i64,
    last: i64,
    tell: &mut impl FnMut(Replayed),
) -> rusqlite::Result<()> {
    let days = conn
        .prepare(
            "SELECT DISTINCT day FROM sealed WHERE last_fed > ?1 AND day > (SELECT max(day) FROM sealed) - ?2 ORDER BY day",
        )?
        .query_map(params![after, REACH_DAYS], |row| row.get(0))?
        .collect::<rusqlite::Result<Vec<i64>>>()?;
    let mut sheets = conn
        .prepare("SELECT sum, body, last_fed FROM sealed WHERE day = ?1 AND last_fed > ?2 ORDER BY bench")?;
    let mut others = conn.prepare(
        "SELECT fed, 0, time_ms, NULL, value, bench, what FROM booked
         WHERE fed > ?1 AND fed <= ?2 AND time_ms >= ?3 AND time_ms < ?4
         UNION ALL
         SELECT after_fed, number, time_ms, NULL, NULL, NULL, id FROM event
         WHERE after_fed >= ?1 AND after_fed <= ?2 AND time_ms >= ?3 AND time_ms < ?4
         ORDER BY 3",
    )?;
    let mut told_until = days.first().map_or(i64::MIN, |day| instant(*day, 0));
    for (place, day) in days.iter().enumerate() {
        let midnight = instant(*day, 0);
        let mut all: Vec<(u32, i64, f64, u64)> = Vec::new();
        let mut rows = sheets.query(params![day, after])?;
        while let Some(row) = rows.next()? {
            let fed = from_sql(row.get(2)?);
            let taken = whole(row, 0, 1)?.in_order().into_iter().filter(|(_, entry)| entry.taken);
            all.extend(taken.map(|(series, entry)| (entry.ms, series, entry.value, fed)));
        }
        all.sort_by_key(|(ms, series, ..)| (*ms, *series));
        // up to the next sealed day, so that nothing between two of them is left out
        let until = days.get(place + 1).map_or(i64::MAX, |next| instant(*next, 0));
        let mut rows = others.query(params![after, last, told_until, until])?;
        told_until = until;
        let mut other = rows.next()?.map(|row| replayed(row, names)).transpose()?;
        for (ms, series, value, fed) in all {
            let time = Time::from_unix_ms(midnight + i64::from(ms));
            while let Some(earlier) = other.take_if(|other| other.time() <= time) {
                tell(earlier);
                other = rows.next()?.map(|row| replayed(row, names)).transpose()?;
            }
            let (bench, quantity) = named(names, 1, series)?;
            let observed = Observed::Value(*quantity, value);
            tell(Replayed::Fed { fed, bench: bench.clone(), time, observed });
        }
        while let Some(left) = other {
            tell(left);
            other = rows.next()?.map(|row| replayed(row, names)).transpose()?;
        }
    }
    Ok(())
}

/// Cuts what was fed after a number into portions along the commits.
fn portions(conn: &Connection, after: i64) -> rusqlite::Result<Vec<Portion>> {
    let mut statement = conn
        .prepare("SELECT last_fed, from_ms, until_ms FROM feeding WHERE last_fed > ?1 ORDER BY last_fed")?;
    let mut rows = statement.query([after])?;
    let mut portions: Vec<Portion> = Vec::new();
    while let Some(row) = rows.next()? {
        let up_to: i64 = row.get(0)?;
        let (from_ms, until_ms) = (
            row.get::<_, Option<i64>>(1)?.unwrap_or(i64::MAX),
            row.get::<_, Option<i64>>(2)?.unwrap_or(i64::MIN),
        );
        match portions.last_mut() {
            Some(open) if up_to.abs_diff(open.after) <= PORTION as u64 => {
                open.up_to = up_to;
                open.from_ms = open.from_ms.min(from_ms);
                open.until_ms = open.until_ms.max(until_ms);
            }
            last => {
                let after = last.map_or(after, |closed| closed.up_to);
                portions.push(Portion { after, up_to, from_ms, until_ms });
            }
        }
    }
    Ok(portions)
}

fn replay_portion(
    conn: &Connection,
    names: &SeriesNames,
    portion: &Portion,
    booked_after: i64,
    raised_from: i64,
    raised_until: i64,
    tell: &mut impl FnMut(Replayed),
) -> rusqlite::Result<()> {
    let rows = Tables::of(conn)?.union(|table, _| {
        format!(
            "SELECT fed, 0, time_ms, series, value, NULL, NULL FROM {table}
             WHERE time_ms BETWEEN ?3 AND ?4 AND fed > ?1 AND fed <= ?2"
        )
    });
    let mut statement = conn.prepare_cached(&format!(
        "{rows}
         UNION ALL
         SELECT fed, 0, time_ms, NULL, value, bench, what FROM booked WHERE fed > max(?1, ?7) AND fed <= ?2
         UNION ALL
         SELECT after_fed, number, time_ms, NULL, NULL, NULL, id FROM event WHERE after_fed BETWEEN ?5 AND ?6
         ORDER BY 1, 2"
    ))?;
    let mut rows = statement.query(params![
        portion.after,
        portion.up_to,
        portion.from_ms,
        portion.until_ms,
        raised_from,
        raised_until,
        booked_after
    ])?;
    while let Some(row) = rows.next()? {
        tell(replayed(row, names)?);
    }
    Ok(())
}

fn replayed(row: &Row<'_>, names: &SeriesNames) -> rusqlite::Result<Replayed> {
    let time = Time::from_unix_ms(row.get(2)?);
    if row.get::<_, i64>(1)? > 0 {
        return Ok(Replayed::Raised { id: row.get(6)?, time });
    }
    let (bench, observed) = match row.get::<_, Option<i64>>(3)? {
        Some(series) => {
            let (bench, quantity): &(Arc<str>, Quantity) = named(names, 3, series)?;
            (bench.clone(), Observed::Value(*quantity, row.get::<_, RowValue>(4)?.0))
        }
        None => (row.get(5)?, booked(6, &row.get::<_, String>(6)?, row.get(4)?)?),
    };
    Ok(Replayed::Fed { fed: from_sql(row.get(0)?), bench, time, observed })
}
