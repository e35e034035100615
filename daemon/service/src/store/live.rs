//! Reading a record that may be away for a while, or be replaced.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use super::Reader;
use super::error::StoreError;

/// A reader of whatever record the keeper has open. It stays with a file that was removed or replaced until the keeper has
/// taken up another: the logs of two files of one name must not be opened by one process.
#[derive(Debug)]
pub struct LiveReader {
    path: PathBuf,
    /// Counted up by the keeper whenever it takes a record up.
    taken_up: Arc<AtomicU64>,
    open: Option<(u64, Reader)>,
}

impl LiveReader {
    /// Of the record at `path`, which is opened when it is first asked.
    pub fn new(path: &Path) -> Self {
        Self::of(path, Arc::default())
    }

    /// The same, of one that is taken up as often as counted there.
    pub fn of(path: &Path, taken_up: Arc<AtomicU64>) -> Self {
        Self { path: path.to_owned(), taken_up, open: None }
    }

    /// The record as it is now.
    ///
    /// # Errors
    /// The reasons of [`Reader::open`].
    pub fn get(&mut self) -> Result<&Reader, StoreError> {
        let now = self.taken_up.load(Ordering::Acquire);
        let reader = match self.open.take() {
            Some((then, reader)) if then == now => reader,
            _ => Reader::open(&self.path)?,
        };
        Ok(&self.open.insert((now, reader)).1)
    }
}
