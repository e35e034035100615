//! `replay`: recordings through the same code as the service, with the readings' own time as the clock.

use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

use bloom_model::event::Event;
use bloom_model::reading::Reading;
use bloom_model::site::Site;
use bloom_model::time::Time;
use bloom_text::Payload;
use tempfile::TempDir;
use tracing::{info, warn};

use super::progress::Progress;
use super::{Failure, failed, read, results, site_of};
use crate::config::Config;
use crate::intake::decoder::Decoder;
use crate::intake::recording::{open_recording, read_recording};
use crate::keeper::Play;

/// Refusals that are named one by one; the rest are counted.
const NAMED_REFUSALS: u64 = 20;

pub(super) fn replay(path: &Path, recordings: &[PathBuf], service: bool) -> Result<(), Failure> {
    let config = read(path)?;
    let mut player = if service { Player::service()? } else { Player::Model(site_of(&config)) };
    let mut decoder = Decoder::new(config.benches.iter().map(|bench| &*bench.spec.id));
    let mut out = BufWriter::new(results());
    let mut told = Vec::new();
    let mut newest: Option<Time> = None;
    for recording in recordings {
        let reader = open_recording(recording).map_err(failed)?;
        decoder.begin();
        let (mut written, mut played) = (Ok(()), Ok(()));
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
            newest = readings
                .iter()
                .map(|reading| reading.time)
                .fold(newest, |newest, time| newest.max(Some(time)));
            if played.is_ok() {
                played = player.hear(&config, readings, &mut told);
            }
            if let (Some(progress), Some(newest)) = (&mut progress, newest) {
                progress.say(|| format!("up to {newest}"));
            }
            if !told.is_empty() && written.is_ok() {
                written = write(&mut out, &mut told);
            }
        })
        .map_err(|error| Failure::Failed(format!("{}: {error}", recording.display())))?;
        played?;
        if let Some(quietly) = ended(written)? {
            return quietly;
        }
    }
    if let Some(newest) = newest {
        player.end(newest, &mut told)?;
    }
    let written = write(&mut out, &mut told).and_then(|()| out.flush());
    if let Some(quietly) = ended(written)? {
        return quietly;
    }
    let counts = decoder.counts();
    info!(lines = counts.lines, readings = counts.readings, refused = counts.refused, "replayed");
    Ok(())
}

/// What a recording is played to.
enum Player {
    /// The model alone: what the plants and their sensors give, by the readings' own time.
    Model(Site),
    /// The whole service, which is switched on at the first reading.
    Service { folder: TempDir, play: Option<Box<Play>> },
}

impl Player {
    fn service() -> Result<Self, Failure> {
        let folder = tempfile::Builder::new().prefix("anthesisd-replay-").tempdir();
        let folder = folder.map_err(|error| {
            Failure::Failed(format!(
                "no folder for the played record can be made in {}: {error}; set TMPDIR to one with room",
                std::env::temp_dir().display()
            ))
        })?;
        Ok(Self::Service { folder, play: None })
    }

    fn hear(&mut self, config: &Config, readings: &[Reading], told: &mut Vec<String>) -> Result<(), Failure> {
        match self {
            Self::Model(site) => {
                let mut events = Vec::new();
                for reading in readings {
                    site.take(reading, &mut events);
                }
                say(&events, site, told)
            }
            Self::Service { folder, play } => {
                let Some(first) = readings.first() else { return Ok(()) };
                let play = match play {
                    Some(play) => play,
                    None => {
                        let days = config.alarm.test_every_days;
                        let begun =
                            Play::begin(site_of(config), folder.path(), "all benches", days, first.time);
                        play.insert(Box::new(begun.map_err(failed)?))
                    }
                };
                told.extend(play.hear(readings.to_vec()).map_err(failed)?);
                Ok(())
            }
        }
    }

    /// The last reading was of that instant.
    fn end(&mut self, newest: Time, told: &mut Vec<String>) -> Result<(), Failure> {
        let Self::Model(site) = self else { return Ok(()) };
        let mut events = Vec::new();
        site.pass_time(newest, &mut events);
        say(&events, site, told)
    }
}

/// Each event as one JSON object.
fn say(events: &[Event], site: &Site, told: &mut Vec<String>) -> Result<(), Failure> {
    for event in events {
        told.push(serde_json::to_string(&Payload::of(event, site.spec())).map_err(failed)?);
    }
    Ok(())
}

fn write(out: &mut impl Write, told: &mut Vec<String>) -> io::Result<()> {
    for line in told.drain(..) {
        writeln!(out, "{line}")?;
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
