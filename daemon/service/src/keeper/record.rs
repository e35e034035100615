//! The record as the keeper has it: open, away, or being saved because its file was taken away.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use bloom_model::event::EventKind;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use tracing::{error, warn};

use crate::store::{
    Alarm, Batch, Checkpoint, Committed, FileId, HeardMessage, LiveReader, Mirror, Outbox, PendingEntry,
    Store, StoreError, StoredEvent, Watching, mirror_path, saved_beside,
};

/// Ids of what was raised that are remembered for a start without the record.
const TOLD_KEPT: usize = 200;
/// Between two mirrors at least, where no states are written down anyway: a person may book 25 signs a second.
const BETWEEN_MIRRORS: Duration = Duration::from_secs(2);
/// While the record cannot be had, the mirror is written this often.
const MIRRORED_WITHOUT_IT: Duration = Duration::from_secs(600);
/// A record that cannot be had and is not gone is tried again this often, and the path of one that is open is looked at.
const LOOK_EVERY: Duration = Duration::from_secs(5);
/// A file that is damaged or not ours is looked through again only when it is another; or after so long.
const LOOK_THROUGH_AGAIN: Duration = Duration::from_secs(600);
/// A record that is gone while the service runs is begun anew after so long: somebody may be moving another there.
const BEGUN_ANEW_AFTER: Duration = Duration::from_secs(60);

/// What lay at the place of the record at the start.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct WasThere {
    /// When the mirror was last written, if there is one.
    pub(super) written: Option<Time>,
    /// Copies that were saved.
    pub(super) saved: Vec<PathBuf>,
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
    pub(super) found: Option<Mirror>,
    /// An empty record was begun where there had been another.
    pub(super) gone: Option<WasThere>,
    /// Since when the file that was open is not in its place, told by then, until the record is taken up anew.
    pub(super) replaced: Option<Time>,
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

#[derive(Debug)]
struct Away {
    why: StoreError,
    /// The file that was found at fault, as it was then.
    stamp: Option<Stamp>,
    looked_through: Instant,
    missing_since: Option<Instant>,
}

/// How a file is told from another, or from what it was.
type Stamp = (FileId, u64, Option<std::time::SystemTime>);

/// What became of a record that was being saved.
pub(super) enum Saved {
    /// It lies there now; and was put back, where nothing had come in its place.
    As(PathBuf, bool),
    /// It could not be saved, and is open as before.
    Not(StoreError),
}

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
    pub(super) fn path(&self) -> &Path {
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
    pub(super) fn open_store(&self) -> Result<&Store, StoreError> {
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

    pub(super) const fn is_away(&self) -> bool {
        !matches!(self.state, State::Open(_))
    }

    /// Lets go of a record that is no use, so that another can be put in its place.
    pub(super) fn let_go(&mut self, why: StoreError) {
        // closed first: closing writes to it, and it is to be known again as it is then
        self.state = State::Away(Away {
            why: why.clone(),
            stamp: None,
            looked_through: Instant::now(),
            missing_since: None,
        });
        self.state = State::Away(Away::new(&self.path, why));
    }

    /// Whether an event of that id was told: by the record, or by what is remembered of it while it is away.
    pub(super) fn knows_event(&self, id: &str) -> Result<bool, StoreError> {
        match self.open_store() {
            Ok(store) => store.knows_event(id),
            Err(_) => Ok(self.told.iter().any(|told| told == id)),
        }
    }

    /// See [`Store::was_fed`].
    pub(super) fn was_fed(&self, bench: &str, time: Time, observed: Observed) -> Result<bool, StoreError> {
        self.open_store()?.was_fed(bench, time, observed)
    }

    /// See [`Store::newest_of_kind`]; of a record that is away only what the mirror remembers.
    pub(super) fn newest_test(&self, kind: &str) -> Result<Option<Time>, StoreError> {
        match self.open_store() {
            Ok(store) => Ok(store.newest_of_kind(kind)?.max(self.tested)),
            Err(_) => Ok(self.tested),
        }
    }

    /// See [`Store::listened`].
    pub(super) fn listened(&self) -> Result<(Option<Time>, Vec<HeardMessage>), StoreError> {
        self.open_store()?.listened()
    }

    /// See [`Store::outbox`].
    pub(super) fn outbox(&self) -> Result<Outbox, StoreError> {
        self.open_store()?.outbox()
    }

    /// See [`Store::others_wrote`].
    pub(super) fn others_wrote(&mut self) -> Result<bool, StoreError> {
        self.open_store_mut()?.others_wrote()
    }

    /// See [`Store::pending_entries`].
    pub(super) fn pending_entries(&mut self) -> Result<Vec<PendingEntry>, StoreError> {
        self.open_store_mut()?.pending_entries()
    }

    /// See [`Store::seal_step`]; of a record that is away nothing is sealed.
    pub(super) fn seal_step(&mut self, now: Time) -> Result<bool, StoreError> {
        match &mut self.state {
            State::Open(store) => store.seal_step(now),
            _ => Ok(false),
        }
    }

    /// See [`Store::commit`].
    pub(super) fn commit(&mut self, batch: &Batch) -> Result<Committed, StoreError> {
        let committed = self.open_store_mut()?.commit(batch)?;
        self.note_rows(&committed);
        Ok(committed)
    }

    fn note_rows(&mut self, committed: &Committed) {
        self.newest_row = committed.message_ids.iter().copied().fold(self.newest_row, i64::max);
    }

    /// Remembers what a batch tells, and that the mirror is to be written anew.
    pub(super) fn note_told(&mut self, batch: &Batch, test: &str) {
        for event in &batch.events {
            if !self.told.contains(&event.id) {
                self.told.push_back(event.id.clone());
            }
            if event.kind == test {
                self.tested = self.tested.max(Some(event.time));
            }
        }
        let over = self.told.len().saturating_sub(TOLD_KEPT);
        self.told.drain(..over);
        let told_of_the_watch =
            |event: &StoredEvent| EventKind::of(&event.kind).is_none_or(|kind| !kind.row().is_usual);
        self.mirror_due |= !batch.checkpoints.is_empty()
            || !batch.alarms.is_empty()
            || batch.events.iter().any(told_of_the_watch);
    }

    /// The same while the record is away and `standing` stand: also now and then, for the mirror is all there is.
    pub(super) fn note_told_without_it(&mut self, batch: &Batch, test: &str, standing: &[Alarm]) {
        let (due, newest) = (self.mirror_due, self.told.back().cloned());
        self.note_told(batch, test);
        self.mirror_due = due
            || self.told.back() != newest.as_ref()
            || self.mirrored_alarms != standing
            || self.mirrored.is_none_or(|at| at.elapsed() >= MIRRORED_WITHOUT_IT);
    }

    /// Whether the mirror is to be written now; `checkpointed` where states were just written down.
    pub(super) fn mirror_is_due(&self, checkpointed: bool) -> bool {
        self.mirror_due && (checkpointed || self.mirrored.is_none_or(|at| at.elapsed() >= BETWEEN_MIRRORS))
    }

    /// Whether something was raised too soon after the last mirror for another: it goes with a commit of its own.
    pub(super) fn mirror_waits(&self) -> bool {
        self.mirror_due && self.mirrored.is_some_and(|at| at.elapsed() >= BETWEEN_MIRRORS)
    }

    /// Writes the mirror.
    pub(super) fn mirror(&mut self, fed: u64, benches: Vec<Checkpoint>, alarms: Vec<Alarm>, now: Time) {
        let mirror = Mirror {
            written: Some(now),
            run: self.run,
            fed,
            away: self.is_away(),
            tested: self.tested,
            told: self.told.iter().cloned().collect(),
            benches,
            alarms,
        };
        self.mirrored = Some(Instant::now());
        // where it cannot be written, it is tried again with the next change, or after a while
        self.mirror_due = false;
        self.mirrored_alarms.clone_from(&mirror.alarms);
        match mirror.write(&self.path) {
            Ok(()) => self.mirror_fails = false,
            Err(error) if !std::mem::replace(&mut self.mirror_fails, true) => {
                warn!(
                    "the mirror {} cannot be written ({error}): a start that cannot read the record would know the benches as \
                     they were when it last could; free the disk, or give the folder to the service's user",
                    mirror_path(&self.path).display()
                );
            }
            Err(_) => {}
        }
    }

    /// Whether it is time to look whether the file is still in its place.
    pub(super) fn look_is_due(&mut self) -> bool {
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
    pub(super) fn is_in_place(&mut self) -> bool {
        match &mut self.state {
            State::Open(store) => store.is_in_place(),
            _ => true,
        }
    }

    /// Begins to save the open record, whose file was taken away, by a thread of its own: it may be large.
    pub(super) fn save_aside(&mut self, now: Time) {
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
    pub(super) fn saved(&mut self, wait: bool) -> Option<Saved> {
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
    pub(super) fn try_open(&mut self) -> Result<Option<Store>, StoreError> {
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
    pub(super) fn note_why(&mut self, why: &StoreError) {
        if let State::Away(away) = &mut self.state {
            *away = Away::new(&self.path, why.clone());
        }
    }

    /// Whether that is the record that was open before, so that numbers of its outbox that are under way are its own.
    pub(super) fn is_the_one_before(&self, store: &Store) -> bool {
        self.last == Some(store.file())
    }

    /// The highest number of a message that was given in this run.
    pub(super) const fn newest_row(&self) -> i64 {
        self.newest_row
    }

    /// Goes on with a record that can be had again.
    pub(super) fn put(&mut self, mut store: Store, committed: &Committed) {
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

impl Away {
    fn new(path: &Path, why: StoreError) -> Self {
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

fn being_saved(path: &Path) -> StoreError {
    StoreError::Disk { path: path.to_owned(), why: "its file was taken away and is being saved".to_owned() }
}

fn stamp(path: &Path) -> Option<Stamp> {
    let meta = std::fs::metadata(path).ok()?;
    Some((FileId::of(&meta), meta.len(), meta.modified().ok()))
}
