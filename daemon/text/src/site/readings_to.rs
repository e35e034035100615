//! The copy of the readings in a database.

use bloom_model::time::Time;

use crate::words::Words;

/// The database has taken nothing for long.
pub(super) fn no_copies(words: &Words<'_>, since: Time, why: &str) -> String {
    format!(
        "No hurry: the database takes no copies since {}. Nothing is lost, readings are sent when it goes on. ({why})",
        words.day_clock(since)
    )
}

/// It has taken everything.
pub(super) fn all_copied(words: &Words<'_>, since: Time) -> String {
    format!("The database has all copies again. It had taken none since {}.", words.day_clock(since))
}
