//! One measured value, or one sign, of one bench at one time.

use serde::{Deserialize, Serialize};

use crate::quantity::Quantity;
use crate::sign::Sign;
use crate::time::Time;

/// A bench by its place in the configuration. Valid for one run of the program; whatever outlives it keeps the id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BenchNumber(pub u16);

/// What was observed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Observed {
    /// A value of a quantity, in that quantity's unit and range.
    Value(Quantity, f64),
    /// A sign that a person booked.
    Sign(Sign),
}

/// One observation of one bench at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Where.
    pub bench: BenchNumber,
    /// When.
    pub time: Time,
    /// What.
    pub observed: Observed,
}

/// What became of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taken {
    /// It was told to the model.
    ByTheModel,
    /// It is no newer than the newest of its own bench and quantity: it belongs in the record only, if it is not there yet.
    ByTheRecord,
}
