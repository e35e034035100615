//! What people read of what the model knows: every sentence, unit and date is worded here, and nowhere else.
//!
//! Pure, as the model is: no I/O, no clock. [`render`] makes the one sentence of an event, [`Payload`] the JSON that is published with it.
//! [`Words`], [`when`] and [`figure`] say times and figures in the units and the local time of a site, for pages and tables too.

mod event;
mod figure;
mod payload;
mod people;
mod site;
pub mod when;
mod words;

pub use event::render;
pub use figure::{capital, figure, number};
pub use payload::Payload;
pub use people::{head, rehearsed, tried_by_hand, unanswered};
pub use words::{Words, dates, outlook, percent};

#[cfg(test)]
mod tests;
