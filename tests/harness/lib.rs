//! What the checks share.

pub mod mosquitto;
pub mod tables;
