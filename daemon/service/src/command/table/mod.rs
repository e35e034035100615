//! Readings as a table: CSV by RFC 4180, a column a quantity, with its unit in the header.
//!
//! ```text
//! time,bench,temperature (Cel),humidity (%RH),height (m),sign
//! 2027-05-30T08:10:00-03:00,east-3,27.31,71.4,,bract-dropped
//! ```

mod header;
mod kind;
mod read;
mod write;

pub use kind::{Kind, recognise};
pub use read::{RowRefusal, Tabled, TimesRead, read_table};
pub use write::TableWriter;

/// The column of the time.
const TIME: &str = "time";
/// The column of the bench.
const BENCH: &str = "bench";
/// The column of signs.
const SIGN: &str = "sign";
/// The column of what was added to a sign or to a taped value.
const NOTE: &str = "note";
/// The column of who booked it.
const BY: &str = "by";
