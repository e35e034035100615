//! Reading back: sealed days and rows as one record, in the order of time.

use std::sync::Arc;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use rusqlite::{Connection, Row, Rows, Transaction, params};

use super::Reader;
use super::error::StoreError;
use super::from_sql;
use super::readings::{Recorded, SeriesNames, Which, booked, named, series_names};
use super::rows::Tables;
use super::sealed::{day_of, instant, whole};
use super::sheet::Entry;

impl Reader {
    /// Tells what the record holds of a bench between two instants, both included, in the order of time.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn readings(
        &self,
        bench: &str,
        which: Which,
        from: Time,
        until: Time,
        tell: impl FnMut(Recorded),
    ) -> Result<(), StoreError> {
        readings(&self.conn, bench, which, from, until, tell).map_err(|error| self.error(error))
    }
}

/// Holds the file as it is at this moment, so that what is sealed while it is read is told neither twice nor not at all. Within
/// another reading that one's moment holds.
pub(super) fn snapshot(conn: &Connection) -> rusqlite::Result<Option<Transaction<'_>>> {
    conn.is_autocommit().then(|| conn.unchecked_transaction()).transpose()
}

fn readings(
    conn: &Connection,
    bench: &str,
    which: Which,
    from: Time,
    until: Time,
    mut tell: impl FnMut(Recorded),
) -> rusqlite::Result<()> {
    let _snapshot = snapshot(conn)?;
    let bench: Arc<str> = bench.into();
    let names = series_names(conn)?;
    let wanted = |series: i64| -> rusqlite::Result<Option<Quantity>> {
        let quantity = named(&names, 1, series)?.1;
        Ok(match which {
            Which::Everything => Some(quantity),
            Which::Quantity(one) => (quantity == one).then_some(quantity),
            Which::Signs => None,
        })
    };
    let only = match which {
        Which::Quantity(quantity) => Some(quantity.name()),
        Which::Everything | Which::Signs => None,
    };
    // all parts come sorted by their keys, so that nothing is gathered before it is told
    let measured = Tables::of(conn)?.union(|table, place| {
        format!(
            "SELECT time_ms, series, value, fed, NULL, NULL, NULL, {place} FROM {table}
             WHERE time_ms BETWEEN ?2 AND ?3 AND series IN
                (SELECT id FROM series WHERE bench = ?1 AND (?4 IS NULL OR quantity = ?4) AND NOT ?5)"
        )
    });
    let mut statement = conn.prepare_cached(&format!(
        "{measured}
         UNION ALL
         SELECT time_ms, NULL, value, fed, what, note, by, 9 FROM booked
         WHERE time_ms BETWEEN ?2 AND ?3 AND bench = ?1 AND (?4 IS NULL OR what = ?4)
            AND NOT (?5 AND value IS NOT NULL)
         ORDER BY 1, 8"
    ))?;
    let (from_ms, until_ms) = (from.unix_ms(), until.unix_ms());
    let query = params![bench, from_ms, until_ms, only, which == Which::Signs];
    let mut rows = Instants::of(statement.query(query)?, &bench, &names)?;

    let mut sheets = conn.prepare_cached(
        "SELECT day, sum, body FROM sealed WHERE bench = ?1 AND day BETWEEN ?2 AND ?3 ORDER BY day",
    )?;
    let days = if which == Which::Signs { (1, 0) } else { (day_of(from_ms).0, day_of(until_ms).0) };
    let mut sheets = sheets.query(params![bench, days.0, days.1])?;
    while let Some(row) = sheets.next()? {
        let day: i64 = row.get(0)?;
        for (series, Entry { ms, value, taken }) in whole(row, 1, 2)?.in_order() {
            let time_ms = instant(day, ms);
            let Some(quantity) = wanted(series)? else { continue };
            if !(from_ms..=until_ms).contains(&time_ms) {
                continue;
            }
            let time = Time::from_unix_ms(time_ms);
            while rows.next_time().is_some_and(|next| next < time) {
                rows.take(&mut tell)?;
            }
            if rows.next_time() != Some(time) || !rows.hold_better(quantity, taken)? {
                let observed = Observed::Value(quantity, value);
                tell(Recorded { bench: bench.clone(), time, observed, note: None, by: None, fed: None });
            }
        }
    }
    while rows.next_time().is_some() {
        rows.take(&mut tell)?;
    }
    Ok(())
}

/// Rows of one instant after the other.
struct Instants<'a> {
    rows: Rows<'a>,
    names: &'a SeriesNames,
    bench: &'a Arc<str>,
    /// Those of the next instant.
    next: Vec<Recorded>,
    /// The first of the instant after it.
    then: Option<Recorded>,
}

impl<'a> Instants<'a> {
    fn of(rows: Rows<'a>, bench: &'a Arc<str>, names: &'a SeriesNames) -> rusqlite::Result<Self> {
        let mut instants = Self { rows, names, bench, next: Vec::new(), then: None };
        instants.then = instants.read()?;
        instants.gather()?;
        Ok(instants)
    }

    fn next_time(&self) -> Option<Time> {
        self.next.first().map(|row| row.time)
    }

    /// Tells those of the next instant and goes on.
    fn take(&mut self, tell: &mut impl FnMut(Recorded)) -> rusqlite::Result<()> {
        self.next.drain(..).for_each(tell);
        self.gather()
    }

    /// Whether the next instant holds a row of that quantity that goes before a sealed reading: the first wins, except that
    /// one that the model took wins over one that it did not. One that does not is passed over.
    fn hold_better(&mut self, quantity: Quantity, taken: bool) -> rusqlite::Result<bool> {
        let Some(place) = self.next.iter().position(|row| measures(row, quantity)) else { return Ok(false) };
        if !taken && self.next.get(place).is_some_and(|row| row.fed.is_some()) {
            return Ok(true);
        }
        self.next.remove(place);
        if self.next.is_empty() {
            self.gather()?;
        }
        Ok(false)
    }

    fn gather(&mut self) -> rusqlite::Result<()> {
        while let Some(row) = self.then.take() {
            if self.next_time().is_some_and(|time| time != row.time) {
                self.then = Some(row);
                break;
            }
            self.put(row);
            self.then = self.read()?;
        }
        Ok(())
    }

    /// Adds a row to the next instant. There may be one of the same series, from a table that was filled before.
    fn put(&mut self, row: Recorded) {
        let same = match row.observed {
            Observed::Value(quantity, _) => self.next.iter_mut().find(|other| measures(other, quantity)),
            Observed::Sign(_) => None,
        };
        match same {
            Some(first) if first.fed.is_none() && row.fed.is_some() => *first = row,
            Some(_) => {}
            None => self.next.push(row),
        }
    }

    fn read(&mut self) -> rusqlite::Result<Option<Recorded>> {
        let Some(row) = self.rows.next()? else { return Ok(None) };
        Ok(Some(Recorded {
            bench: self.bench.clone(),
            time: Time::from_unix_ms(row.get(0)?),
            observed: observed(row, self.names)?,
            note: row.get(5)?,
            by: row.get(6)?,
            fed: row.get::<_, Option<i64>>(3)?.map(from_sql),
        }))
    }
}

/// Whether it is a sensor's reading of that quantity.
fn measures(row: &Recorded, quantity: Quantity) -> bool {
    matches!(row.observed, Observed::Value(other, _) if other == quantity && !quantity.by_hand())
}

fn observed(row: &Row<'_>, names: &SeriesNames) -> rusqlite::Result<Observed> {
    match row.get::<_, Option<i64>>(1)? {
        Some(series) => Ok(Observed::Value(named(names, 1, series)?.1, row.get(2)?)),
        None => booked(4, &row.get::<_, String>(4)?, row.get(2)?),
    }
}
