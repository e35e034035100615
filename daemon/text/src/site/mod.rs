//! What the service says of itself: of its record, lines and clock, and of the database, under the rules of an [`event`](crate::event):
//! first what to do or what is so, then figures, names of files and reasons.

mod clock;
mod lines;
mod readings_to;
mod record;

use bloom_model::event::SiteTrouble;
use bloom_model::time::Time;

use crate::words::Words;

impl Words<'_> {
    /// What befell the site itself, or is over: `what` is affected, since `since`.
    pub(crate) fn trouble(&self, trouble: &SiteTrouble, what: &str, since: Time) -> String {
        match trouble {
            SiteTrouble::LineDead { why, unwatched, not_read } => {
                lines::line_dead(self, (what, since), why.as_deref(), unwatched, not_read)
            }
            SiteTrouble::LineWorks { read } => lines::line_works(what, read),
            SiteTrouble::ClockWrong { doubt, claimed } => clock::clock_wrong(self, *doubt, *claimed),
            SiteTrouble::ClockRight => "The clock is right again.".to_owned(),
            SiteTrouble::NotRecorded { fault, in_full } => {
                record::nothing_recorded(self, since, *fault, in_full)
            }
            SiteTrouble::RecordedAgain(lost) => record::recorded_again(*lost),
            SiteTrouble::NotSound(faults) => record::not_sound(faults),
            SiteTrouble::SoundAgain => "The record was looked through again and is sound.".to_owned(),
            SiteTrouble::RecordGone { written, saved } => record::was_here(self, *written, saved.as_deref()),
            SiteTrouble::RecordOlder { written } => record::older(self, *written),
            SiteTrouble::RecordTakenAway => record::taken_away(what),
            SiteTrouble::RecordInPlace { saved } => record::in_place(saved.as_deref()),
            SiteTrouble::NoCopies { why } => readings_to::no_copies(self, since, why),
            SiteTrouble::AllCopied => readings_to::all_copied(self, since),
        }
    }
}
