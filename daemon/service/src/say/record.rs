//! The record: what cannot be written, is damaged, or was taken away.

use std::path::Path;

use bloom_model::message::Words;
use bloom_model::time::Time;

use crate::keeper::KeeperError;
use crate::store::StoreError;

/// Faults that are named to the phone; the log has all.
const NAMED_AT_MOST: usize = 2;

/// The record was looked through and nothing is wrong any more.
pub(crate) const SOUND_AGAIN: &str = "The record was looked through again and is sound.";

/// What of the record is in the way, in a few words.
const fn cause(why: &KeeperError) -> &'static str {
    let KeeperError::Store(why) = why else { return "a fault of the program" };
    match why {
        StoreError::DiskFull { .. } => "the disk is full",
        StoreError::Locked { .. } | StoreError::Kept { .. } => "another program holds the file",
        StoreError::Damaged { .. } => "the file is damaged",
        StoreError::Permission { .. } => "no permission for the file",
        StoreError::Disk { .. } => "the disk fails",
        StoreError::Missing { .. } => "the file is not there",
        StoreError::Newer { .. } | StoreError::Older { .. } | StoreError::Foreign { .. } => {
            "the file is of another version or program"
        }
        _ => "it cannot be written",
    }
}

/// Nothing can be written.
pub(crate) fn nothing_recorded(words: &Words<'_>, since: Time, why: &KeeperError) -> String {
    format!(
        "Nothing has been recorded since {}: {}. Watch and alarms go on. Mend it within four hours, or readings are lost. In full: {why}.",
        words.day_clock(since),
        cause(why)
    )
}

/// What did not fit into memory while nothing could be written.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Lost {
    pub(crate) readings: usize,
    pub(crate) events: usize,
    pub(crate) messages: usize,
}

/// Everything is written again.
pub(crate) fn recorded_again(lost: Lost) -> String {
    let Lost { readings, events, messages } = lost;
    if lost == Lost::default() {
        "The record is written again: nothing was lost.".to_owned()
    } else {
        format!(
            "The record is written again: {readings} readings, {events} events and {messages} messages did not fit into memory and are lost."
        )
    }
}

/// A look through the record found faults.
pub(crate) fn not_sound(faults: &[String]) -> String {
    let named = faults.get(..NAMED_AT_MOST).unwrap_or(faults).join("; ");
    let more = match faults.len().saturating_sub(NAMED_AT_MOST) {
        0 => String::new(),
        more => format!(", and {more} more (see the log)"),
    };
    if faults.iter().all(|fault| fault.contains("chmod")) {
        return format!("The record is open to others; watch and alarms go on. Found: {named}{more}.");
    }
    format!(
        "The record is not sound; watch and alarms go on. Copy the file away, stop the service, put back a backup (`anthesisd restore \
         FILE`) and start it; then look at the disk's health. Found: {named}{more}."
    )
}

/// The record that was there at the last start is gone, and an empty one was begun. `saved` is what was saved of it.
pub(crate) fn was_here(words: &Words<'_>, written: Option<Time>, saved: Option<&Path>) -> String {
    let written = written
        .map_or(String::new(), |time| format!(" What is gone was last written {}.", words.date_clock(time)));
    let saved = saved.map_or("put back a backup".to_owned(), |saved| {
        format!("put back what was saved: {}", saved.display())
    });
    format!(
        "The record is gone, an empty one was begun; the watch goes on as it was left. Stop the service, {saved} (`anthesisd restore \
         FILE`), and start it.{written}"
    )
}

/// The record is an older copy than what was written.
pub(crate) fn older(words: &Words<'_>, written: Option<Time>) -> String {
    let written = written.map_or(String::new(), |time| {
        format!(" The newer one was written until {}.", words.date_clock(time))
    });
    format!(
        "The record is an older copy; the watch goes on as it was left. Stop the service, put back the newer one or a backup (`anthesisd \
         restore FILE`), and start it.{written}"
    )
}

/// The record was removed or replaced under the running service.
pub(crate) fn taken_away(path: &Path) -> String {
    format!(
        "The record was removed or replaced; the watch goes on. What was open is saved beside it. Stop the service before you move or \
         replace its record ({}).",
        path.display()
    )
}

/// It is in its place again; `saved` is what was open before.
pub(crate) fn in_place(saved: Option<&Path>) -> String {
    let saved = saved
        .map_or(String::new(), |saved| format!(" What was open before is saved as {}.", saved.display()));
    format!("The record is in its place again, and is written on.{saved}")
}
