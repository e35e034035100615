//! A start: the benches' states as last written down, and all that the model was told since, in the order it was told.
//!
//! Readings and the events that they caused are committed together, and event ids follow from the readings alone. So what the
//! model says again while it is told again is known to the record and is not raised twice, and a restart is no restart.

use std::collections::HashMap;
use std::sync::Arc;

use bloom_model::bench::{Bench, STATE_VERSION};
use bloom_model::reading::Reading;
use tracing::{info, warn};

use super::{Keeper, KeeperError, read_state};
use crate::store::Replayed;

impl Keeper {
    pub(super) fn restore(&mut self) -> Result<(), KeeperError> {
        let mut restored: HashMap<Arc<str>, u64> = HashMap::new();
        for checkpoint in self.store.checkpoints()? {
            let Some(number) = self.site.number_of(&checkpoint.bench) else { continue };
            if checkpoint.version != STATE_VERSION {
                info!(
                    bench = &*checkpoint.bench,
                    "the state is of another version; it is reckoned anew from the record"
                );
                continue;
            }
            match read_state(&checkpoint.state) {
                Ok(state) => {
                    self.site.restore(number, state);
                    restored.insert(checkpoint.bench, checkpoint.fed);
                }
                Err(error) => {
                    warn!(
                        bench = &*checkpoint.bench,
                        "the state cannot be read ({error}); it is reckoned anew from the record"
                    );
                }
            }
        }
        // a bench that the record has never heard of has nothing to be told: the whole of the record need not be read for it
        let known = self.store.benches()?;
        let unheard_of = |bench: &str| !known.iter().any(|known| **known == *bench);
        let newest = self.fed;
        if self.clock.is_machine() {
            // before the model is told again what it may take back
            self.find_held();
        }
        let counted = |bench: &str| {
            let counted = restored.get(bench).copied();
            counted.unwrap_or_else(|| if unheard_of(bench) { newest } else { 0 })
        };
        let from = self.site.benches().map(|bench| counted(&bench.spec().id)).min().unwrap_or(0);

        let (site, clock) = (&mut self.site, &self.clock);
        let mut events = Vec::new();
        let mut told = 0_u64;
        self.store.replay_since(from, |replayed| match replayed {
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
        for newest in site.benches().filter_map(Bench::newest) {
            clock.hear(newest);
            clock.not_before(newest);
        }
        info!(readings = told, benches = restored.len(), "the benches are as they were left");
        self.raise_all(events);
        Ok(())
    }
}
