//! Recordings into the record, whether the service runs or not.

use std::collections::{BTreeMap, HashSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use rusqlite::{Connection, TransactionBehavior, params};

use super::error::StoreError;
use super::file;
use super::forwarding::Noting;
use super::guard::Keeping;
use super::readings::{self, Recorded, SeriesIds};
use super::rows::Tables;
use super::sealed::{self, day_of, instant};
use super::sheet::Entry;

/// Readings gathered at most before some are written: a day of forty benches with four quantities every ten seconds, 24 MB.
const GATHERED_AT_MOST: usize = 1_500_000;
/// Benches' days written in one transaction: a running service waits for no longer.
const DAYS_AT_ONCE: usize = 8;

/// Writes recordings into the record, sealed at once and for the record only: the model is not told.
#[derive(Debug)]
pub struct Importer {
    path: PathBuf,
    conn: Connection,
    series: SeriesIds,
    gathered: BTreeMap<(i64, Arc<str>), Day>,
    count: usize,
    _keeping: Option<Keeping>,
}

/// Readings of a bench on a day, by series.
type Day = BTreeMap<i64, Vec<Entry>>;

/// What became of imported readings.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Imported {
    /// Readings that the record did not have.
    pub new: usize,
    /// Readings that it had; they stay as they were.
    pub known: usize,
}

impl Imported {
    /// Adds what became of others.
    pub const fn add(&mut self, more: Self) {
        self.new += more.new;
        self.known += more.known;
    }
}

impl Importer {
    /// Opens the record at `path`, beside its keeper if the service runs; creates it if there is none.
    ///
    /// # Errors
    /// The reasons of [`super::Store::open`], except that a keeper is no hindrance unless the file is of an older version.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let (keeping, conn) = file::open_to_import(path)?;
        let gathered = BTreeMap::new();
        Ok(Self {
            path: path.to_owned(),
            conn,
            series: SeriesIds::default(),
            gathered,
            count: 0,
            _keeping: keeping,
        })
    }

    /// Takes in readings. They are gathered, for a day that is sealed once is sealed best: what is given is what became of
    /// those that were written meanwhile. Running numbers in them are of another life and are not kept.
    ///
    /// # Errors
    /// The disk's troubles; a part may have been written then, and importing all of it again does no harm.
    pub fn import(&mut self, batch: Vec<Recorded>) -> Result<Imported, StoreError> {
        let mut booked = Vec::new();
        for mut reading in batch {
            match reading.observed {
                Observed::Value(quantity, value) if !quantity.by_hand() => {
                    let gathered = self.gather(&reading.bench, quantity, reading.time.unix_ms(), value);
                    gathered.map_err(|error| self.error(error))?;
                }
                Observed::Value(..) | Observed::Sign(_) => {
                    reading.fed = None;
                    booked.push(reading);
                }
            }
        }
        let mut imported = self.write_booked(&booked)?;
        if self.count >= GATHERED_AT_MOST {
            imported.add(self.write_gathered(false)?);
        }
        Ok(imported)
    }

    /// Writes what is left, and moves what the write-ahead log holds into the file, as far as readers and a running service
    /// let it: what remains, they move later. The importer can be used on.
    ///
    /// # Errors
    /// As [`Importer::import`].
    pub fn finish(&mut self) -> Result<Imported, StoreError> {
        let imported = self.write_gathered(true)?;
        self.conn
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
            .map_err(|error| self.error(error))?;
        Ok(imported)
    }

    fn gather(
        &mut self,
        bench: &Arc<str>,
        quantity: Quantity,
        time_ms: i64,
        value: f64,
    ) -> rusqlite::Result<()> {
        let series = self.series.number(&self.conn, bench, quantity)?;
        let (day, ms) = day_of(time_ms);
        let entry = Entry { ms, value, taken: false };
        self.gathered.entry((day, Arc::clone(bench))).or_default().entry(series).or_default().push(entry);
        self.count += 1;
        Ok(())
    }

    fn write_booked(&mut self, booked: &[Recorded]) -> Result<Imported, StoreError> {
        if booked.is_empty() {
            return Ok(Imported::default());
        }
        let mut write = || -> rusqlite::Result<Imported> {
            let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let known = readings::write(&tx, &mut self.series, booked)?.known.len();
            tx.commit()?;
            Ok(Imported { new: booked.len() - known, known })
        };
        let outcome = write();
        outcome.map_err(|error| self.error(error))
    }

    /// Writes days, oldest first: all of them, or those before the newest, to which the next readings mostly belong.
    fn write_gathered(&mut self, all: bool) -> Result<Imported, StoreError> {
        let mut imported = Imported::default();
        let newest = self.gathered.last_key_value().map_or(0, |((day, _), _)| *day);
        let several_days = self.gathered.first_key_value().is_some_and(|((day, _), _)| *day < newest);
        let keep_newest = several_days && !all;
        while self.gathered.first_key_value().is_some_and(|((day, _), _)| !keep_newest || *day < newest) {
            let mut days = Vec::new();
            while days.len() < DAYS_AT_ONCE
                && let Some(first) =
                    self.gathered.first_entry().filter(|day| !keep_newest || day.key().0 < newest)
            {
                days.push(first.remove_entry());
            }
            let written = write_days(&mut self.conn, days).map_err(|error| self.error(error))?;
            self.count -= written.new + written.known;
            imported.add(written);
        }
        Ok(imported)
    }

    fn error(&self, error: rusqlite::Error) -> StoreError {
        StoreError::of(&self.path, error)
    }
}

fn write_days(conn: &mut Connection, days: Vec<((i64, Arc<str>), Day)>) -> rusqlite::Result<Imported> {
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let mut imported = Imported::default();
    let mut noting = Noting::begin(&tx)?;
    for ((day, bench), rows) in days {
        let times: Vec<u32> = match &noting {
            Some(_) => rows.values().flatten().map(|entry| entry.ms).collect(),
            None => Vec::new(),
        };
        let written = write_day(&tx, day, &bench, rows)?;
        if let Some(noting) = noting.as_mut().filter(|_| written.new > 0) {
            // those that were known are among them, and are forwarded twice
            for ms in times {
                noting.note(&bench, Time::from_unix_ms(instant(day, ms)));
            }
        }
        imported.add(written);
    }
    if let Some(noting) = noting {
        noting.end(&tx)?;
    }
    tx.commit()?;
    Ok(imported)
}

/// Merges readings with the sheet of their day. Of those that still lie among the rows nothing is changed; they are known.
fn write_day(conn: &Connection, day: i64, bench: &str, readings: Day) -> rusqlite::Result<Imported> {
    let mut found = sealed::find(conn, bench, day)?;
    let mut imported = Imported::default();
    let rows = Tables::of(conn)?.union(|table, _| {
        format!(
            "SELECT series, time_ms FROM {table}
             WHERE time_ms >= ?1 AND time_ms < ?2 AND series IN (SELECT id FROM series WHERE bench = ?3)"
        )
    });
    let rows = conn
        .prepare_cached(&rows)?
        .query_map(params![instant(day, 0), instant(day + 1, 0), bench], |row| {
            Ok((row.get(0)?, day_of(row.get(1)?).1))
        })?
        .collect::<rusqlite::Result<HashSet<(i64, u32)>>>()?;
    for (series, mut entries) in readings {
        let count = entries.len();
        entries.retain(|entry| !rows.contains(&(series, entry.ms)));
        let among_rows = count - entries.len();
        let known = among_rows + found.sheet.add(series, entries);
        imported.add(Imported { new: count - known, known });
    }
    let packed = sealed::pack(conn, bench, &found.sheet)?;
    sealed::put(conn, bench, day, &packed, found.last_fed)?;
    Ok(imported)
}
