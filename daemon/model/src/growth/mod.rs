//! Growth: single readings cleaned, then followed as a level with its rate.

pub mod figures;
pub mod filter;
pub mod hampel;
pub mod line;
