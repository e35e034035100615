//! What the service says itself: of its record, lines and clock, of the database, and of what people sent or did not answer. What is
//! said of benches and plants is worded by the model (`model/message`), under the same rules: first what to do or what is so, then
//! figures, names of files and reasons.

mod clock;
mod lines;
mod people;
mod readings_to;
mod record;

pub(crate) use clock::{CLOCK_RIGHT, clock_wrong};
pub(crate) use lines::{DeadLine, line_works};
pub(crate) use people::{Undated, unanswered};
pub(crate) use readings_to::{all_copied, no_copies};
pub(crate) use record::{
    Lost, SOUND_AGAIN, in_place, not_sound, nothing_recorded, older, recorded_again, taken_away, was_here,
};

#[cfg(test)]
mod tests;
