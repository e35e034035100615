//! What `anthesisd` knows of plants and air.
//!
//! Pure: no I/O, no clock, no randomness, no async. A reading goes in with its time, events come out; the same readings
//! give the same events, byte for byte. One reading's path: [`site`] → [`bench`] → [`ranging`] (corrected for the air) →
//! [`track`] (cleaned) → [`growth`] and [`opening`] → [`bloom`] and its [`stage`] → [`event`], which
//! `bloom-text` puts into words. Beside the benches stands the [`watch`] over the house as a whole: its intakes, its clock, its people.

pub mod air;
pub mod bench;
pub mod bloom;
pub mod book;
pub mod climate;
pub mod condition;
pub mod degree_days;
pub mod event;
pub mod forecast;
pub mod growth;
pub mod heat;
pub mod opening;
pub mod profile;
pub mod quantity;
pub mod ranging;
pub mod reading;
pub mod seeing;
pub mod sensors;
pub mod sign;
pub mod site;
pub mod spadix;
pub mod spec;
pub mod stage;
pub mod text;
pub mod time;
pub mod track;
pub mod watch;
