//! Growth: level and rate followed through readings, lines through hours and days, the figures that people read.

pub mod figures;
pub mod filter;
pub mod line;
pub mod onset;
