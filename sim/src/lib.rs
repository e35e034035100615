//! Virtual benches: whole seasons of a plant under glass, with the house, the rangers and the troubles around it.
//!
//! A season is drawn from a seed and published spreads ([`season`]): the plant's height and rim ([`rim`]), the air of the
//! house ([`house`]), the rangers that time echoes through it and the troubles of a real house, each a switch of its own
//! ([`trouble`]). What the sensors and people say comes out as observations in time order
//! ([`observe`]), as recordings ([`recording`]) or over pseudo-terminals ([`pty`]). Nothing here knows how openings are
//! detected; the one thing shared with the model is the physics of air.

pub mod dice;
pub mod edge;
pub mod house;
pub mod ledger;
pub mod observe;
pub mod options;
pub mod pty;
pub mod recording;
pub mod rim;
pub mod season;
pub mod side_loss;
pub mod trial;
pub mod trouble;
pub mod truth;

mod bookings;
mod calendar;

mod disturbance;
mod growth;
mod plant;
mod ranger;
mod schedule;
