//! The real binary against real ports and a real broker.

mod book;
mod broker;
mod commands;
mod configuration;
mod delivery;
mod figures;
mod forwarding;
mod heat;
mod installing;
mod lines_and_clock;
mod page;
mod refusals;
mod rehearsal;
mod restart;
mod review;
mod seasons;
mod service;
mod soak;
mod storage;
mod tables;
mod tape;
mod test_alarm;
mod trade;
mod walk;
mod warnings;
mod watchdog;
