//! The record as the keeper has it: open, away, or being saved because its file was taken away.

mod away;
mod mirroring;

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::Instant;

use bloom_model::reading::Observed;
use bloom_model::time::Time;
use tracing::{error, warn};

pub(in crate::keeper) use away::Saved;
use away::{Away, being_saved};

use crate::store::{
    Alarm, Batch, Committed, FileId, HeardMessage, LiveReader, Mirror, Outbox, PendingEntry, Store,
    StoreError, Watching, saved_beside,
};

/// What lay at the place of the record at the start.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::keeper) struct WasThere {
    /// When the mirror was last written, if there is one.
    pub(in crate::keeper) written: Option<Time>,
    /// Copies that were saved.
    pub(in crate::keeper) saved: Vec<PathBuf>,
}

/// The record of one keeper.
#[derive(Debug)]
pub struct Record {
    path: PathBuf,
    state: State,
    watching: Option<Watching>,
    forward_to: Option<String>,
    run: u64,
    began: Time,
    /// As it was found at the start.
    pub(in crate::keeper) found: Option<Mirror>,
    /// An empty record was begun where there had been another.
    pub(in crate::keeper) gone: Option<WasThere>,
    /// Since when the file that was open is not in its place, told by then, until the record is taken up anew.
    pub(in crate::keeper) replaced: Option<Time>,
    told: VecDeque<String>,
    tested: Option<Time>,
    mirror_due: bool,
    mirrored: Option<Instant>,
    mirror_fails: bool,
    mirrored_alarms: Vec<Alarm>,
    looked: Instant,
    /// The record that was last open: numbers of its outbox may be under way.
    last: Option<FileId>,
    /// The highest number of a message that was given in this run.
    newest_row: i64,
    /// How often it was taken up, for readers.
    taken_up: Arc<AtomicU64>,
}

#[derive(Debug)]
enum State {
    Open(Box<Store>),
    Away(Away),
    Saving(JoinHandle<(Box<Store>, SavedAside)>),
}

/// See [`Store::save_aside`].
type SavedAside = Result<(PathBuf, bool), StoreError>;

impl From<Store> for Record {
    fn from(store: Store) -> Self {
        let path = store.path().to_owned();
        let file = store.file();
        Self { last: Some(file), ..Self::new(path, State::Open(Box::new(store)), Time::from_unix_ms(0)) }
    }
}

impl Record {
    fn new(path: PathBuf, state: State, began: Time) -> Self {
        Self {
            path,
            state,
            watching: None,
            forward_to: None,
            run: 1,
            began,
            found: None,
            gone: None,
            replaced: None,
            told: VecDeque::new(),
            tested: None,
            // with the first commit: a machine may lose its disk in the first hour
            mirror_due: true,
            mirrored: None,
            mirror_fails: false,
            mirrored_alarms: Vec::new(),
            looked: Instant::now(),
            last: None,
            newest_row: 0,
            taken_up: Arc::default(),
        }
    }

    /// Opens the record at `path` for a service that begins `now`, or says why it cannot be had and goes on without; `forward_to`
    /// is where its readings are forwarded.
    ///
    /// # Errors
    /// [`StoreError::Kept`] if another service watches by it; no other fault keeps the watch from starting.
    pub fn open(path: &Path, now: Time, forward_to: Option<String>) -> Result<Self, StoreError> {
        let watching = Watching::claim(path)?;
        let found = Mirror::read(path);
        let saved = saved_beside(path);
        let was_there = path.exists();
        let outcome = Store::open(path).and_then(|mut store| {
            if let Some(destination) = &forward_to {
                store.forward_to(destination)?;
            }
            Ok(store)
        });
        let state = match outcome {
            Ok(store) => State::Open(Box::new(store)),
            Err(why) => State::Away(Away::new(path, why)),
        };
        let mut record = Self::new(path.to_owned(), state, now);
        record.watching = Some(watching);
        record.forward_to = forward_to;
        record.run = record.count_run(found.as_ref());
        if let State::Open(store) = &record.state {
            record.last = Some(store.file());
            if !was_there && (found.is_some() || !saved.is_empty()) {
                record.gone =
                    Some(WasThere { written: found.as_ref().and_then(|found| found.written), saved });
            }
        }
        if let Some(found) = &found {
            record.told.extend(found.told.iter().cloned());
            record.tested = found.tested;
        }
        record.found = found;
        Ok(record)
    }

    /// The number of this run: above those that record and mirror know.
    fn count_run(&mut self, found: Option<&Mirror>) -> u64 {
        let mirrored = found.map_or(0, |found| found.run);
        let State::Open(store) = &mut self.state else { return mirrored + 1 };
        store.begin_run(self.began, mirrored).unwrap_or_else(|error| {
            // the next commit fails too, and is told
            error!("{error}; the watch begins all the same");
            store.newest_run().unwrap_or(0).max(mirrored) + 1
        })
    }

    /// The number of this run.
    pub const fn run(&self) -> u64 {
        self.run
    }

    /// The file's path, as configured.
    pub(in crate::keeper) fn path(&self) -> &Path {
        &self.path
    }

    /// A reader of it for another thread.
    pub fn reader(&self) -> LiveReader {
        LiveReader::of(&self.path, Arc::clone(&self.taken_up))
    }

    /// The record, while it can be had.
    ///
    /// # Errors
    /// Why it cannot.
    pub(in crate::keeper) fn open_store(&self) -> Result<&Store, StoreError> {
        match &self.state {
            State::Open(store) => Ok(store),
            State::Away(away) => Err(away.why.clone()),
            State::Saving(_) => Err(being_saved(&self.path)),
        }
    }

    fn open_store_mut(&mut self) -> Result<&mut Store, StoreError> {
        match &mut self.state {
            State::Open(store) => Ok(store),
            State::Away(away) => Err(away.why.clone()),
            State::Saving(_) => Err(being_saved(&self.path)),
        }
    }

    pub(in crate::keeper) const fn is_away(&self) -> bool {
        !matches!(self.state, State::Open(_))
    }

    /// Whether an event of that id was told: by the record, or by what is remembered of it while it is away.
    pub(in crate::keeper) fn knows_event(&self, id: &str) -> Result<bool, StoreError> {
        match self.open_store() {
            Ok(store) => store.knows_event(id),
            Err(_) => Ok(self.told.iter().any(|told| told == id)),
        }
    }

    /// See [`Store::was_fed`].
    pub(in crate::keeper) fn was_fed(
        &self,
        bench: &str,
        time: Time,
        observed: Observed,
    ) -> Result<bool, StoreError> {
        self.open_store()?.was_fed(bench, time, observed)
    }

    /// See [`Store::newest_of_kind`]; of a record that is away only what the mirror remembers.
    pub(in crate::keeper) fn newest_test(&self, kind: &str) -> Result<Option<Time>, StoreError> {
        match self.open_store() {
            Ok(store) => Ok(store.newest_of_kind(kind)?.max(self.tested)),
            Err(_) => Ok(self.tested),
        }
    }

    /// See [`Store::listened`].
    pub(in crate::keeper) fn listened(&self) -> Result<(Option<Time>, Vec<HeardMessage>), StoreError> {
        self.open_store()?.listened()
    }

    /// See [`Store::outbox`].
    pub(in crate::keeper) fn outbox(&self) -> Result<Outbox, StoreError> {
        self.open_store()?.outbox()
    }

    /// See [`Store::others_wrote`].
    pub(in crate::keeper) fn others_wrote(&mut self) -> Result<bool, StoreError> {
        self.open_store_mut()?.others_wrote()
    }

    /// See [`Store::pending_entries`].
    pub(in crate::keeper) fn pending_entries(&mut self) -> Result<Vec<PendingEntry>, StoreError> {
        self.open_store_mut()?.pending_entries()
    }

    /// See [`Store::seal_step`]; of a record that is away nothing is sealed.
    pub(in crate::keeper) fn seal_step(&mut self, now: Time) -> Result<bool, StoreError> {
        match &mut self.state {
            State::Open(store) => store.seal_step(now),
            _ => Ok(false),
        }
    }

    /// See [`Store::commit`].
    pub(in crate::keeper) fn commit(&mut self, batch: &Batch) -> Result<Committed, StoreError> {
        let committed = self.open_store_mut()?.commit(batch)?;
        self.note_rows(&committed);
        Ok(committed)
    }

    fn note_rows(&mut self, committed: &Committed) {
        self.newest_row = committed.message_ids.iter().copied().fold(self.newest_row, i64::max);
    }

    /// Whether that is the record that was open before, so that numbers of its outbox that are under way are its own.
    pub(in crate::keeper) fn is_the_one_before(&self, store: &Store) -> bool {
        self.last == Some(store.file())
    }

    /// The highest number of a message that was given in this run.
    pub(in crate::keeper) const fn newest_row(&self) -> i64 {
        self.newest_row
    }

    /// Goes on with a record that can be had again.
    pub(in crate::keeper) fn put(&mut self, mut store: Store, committed: &Committed) {
        if let Err(error) = store.note_run(self.run, self.began) {
            warn!("{error}; the number of this run is not written down");
        }
        self.note_rows(committed);
        self.last = Some(store.file());
        self.state = State::Open(Box::new(store));
        self.taken_up.fetch_add(1, Ordering::Release);
    }
}

#[cfg(test)]
impl std::ops::Deref for Record {
    type Target = Store;

    fn deref(&self) -> &Store {
        self.open_store().expect("the check has the record open")
    }
}
