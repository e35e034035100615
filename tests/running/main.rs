//! The real binary against real ports and a real broker.

mod broker;
mod commands;
mod configuration;
mod figures;
mod heat;
mod refusals;
mod rehearsal;
mod restart;
mod review;
mod seasons;
mod service;
mod tape;
mod test_alarm;
mod trade;
mod watchdog;
