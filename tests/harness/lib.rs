//! What the checks share.

pub mod tables;
