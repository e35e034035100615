//! The watch over the daemon's own stages: intakes, keeper, store, publisher, alarm command.
//!
//! Each stage says, whenever it moves on, by when it will do so next, or that it waits for the world and is idle by design (a line on
//! which nobody speaks). The watchdog is a thread of its own, which waits for nobody: it gives the service manager a sign of life
//! only while no stage is overdue. Without it the manager kills the daemon and starts it anew, and the next life takes up
//! what the record holds. A stage that breaks off is overdue at once.

use std::io;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use sd_notify::NotifyState;
use tracing::{error, info, warn};

/// A sign of life is due this often where the service manager does not ask for any; then only the log says what is stuck.
const USUAL_INTERVAL: Duration = Duration::from_secs(30);
/// While stages are starting, they are looked at this often.
const LOOK_AT_START: Duration = Duration::from_millis(50);

const IDLE: u64 = u64::MAX;
const NOT_BEGUN: u64 = u64::MAX - 1;
const BROKEN_OFF: u64 = 0;

/// All stages of the daemon. Clones share them.
#[derive(Debug, Clone)]
pub struct Watch {
    began: Instant,
    interval: Duration,
    stages: Arc<Mutex<Vec<Arc<Entry>>>>,
}

#[derive(Debug)]
struct Entry {
    name: String,
    /// Milliseconds from the watch's beginning until it must have moved on, or one of the words above.
    due_ms: AtomicU64,
}

/// One stage, held by whoever does its work.
#[derive(Debug)]
pub struct Stage {
    entry: Arc<Entry>,
    began: Instant,
    patience: Duration,
}

impl Watch {
    /// With signs of life as often as the service manager wants them.
    pub fn new() -> Self {
        Self::with_interval(sd_notify::watchdog_enabled().unwrap_or(USUAL_INTERVAL))
    }

    /// With signs of life due at that interval.
    pub fn with_interval(interval: Duration) -> Self {
        Self { began: Instant::now(), interval, stages: Arc::default() }
    }

    /// A new stage, which has not begun yet. It has two thirds of the interval for each of its moves.
    pub fn stage(&self, name: impl Into<String>) -> Stage {
        let entry = Arc::new(Entry { name: name.into(), due_ms: AtomicU64::new(NOT_BEGUN) });
        self.entries().push(Arc::clone(&entry));
        Stage { entry, began: self.began, patience: self.interval * 2 / 3 }
    }

    /// Whether every stage has begun its work.
    pub fn all_begun(&self) -> bool {
        self.not_begun().is_empty()
    }

    /// The stages that have not begun their work yet.
    pub fn not_begun(&self) -> Vec<String> {
        let waits = |entry: &&Arc<Entry>| entry.due_ms.load(Ordering::Acquire) == NOT_BEGUN;
        self.entries().iter().filter(waits).map(|entry| entry.name.clone()).collect()
    }

    /// The stages that should have moved on by `now` and have not.
    pub fn overdue(&self, now: Instant) -> Vec<String> {
        let now_ms = milliseconds(now.saturating_duration_since(self.began));
        let overdue = |entry: &&Arc<Entry>| entry.due_ms.load(Ordering::Acquire) < now_ms;
        self.entries().iter().filter(overdue).map(|entry| entry.name.clone()).collect()
    }

    fn entries(&self) -> std::sync::MutexGuard<'_, Vec<Arc<Entry>>> {
        self.stages.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Default for Watch {
    fn default() -> Self {
        Self::new()
    }
}

impl Stage {
    /// It has moved on, and will again soon.
    pub fn moves(&self) {
        self.moves_after(Duration::ZERO);
    }

    /// It has moved on, waits for that long by design, and moves on again soon after.
    pub fn moves_after(&self, wait: Duration) {
        let due = self.began.elapsed().saturating_add(wait).saturating_add(self.patience);
        self.entry.due_ms.store(milliseconds(due).min(NOT_BEGUN - 1), Ordering::Release);
    }

    /// It waits for the world, for however long.
    pub fn idles(&self) {
        self.entry.due_ms.store(IDLE, Ordering::Release);
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        let word = if thread::panicking() { BROKEN_OFF } else { IDLE };
        self.entry.due_ms.store(word, Ordering::Release);
    }
}

fn milliseconds(span: Duration) -> u64 {
    // nothing is overdue in the first millisecond, so that 0 may say more
    u64::try_from(span.as_millis()).unwrap_or(u64::MAX).max(1)
}

/// The thread that gives signs of life. It ends with the value.
#[derive(Debug)]
pub struct Watchdog {
    stop: Option<SyncSender<()>>,
    thread: Option<thread::JoinHandle<()>>,
}

impl Watchdog {
    /// Starts it. When all stages have begun, the service manager is told that the service is ready, with `status` in words.
    ///
    /// # Errors
    /// When no thread can be started.
    pub fn start(watch: Watch, status: String) -> io::Result<Self> {
        let (stop, stopped) = sync_channel(0);
        let thread = thread::Builder::new()
            .name("watchdog".to_owned())
            .spawn(move || keep(&watch, &status, &stopped))?;
        Ok(Self { stop: Some(stop), thread: Some(thread) })
    }
}

impl Drop for Watchdog {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn keep(watch: &Watch, status: &str, stopped: &Receiver<()>) {
    let (mut ready, mut stuck) = (false, Vec::new());
    loop {
        if !ready && watch.all_begun() {
            ready = true;
            tell(&[NotifyState::Ready, NotifyState::Status(status)]);
        }
        let overdue = watch.overdue(Instant::now());
        if overdue.is_empty() {
            if !stuck.is_empty() {
                info!("all stages move on again");
            }
            tell(&[NotifyState::Watchdog]);
        } else if overdue != stuck {
            error!(
                "no sign of life is given, for this has not moved on in time: {}; the service manager starts the daemon anew",
                overdue.join(", ")
            );
        }
        stuck = overdue;
        let pause = if ready { watch.interval / 3 } else { LOOK_AT_START };
        if stopped.recv_timeout(pause) != Err(RecvTimeoutError::Timeout) {
            return;
        }
    }
}

/// Tells the service manager, if there is one that listens (sd_notify(3)).
pub fn tell(states: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(states) {
        warn!("the service manager cannot be told: {error}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const INTERVAL: Duration = Duration::from_secs(30);

    #[test]
    fn a_stage_that_does_not_move_on_is_named() {
        let watch = Watch::with_interval(INTERVAL);
        let (store, line) = (watch.stage("store"), watch.stage("line"));
        assert!(!watch.all_begun());
        let at = |seconds| watch.began + Duration::from_secs(seconds);
        assert!(watch.overdue(at(1_000_000)).is_empty(), "what has not begun is the start's worry");
        store.moves();
        line.idles();
        assert!(watch.all_begun());
        assert!(watch.overdue(at(19)).is_empty());
        assert_eq!(watch.overdue(at(3600)), ["store"]);
        line.moves_after(Duration::from_secs(7200));
        assert_eq!(watch.overdue(at(3600)), ["store"]);
        store.idles();
        assert!(watch.overdue(at(3600)).is_empty());
        assert_eq!(watch.overdue(at(9000)), ["line"]);
    }

    #[test]
    fn a_stage_that_breaks_off_is_overdue_and_one_that_ends_is_not() {
        let watch = Watch::with_interval(INTERVAL);
        drop(watch.stage("ended"));
        let broken = watch.stage("broken");
        let broke_off = thread::spawn(move || {
            let _stage = broken;
            panic!("as a bug would");
        });
        assert!(broke_off.join().is_err());
        assert_eq!(watch.overdue(watch.began + Duration::from_millis(1)), ["broken"]);
    }
}
