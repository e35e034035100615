//! The record: what cannot be written, is damaged, or was taken away.

use bloom_model::event::{Lost, RecordFault};
use bloom_model::time::Time;

use crate::words::Words;

/// Faults that are named to the phone; the log has all.
const NAMED_AT_MOST: usize = 2;

/// What of the record is in the way, in a few words.
const fn cause(fault: RecordFault) -> &'static str {
    match fault {
        RecordFault::DiskFull => "the disk is full",
        RecordFault::Held => "another program holds the file",
        RecordFault::Damaged => "the file is damaged",
        RecordFault::Permission => "no permission for the file",
        RecordFault::Disk => "the disk fails",
        RecordFault::Missing => "the file is not there",
        RecordFault::Foreign => "the file is of another version or program",
        RecordFault::Other => "it cannot be written",
        RecordFault::Program => "a fault of the program",
    }
}

/// Nothing can be written.
pub(super) fn nothing_recorded(words: &Words<'_>, since: Time, fault: RecordFault, in_full: &str) -> String {
    format!(
        "Nothing has been recorded since {}: {}. Watch and alarms go on. Mend it within four hours, or readings are lost. In full: {in_full}.",
        words.day_clock(since),
        cause(fault)
    )
}

/// Everything is written again.
pub(super) fn recorded_again(lost: Lost) -> String {
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
pub(super) fn not_sound(faults: &[String]) -> String {
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
pub(super) fn was_here(words: &Words<'_>, written: Option<Time>, saved: Option<&str>) -> String {
    let written = written
        .map_or(String::new(), |time| format!(" What is gone was last written {}.", words.date_clock(time)));
    let saved =
        saved.map_or("put back a backup".to_owned(), |saved| format!("put back what was saved: {saved}"));
    format!(
        "The record is gone, an empty one was begun; the watch goes on as it was left. Stop the service, {saved} (`anthesisd restore \
         FILE`), and start it.{written}"
    )
}

/// The record is an older copy than what was written.
pub(super) fn older(words: &Words<'_>, written: Option<Time>) -> String {
    let written = written.map_or(String::new(), |time| {
        format!(" The newer one was written until {}.", words.date_clock(time))
    });
    format!(
        "The record is an older copy; the watch goes on as it was left. Stop the service, put back the newer one or a backup (`anthesisd \
         restore FILE`), and start it.{written}"
    )
}

/// The record was removed or replaced under the running service.
pub(super) fn taken_away(path: &str) -> String {
    format!(
        "The record was removed or replaced; the watch goes on. What was open is saved beside it. Stop the service before you move or \
         replace its record ({path})."
    )
}

/// It is in its place again; `saved` is what was open before.
pub(super) fn in_place(saved: Option<&str>) -> String {
    let saved = saved.map_or(String::new(), |saved| format!(" What was open before is saved as {saved}."));
    format!("The record is in its place again, and is written on.{saved}")
}
