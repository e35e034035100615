//! The lines that readings come by.

use bloom_model::message::{LOOK_SAFELY, Words};
use bloom_model::text::capital;
use bloom_model::time::Time;

/// A line by which nothing comes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct DeadLine<'a> {
    /// The port, file or pipe.
    pub(crate) name: &'a str,
    /// Since when.
    pub(crate) since: Time,
    /// Why it cannot be read, with what to do; `None` where it can be and nobody speaks.
    pub(crate) why: Option<&'a str>,
    /// Benches that nobody watches meanwhile.
    pub(crate) unwatched: Option<&'a str>,
    /// Benches that are not read.
    pub(crate) not_read: Option<&'a str>,
}

impl DeadLine<'_> {
    /// What to do, and which benches are not read.
    pub(crate) fn said(&self, words: &Words<'_>) -> String {
        let Self { name, why, unwatched, not_read, .. } = *self;
        let since = words.day_clock(self.since);
        let look = unwatched.map_or(String::new(), |unwatched| {
            let safely = capital(LOOK_SAFELY);
            format!("NOT WATCHED: look by eye now at {unwatched}. {safely}, until this is mended. ")
        });
        let who = not_read.map_or("nothing read by it".to_owned(), |benches| format!("{benches} not read"));
        let why = why.unwrap_or("nobody speaks on it: check power and cable of its boards");
        format!("{look}Line dead: {who} since {since}. {} ({name}).", capital(why))
    }
}

/// It has worked again for a while; `read` names the benches that come by it.
pub(crate) fn line_works(name: &str, read: Option<&str>) -> String {
    let read = read.unwrap_or("no known bench");
    format!("Line works again: readings have come without a break, of {read} ({name}).")
}
