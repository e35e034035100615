//! When, by whom, with what note: what every booking can say, in the same words.

use bloom_model::time::Time;
use bloom_text::when::moment;
use clap::Args;

use super::{Failure, when};
use crate::config::Config;
use crate::words;

/// When, by whom, with what note.
#[derive(Debug, Clone, Args)]
pub(super) struct Circumstances {
    /// When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out
    #[arg(long, global = true, value_name = "TIME")]
    at: Option<String>,
    /// Anything to add
    #[arg(long, global = true, value_name = "WORDS")]
    note: Option<String>,
    /// Who
    #[arg(long, global = true, value_name = "NAME")]
    by: Option<String>,
}

impl Circumstances {
    /// The note and the name that were said.
    ///
    /// # Errors
    /// If one is too long, or holds what a terminal would obey.
    pub(super) fn note_and_by(&self) -> Result<(Option<String>, Option<String>), Failure> {
        words::note_and_by(self.note.as_deref(), self.by.as_deref()).map_err(Failure::Usage)
    }

    /// Whether a note or a name was said.
    pub(super) const fn says_more(&self) -> bool {
        self.note.is_some() || self.by.is_some()
    }

    /// The time that was said, if one was.
    ///
    /// # Errors
    /// If it is no time, or yet to come.
    pub(super) fn time(&self, config: &Config, now: Time) -> Result<Option<Time>, Failure> {
        let read = |text: &String| {
            let time = when::read(text, now, config.site.timezone).map_err(Failure::Usage)?;
            if time > now {
                let zone = config.site.timezone;
                return Err(Failure::Usage(format!(
                    "{text:?} is {} and yet to come (it is {} now): give the time at which it was, such as yesterday 21:40 or 20 minutes ago",
                    moment(time, zone),
                    moment(now, zone)
                )));
            }
            Ok(time)
        };
        self.at.as_ref().map(read).transpose()
    }
}
