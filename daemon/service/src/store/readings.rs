//! Readings and what people booked: kept once by bench, quantity and time.

use std::collections::HashMap;
use std::sync::Arc;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::sign::Sign;
use bloom_model::time::Time;
use rusqlite::{Connection, params};

use super::cursor::{CursorItem, CursorQuestion, Sink, gives_way_in};
use super::error::{StoreError, UnknownName, unreadable};
use super::feeding::{self, Commit};
use super::forwarding::Noting;
use super::rows::{RowValue, Tables};
use super::{Reader, Store, from_sql, to_sql};

/// A reading or sign as the record holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// The bench's id.
    pub bench: Arc<str>,
    /// When.
    pub time: Time,
    /// What. A value is one that [`Quantity::possible`] let pass.
    pub observed: Observed,
    /// What a person added; kept with signs and taped values only.
    pub note: Option<String>,
    /// Who booked it; likewise.
    pub by: Option<String>,
    /// The running number in which the model took it; `None` if it is in the record only, or was sealed since.
    pub fed: Option<u64>,
}

/// What to read of a bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// Every quantity, and the signs.
    Everything,
    /// One quantity.
    Quantity(Quantity),
    /// The signs.
    Signs,
}

/// The numbers of the series, looked up once.
#[derive(Debug, Default)]
pub(super) struct SeriesIds(HashMap<Arc<str>, [Option<i64>; Quantity::ALL.len()]>);

impl SeriesIds {
    pub(super) fn number(
        &mut self,
        conn: &Connection,
        bench: &Arc<str>,
        quantity: Quantity,
    ) -> rusqlite::Result<i64> {
        let place = quantity as usize;
        if let Some(id) = self.0.get(bench).and_then(|ids| ids[place]) {
            return Ok(id);
        }
        conn.prepare_cached("INSERT INTO series (bench, quantity) VALUES (?1, ?2) ON CONFLICT DO NOTHING")?
            .execute(params![bench, quantity.name()])?;
        let id = conn
            .prepare_cached("SELECT id FROM series WHERE bench = ?1 AND quantity = ?2")?
            .query_row(params![bench, quantity.name()], |row| row.get(0))?;
        self.0.entry(bench.clone()).or_default()[place] = Some(id);
        Ok(id)
    }

    /// After a transaction that was undone, the numbers that it gave are nobody's.
    pub(super) fn forget(&mut self) {
        self.0.clear();
    }
}

/// What became of a batch of readings.
#[derive(Debug, Default)]
pub(super) struct Written {
    /// The places of those that were there already.
    pub(super) known: Vec<usize>,
    /// The least running number among the new ones.
    pub(super) lowest_fed: Option<u64>,
}

/// Writes the readings that are not there yet, or to which those there give way.
pub(super) fn write(
    conn: &Connection,
    series: &mut SeriesIds,
    readings: &[Recorded],
) -> rusqlite::Result<Written> {
    let filled = Tables::of(conn)?.filled;
    let mut measured = conn.prepare_cached(&format!(
        "INSERT INTO {filled} (time_ms, series, value, fed) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT DO UPDATE SET value = excluded.value, fed = excluded.fed WHERE {}",
        gives_way_in(filled)
    ))?;
    let mut booked = conn.prepare_cached(&format!(
        "INSERT INTO booked (time_ms, bench, what, value, note, by, fed) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
         ON CONFLICT DO UPDATE SET value = excluded.value, note = excluded.note, by = excluded.by, fed = excluded.fed
         WHERE {}",
        gives_way_in("booked")
    ))?;
    let mut written = Written::default();
    let mut noting = Noting::begin(conn)?;
    let mut commit = Commit::default();
    for (place, reading) in readings.iter().enumerate() {
        let (time, fed) = (reading.time.unix_ms(), reading.fed.map(to_sql));
        let (rows, sum) = match key(reading.observed) {
            Key::Series(quantity, value) => {
                let series = series.number(conn, &reading.bench, quantity)?;
                let rows = measured.execute(params![time, series, RowValue(value), fed])?;
                if fed.is_some() {
                    commit.reach(time);
                }
                (rows, fed.map(|fed| feeding::sum_of_reading(time, series, value, fed)))
            }
            Key::Booked(what, value) => {
                let sum = fed.map(|fed| feeding::sum_of_booked(time, &reading.bench, &what, value, fed));
                (
                    booked.execute(params![
                        time,
                        reading.bench,
                        what,
                        value,
                        reading.note,
                        reading.by,
                        fed
                    ])?,
                    sum,
                )
            }
        };
        if rows == 0 {
            written.known.push(place);
            continue;
        }
        if let Some(noting) = &mut noting {
            noting.note(&reading.bench, reading.time);
        }
        if let Some(sum) = sum {
            commit.add(sum);
        }
        if let Some(fed) = reading.fed {
            written.lowest_fed = Some(written.lowest_fed.map_or(fed, |lowest| lowest.min(fed)));
        }
    }
    if let Some(noting) = noting {
        noting.end(conn)?;
    }
    if let Some(last_fed) = readings.iter().filter_map(|reading| reading.fed).max() {
        commit.note(conn, last_fed)?;
    }
    Ok(written)
}

/// Where a reading is kept.
pub(super) enum Key {
    /// Among the sensor readings.
    Series(Quantity, f64),
    /// Among what people booked: what it is called there, and its value if it has one.
    Booked(String, Option<f64>),
}

pub(super) fn key(observed: Observed) -> Key {
    match observed {
        Observed::Value(quantity, value) if quantity.by_hand() => {
            Key::Booked(quantity.name().to_owned(), Some(value))
        }
        Observed::Value(quantity, value) => Key::Series(quantity, value),
        Observed::Sign(sign) => Key::Booked(sign.to_string(), None),
    }
}

/// What a booked row says: a value if there is one, a sign if not.
pub(super) fn booked(column: usize, what: &str, value: Option<f64>) -> rusqlite::Result<Observed> {
    match value {
        Some(value) => Ok(Observed::Value(quantity_from_name(column, what)?, value)),
        None => what.parse::<Sign>().map(Observed::Sign).map_err(|error| unreadable(column, error)),
    }
}

fn quantity_from_name(column: usize, name: &str) -> rusqlite::Result<Quantity> {
    Quantity::from_name(name).ok_or_else(|| unreadable(column, UnknownName(name.to_owned())))
}

/// A series by its number.
pub(super) type SeriesNames = HashMap<i64, (Arc<str>, Quantity)>;

pub(super) fn series_names(conn: &Connection) -> rusqlite::Result<SeriesNames> {
    // one allocation per bench, shared by its series and by every reading told
    let mut benches: HashMap<String, Arc<str>> = HashMap::new();
    let mut statement = conn.prepare("SELECT id, bench, quantity FROM series")?;
    let mut rows = statement.query([])?;
    let mut names = HashMap::new();
    while let Some(row) = rows.next()? {
        let bench: String = row.get(1)?;
        let bench = benches.entry(bench).or_insert_with_key(|bench| Arc::from(bench.as_str())).clone();
        names.insert(row.get(0)?, (bench, quantity_from_name(2, &row.get::<_, String>(2)?)?));
    }
    Ok(names)
}

/// The series of a bench.
pub(super) fn series_of(conn: &Connection, bench: &str) -> rusqlite::Result<Vec<(Quantity, i64)>> {
    conn.prepare_cached("SELECT quantity, id FROM series WHERE bench = ?1")?
        .query_map([bench], |row| Ok((quantity_from_name(0, &row.get::<_, String>(0)?)?, row.get(1)?)))?
        .collect()
}

impl Store {
    /// Whether the model took an observation of that bench, quantity (or sign) and time, whatever its value. One that an
    /// import put there it has not heard of; of one that is sealed it is not told.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn was_fed(&self, bench: &str, time: Time, observed: Observed) -> Result<bool, StoreError> {
        let find = || -> rusqlite::Result<bool> {
            match key(observed) {
            Key::Series(quantity, _) => {
                let sql = Tables::of(&self.conn)?.union(|table, _| {
                    format!(
                        "SELECT 1 FROM series JOIN {table} AS one ON one.series = series.id
                         WHERE series.bench = ?1 AND series.quantity = ?2 AND one.time_ms = ?3 AND one.fed IS NOT NULL"
                    )
                });
                self.conn.prepare_cached(&sql)?.exists(params![bench, quantity.name(), time.unix_ms()])
            }
            Key::Booked(what, _) => self
                .conn
                .prepare_cached(
                    "SELECT 1 FROM booked WHERE bench = ?1 AND what = ?2 AND time_ms = ?3 AND fed IS NOT NULL",
                )?
                .exists(params![bench, what, time.unix_ms()]),
        }
        };
        find().map_err(|error| self.error(error))
    }

    /// The running number of the newest reading that the model took; 0 if there is none.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn newest_fed(&self) -> Result<u64, StoreError> {
        newest_fed(&self.conn).map_err(|error| self.error(error))
    }
}

impl Reader {
    /// The running number of the newest reading that the model took; 0 if there is none.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn newest_fed(&self) -> Result<u64, StoreError> {
        newest_fed(&self.conn).map_err(|error| self.error(error))
    }
}

pub(super) fn newest_fed(conn: &Connection) -> rusqlite::Result<u64> {
    conn.prepare_cached("SELECT coalesce(max(last_fed), 0) FROM feeding")?
        .query_row([], |row| row.get(0))
        .map(from_sql)
}

/// Tells each by itself, with its bench.
struct EachRecorded<F> {
    bench: Arc<str>,
    tell: F,
}

impl<F: FnMut(Recorded)> Sink for EachRecorded<F> {
    fn take(&mut self, CursorItem { time_ms, observed, fed, note, by }: CursorItem) {
        let (bench, time, fed) = (Arc::clone(&self.bench), Time::from_unix_ms(time_ms), fed.map(from_sql));
        (self.tell)(Recorded { bench, time, observed, note, by, fed });
    }
}

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
        let asked = CursorQuestion { bench, which, span: from.unix_ms()..=until.unix_ms() };
        self.tell(&asked, &mut EachRecorded { bench: bench.into(), tell })
    }

    /// When the taped heights were taped that a person took back, between two instants, both included.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn withdrawn_heights(&self, bench: &str, from: Time, until: Time) -> Result<Vec<Time>, StoreError> {
        let read = || -> rusqlite::Result<Vec<Time>> {
            self.conn
                .prepare_cached(
                    "SELECT time_ms FROM booked WHERE bench = ?1 AND what = ?2 AND time_ms BETWEEN ?3 AND ?4 ORDER BY time_ms",
                )?
                .query_map(
                    params![bench, Sign::HeightWithdrawn.to_string(), from.unix_ms(), until.unix_ms()],
                    |row| Ok(Time::from_unix_ms(row.get(0)?)),
                )?
                .collect()
        };
        read().map_err(|error| self.error(error))
    }

    /// The ids of all benches that the record knows, configured or not.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn benches(&self) -> Result<Vec<Arc<str>>, StoreError> {
        benches(&self.conn).map_err(|error| self.error(error))
    }
}

impl Store {
    /// The ids of all benches that the record knows, configured or not.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn benches(&self) -> Result<Vec<Arc<str>>, StoreError> {
        benches(&self.conn).map_err(|error| self.error(error))
    }
}

fn benches(conn: &Connection) -> rusqlite::Result<Vec<Arc<str>>> {
    conn.prepare("SELECT bench FROM series UNION SELECT bench FROM booked ORDER BY 1")?
        .query_map([], |row| row.get(0))?
        .collect()
}

/// The bench and quantity of a series.
pub(super) fn named(
    names: &SeriesNames,
    column: usize,
    series: i64,
) -> rusqlite::Result<&(Arc<str>, Quantity)> {
    names.get(&series).ok_or_else(|| unreadable(column, UnknownName(format!("series {series}"))))
}
