//! The mirror beside the record: what a start without the record knows.

use std::time::{Duration, Instant};

use bloom_model::event::EventKind;
use bloom_model::time::Time;
use tracing::warn;

use super::Record;
use crate::store::{Alarm, Batch, Checkpoint, Mirror, StoredEvent, mirror_path};

/// Ids of what was raised that are remembered for a start without the record.
const TOLD_KEPT: usize = 200;
/// Between two mirrors at least, where no states are written down anyway: a person may book 25 signs a second.
const BETWEEN_MIRRORS: Duration = Duration::from_secs(2);
/// While the record cannot be had, the mirror is written this often.
const MIRRORED_WITHOUT_IT: Duration = Duration::from_secs(600);

impl Record {
    /// Remembers what a batch tells, and that the mirror is to be written anew.
    pub(in crate::keeper) fn note_told(&mut self, batch: &Batch, test: &str) {
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
    pub(in crate::keeper) fn note_told_without_it(&mut self, batch: &Batch, test: &str, standing: &[Alarm]) {
        let (due, newest) = (self.mirror_due, self.told.back().cloned());
        self.note_told(batch, test);
        self.mirror_due = due
            || self.told.back() != newest.as_ref()
            || self.mirrored_alarms != standing
            || self.mirrored.is_none_or(|at| at.elapsed() >= MIRRORED_WITHOUT_IT);
    }

    /// Whether the mirror is to be written now; `checkpointed` where states were just written down.
    pub(in crate::keeper) fn mirror_is_due(&self, checkpointed: bool) -> bool {
        self.mirror_due && (checkpointed || self.mirrored.is_none_or(|at| at.elapsed() >= BETWEEN_MIRRORS))
    }

    /// Whether something was raised too soon after the last mirror for another: it goes with a commit of its own.
    pub(in crate::keeper) fn mirror_waits(&self) -> bool {
        self.mirror_due && self.mirrored.is_some_and(|at| at.elapsed() >= BETWEEN_MIRRORS)
    }

    /// Writes the mirror.
    pub(in crate::keeper) fn mirror(
        &mut self,
        fed: u64,
        benches: Vec<Checkpoint>,
        alarms: Vec<Alarm>,
        now: Time,
    ) {
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
}
