//! The versions of the file, and the ladder from one to the next.

use std::path::Path;

use rusqlite::{Connection, TransactionBehavior};

use super::error::StoreError;

/// The steps: step n makes version n out of version n - 1; version 0 is an empty file.
pub(super) const LADDER: &[&str] = &[
    include_str!("schema_v1.sql"),
    include_str!("schema_v2.sql"),
    include_str!("schema_v3.sql"),
    include_str!("schema_v4.sql"),
    include_str!("schema_v5.sql"),
    include_str!("schema_v6.sql"),
    include_str!("schema_v7.sql"),
    include_str!("schema_v8.sql"),
];

/// Marks an SQLite file as ours (`PRAGMA application_id`): the letters "ANTH".
pub(super) const APPLICATION_ID: i64 = 0x414E_5448;

/// What a file turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Identity {
    /// An SQLite file with nothing in it.
    Empty,
    /// Ours, of that version.
    Ours(i64),
}

/// Looks at a file without changing it.
///
/// # Errors
/// [`StoreError::Foreign`], [`StoreError::Newer`], [`StoreError::Damaged`], or the disk's troubles.
pub(super) fn identify(path: &Path, conn: &Connection, ladder: &[&str]) -> Result<Identity, StoreError> {
    let number = |sql: &str| conn.query_row(sql, [], |row| row.get::<_, i64>(0));
    let read = || -> rusqlite::Result<(i64, i64, i64)> {
        Ok((
            number("PRAGMA application_id")?,
            number("PRAGMA user_version")?,
            number("SELECT count(*) FROM sqlite_schema")?,
        ))
    };
    let known = newest_version(ladder);
    match read().map_err(|error| StoreError::of(path, error))? {
        (0, 0, 0) => Ok(Identity::Empty),
        (APPLICATION_ID, found, _) if found > known => {
            Err(StoreError::Newer { path: path.to_owned(), found, known })
        }
        (APPLICATION_ID, found, _) => Ok(Identity::Ours(found)),
        (other, ..) => Err(StoreError::Foreign {
            path: path.to_owned(),
            why: format!("it is an SQLite file of another program, application id {other:#x}"),
        }),
    }
}

/// The version that a ladder leads to.
pub(super) fn newest_version(ladder: &[&str]) -> i64 {
    i64::try_from(ladder.len()).unwrap_or(i64::MAX)
}

/// Climbs the ladder from wherever the file stands, all of it or nothing.
///
/// # Errors
/// As [`identify`]; then the file is as it was.
pub(super) fn migrate(path: &Path, conn: &mut Connection, ladder: &[&str]) -> Result<(), StoreError> {
    let at = |error| StoreError::of(path, error);
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).map_err(at)?;
    let version = match identify(path, &tx, ladder)? {
        Identity::Empty => 0,
        Identity::Ours(version) => version,
    };
    for step in ladder.iter().skip(usize::try_from(version).unwrap_or(0)) {
        tx.execute_batch(step).map_err(at)?;
    }
    if version < newest_version(ladder) {
        tx.pragma_update(None, "application_id", APPLICATION_ID).map_err(at)?;
        tx.pragma_update(None, "user_version", newest_version(ladder)).map_err(at)?;
        if version > 0 {
            tracing::info!(from = version, to = newest_version(ladder), "store brought up to date");
        }
    }
    tx.commit().map_err(at)
}
