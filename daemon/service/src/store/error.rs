//! What can be wrong with the record, and what to do about it.

use std::io;
use std::path::{Path, PathBuf};

use bloom_model::event::RecordFault;
use rusqlite::ErrorCode;

/// Why the record could not be opened, read or written: what, which file, and what to do.
#[derive(Debug, Clone, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The file was written by a newer `anthesisd`.
    #[error(
        "the store {path} is of version {found}, and this anthesisd knows versions up to {known}: install the anthesisd \
         that wrote it, or name another file as `path` under [store]", path = path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: i64,
        /// The newest version known here.
        known: i64,
    },
    /// The file is of an earlier version and is not this process's to change.
    #[error(
        "the store {path} is of version {found}, and version {known} is needed: start the service once, it brings the \
         store up to date", path = path.display()
    )]
    Older {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: i64,
        /// The version needed.
        known: i64,
    },
    /// The file is something else.
    #[error(
        "{path} is no store of anthesisd ({why}), and it was left as it is: name another file as `path` under [store], \
         or move this one away", path = path.display()
    )]
    Foreign {
        /// The file.
        path: PathBuf,
        /// How that showed.
        why: String,
    },
    /// The file is ours and broken.
    #[error(
        "the store {path} is damaged ({why}): stop the service and put back a backup (`anthesisd restore FILE`), or move the \
         file away so that a new one is begun; then look at the disk's health", path = path.display()
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        why: String,
    },
    /// There is no record to read or to put an entry into.
    #[error(
        "there is no store at {path}: start the service once, or correct `path` under [store]", path = path.display()
    )]
    Missing {
        /// The file looked for.
        path: PathBuf,
    },
    /// The system refuses access.
    #[error(
        "no permission for the store {path} ({why}): run this as the user that the service runs as, or as root; the \
         file and its directory must be that user's, and writable to it", path = path.display()
    )]
    Permission {
        /// The file.
        path: PathBuf,
        /// The system's words.
        why: String,
    },
    /// The disk, or the quota, is full.
    #[error(
        "no space left for the store {path}: free some on that file system (`df` shows how much there is; old logs and \
         package caches go first), then it goes on by itself", path = path.display()
    )]
    DiskFull {
        /// The file.
        path: PathBuf,
    },
    /// Another process held the file for longer than we wait.
    #[error(
        "the store {path} is locked by another process (`fuser -v {path}` names it): end that one, then try again",
        path = path.display()
    )]
    Locked {
        /// The file.
        path: PathBuf,
    },
    /// Another process keeps the record.
    #[error(
        "the store {path} is kept by another anthesisd: only one may write it; stop the service first, or name another \
         file", path = path.display()
    )]
    Kept {
        /// The file.
        path: PathBuf,
    },
    /// Entries pile up because nobody takes them.
    #[error(
        "{pending} entries wait in the store {path} and none was added: nobody takes them up, so see whether the \
         service runs", path = path.display()
    )]
    TooManyEntries {
        /// The file.
        path: PathBuf,
        /// How many wait.
        pending: i64,
    },
    /// An entry that is longer than anything a person would say.
    #[error("the entry has {bytes} bytes, and at most {most} are taken: shorten the note")]
    EntryTooLong {
        /// Its length.
        bytes: usize,
        /// The most that is taken.
        most: usize,
    },
    /// The bloom book holds as much as it ever will.
    #[error(
        "the bloom book in {path} holds {most} entries and takes no more: export it, and begin a new store",
        path = path.display()
    )]
    BookFull {
        /// The file.
        path: PathBuf,
        /// The most that it holds.
        most: usize,
    },
    /// A file that was to be made is there already.
    #[error("{path} is there already, and was left as it is: give another name", path = path.display())]
    Taken {
        /// The file.
        path: PathBuf,
    },
    /// The disk fails.
    #[error(
        "the store {path} cannot be read or written ({why}): look at the disk (`dmesg` has its words) and whether it is \
         mounted", path = path.display()
    )]
    Disk {
        /// The file.
        path: PathBuf,
        /// The system's words.
        why: String,
    },
    /// A bug of ours; nothing was written.
    #[error("a bug of anthesisd: {invariant} (store {path}); nothing was written, please report it", path = path.display())]
    Bug {
        /// The file.
        path: PathBuf,
        /// What does not hold.
        invariant: String,
    },
}

impl StoreError {
    /// What of the record is in the way, for a message to people.
    pub const fn fault(&self) -> RecordFault {
        match self {
            Self::DiskFull { .. } => RecordFault::DiskFull,
            Self::Locked { .. } | Self::Kept { .. } => RecordFault::Held,
            Self::Damaged { .. } => RecordFault::Damaged,
            Self::Permission { .. } => RecordFault::Permission,
            Self::Disk { .. } => RecordFault::Disk,
            Self::Missing { .. } => RecordFault::Missing,
            Self::Newer { .. } | Self::Older { .. } | Self::Foreign { .. } => RecordFault::Foreign,
            _ => RecordFault::Other,
        }
    }

    /// Sorts SQLite's error by what a person can do about it.
    pub(super) fn of(path: &Path, error: rusqlite::Error) -> Self {
        let why = error.to_string();
        let path = path.to_owned();
        let code = match &error {
            rusqlite::Error::SqliteFailure(failure, _) => failure.code,
            rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::IntegralValueOutOfRange(..)
            | rusqlite::Error::InvalidColumnType(..) => ErrorCode::DatabaseCorrupt,
            _ => ErrorCode::InternalMalfunction,
        };
        match code {
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked | ErrorCode::FileLockingProtocolFailed => {
                Self::Locked { path }
            }
            ErrorCode::DiskFull => Self::DiskFull { path },
            ErrorCode::PermissionDenied | ErrorCode::ReadOnly => Self::Permission { path, why },
            ErrorCode::NotADatabase => Self::Foreign { path, why: "it is no SQLite file".to_owned() },
            ErrorCode::DatabaseCorrupt => Self::Damaged { path, why },
            ErrorCode::CannotOpen | ErrorCode::SystemIoFailure | ErrorCode::NoLargeFileSupport => {
                Self::Disk { path, why }
            }
            _ => Self::Bug { path, invariant: why },
        }
    }

    /// Sorts the system's error likewise.
    pub(super) fn of_io(path: &Path, error: &io::Error) -> Self {
        let path = path.to_owned();
        match error.kind() {
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                Self::Permission { path, why: error.to_string() }
            }
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull { path },
            io::ErrorKind::NotFound => Self::Missing { path },
            _ => Self::Disk { path, why: error.to_string() },
        }
    }
}

/// A stored text that names nothing this version knows.
pub(super) fn unreadable(
    column: usize,
    why: impl std::error::Error + Send + Sync + 'static,
) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, Box::new(why))
}

/// A name that is not among those known.
#[derive(Debug, thiserror::Error)]
#[error("{0:?} is unknown here")]
pub(super) struct UnknownName(pub(super) String);
