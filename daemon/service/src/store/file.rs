//! Opening the file: who may, how it is made, what it must be.

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io;
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use super::error::StoreError;
use super::feeding;
use super::guard::Keeping;
use super::place::FileId;
use super::schema::{Identity, LADDER, identify, migrate, newest_version};
use super::sealed;

/// How long to wait while another process commits, before saying that the file is locked.
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);
/// The write-ahead log is cut back to this after it grew, in an import say; else the largest size would stay.
const WAL_LIMIT_BYTES: i64 = 16 << 20;
/// The write-ahead log is moved into the file whenever it has grown to this, which is every few hours: a page that was written again
/// since, or let go, is then written once or never. What was committed lies on the disk in the log meanwhile.
const MOVED_AT_BYTES: i64 = 14 << 20;
/// Of a new file. A round of readings fills some of these; of larger ones the last is written again and again for a few readings.
const PAGE_BYTES: i64 = 1 << 10;

/// Opens, creates or migrates the file for its one keeper, which it is as long as it holds the claim; says which file it is.
pub(super) fn open_to_keep(path: &Path) -> Result<(Keeping, Connection, FileId), StoreError> {
    create_if_missing(path)?;
    let keeping = Keeping::claim(path)?.ok_or_else(|| StoreError::Kept { path: path.to_owned() })?;
    let which = || FileId::at(path).map_err(|error| StoreError::of_io(path, &error));
    let before = which()?;
    let conn = open_and_migrate(path)?;
    match which()? {
        file if file == before => Ok((keeping, conn, file)),
        _ => Err(StoreError::Disk { path: path.to_owned(), why: "it was replaced just now".to_owned() }),
    }
}

/// As [`open_to_keep`], but content to write beside a keeper if the file is of this version already.
pub(super) fn open_to_import(path: &Path) -> Result<(Option<Keeping>, Connection), StoreError> {
    create_if_missing(path)?;
    match Keeping::claim(path)? {
        Some(keeping) => Ok((Some(keeping), open_and_migrate(path)?)),
        None => Ok((None, open_to_put(path)?)),
    }
}

/// Opens an existing file of this version to write to it beside its keeper.
pub(super) fn open_to_put(path: &Path) -> Result<Connection, StoreError> {
    let conn = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    must_be_current(path, &conn)?;
    prepare_to_write(path, &conn)?;
    Ok(conn)
}

/// Opens an existing file of this version to read it.
pub(super) fn open_to_read(path: &Path) -> Result<Connection, StoreError> {
    let conn = connect_to_read(path)?;
    must_be_current(path, &conn)?;
    Ok(conn)
}

/// Opens an existing file to read it, whatever it is.
pub(super) fn connect_to_read(path: &Path) -> Result<Connection, StoreError> {
    connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY)
}

/// How closely the file is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// Every page and every row is where it must be, and readings that are not sealed yet are those that were committed.
    Quick,
    /// Also that every sealed day unpacks to what was sealed.
    Sealed,
    /// Also that indexes and rows say the same: it takes several times as long.
    Full,
}

pub(super) fn integrity_check(
    path: &Path,
    conn: &Connection,
    depth: Depth,
) -> Result<Vec<String>, StoreError> {
    let read = || -> rusqlite::Result<Vec<String>> {
        let sql = match depth {
            Depth::Quick | Depth::Sealed => "PRAGMA quick_check",
            Depth::Full => "PRAGMA integrity_check",
        };
        let mut said: Vec<String> =
            conn.prepare(sql)?.query_map([], |row| row.get(0))?.collect::<rusqlite::Result<_>>()?;
        said.retain(|line| line != "ok");
        // a file that was made by an earlier version is looked at as far as it goes
        if identify(path, conn, LADDER).is_ok_and(|found| found == Identity::Ours(newest_version(LADDER))) {
            // at one moment: whoever writes goes on
            said.extend(feeding::faults(&*conn.unchecked_transaction()?)?);
        }
        if depth != Depth::Quick {
            said.extend(sealed::faults(conn)?);
        }
        Ok(said)
    };
    match read() {
        Ok(said) => Ok(said),
        Err(error) => match StoreError::of(path, error) {
            StoreError::Damaged { why, .. } => Ok(vec![why]),
            error => Err(error),
        },
    }
}

fn open_and_migrate(path: &Path) -> Result<Connection, StoreError> {
    let mut conn = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    // looked at before the journal mode is set: a file that is not ours stays as it is
    if identify(path, &conn, LADDER)? == Identity::Empty {
        conn.pragma_update(None, "page_size", PAGE_BYTES).map_err(|error| StoreError::of(path, error))?;
    }
    prepare_to_write(path, &conn)?;
    migrate(path, &mut conn, LADDER)?;
    Ok(conn)
}

fn connect(path: &Path, access: OpenFlags) -> Result<Connection, StoreError> {
    // SQLite says no more than "unable to open": the system knows whether it is missing, forbidden or a directory
    let found = fs::metadata(path).map_err(|error| StoreError::of_io(path, &error))?;
    if !found.is_file() {
        return Err(StoreError::Foreign { path: path.to_owned(), why: "it is no regular file".to_owned() });
    }
    let at = |error| StoreError::of(path, error);
    let conn = match Connection::open_with_flags(path, access | OpenFlags::SQLITE_OPEN_NO_MUTEX) {
        Err(rusqlite::Error::SqliteFailure(failure, _))
            if failure.code == rusqlite::ErrorCode::CannotOpen =>
        {
            return Err(StoreError::Permission {
                path: path.to_owned(),
                why: "it cannot be opened".to_owned(),
            });
        }
        opened => opened.map_err(at)?,
    };
    conn.busy_timeout(BUSY_TIMEOUT).map_err(at)?;
    conn.pragma_update(None, "trusted_schema", false).map_err(at)?;
    conn.pragma_update(None, "cell_size_check", true).map_err(at)?;
    // sorting is done in small portions; a file for it would need a writable directory that the sandbox may not give
    conn.pragma_update(None, "temp_store", "MEMORY").map_err(at)?;
    Ok(conn)
}

fn must_be_current(path: &Path, conn: &Connection) -> Result<(), StoreError> {
    let known = newest_version(LADDER);
    match identify(path, conn, LADDER)? {
        Identity::Empty => Err(StoreError::Missing { path: path.to_owned() }),
        Identity::Ours(found) if found < known => {
            Err(StoreError::Older { path: path.to_owned(), found, known })
        }
        Identity::Ours(_) => Ok(()),
    }
}

fn prepare_to_write(path: &Path, conn: &Connection) -> Result<(), StoreError> {
    let at = |error| StoreError::of(path, error);
    // SQLite is content to read where it may not write, be it for a moment, and would stay so for good
    if conn.is_readonly(rusqlite::MAIN_DB).map_err(at)? {
        let why = "it cannot be opened for writing".to_owned();
        return Err(StoreError::Permission { path: path.to_owned(), why });
    }
    let mode: String =
        conn.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0)).map_err(at)?;
    if mode != "wal" {
        return Err(StoreError::Disk {
            path: path.to_owned(),
            why: format!(
                "its file system allows no write-ahead log, journal mode stays {mode}: it must be a local one"
            ),
        });
    }
    // the log itself is synced with every commit: a confirmed commit outlives a power cut
    conn.pragma_update(None, "synchronous", "FULL").map_err(at)?;
    let page: i64 = conn.query_row("PRAGMA page_size", [], |row| row.get(0)).map_err(at)?;
    let pages = MOVED_AT_BYTES / page.max(1);
    conn.pragma_update_and_check(None, "wal_autocheckpoint", pages, |_| Ok(())).map_err(at)?;
    conn.pragma_update(None, "journal_size_limit", WAL_LIMIT_BYTES).map_err(at)
}

fn create_if_missing(path: &Path) -> Result<(), StoreError> {
    make_directory_of(path)?;
    match create_new(path) {
        Err(StoreError::Taken { .. }) => Ok(()),
        other => other,
    }
}

/// Makes an empty file for its owner alone.
pub(super) fn create_new(path: &Path) -> Result<(), StoreError> {
    let made = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path);
    made.and_then(|file| file.sync_all())
        // the name itself must be on the disk before anything that is confirmed
        .and_then(|()| File::open(directory_of(path))?.sync_all())
        .map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => StoreError::Taken { path: path.to_owned() },
            _ => StoreError::of_io(path, &error),
        })
}

/// Makes the file's directory where there is none, for its owner alone, and names it.
pub(super) fn make_directory_of(path: &Path) -> Result<&Path, StoreError> {
    let directory = directory_of(path);
    // what fails here has the directory's name: that is where the remedy is
    let in_directory = |error: io::Error| match error.kind() {
        io::ErrorKind::AlreadyExists | io::ErrorKind::NotADirectory => {
            StoreError::Disk { path: directory.to_owned(), why: "its place is taken by a file".to_owned() }
        }
        _ => StoreError::of_io(directory, &error),
    };
    DirBuilder::new().recursive(true).mode(0o700).create(directory).map_err(in_directory)?;
    Ok(directory)
}

fn directory_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}
