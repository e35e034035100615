//! `import`: recordings into the store, for the record; the model is not told.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use tracing::warn;

use super::replay::NAMED_REFUSALS;
use super::{Failure, failed, print, read};
use crate::link::intake::Intake;
use crate::link::recording::{open_recording, read_recording};
use crate::store::{Imported, Importer, Recorded, StoreError};

/// Readings in one transaction.
const AT_ONCE: usize = 50_000;

pub(super) fn import(path: &Path, recordings: &[PathBuf]) -> Result<(), Failure> {
    let config = read(path)?;
    let benches: Vec<Arc<str>> = config.benches.iter().map(|bench| Arc::clone(&bench.spec.id)).collect();
    let mut intake = Intake::new(benches.iter().map(|bench| &**bench));
    let mut importer = Importer::open(&config.store_path)?;
    let mut total = Imported::default();
    for recording in recordings {
        let reader = open_recording(recording).map_err(failed)?;
        intake.begin();
        let mut batch: Vec<Recorded> = Vec::with_capacity(AT_ONCE);
        let mut outcome: Result<(), StoreError> = Ok(());
        let mut named = 0;
        let mut put = |batch: &mut Vec<Recorded>, outcome: &mut Result<(), StoreError>| match importer
            .import(std::mem::take(batch))
        {
            Ok(imported) => total.add(imported),
            Err(error) => *outcome = Err(error),
        };
        read_recording(reader, &mut intake, |readings, refusals| {
            for refusal in refusals {
                named += 1;
                if named <= NAMED_REFUSALS {
                    warn!("{}, {refusal}", recording.display());
                }
            }
            batch.extend(readings.iter().filter_map(|reading| {
                Some(Recorded {
                    bench: Arc::clone(benches.get(usize::from(reading.bench.0))?),
                    time: reading.time,
                    observed: reading.observed,
                    note: None,
                    by: None,
                    fed: None,
                })
            }));
            if batch.len() >= AT_ONCE && outcome.is_ok() {
                put(&mut batch, &mut outcome);
            }
        })
        .map_err(|error| Failure::Failed(format!("{}: {error}", recording.display())))?;
        if outcome.is_ok() {
            put(&mut batch, &mut outcome);
        }
        outcome?;
    }
    total.add(importer.finish()?);
    let refused = intake.counts().refused;
    print(format_args!("{} readings new, {} known before, {refused} refused", total.new, total.known))
}
