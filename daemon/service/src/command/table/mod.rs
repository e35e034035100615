//! Readings as a table: CSV by RFC 4180, a column a quantity, with its unit in the header.
//!
//! ```text
//! time,bench,temperature (Cel),humidity (%RH),height (m),sign
//! 2027-05-30T08:10:00-03:00,east-3,27.31,71.4,,bract-dropped
//! ```

mod header;
mod read;
mod write;

pub use read::{RowRefusal, Tabled, TimesRead, read_table};
pub use write::TableWriter;

use std::io::{self, Read};

/// The column of the time,
const TIME: &str = "time";
/// of the bench,
const BENCH: &str = "bench";
/// of signs,
const SIGN: &str = "sign";
/// of what was added to them or to a taped value,
const NOTE: &str = "note";
/// and of who booked it.
const BY: &str = "by";

/// Looked at to tell a table from a recording, bytes.
const LOOK_AT: u64 = 4096;
/// Some spreadsheets put it before the first cell.
const BYTE_ORDER_MARK: &[u8] = "\u{feff}".as_bytes();

/// Whether a file is a table rather than a recording, and all of it from its beginning.
///
/// # Errors
/// When it cannot be read.
pub fn is_table(mut reader: impl Read) -> io::Result<(bool, impl Read)> {
    let mut head = Vec::new();
    (&mut reader).take(LOOK_AT).read_to_end(&mut head)?;
    let text = head.strip_prefix(BYTE_ORDER_MARK).unwrap_or(&head).trim_ascii_start();
    let first_line = text.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let names_time = first_line.to_ascii_lowercase().windows(TIME.len()).any(|part| part == TIME.as_bytes());
    let table = names_time && !first_line.starts_with(b"[") && !first_line.starts_with(b"{");
    Ok((table, io::Cursor::new(head).chain(reader)))
}
