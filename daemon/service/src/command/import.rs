//! `import`: recordings and tables into the store, for the record; the model is not told.

use std::collections::BTreeMap;
use std::fmt;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use bloom_model::reading::Observed;
use clap::Args;
use tracing::warn;

use super::progress::Progress;
use super::table::{self, Kind, Tabled, TimesRead};
use super::{Failure, named_bench, print, read};
use crate::intake::decoder::Decoder;
use crate::intake::recording::{open_recording, read_recording};
use crate::store::{Imported, Importer, Recorded, StoreError};

/// Readings handed to the store at once.
const AT_ONCE: usize = 50_000;
/// Refusals that are named one by one in each file; further ones are counted.
const NAMED_REFUSALS: u64 = 10;

/// `anthesisd import recording.jsonl heights.csv`
#[derive(Debug, Args)]
pub(super) struct ImportArguments {
    /// Recordings, or tables with the header that `export --csv` writes; `-` is standard input
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The bench of a table without a column for it
    #[arg(long, value_name = "BENCH")]
    bench: Option<String>,
    /// Reads the files and says what would be taken and what refused; records nothing
    #[arg(long)]
    dry_run: bool,
}

pub(super) fn import(path: &Path, arguments: &ImportArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let bench = arguments.bench.as_deref().map(|name| named_bench(&config, name)).transpose()?;
    let benches: Vec<Arc<str>> = config.benches.iter().map(|bench| Arc::clone(&bench.spec.id)).collect();
    let with = Tabled { benches: &benches, bench: bench.as_deref(), zone: config.site.timezone };
    let mut importer = if arguments.dry_run { None } else { Some(Importer::open(&config.store_path)?) };
    let (mut total, mut read, mut refused) = (Imported::default(), 0, 0);
    // a file that cannot be taken does not keep the others out
    let mut failures = Vec::new();
    for file in &arguments.files {
        let mut taker = Taker::new(file, importer.as_mut());
        let outcome = take_file(file, &with, &mut taker);
        let taken = taker.finish()?;
        total.add(taken.imported);
        refused += taken.refused;
        read += taken.by_name.values().sum::<u64>();
        let nothing = taken.by_name.is_empty();
        if taken.refused > NAMED_REFUSALS {
            warn!("{}: {} refused in all", file.display(), taken.refused);
        }
        if !nothing {
            let names: Vec<String> =
                taken.by_name.iter().map(|(name, count)| format!("{count} {name}")).collect();
            print(format_args!("{}: {}", file.display(), names.join(", ")))?;
        }
        match outcome {
            Ok(Some(times)) => tell_times(file, times, &with)?,
            Ok(None) => {}
            Err(why) => {
                failures.push(format!("{}{why}", file.display()));
                continue;
            }
        }
        if nothing {
            failures.push(match taken.refused {
                0 => format!("{}: nothing was taken: it holds no reading", file.display()),
                1 => format!("{}: nothing was taken: its one record was refused", file.display()),
                all => format!("{}: nothing was taken: all {all} records were refused", file.display()),
            });
        }
    }
    match importer {
        Some(mut importer) => {
            total.add(importer.finish()?);
            print(format_args!(
                "{} readings new, {} known before, {refused} refused",
                total.new, total.known
            ))?;
        }
        None => {
            print(format_args!("{read} readings would be taken, {refused} refused; nothing is recorded"))?
        }
    }
    if failures.is_empty() { Ok(()) } else { Err(Failure::Failed(failures.join("\n"))) }
}

/// Reads one file; says how the times of a table were given.
///
/// # Errors
/// With what follows the file's name: where it cannot be read, or is nothing that can be imported.
fn take_file(file: &Path, with: &Tabled<'_>, taker: &mut Taker<'_>) -> Result<Option<TimesRead>, String> {
    let unreadable = |error: std::io::Error| format!(": {error}");
    let (kind, reader) = table::recognise(open_recording(file).map_err(unreadable)?).map_err(unreadable)?;
    match kind {
        Kind::Neither(what) => Err(format!(": nothing was taken: it looks like {what}")),
        Kind::Table(parts) => table::read_table(reader, parts, with, |readings, refusals| {
            refusals.iter().for_each(|refusal| taker.refuse(refusal));
            taker.take(readings);
        })
        .map(Some)
        .map_err(|why| format!(", {why}")),
        Kind::Recording => {
            let mut decoder = Decoder::new(with.benches.iter().map(|bench| &**bench));
            read_recording(BufReader::new(reader), &mut decoder, |readings, refusals| {
                refusals.iter().for_each(|refusal| taker.refuse(refusal));
                taker.take(readings.iter().filter_map(|reading| {
                    Some(Recorded {
                        bench: Arc::clone(with.benches.get(usize::from(reading.bench.0))?),
                        time: reading.time,
                        observed: reading.observed,
                        note: None,
                        by: None,
                        fed: None,
                    })
                }));
            })
            .map_err(unreadable)?;
            Ok(None)
        }
    }
}

/// Says how the times of a table were understood.
fn tell_times(file: &Path, times: TimesRead, with: &Tabled<'_>) -> Result<(), Failure> {
    let mut said = Vec::new();
    for (rows, how) in [
        (times.absolute, "with their own offset".to_owned()),
        (times.local, format!("read as local, {}", with.zone)),
        (times.dates, format!("dates alone, read as noon, {}", with.zone)),
    ] {
        if rows > 0 {
            said.push(format!("{rows} {how}"));
        }
    }
    if said.is_empty() {
        Ok(())
    } else {
        print(format_args!("{}: times: {}", file.display(), said.join("; ")))
    }
}

/// Takes what one file brings.
struct Taker<'a> {
    file: &'a Path,
    /// None where it is only looked what would be taken.
    importer: Option<&'a mut Importer>,
    batch: Vec<Recorded>,
    outcome: Result<(), StoreError>,
    count: u64,
    taken: Taken,
    progress: Progress,
}

/// What became of one file.
#[derive(Debug, Default)]
struct Taken {
    imported: Imported,
    refused: u64,
    /// Readings by quantity, signs as such, whether they were known or not.
    by_name: BTreeMap<&'static str, u64>,
}

impl<'a> Taker<'a> {
    fn new(file: &'a Path, importer: Option<&'a mut Importer>) -> Self {
        Self {
            file,
            importer,
            batch: Vec::with_capacity(AT_ONCE),
            outcome: Ok(()),
            count: 0,
            taken: Taken::default(),
            progress: Progress::new(format!("importing {}", file.display())),
        }
    }

    fn refuse(&mut self, refusal: &impl fmt::Display) {
        self.taken.refused += 1;
        match self.taken.refused {
            ..=NAMED_REFUSALS => warn!("{}, {refusal}", self.file.display()),
            number if number == NAMED_REFUSALS + 1 => {
                warn!("{}: further refusals are counted, not named", self.file.display());
            }
            _ => {}
        }
    }

    fn take(&mut self, readings: impl IntoIterator<Item = Recorded>) {
        for reading in readings {
            let name = match reading.observed {
                Observed::Value(quantity, _) => quantity.name(),
                Observed::Sign(_) => "sign",
            };
            *self.taken.by_name.entry(name).or_default() += 1;
            self.count += 1;
            self.batch.push(reading);
        }
        if self.batch.len() >= AT_ONCE {
            self.put();
            let count = self.count;
            self.progress.say(|| format!("{count} readings"));
        }
    }

    fn put(&mut self) {
        // after a failure of the disk nothing more is tried; the rest of the file is read and left
        if let Some(importer) = self.importer.as_mut().filter(|_| self.outcome.is_ok()) {
            match importer.import(std::mem::take(&mut self.batch)) {
                Ok(imported) => self.taken.imported.add(imported),
                Err(error) => self.outcome = Err(error),
            }
        }
        self.batch.clear();
    }

    fn finish(mut self) -> Result<Taken, StoreError> {
        self.put();
        self.outcome.map(|()| self.taken)
    }
}
