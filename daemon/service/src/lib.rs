//! The service around the model: it reads benches, keeps the record, and tells people.
//!
//! A library with a thin binary. One reading's path: [`intake`] → keeper → [`store`] and model → event → outbox → [`notify`]. [`forward`]
//! and [`page`] read the store.

pub mod book;
pub mod clock;
pub mod command;
pub mod config;
pub mod drawing;
pub mod facts;
pub mod formula;
pub mod forward;
pub mod intake;
pub mod keeper;
pub mod notify;
pub mod page;
pub mod password;
pub mod review;
pub mod store;
pub mod watchdog;
mod whole_file;
pub mod words;
