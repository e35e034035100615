//! Looking through the record after the start and daily, in the background: what the disk has damaged is told before a backup that
//! would mend it is overwritten.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

use bloom_model::event::SiteTrouble;
use bloom_model::time::Time;
use tokio::runtime::Handle;
use tokio::sync::watch;
use tracing::{info, warn};

use super::Keeper;
use crate::store::{Depth, Reader, StoreError, open_to_others};

/// The first look comes so long after the start: the watch has begun by then.
const FIRST_AFTER: Duration = Duration::from_secs(10);
/// Between two looks.
const EVERY: Duration = Duration::from_secs(24 * 3_600);
/// After a look that came to nothing, for the record could not be had.
const AGAIN_AFTER: Duration = Duration::from_secs(600);
/// It rests three times as long as it works, but no longer than this at once: the machine is small, and the watch goes first.
const REST_AT_MOST: Duration = Duration::from_millis(50);

/// What a look found: nothing if the record is sound.
type Faults = Arc<Vec<String>>;

/// The keeper's end: what the newest look found.
#[derive(Debug, Default)]
pub struct Looking {
    found: Option<watch::Receiver<Option<Faults>>>,
    /// Since when faults are told, and which.
    told: Option<(Time, Faults)>,
}

/// Looks through the record at `path` until told to stop; in a thread of its own.
pub fn look_through(path: PathBuf, stop: watch::Receiver<bool>) -> (Looking, impl FnOnce(Handle) + Send) {
    let (found, looking) = watch::channel(None);
    let work = move |runtime: Handle| {
        let mut pause = FIRST_AFTER;
        while !rest(&runtime, &stop, pause) {
            pause = match look(&path, &stop) {
                Ok(faults) => {
                    for fault in &faults {
                        warn!("looking through the record: {fault}");
                    }
                    found.send_replace(Some(Arc::new(faults)));
                    EVERY
                }
                Err(_) if *stop.borrow() => return,
                // the keeper tells why it cannot be had
                Err(error) => {
                    info!("the record cannot be looked through for now: {error}");
                    AGAIN_AFTER
                }
            };
        }
    };
    (Looking { found: Some(looking), told: None }, work)
}

/// Waits; says whether it is time to stop.
fn rest(runtime: &Handle, stop: &watch::Receiver<bool>, pause: Duration) -> bool {
    let mut stop = stop.clone();
    runtime.block_on(async {
        tokio::select! {
            _ = stop.wait_for(|stop| *stop) => true,
            () = tokio::time::sleep(pause) => false,
        }
    })
}

fn look(path: &std::path::Path, stop: &watch::Receiver<bool>) -> Result<Vec<String>, StoreError> {
    let began = Instant::now();
    let mut faults: Vec<String> = open_to_others(path).into_iter().collect();
    let mut reader = Reader::open(path)?;
    let stop = stop.clone();
    let mut worked = Instant::now();
    reader.at_every_step(move || {
        std::thread::sleep((worked.elapsed() * 3).min(REST_AT_MOST));
        worked = Instant::now();
        *stop.borrow()
    })?;
    faults.extend(reader.integrity_check(Depth::Sealed)?);
    info!(seconds = began.elapsed().as_secs(), faults = faults.len(), "the record was looked through");
    Ok(faults)
}

impl Keeper {
    /// Hears what the looks find.
    #[must_use]
    pub fn with_looks(mut self, looking: Looking) -> Self {
        self.looking = looking;
        self
    }

    /// Tells what the newest look found, once, and when a later one finds it mended.
    pub(super) fn hear_of_look(&mut self) {
        let Some(found) = &mut self.looking.found else { return };
        if !found.has_changed().unwrap_or(false) {
            return;
        }
        let Some(faults) = found.borrow_and_update().clone() else { return };
        self.tell_of_look(faults);
    }

    fn tell_of_look(&mut self, faults: Faults) {
        let now = self.now();
        match (self.looking.told.take(), faults.is_empty()) {
            (None, true) => {}
            (Some((since, _)), true) => {
                self.tell_of_store(SiteTrouble::SoundAgain, since);
            }
            (Some((since, told)), false) if told == faults => self.looking.told = Some((since, told)),
            (_, false) => {
                self.tell_of_store(SiteTrouble::NotSound(faults.to_vec()), now);
                self.looking.told = Some((now, faults));
            }
        }
    }
}
