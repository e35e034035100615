//! The whole book as JSON Lines, out and in again.
//!
//! A line an object in UTF-8, its kind in `table`: first `book` (the format's version and the site), then `entry` (an entry of
//! the book with its number), `sign` (what was booked at a bench, signs and taped values), `event` (an event of a bloom's life,
//! as it was published). Times are RFC 3339, units stand in the names. What goes out comes in again exactly.

use std::collections::BTreeSet;
use std::io::{self, BufRead, Write};

use bloom_model::book::entry::Entry;
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use crate::store::{BookEvent, ImportedBook, MAX_BOOK_ENTRIES, Reader, Recorded, StoreError};
use crate::words;

/// The version of the format.
pub const FORMAT: u32 = 1;
/// Length of a line at most: far above any entry.
const LONGEST_LINE: u64 = 1 << 20;
/// Lines at most.
const MOST_LINES: usize = 4 * MAX_BOOK_ENTRIES;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Table {
    Book,
    Entry,
    Sign,
    Event,
}

/// What every line has; the rest is read by its kind.
#[derive(Deserialize)]
struct Head {
    table: Table,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct BookLine {
    table: Table,
    format: u32,
    site: String,
}

#[derive(Serialize, Deserialize)]
struct EntryLine {
    table: Table,
    #[serde(flatten)]
    entry: Entry,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SignLine {
    table: Table,
    bench: String,
    time: Time,
    /// A sign's text, or the quantity of `value`.
    what: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    value: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    note: Option<String>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EventLine {
    table: Table,
    event: Box<RawValue>,
}

/// What of an event the store needs to know.
#[derive(Deserialize)]
struct EventHead {
    id: String,
    time: Time,
}

/// Why a book cannot be written out.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Whoever reads.
    #[error(transparent)]
    Out(#[from] io::Error),
}

/// Writes the whole book.
///
/// # Errors
/// The store's troubles, or those of what it is written to.
pub fn export(reader: &Reader, site: &str, out: &mut impl Write) -> Result<(), ExportError> {
    write_line(out, &BookLine { table: Table::Book, format: FORMAT, site: site.to_owned() })?;
    for entry in reader.book()? {
        write_line(out, &EntryLine { table: Table::Entry, entry })?;
    }
    for recorded in reader.booked_by_hand()? {
        let (what, value) = match recorded.observed {
            Observed::Value(quantity, value) => (quantity.name().to_owned(), Some(value)),
            Observed::Sign(sign) => (sign.to_string(), None),
        };
        let Recorded { bench, time, by, note, .. } = recorded;
        let bench = bench.to_string();
        write_line(out, &SignLine { table: Table::Sign, bench, time, what, value, by, note })?;
    }
    for event in reader.life_events(Time::from_unix_ms(i64::MAX))? {
        let event = RawValue::from_string(event.payload).map_err(io::Error::from)?;
        write_line(out, &EventLine { table: Table::Event, event })?;
    }
    Ok(())
}

fn write_line(out: &mut impl Write, line: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    out.write_all(b"\n")
}

/// Why a file is no book.
#[derive(Debug, thiserror::Error)]
pub enum ReadBookError {
    /// It cannot be read.
    #[error(transparent)]
    In(#[from] io::Error),
    /// A line is wrong.
    #[error("line {line}: {what}; nothing was imported")]
    Line {
        /// Its number, from 1.
        line: usize,
        /// What is wrong and what would be right.
        what: String,
    },
}

/// Reads a whole book; every line must be right.
///
/// # Errors
/// The first line that is not.
pub fn read(mut lines: impl BufRead) -> Result<ImportedBook, ReadBookError> {
    let mut book = ImportedBook::default();
    let mut seen = BTreeSet::new();
    let mut text = String::new();
    for line in 1.. {
        let wrong = |what: String| ReadBookError::Line { line, what };
        text.clear();
        let read = io::Read::take(&mut lines, LONGEST_LINE).read_line(&mut text).map_err(|error| {
            if error.kind() == io::ErrorKind::InvalidData {
                wrong("it is not UTF-8".to_owned())
            } else {
                error.into()
            }
        })?;
        if read == 0 {
            break;
        }
        if read as u64 >= LONGEST_LINE {
            return Err(wrong(format!("it is longer than {LONGEST_LINE} bytes")));
        }
        if line > MOST_LINES {
            return Err(wrong(format!("{MOST_LINES} lines are the most that are read")));
        }
        read_line(text.trim_end(), line == 1, &mut book, &mut seen).map_err(wrong)?;
    }
    Ok(book)
}

fn read_line(
    text: &str,
    first: bool,
    book: &mut ImportedBook,
    seen: &mut BTreeSet<u64>,
) -> Result<(), String> {
    let no_line = |error: serde_json::Error| format!("it is no line of a book: {error}");
    let head: Head = serde_json::from_str(text).map_err(no_line)?;
    if first != (head.table == Table::Book) {
        return Err("a book begins with one line {\"table\":\"book\",\"format\":1,…}".to_owned());
    }
    match head.table {
        Table::Book => {
            let line: BookLine = serde_json::from_str(text).map_err(no_line)?;
            if line.format != FORMAT {
                return Err(format!(
                    "it is of format {}, and this anthesisd reads format {FORMAT}",
                    line.format
                ));
            }
        }
        Table::Entry => {
            let line: EntryLine = serde_json::from_str(text).map_err(no_line)?;
            all_was_read(text, &line)?;
            let entry = line.entry;
            entry.check().map_err(|error| error.to_string())?;
            let number = entry.number;
            if !seen.insert(number) || number == 0 {
                return Err(format!("entry {number} stands twice, or is no number from 1 on"));
            }
            if entry.corrects.is_some_and(|corrects| !seen.contains(&corrects)) {
                return Err(format!("entry {number} corrects one that does not stand before it"));
            }
            book.entries.push(entry);
        }
        Table::Sign => {
            let line: SignLine = serde_json::from_str(text).map_err(no_line)?;
            let SignLine { bench, time, what, value, by, note, .. } = line;
            let observed = match value {
                Some(value) => {
                    let quantity =
                        Quantity::from_name(&what).filter(|quantity| quantity.by_hand()).ok_or_else(
                            || format!("{what:?} is nothing that is taped by hand: height or girth"),
                        )?;
                    Observed::Value(quantity, quantity.possible(value).map_err(|error| error.to_string())?)
                }
                None => Observed::Sign(what.parse().map_err(|error| format!("{error}"))?),
            };
            let (note, by) = words::note_and_by(note.as_deref(), by.as_deref())?;
            book.signs.push(Recorded { bench: bench.into(), time, observed, note, by, fed: None });
        }
        Table::Event => {
            let line: EventLine = serde_json::from_str(text).map_err(no_line)?;
            let payload = line.event.get().to_owned();
            let EventHead { id, time } = serde_json::from_str(&payload).map_err(no_line)?;
            book.events.push(BookEvent { id, time, payload });
        }
    }
    Ok(())
}

/// Nothing that a line says may be passed over: written again it must say the same.
fn all_was_read(text: &str, line: &EntryLine) -> Result<(), String> {
    let said: serde_json::Value = serde_json::from_str(text).map_err(|error| error.to_string())?;
    let kept = serde_json::to_value(line).map_err(|error| error.to_string())?;
    let (Some(said), Some(kept)) = (said.as_object(), kept.as_object()) else { return Ok(()) };
    match said.keys().find(|key| !kept.contains_key(*key)) {
        Some(key) => Err(format!("{key:?} is unknown in such an entry")),
        None => Ok(()),
    }
}
