//! The real binary against real ports and a real broker.

mod broker;
mod configuration;
mod restart;
mod service;
mod trade;
