//! What befell the site itself: its record, its lines, its clock, and the database that takes copies.

use std::sync::Arc;

use chrono::TimeDelta;

use super::EventKind;
use crate::time::Time;

/// What befell it, or is over.
#[derive(Debug, Clone, PartialEq)]
pub enum SiteTrouble {
    /// Nothing comes by a line.
    LineDead {
        /// Why it cannot be read, with what to do; `None` where it can be and nobody speaks.
        why: Option<String>,
        /// Benches that nobody watches meanwhile.
        unwatched: Vec<Arc<str>>,
        /// Benches that are not read.
        not_read: Vec<Arc<str>>,
    },
    /// A line has worked again for a while.
    LineWorks {
        /// The benches that come by it.
        read: Vec<Arc<str>>,
    },
    /// The machine's clock is not to be trusted.
    ClockWrong {
        /// Why.
        doubt: ClockTrouble,
        /// What it says.
        claimed: Option<Time>,
    },
    /// It is to be trusted again.
    ClockRight,
    /// Nothing can be written into the record.
    NotRecorded {
        /// What is in the way.
        fault: RecordFault,
        /// The same as the log has it.
        in_full: String,
    },
    /// The record is written again.
    RecordedAgain(Lost),
    /// A look through the record found these faults.
    NotSound(Vec<String>),
    /// A look through it finds nothing wrong any more.
    SoundAgain,
    /// The record that was there at the last start is gone, and an empty one was begun.
    RecordGone {
        /// When it was last written.
        written: Option<Time>,
        /// The file in which it was saved.
        saved: Option<String>,
    },
    /// The record is an older copy than what was written.
    RecordOlder {
        /// Until when the newer one was written.
        written: Option<Time>,
    },
    /// The record was removed or replaced under the running service.
    RecordTakenAway,
    /// It is in its place again.
    RecordInPlace {
        /// The file in which what was open before is saved.
        saved: Option<String>,
    },
    /// The database has taken nothing for long.
    NoCopies {
        /// Why.
        why: String,
    },
    /// It has taken everything.
    AllCopied,
}

impl SiteTrouble {
    /// The kind of the event that tells it.
    pub const fn kind(&self) -> EventKind {
        match self {
            Self::LineDead { .. } => EventKind::IntakeDown,
            Self::LineWorks { .. } => EventKind::IntakeDownOver,
            Self::ClockWrong { .. } => EventKind::ClockUntrusted,
            Self::ClockRight => EventKind::ClockUntrustedOver,
            Self::NotRecorded { .. } | Self::NotSound(_) => EventKind::StoreFailing,
            Self::RecordedAgain(_) | Self::SoundAgain => EventKind::StoreFailingOver,
            Self::RecordGone { .. } | Self::RecordOlder { .. } | Self::RecordTakenAway => {
                EventKind::StoreReplaced
            }
            Self::RecordInPlace { .. } => EventKind::StoreReplacedOver,
            Self::NoCopies { .. } => EventKind::ReadingsBehind,
            Self::AllCopied => EventKind::ReadingsBehindOver,
        }
    }
}

/// Why the machine's time is not to be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockTrouble {
    /// The time of day lies before the newest reading, or before this version was made.
    NotSet,
    /// The time of day was set by so much: forward, or back where it is negative.
    Stepped(TimeDelta),
    /// The time of day has not been had from elsewhere since the start.
    NotSynchronised,
}

/// What of the record is in the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RecordFault {
    /// The disk is full.
    DiskFull,
    /// Another program holds the file.
    Held,
    /// The file is damaged.
    Damaged,
    /// There is no permission for the file.
    Permission,
    /// The disk fails.
    Disk,
    /// The file is not there.
    Missing,
    /// The file is of another version or program.
    Foreign,
    /// It cannot be written.
    Other,
    /// A fault of the program.
    Program,
}

/// What did not fit into memory while nothing could be written.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub struct Lost {
    /// Readings.
    pub readings: usize,
    /// Events.
    pub events: usize,
    /// Messages that had not left.
    pub messages: usize,
}
