//! The record: one SQLite file with readings, what people booked, events, standing alarms, outgoing messages and the
//! benches' state.
//!
//! One [`Store`] owns the write side. Everything that shows or forwards opens a [`Reader`] of its own; a command such as
//! `tape` puts an [`Entry`] into the file, which the keeper of the store takes up. What [`Store::commit`] confirmed is on
//! the disk, whatever happens to the process or the power; what it did not confirm is wholly absent.
//!
//! Readings are keyed by time first, so that a round of all benches lands on one page: written per bench, each row would
//! dirty a page of its own, and the flash of a small machine would wear ten times as fast. Older ones are sealed: packed by
//! bench and day. Whoever reads does not see the difference.

mod alarms;
mod book;
mod chart;
mod checkpoint;
mod commit;
mod copy;
mod cursor;
mod days;
mod entries;
mod error;
mod events;
mod feeding;
mod file;
mod forwarding;
mod guard;
mod heard;
mod hour;
mod import;
mod live;
mod mirror;
mod outbox;
mod place;
mod readings;
mod replay;
mod rows;
mod schema;
mod seal;
mod sealed;
mod series;
mod sheet;
mod summaries;
#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use rusqlite::Connection;

pub use alarms::{Alarm, Coming};
pub use book::{BookEvent, BookWriter, Booking, Draft, ImportBookError, ImportedBook, MAX_BOOK_ENTRIES};
pub use chart::{Chart, ChartPoint};
pub use checkpoint::Checkpoint;
pub use commit::{Batch, Committed};
pub use copy::restore;
pub use entries::{Entry, MAX_ENTRY_BYTES, MAX_PENDING_ENTRIES, PendingEntry, UnreadableEntry};
pub use error::StoreError;
pub use events::{EventFilter, StoredEvent, Whose};
pub use file::Depth;
pub use forwarding::{Forwarded, Forwarding, Late};
pub use guard::Watching;
pub use heard::{HeardMessage, KNOWN_AGAIN, Listened};
pub use hour::{Hour, Hours};
pub use import::{Imported, Importer};
pub use live::LiveReader;
pub use mirror::{Mirror, mirror_path};
pub use outbox::{Importance, MAX_OUTBOX_BYTES, MAX_OUTBOX_ROWS, Message, Outbox, Outgoing};
pub use place::{FileId, open_to_others, saved_beside};
pub use readings::{Recorded, Which};
pub use replay::{Replayed, Retells};
pub use series::DayInHours;

/// The write side of the record. There is one in the house at a time; a claim by the file's identity sees to it.
#[derive(Debug)]
pub struct Store {
    path: PathBuf,
    conn: Connection,
    series: readings::SeriesIds,
    /// SQLite's count of commits by other connections, as last seen.
    data_version: Option<i64>,
    /// Rows that are being sealed.
    slice: Option<seal::Slice>,
    /// Summaries of hours that are looked at, and made anew where that is needed.
    mending: summaries::Mending,
    keeping: guard::Keeping,
    file: FileId,
    /// The write-ahead log that was made for it.
    log: Option<FileId>,
}

impl Store {
    /// Opens the record at `path` as its one keeper, creates it (mode 0600, its directory 0700) if there is none, and
    /// brings a file of an earlier version up to date.
    ///
    /// # Errors
    /// [`StoreError::Kept`] if another process keeps it; [`StoreError::Newer`], [`StoreError::Foreign`] and
    /// [`StoreError::Damaged`] by what the file is; the disk's troubles otherwise.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let (keeping, conn, file) = file::open_to_keep(path)?;
        let series = readings::SeriesIds::default();
        let path = path.to_owned();
        Ok(Self {
            path,
            conn,
            series,
            data_version: None,
            slice: None,
            mending: summaries::Mending::default(),
            keeping,
            file,
            log: None,
        })
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The file that is open.
    pub const fn file(&self) -> FileId {
        self.file
    }

    /// Whether the path still leads to the file that is open, by device and inode.
    pub fn is_in_place(&mut self) -> bool {
        self.keeping.answer();
        let there = FileId::at(&self.path).ok() == Some(self.file);
        if there {
            self.log = FileId::at(&place::beside(&place::real(&self.path), "-wal")).ok();
        }
        there
    }

    /// Every fault that is found in the file: the whole of it is read. Empty if it is sound.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn integrity_check(&self, depth: Depth) -> Result<Vec<String>, StoreError> {
        file::integrity_check(&self.path, &self.conn, depth)
    }

    fn error(&self, error: rusqlite::Error) -> StoreError {
        StoreError::of(&self.path, error)
    }

    /// Has every write refused from here on, or no more.
    #[cfg(test)]
    pub(crate) fn refuse_writes(&self, refuse: bool) {
        self.conn.pragma_update(None, "query_only", refuse).expect("a setting of the connection alone");
    }
}

/// A read-only view of the record, for another thread or process than the keeper's.
#[derive(Debug)]
pub struct Reader {
    path: PathBuf,
    conn: Connection,
    /// Sheets that were opened so far.
    opened: AtomicU64,
}

impl Reader {
    /// Opens the record at `path` for reading.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is none, [`StoreError::Older`] if the service has yet to bring it up to date,
    /// and the reasons of [`Store::open`].
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Ok(Self { path: path.to_owned(), conn: file::open_to_read(path)?, opened: AtomicU64::new(0) })
    }

    /// See [`Store::integrity_check`].
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn integrity_check(&self, depth: Depth) -> Result<Vec<String>, StoreError> {
        file::integrity_check(&self.path, &self.conn, depth)
    }

    /// Has `step` called every few hundred steps of whatever is read from here on: it may rest, and says when to break off.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn at_every_step(&mut self, step: impl FnMut() -> bool + Send + 'static) -> Result<(), StoreError> {
        self.conn.progress_handler(STEPS, Some(step)).map_err(|error| self.error(error))
    }

    /// Tells what is asked for of a bench.
    fn tell(
        &self,
        asked: &cursor::CursorQuestion<'_>,
        sink: &mut impl cursor::Sink,
    ) -> Result<(), StoreError> {
        let opened = cursor::tell(&self.conn, asked, sink).map_err(|error| self.error(error))?;
        self.opened.fetch_add(opened, Ordering::Relaxed);
        Ok(())
    }

    /// How many sealed days were unpacked so far to tell what was asked of this reader: what it costs.
    pub fn sheets_opened(&self) -> u64 {
        self.opened.load(Ordering::Relaxed)
    }

    /// The summaries of hours and days that are damaged, or were made by other rules than today's: a running service makes them anew from
    /// the readings, and until then the readings themselves are read.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn damaged_summaries(&self) -> Result<Vec<String>, StoreError> {
        summaries::damaged(&self.conn).map_err(|error| self.error(error))
    }

    fn error(&self, error: rusqlite::Error) -> StoreError {
        StoreError::of(&self.path, error)
    }
}

/// Steps of SQLite's between two calls of [`Reader::at_every_step`]: a millisecond or so.
const STEPS: i32 = 2_000;

/// A running number as SQLite keeps it; the numbers of a thousand years fit.
fn to_sql(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

/// A running number as it came from SQLite.
fn from_sql(number: i64) -> u64 {
    u64::try_from(number).unwrap_or(0)
}
