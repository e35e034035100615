//! The lines that readings come by.

use std::sync::Arc;

use bloom_model::time::Time;

use crate::event::LOOK_SAFELY;
use crate::figure::capital;
use crate::words::Words;

/// Benches named in one message; the rest are counted.
const NAMED: usize = 6;

/// A line by which nothing comes: `why` says why it cannot be read, with what to do, where it cannot be.
pub(super) fn line_dead(
    words: &Words<'_>,
    (name, since): (&str, Time),
    why: Option<&str>,
    unwatched: &[Arc<str>],
    not_read: &[Arc<str>],
) -> String {
    let since = words.day_clock(since);
    let look = named(unwatched).map_or(String::new(), |unwatched| {
        let safely = capital(LOOK_SAFELY);
        format!("NOT WATCHED: look by eye now at {unwatched}. {safely}, until this is mended. ")
    });
    let who =
        named(not_read).map_or("nothing read by it".to_owned(), |benches| format!("{benches} not read"));
    let why = why.unwrap_or("nobody speaks on it: check power and cable of its boards");
    format!("{look}Line dead: {who} since {since}. {} ({name}).", capital(why))
}

/// It has worked again for a while; `read` are the benches that come by it.
pub(super) fn line_works(name: &str, read: &[Arc<str>]) -> String {
    let read = named(read).unwrap_or_else(|| "no known bench".to_owned());
    format!("Line works again: readings have come without a break, of {read} ({name}).")
}

/// Benches as a message names them; `None` if there are none.
fn named(benches: &[Arc<str>]) -> Option<String> {
    let more = benches.len().saturating_sub(NAMED);
    let named = benches.get(..NAMED).unwrap_or(benches).join(", ");
    match (benches.is_empty(), more) {
        (true, _) => None,
        (false, 0) => Some(named),
        (false, more) => Some(format!("{named} and {more} more")),
    }
}
