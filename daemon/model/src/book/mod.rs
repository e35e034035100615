//! The bloom book: what people did with plants, pollen, crosses and fruit, and what follows from it.
//!
//! The book is one list of entries that only grows. Everything that it says is read from the whole list each time: an entry is
//! small, a house books some hundreds a year, and what is derived anew cannot disagree with what was written down.

pub mod bloom;
pub mod cross;
pub mod entry;
pub mod husbandry;
pub mod kinship;
pub mod ledger;
pub mod overlap;
pub mod plant;
pub mod pollen;
pub mod possible;
pub mod ripening;
pub mod season;
pub mod storage;

pub use entry::{Entry, Fact};
pub use ledger::Book;

#[cfg(test)]
mod ledger_tests;
