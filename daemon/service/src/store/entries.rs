//! What short-lived commands (`tape`, `sign`, `acknowledge`) put into the file for its keeper to take up.

use std::path::Path;

use bloom_model::reading::Observed;
use bloom_model::time::Time;
use rusqlite::{Connection, TransactionBehavior, params};
use serde::{Deserialize, Deserializer, Serialize};

use super::error::StoreError;
use super::{Reader, Store, file};

/// Entries that wait at most; more are refused, for then nobody takes them up.
pub const MAX_PENDING_ENTRIES: i64 = 1_000;
/// Length of an entry as JSON at most; a longer one is refused.
pub const MAX_ENTRY_BYTES: usize = 16 << 10;

/// What a person tells the running service.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Entry {
    /// A taped value or a sign.
    Observed {
        /// The bench's id.
        bench: String,
        /// When it was seen.
        time: Time,
        /// What.
        observed: Observed,
        /// Anything else.
        note: Option<String>,
        /// Who.
        by: Option<String>,
    },
    /// Took note of alarms.
    Acknowledge {
        /// The events' ids. `None` for all that stand, as earlier versions wrote it; they wrote a single `id`, too.
        #[serde(alias = "id", deserialize_with = "one_or_more")]
        ids: Option<Vec<String>>,
        /// Who.
        by: Option<String>,
    },
    /// Comes because of the alarms of a place, whose repeats wait until then.
    Coming {
        /// The bench; `None` for the site itself.
        bench: Option<String>,
        /// Ids of the alarms that were seen.
        seen: Vec<String>,
        /// By when.
        until: Time,
        /// Who.
        by: Option<String>,
    },
}

fn one_or_more<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Vec<String>>, D::Error> {
    #[derive(Deserialize)]
    #[serde(untagged)]
    enum OneOrMore {
        One(String),
        More(Vec<String>),
    }
    Ok(Option::deserialize(deserializer)?.map(|ids| match ids {
        OneOrMore::One(id) => vec![id],
        OneOrMore::More(ids) => ids,
    }))
}

/// An entry that this version cannot read; it is to be named in the log and consumed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the entry {body:?} cannot be read: {why}")]
pub struct UnreadableEntry {
    /// Its first 200 characters.
    pub body: String,
    /// Why not.
    pub why: String,
}

/// An entry that waits, with its number.
pub type PendingEntry = (i64, Result<Entry, UnreadableEntry>);

impl Entry {
    /// Puts the entry into the store at `path`, synced; the service takes it up when it runs, at once or later. Gives its number,
    /// which is greater than those of all before it.
    ///
    /// # Errors
    /// [`StoreError::Missing`], [`StoreError::Permission`], [`StoreError::TooManyEntries`],
    /// [`StoreError::EntryTooLong`], and the reasons of [`super::Reader::open`].
    pub fn put(&self, path: &Path) -> Result<i64, StoreError> {
        let at = |error| StoreError::of(path, error);
        let mut conn = file::open_to_put(path)?;
        let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).map_err(at)?;
        put(&tx, path, self)?;
        let number = tx.last_insert_rowid();
        tx.commit().map_err(at)?;
        Ok(number)
    }
}

/// Adds an entry within a transaction of the store at `path`.
pub(super) fn put(conn: &Connection, path: &Path, entry: &Entry) -> Result<(), StoreError> {
    let at = |error| StoreError::of(path, error);
    let body = serde_json::to_string(entry)
        .map_err(|error| StoreError::Bug { path: path.to_owned(), invariant: error.to_string() })?;
    if body.len() > MAX_ENTRY_BYTES {
        return Err(StoreError::EntryTooLong { bytes: body.len(), most: MAX_ENTRY_BYTES });
    }
    let pending: i64 = conn.query_row("SELECT count(*) FROM entry", [], |row| row.get(0)).map_err(at)?;
    if pending >= MAX_PENDING_ENTRIES {
        return Err(StoreError::TooManyEntries { path: path.to_owned(), pending });
    }
    conn.execute("INSERT INTO entry (body) VALUES (?1)", params![body]).map_err(at)?;
    Ok(())
}

impl Reader {
    /// What commands put in and the service has yet to take up, oldest first; what this version cannot read is left out.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn pending_entries(&self) -> Result<Vec<Entry>, StoreError> {
        let read = || -> rusqlite::Result<Vec<String>> {
            self.conn
                .prepare("SELECT body FROM entry ORDER BY id")?
                .query_map([], |row| row.get(0))?
                .collect()
        };
        let bodies = read().map_err(|error| self.error(error))?;
        Ok(bodies.iter().filter_map(|body| serde_json::from_str(body).ok()).collect())
    }
}

impl Store {
    /// Whether another connection has committed anything since the last question; true the first time.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn others_wrote(&mut self) -> Result<bool, StoreError> {
        let version: i64 = self
            .conn
            .query_row("PRAGMA data_version", [], |row| row.get(0))
            .map_err(|error| self.error(error))?;
        Ok(self.data_version.replace(version) != Some(version))
    }

    /// The entries that wait, oldest first, with the numbers to hand back in [`super::Batch::consumed`].
    ///
    /// # Errors
    /// The disk's troubles; [`Store::others_wrote`] then says so again, that no entry is passed over.
    pub fn pending_entries(&mut self) -> Result<Vec<PendingEntry>, StoreError> {
        let read = || -> rusqlite::Result<Vec<_>> {
            self.conn
                .prepare_cached("SELECT id, body FROM entry ORDER BY id")?
                .query_map([], |row| {
                    let body: String = row.get(1)?;
                    let entry = serde_json::from_str(&body).map_err(|error| UnreadableEntry {
                        body: body.chars().take(200).collect(),
                        why: error.to_string(),
                    });
                    Ok((row.get(0)?, entry))
                })?
                .collect()
        };
        let pending = read();
        if pending.is_err() {
            self.data_version = None;
        }
        pending.map_err(|error| self.error(error))
    }
}

pub(super) fn consume(conn: &Connection, consumed: &[i64]) -> rusqlite::Result<()> {
    let mut remove = conn.prepare_cached("DELETE FROM entry WHERE id = ?1")?;
    for id in consumed {
        remove.execute([id])?;
    }
    Ok(())
}
