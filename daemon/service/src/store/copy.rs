//! A copy of the record into a file of its own, made while others write; and such a copy put in the record's place.

use std::fs::{self, File};
use std::io;
use std::os::unix::fs::{MetadataExt, chown};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicU64;

use bloom_model::time::Time;
use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};

use super::error::StoreError;
use super::file::{self, Depth};
use super::guard::{Keeping, lock_path};
use super::place::{FileId, beside, name_of_saved, real};
use super::schema::{Identity, LADDER, identify, newest_version};
use super::{Reader, Store};

/// Pages copied at once, 4 MB: between two of them it is told how far the copy has come.
const PAGES_AT_ONCE: i32 = 1_000;

impl Reader {
    /// Copies the record, as it is at this moment, into a new file `to` (mode 0600), and returns when it is on the disk. Whoever
    /// writes the record meanwhile is not held up. `passed` is told how far it has come, as a share of the whole.
    ///
    /// # Errors
    /// The disk's troubles, with the file at fault; then no `to` is left. One that was there before is left as it was.
    pub fn copy_to(&self, to: &Path, passed: impl FnMut(f64)) -> Result<(), StoreError> {
        copy(&self.path, &self.conn, to, passed)
    }
}

impl Store {
    /// Saves the open record, whose file was taken away or replaced, beside its place, under a name of its own that is given; and
    /// puts it back where nothing has come in its place, which is said.
    ///
    /// # Errors
    /// The disk's troubles; then the record is open as before.
    pub fn save_aside(&self, now: Time) -> Result<(PathBuf, bool), StoreError> {
        let place = real(&self.path);
        file::make_directory_of(&place)?;
        // a write-ahead log that is found beside another file would be played into that one; the open record has it all the same
        let log = beside(&place, "-wal");
        if self.log.is_some()
            && FileId::at(&log).ok() == self.log
            && FileId::at(&place).ok() != Some(self.file)
        {
            for name in [log, beside(&place, "-shm")] {
                fs::remove_file(&name)
                    .or_else(none_is_well)
                    .map_err(|error| StoreError::of_io(&name, &error))?;
            }
        }
        let saved = name_of_saved(&place, now);
        copy(&self.path, &self.conn, &saved, |_| {})?;
        Ok((saved.clone(), put_back(&saved, &place)?))
    }
}

/// Puts a copy of a saved record at a place where there is none; says whether that was so.
fn put_back(saved: &Path, place: &Path) -> Result<bool, StoreError> {
    if fs::symlink_metadata(place).is_ok() {
        return Ok(false);
    }
    let new = beside(place, ".restored");
    let put = || -> io::Result<bool> {
        fs::remove_file(&new).or_else(none_is_well)?;
        fs::copy(saved, &new)?;
        File::open(&new)?.sync_all()?;
        // a name is given, never taken over
        match fs::hard_link(&new, place) {
            Ok(()) => Ok(true),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(false),
            Err(error) => Err(error),
        }
    };
    let outcome = put().map_err(|error| StoreError::of_io(place, &error));
    let _ = fs::remove_file(&new);
    outcome
}

fn none_is_well(error: io::Error) -> io::Result<()> {
    if error.kind() == io::ErrorKind::NotFound { Ok(()) } else { Err(error) }
}

/// Copies the record that `conn` has open as `path` into a new file.
fn copy(path: &Path, conn: &Connection, to: &Path, passed: impl FnMut(f64)) -> Result<(), StoreError> {
    file::create_new(to)?;
    fill(path, conn, to, passed).inspect_err(|_| {
        // what is half there helps nobody; if it cannot be removed, its end shows that it is no record
        let _ = fs::remove_file(to);
    })
}

fn fill(path: &Path, conn: &Connection, to: &Path, mut passed: impl FnMut(f64)) -> Result<(), StoreError> {
    let at = |error| StoreError::of(to, error);
    let ours = |error| StoreError::of(path, error);
    let mut copy = Connection::open(to).map_err(at)?;
    // one view of the record from the first page to the last
    let view = conn.unchecked_transaction().map_err(ours)?;
    view.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(())).map_err(ours)?;
    let pages = Backup::new(&view, &mut copy).map_err(at)?;
    loop {
        let step = pages.step(PAGES_AT_ONCE).map_err(at)?;
        let progress = pages.progress();
        passed(1.0 - f64::from(progress.remaining) / f64::from(progress.pagecount.max(1)));
        match step {
            StepResult::Done => break,
            StepResult::More => {}
            _ => return Err(StoreError::Locked { path: path.to_owned() }),
        }
    }
    drop(pages);
    // without a write-ahead log it is one file, and can be read where nothing can be written
    let mode = copy.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0));
    mode.map_err(at)?;
    copy.close().map_err(|(_, error)| at(error))?;
    let synced = File::open(to).and_then(|file| file.sync_all());
    synced.map_err(|error| StoreError::of_io(to, &error))
}

/// Puts a copy of a record, of this or an earlier version, in the place of the one at `to`, which is moved aside and not
/// removed: its new name is given, if there was one. `passed` is told how far it has come.
///
/// # Errors
/// [`StoreError::Kept`] while the service runs; [`StoreError::Foreign`], [`StoreError::Newer`] and [`StoreError::Damaged`] by
/// what the copy is; the disk's troubles. Then the record is as it was.
pub fn restore(from: &Path, to: &Path, passed: impl FnMut(f64)) -> Result<Option<PathBuf>, StoreError> {
    let to = &real(to);
    let conn = file::connect_to_read(from)?;
    let version = match identify(from, &conn, LADDER)? {
        Identity::Empty => return Err(StoreError::Missing { path: from.to_owned() }),
        Identity::Ours(version) => version,
    };
    let folder = file::make_directory_of(to)?;
    let _keeping = Keeping::claim(to)?.ok_or_else(|| StoreError::Kept { path: to.to_owned() })?;
    let new = beside(to, ".restored");
    let at = |error: io::Error| StoreError::of_io(to, &error);
    // left by a restore that was cut short
    fs::remove_file(&new).or_else(none_is_well).map_err(|error| StoreError::of_io(&new, &error))?;
    Reader { path: from.to_owned(), conn, opened: AtomicU64::new(0) }.copy_to(&new, passed)?;
    let put = || -> Result<Option<PathBuf>, StoreError> {
        // sealed days of an earlier version are looked at when the service has brought it up to date
        let depth = if version == newest_version(LADDER) { Depth::Full } else { Depth::Quick };
        let faults = file::integrity_check(from, &file::connect_to_read(&new)?, depth)?;
        if !faults.is_empty() {
            return Err(StoreError::Damaged { path: from.to_owned(), why: faults.join("; ") });
        }
        // the record belongs to whom its folder belongs to, also where root puts it back; and so does the lock
        if rustix::process::geteuid().is_root() {
            let owner = fs::metadata(folder).map_err(at)?;
            for file in [&new, &lock_path(to)] {
                chown(file, Some(owner.uid()), Some(owner.gid())).map_err(at)?;
            }
        }
        let aside = move_aside(to).map_err(at)?;
        fs::rename(&new, to).and_then(|()| File::open(folder)?.sync_all()).map_err(at)?;
        Ok(aside)
    };
    put().inspect_err(|_| {
        let _ = fs::remove_file(&new);
    })
}

/// Gives the record at `path` another name, and leaves its own to be taken over: at no moment is there none. Its write-ahead
/// log goes with it, for a log that is found beside another file would be played into that one.
fn move_aside(path: &Path) -> io::Result<Option<PathBuf>> {
    if !path.try_exists()? {
        return Ok(None);
    }
    let free = |aside: &PathBuf| ["", "-wal", "-shm"].iter().all(|end| !beside(aside, end).exists());
    let names = (1_u32..).map(|number| match number {
        1 => beside(path, ".before-restore"),
        more => beside(path, &format!(".before-restore-{more}")),
    });
    let Some(aside) = names.take(1_000).find(free) else {
        return Err(io::Error::new(io::ErrorKind::AlreadyExists, "too many records were put aside here"));
    };
    fs::hard_link(path, &aside)?;
    for end in ["-wal", "-shm"] {
        match fs::rename(beside(path, end), beside(&aside, end)) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
    }
    Ok(Some(aside))
}
