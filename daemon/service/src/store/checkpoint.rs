//! The benches' state as written down now and then, and the count of runs.

use std::sync::Arc;

use bloom_model::time::Time;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use super::error::StoreError;
use super::{Reader, Store, from_sql, to_sql};

/// Starts that are remembered; older ones are forgotten, the count goes on.
const RUNS_KEPT: i64 = 1_000;

/// A bench's state at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// The bench's id.
    pub bench: Arc<str>,
    /// The state, in a form that the store does not look into.
    pub state: Vec<u8>,
    /// The version of that form.
    pub version: u32,
    /// The running number of the newest reading of the site that it counts.
    pub fed: u64,
}

impl Store {
    /// Counts a start and gives its number: 1 for the first, never the same twice, and above `after`.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn begin_run(&mut self, now: Time, after: u64) -> Result<u64, StoreError> {
        let count = |conn: &mut Connection| -> rusqlite::Result<i64> {
            let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let number = tx.query_row(
                "INSERT INTO run (number, began_ms) VALUES ((SELECT max(coalesce(max(number), 0), ?2) + 1 FROM run), ?1)
                 RETURNING number",
                [now.unix_ms(), to_sql(after)],
                |row| row.get(0),
            )?;
            tx.execute("DELETE FROM run WHERE number <= ?1", [number - RUNS_KEPT])?;
            tx.commit()?;
            Ok(number)
        };
        count(&mut self.conn).map(from_sql).map_err(|error| self.error(error))
    }

    /// Writes down a start that was counted while the record could not be had.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn note_run(&mut self, number: u64, now: Time) -> Result<(), StoreError> {
        let note = "INSERT INTO run (number, began_ms) VALUES (?1, ?2) ON CONFLICT DO NOTHING";
        let noted = self.conn.execute(note, params![to_sql(number), now.unix_ms()]);
        noted.map(|_| ()).map_err(|error| self.error(error))
    }

    /// The number of the newest start that was counted; 0 if there was none.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn newest_run(&self) -> Result<u64, StoreError> {
        let newest = self.conn.query_row("SELECT coalesce(max(number), 0) FROM run", [], |row| row.get(0));
        newest.map(from_sql).map_err(|error| self.error(error))
    }

    /// The newest state of every bench that ever had one.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn checkpoints(&self) -> Result<Vec<Checkpoint>, StoreError> {
        checkpoints(&self.conn).map_err(|error| self.error(error))
    }
}

impl Reader {
    /// The newest state of every bench that ever had one.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn checkpoints(&self) -> Result<Vec<Checkpoint>, StoreError> {
        checkpoints(&self.conn).map_err(|error| self.error(error))
    }

    /// When the newest start was; `None` where none was counted.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn newest_start(&self) -> Result<Option<Time>, StoreError> {
        let newest =
            self.conn
                .query_row("SELECT began_ms FROM run ORDER BY number DESC LIMIT 1", [], |row| row.get(0));
        newest.optional().map(|began| began.map(Time::from_unix_ms)).map_err(|error| self.error(error))
    }
}

fn checkpoints(conn: &Connection) -> rusqlite::Result<Vec<Checkpoint>> {
    conn.prepare("SELECT bench, state, version, fed FROM checkpoint ORDER BY bench")?
        .query_map([], |row| {
            Ok(Checkpoint {
                bench: row.get(0)?,
                state: row.get(1)?,
                version: row.get(2)?,
                fed: from_sql(row.get(3)?),
            })
        })?
        .collect()
}

pub(super) fn write(conn: &Connection, checkpoints: &[Checkpoint]) -> rusqlite::Result<()> {
    let mut put =
        conn.prepare_cached("REPLACE INTO checkpoint (bench, state, version, fed) VALUES (?1, ?2, ?3, ?4)")?;
    for checkpoint in checkpoints {
        put.execute(params![checkpoint.bench, checkpoint.state, checkpoint.version, to_sql(checkpoint.fed)])?;
    }
    Ok(())
}
