//! A start: the benches' states as last written down, and all that the model was told since, in the order it was told.
//!
//! Readings and the events that they caused are committed together, and event ids follow from the readings alone. So what the
//! model says again while it is told again is known to the record and is not raised twice, and a restart is no restart.

use std::collections::HashMap;
use std::sync::Arc;

use bloom_model::bench::{Bench, STATE_VERSION};
use bloom_model::event::Event;
use bloom_model::reading::Reading;
use bloom_model::site::Site;
use tracing::{info, warn};

use super::{Keeper, read_state};
use crate::clock::Clock;
use crate::notify::standing::Standing;
use crate::store::{Checkpoint, Mirror, Reader, Replayed, Retells, StoreError};

/// Up to which running number each bench's state counts what was told.
pub(super) type Restored = HashMap<Arc<str>, u64>;

/// A state from the mirror counts more than the record knows of.
const ALL: u64 = u64::MAX;

impl Keeper {
    /// From the record; and from the mirror, where the record lacks what that counts.
    pub(super) fn restore(&mut self) -> Result<(), StoreError> {
        let store = self.store.open_store()?;
        self.fed = store.newest_fed()?;
        let standing = store.standing()?;
        let mut restored = restore_states(&mut self.site, &store.checkpoints()?);
        self.standing = Standing::restore(standing);
        if let Some(mirror) = self.store.found.as_ref().filter(|mirror| mirror.fed > self.fed) {
            restored.extend(
                restore_states(&mut self.site, &mirror.benches).into_keys().map(|bench| (bench, ALL)),
            );
            self.fed = mirror.fed;
            let now = self.clock.now();
            let known = Standing::restore(mirror.alarms.clone());
            let over: Vec<String> = self.standing.alarms().iter().map(|row| row.event_id.clone()).collect();
            let over = over.iter().filter(|id| !known.stands(id));
            self.batch.alarms = over.filter_map(|id| self.standing.end(id, now)).collect();
            self.batch.alarms.extend(known.alarms().iter().cloned());
            self.standing = known;
        }
        self.alarms_wait();
        if self.clock.is_machine() {
            // before the model is told again what it may take back
            self.find_held();
        }
        let store = self.store.open_store()?;
        let (events, told) = replay(store, &mut self.site, &self.clock, &restored, self.fed)?;
        for newest in self.site.benches().filter_map(Bench::newest) {
            self.clock.hear(newest);
            self.clock.not_before(newest);
        }
        info!(readings = told, benches = restored.len(), "the benches are as they were left");
        self.raise_all(events);
        Ok(())
    }
}

/// The benches as the record has them: what a start would make of it, and what a service that runs knew up to its newest commit.
///
/// # Errors
/// The disk's troubles.
pub fn as_recorded(mut site: Site, reader: &Reader) -> Result<Site, StoreError> {
    let restored = restore_states(&mut site, &reader.checkpoints()?);
    let newest = reader.newest_fed()?;
    replay(reader, &mut site, &Clock::of_readings(), &restored, newest)?;
    Ok(site)
}

/// The benches as the mirror has them, where the record cannot be had.
pub fn as_mirrored(mut site: Site, mirror: &Mirror) -> Site {
    restore_states(&mut site, &mirror.benches);
    site
}

/// Puts states in the place of those that benches have; says which, and what they count.
pub(super) fn restore_states(site: &mut Site, states: &[Checkpoint]) -> Restored {
    let mut restored = Restored::new();
    for checkpoint in states {
        let Some(number) = site.number_of(&checkpoint.bench) else { continue };
        if checkpoint.version != STATE_VERSION {
            info!(
                bench = &*checkpoint.bench,
                "the state is of another version; it is reckoned anew from the record"
            );
            continue;
        }
        match read_state(&checkpoint.state) {
            Ok(state) => {
                site.restore(number, state);
                restored.insert(Arc::clone(&checkpoint.bench), checkpoint.fed);
            }
            Err(error) => {
                warn!(
                    bench = &*checkpoint.bench,
                    "the state cannot be read ({error}); it is reckoned anew from the record"
                );
            }
        }
    }
    restored
}

/// Tells the model again what it was told since those states, up to number `newest`; gives what it says, and how many readings
/// those were.
pub(super) fn replay(
    store: &impl Retells,
    site: &mut Site,
    clock: &Clock,
    restored: &Restored,
    newest: u64,
) -> Result<(Vec<Event>, u64), StoreError> {
    // a bench that the record has never heard of has nothing to be told: the whole of the record need not be read for it
    let known = store.benches_known()?;
    let unheard_of = |bench: &str| !known.iter().any(|known| **known == *bench);
    let counted = |bench: &str| {
        let counted = restored.get(bench).copied();
        counted.unwrap_or_else(|| if unheard_of(bench) { newest } else { 0 })
    };
    let from = site.benches().map(|bench| counted(&bench.spec().id)).min().unwrap_or(0);
    let mut events = Vec::new();
    let mut told = 0_u64;
    store.replay_since(from, |replayed| match replayed {
        Replayed::Fed { fed, bench, time, observed } => {
            clock.hear(time);
            if let Some(bench_number) = site.number_of(&bench)
                && fed > counted(&bench)
            {
                told += 1;
                site.take(&Reading { bench: bench_number, time, observed }, &mut events);
            }
        }
        Replayed::Raised { time, .. } => site.pass_time(time, &mut events),
    })?;
    Ok((events, told))
}
