//! The real binary against real ports and a real broker.

mod broker;
mod configuration;
mod trade;
