//! What `anthesisd` knows of plants and air.
//!
//! Pure: no I/O, no clock, no randomness, no async. A reading goes in with its time, events come out; the same readings
//! give the same events, byte for byte. One reading's path: [`site`] → [`bench`] → [`ranging`] (air corrected, cleaned)
//! → [`growth`] and [`opening`] → [`stage`] → [`event`].

pub mod air;
pub mod bench;
pub mod degree_days;
pub mod event;
pub mod growth;
pub mod profile;
pub mod quantity;
pub mod reading;
pub mod sign;
pub mod site;
pub mod spec;
pub mod time;
