//! A record that cannot be had, or whose file was taken away: looked for, saved and opened again.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use bloom_model::time::Time;

use super::{Record, State};
use crate::store::{FileId, Store, StoreError};

/// A record that cannot be had and is not gone is tried again this often, and the path of one that is open is looked at.
const LOOK_EVERY: Duration = Duration::from_secs(5);
/// A file that is damaged or not ours is looked through again only when it is another; or after so long.
const LOOK_THROUGH_AGAIN: Duration = Duration::from_secs(600);
/// A record that is gone while the service runs is begun anew after so long: somebody may be moving another there.
const BEGUN_ANEW_AFTER: Duration = Duration::from_secs(60);

/// A record that cannot be had.
#[derive(Debug)]
pub(super) struct Away {
    pub(super) why: StoreError,
    /// The file that was found at fault, as it was then.
    stamp: Option<Stamp>,
    looked_through: Instant,
    missing_since: Option<Instant>,
}

/// How a file is told from another, or from what it was.
type Stamp = (FileId, u64, Option<std::time::SystemTime>);

/// What became of a record that was being saved.
pub(in crate::keeper) enum Saved {
    /// It lies there now; and was put back, where nothing had come in its place.
    As(PathBuf, bool),
    /// It could not be saved, and is open as before.
    Not(StoreError),
}

impl Away {
    pub(super) fn new(path: &Path, why: StoreError) -> Self {
        let by_what_it_is = matches!(
            why,
            StoreError::Damaged { .. }
                | StoreError::Foreign { .. }
                | StoreError::Newer { .. }
                | StoreError::Bug { .. }
        );
        let stamp = by_what_it_is.then(|| stamp(path)).flatten();
        Self { why, stamp, looked_through: Instant::now(), missing_since: None }
    }

    /// Whether a record that is gone has been so for long enough.
    fn may_be_begun(&mut self) -> bool {
        self.missing_since.get_or_insert_with(Instant::now).elapsed() >= BEGUN_ANEW_AFTER
    }
}

pub(super) fn being_saved(path: &Path) -> StoreError {
    StoreError::Disk { path: path.to_owned(), why: "its file was taken away and is being saved".to_owned() }
}

fn stamp(path: &Path) -> Option<Stamp> {
    let meta = std::fs::metadata(path).ok()?;
    Some((FileId::of(&meta), meta.len(), meta.modified().ok()))
}

impl Record {
    /// Lets go of a record that is no use, so that another can be put in its place.
    pub(in crate::keeper) fn let_go(&mut self, why: StoreError) {
        // closed first: closing writes to it, and it is to be known again as it is then
        self.state = State::Away(Away {
            why: why.clone(),
            stamp: None,
            looked_through: Instant::now(),
            missing_since: None,
        });
        self.state = State::Away(Away::new(&self.path, why));
    }

    /// Whether it is time to look whether the file is still in its place.
    pub(in crate::keeper) fn look_is_due(&mut self) -> bool {
        let due = self.looked.elapsed() >= LOOK_EVERY;
        if due {
            self.looked = Instant::now();
            if let Some(watching) = &self.watching {
                watching.answer();
            }
        }
        due
    }

    /// Whether the path leads to the file that is open; also where none is open.
    pub(in crate::keeper) fn is_in_place(&mut self) -> bool {
        match &mut self.state {
            State::Open(store) => store.is_in_place(),
            _ => true,
        }
    }

    /// Begins to save the open record, whose file was taken away, by a thread of its own: it may be large.
    pub(in crate::keeper) fn save_aside(&mut self, now: Time) {
        let away = State::Away(Away::new(&self.path, being_saved(&self.path)));
        let store = match std::mem::replace(&mut self.state, away) {
            State::Open(store) => store,
            other => {
                self.state = other;
                return;
            }
        };
        self.state = State::Saving(std::thread::spawn(move || {
            let saved = store.save_aside(now);
            (store, saved)
        }));
    }

    /// What became of a record that was being saved, once; `wait` for it.
    pub(in crate::keeper) fn saved(&mut self, wait: bool) -> Option<Saved> {
        if !matches!(&self.state, State::Saving(thread) if wait || thread.is_finished()) {
            return None;
        }
        let away = State::Away(Away::new(&self.path, being_saved(&self.path)));
        let State::Saving(thread) = std::mem::replace(&mut self.state, away) else { return None };
        match thread.join() {
            Ok((_, Ok((saved, put_back)))) => Some(Saved::As(saved, put_back)),
            Ok((store, Err(why))) => {
                self.state = State::Open(store);
                Some(Saved::Not(why))
            }
            Err(_) => {
                let invariant = "saving the record broke off: see the log above".to_owned();
                Some(Saved::Not(StoreError::Bug { path: self.path.clone(), invariant }))
            }
        }
    }

    /// Opens the record again; `None` if there is no sense in trying yet.
    ///
    /// # Errors
    /// Why it cannot be had.
    pub(in crate::keeper) fn try_open(&mut self) -> Result<Option<Store>, StoreError> {
        let State::Away(away) = &mut self.state else { return Ok(None) };
        if self.path.exists() {
            away.missing_since = None;
        } else if !away.may_be_begun() {
            return Ok(None);
        }
        let same = away.stamp.is_some() && away.stamp == stamp(&self.path);
        if same && away.looked_through.elapsed() < LOOK_THROUGH_AGAIN {
            return Ok(None);
        }
        let mut store = Store::open(&self.path)?;
        if let Some(destination) = &self.forward_to {
            store.forward_to(destination)?;
        }
        Ok(Some(store))
    }

    /// Why it still cannot be had.
    pub(in crate::keeper) fn note_why(&mut self, why: &StoreError) {
        if let State::Away(away) = &mut self.state {
            *away = Away::new(&self.path, why.clone());
        }
    }
}
