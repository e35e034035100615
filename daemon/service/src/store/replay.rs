//! What the model was told after a checkpoint, in the order in which it was told.

use std::sync::Arc;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use rusqlite::{Connection, Row, params};

use super::error::StoreError;
use super::readings::{SeriesNames, booked, named, series_names};
use super::{Store, from_sql, to_sql};

/// Running numbers that are sorted at once: some 5 MB of memory, whatever the length of the replay.
const PORTION: usize = 100_000;

/// One thing that happened to the model.
#[derive(Debug, Clone, PartialEq)]
pub enum Replayed {
    /// It took a reading.
    Fed {
        /// The running number.
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

/// Running numbers, and between which times their sensor readings lie.
struct Portion {
    after: i64,
    up_to: i64,
    from_ms: i64,
    until_ms: i64,
}

impl Store {
    /// Tells, one after the other, every reading and sign that the model took after running number `fed`, in that order,
    /// and between them the events where they were raised. An event raised right after `fed` itself is among them:
    /// whether the checkpoint counts it cannot be known, and passing time to the same instant twice changes nothing.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn replay_since(&self, fed: u64, mut tell: impl FnMut(Replayed)) -> Result<(), StoreError> {
        let mut replay = || -> rusqlite::Result<()> {
            let names = series_names(&self.conn)?;
            let portions = portions(&self.conn, to_sql(fed))?;
            let mut raised_from = to_sql(fed);
            for portion in &portions {
                replay_portion(&self.conn, &names, portion, raised_from, portion.up_to, &mut tell)?;
                raised_from = portion.up_to + 1;
            }
            let nothing = Portion { after: i64::MAX, up_to: i64::MAX, from_ms: 1, until_ms: 0 };
            replay_portion(&self.conn, &names, &nothing, raised_from, i64::MAX, &mut tell)
        };
        replay().map_err(|error| self.error(error))
    }
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
    raised_from: i64,
    raised_until: i64,
    tell: &mut impl FnMut(Replayed),
) -> rusqlite::Result<()> {
    let mut statement = conn.prepare_cached(
        "SELECT fed, 0, time_ms, series, value, NULL, NULL FROM reading
         WHERE time_ms BETWEEN ?3 AND ?4 AND fed > ?1 AND fed <= ?2
         UNION ALL
         SELECT fed, 0, time_ms, NULL, value, bench, what FROM booked WHERE fed > ?1 AND fed <= ?2
         UNION ALL
         SELECT after_fed, number, time_ms, NULL, NULL, NULL, id FROM event WHERE after_fed BETWEEN ?5 AND ?6
         ORDER BY 1, 2",
    )?;
    let mut rows = statement.query(params![
        portion.after,
        portion.up_to,
        portion.from_ms,
        portion.until_ms,
        raised_from,
        raised_until
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
            (bench.clone(), Observed::Value(*quantity, row.get(4)?))
        }
        None => (row.get(5)?, booked(6, &row.get::<_, String>(6)?, row.get(4)?)?),
    };
    Ok(Replayed::Fed { fed: from_sql(row.get(0)?), bench, time, observed })
}
