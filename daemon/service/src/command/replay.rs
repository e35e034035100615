//! `replay`: recordings through the same code as the service, with the readings' own time as the clock.

use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

use bloom_model::event::Event;
use bloom_model::time::Time;
use tracing::{info, warn};

use super::progress::Progress;
use super::{Failure, failed, read, results, site_of};
use crate::intake::decoder::Decoder;
use crate::intake::recording::{open_recording, read_recording};

/// Refusals that are named one by one; the rest are counted.
const NAMED_REFUSALS: u64 = 20;

pub(super) fn replay(path: &Path, recordings: &[PathBuf]) -> Result<(), Failure> {
    let config = read(path)?;
    let mut site = site_of(&config);
    let mut decoder = Decoder::new(config.benches.iter().map(|bench| &*bench.spec.id));
    let mut out = BufWriter::new(results());
    let mut events = Vec::new();
    let mut newest: Option<Time> = None;
    for recording in recordings {
        let reader = open_recording(recording).map_err(failed)?;
        decoder.begin();
        let mut written = Ok(());
        let mut named = 0;
        // where a person sees the events themselves, those tell it
        let unseen = !io::stdout().is_terminal();
        let mut progress = unseen.then(|| Progress::new(format!("replaying {}", recording.display())));
        read_recording(reader, &mut decoder, |readings, refusals| {
            for refusal in refusals {
                named += 1;
                if named <= NAMED_REFUSALS {
                    warn!("{}, {refusal}", recording.display());
                }
            }
            for reading in readings {
                site.take(reading, &mut events);
                newest = newest.max(Some(reading.time));
            }
            if let (Some(progress), Some(newest)) = (&mut progress, newest) {
                progress.say(|| format!("up to {newest}"));
            }
            if !events.is_empty() && written.is_ok() {
                written = write(&mut out, &mut events);
            }
        })
        .map_err(|error| Failure::Failed(format!("{}: {error}", recording.display())))?;
        if let Some(quietly) = ended(written)? {
            return quietly;
        }
    }
    if let Some(newest) = newest {
        site.pass_time(newest, &mut events);
    }
    let written = write(&mut out, &mut events).and_then(|()| out.flush());
    if let Some(quietly) = ended(written)? {
        return quietly;
    }
    let counts = decoder.counts();
    info!(lines = counts.lines, readings = counts.readings, refused = counts.refused, "replayed");
    Ok(())
}

fn write(out: &mut impl Write, events: &mut Vec<Event>) -> io::Result<()> {
    for event in events.drain(..) {
        serde_json::to_writer(&mut *out, &event)?;
        out.write_all(b"\n")?;
    }
    // an event is rare and waited for: it must not lie in a buffer while a pipe is read slowly
    out.flush()
}

/// Whether writing has ended the command: quietly where whoever reads has had enough.
fn ended(written: io::Result<()>) -> Result<Option<Result<(), Failure>>, Failure> {
    match written {
        Ok(()) => Ok(None),
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(Some(Ok(()))),
        Err(error) => Err(failed(error)),
    }
}
