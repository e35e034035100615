//! Recordings into the record, whether the service runs or not.

use std::fs::File;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, TransactionBehavior};

use super::error::StoreError;
use super::file;
use super::readings::{self, Recorded, SeriesIds};

/// Writes recordings into the record, for the record only: the model is not told. Batches of some ten thousand readings
/// are best, each is one transaction.
#[derive(Debug)]
pub struct Importer {
    path: PathBuf,
    conn: Connection,
    series: SeriesIds,
    _lock: Option<File>,
}

/// What became of imported readings.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Imported {
    /// Readings that the record did not have.
    pub new: usize,
    /// Readings that it had; they stay as they were.
    pub known: usize,
}

impl Importer {
    /// Opens the record at `path`, beside its keeper if the service runs; creates it if there is none.
    ///
    /// # Errors
    /// The reasons of [`super::Store::open`], except that a keeper is no hindrance unless the file is of an older version.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let (lock, conn) = file::open_to_import(path)?;
        Ok(Self { path: path.to_owned(), conn, series: SeriesIds::default(), _lock: lock })
    }

    /// Writes a batch, all of it or nothing. Running numbers in it are of another life and are not kept.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn import(&mut self, mut batch: Vec<Recorded>) -> Result<Imported, StoreError> {
        for reading in &mut batch {
            reading.fed = None;
        }
        let mut write = || -> rusqlite::Result<Imported> {
            let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let known = readings::write(&tx, &mut self.series, &batch)?.known.len();
            tx.commit()?;
            Ok(Imported { new: batch.len() - known, known })
        };
        let outcome = write();
        if outcome.is_err() {
            self.series.forget();
        }
        outcome.map_err(|error| StoreError::of(&self.path, error))
    }

    /// Moves what the write-ahead log holds into the file and empties the log, as far as readers and a running service
    /// let it: what remains, they move later.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn checkpoint_wal(&self) -> Result<(), StoreError> {
        self.conn
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
            .map_err(|error| StoreError::of(&self.path, error))
    }
}
