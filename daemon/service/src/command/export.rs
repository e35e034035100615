//! `export`: a bench's record on standard output, as a recording or as a table.

use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::sync::Arc;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::sign::Sign;
use bloom_model::time::Time;
use chrono_tz::Tz;
use clap::Args;
use serde::Serialize;

use super::progress::Progress;
use super::table::TableWriter;
use super::{Failure, bench_of_plant, failed, read, results, when};
use crate::clock::wall_now;
use crate::store::{Reader, Recorded, Which};

/// `anthesisd export east-3`
#[derive(Debug, Args)]
pub(super) struct ExportArguments {
    /// The bench, or the accession of its plant; a bench that is no longer configured is still in the record
    bench: String,
    /// From this time on: 2027-05-30, yesterday 18:00
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Up to this time
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// Only this quantity (or `sign`); give it again for more
    #[arg(long = "quantity", value_name = "NAME", value_parser = wanted)]
    wanted: Vec<Wanted>,
    /// A table (RFC 4180, units in its header) instead of a recording
    #[arg(long)]
    csv: bool,
}

/// What of a record is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wanted {
    Quantity(Quantity),
    Signs,
}

/// The name under which signs are asked for.
const SIGN: &str = "sign";

fn wanted(name: &str) -> Result<Wanted, String> {
    match Quantity::from_name(name) {
        Some(quantity) => Ok(Wanted::Quantity(quantity)),
        None if name == SIGN => Ok(Wanted::Signs),
        None => {
            let names: Vec<&str> = Quantity::ALL.into_iter().map(Quantity::name).collect();
            Err(format!("there are {} and {SIGN}", names.join(", ")))
        }
    }
}

impl Wanted {
    const fn of(observed: &Observed) -> Self {
        match *observed {
            Observed::Value(quantity, _) => Self::Quantity(quantity),
            Observed::Sign(_) => Self::Signs,
        }
    }
}

/// A SenML record (RFC 8428); base name and base time stand in the first of a pack.
#[derive(Serialize)]
struct Record<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    bn: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bt: Option<serde_json::Number>,
    n: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    u: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    v: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    vs: Option<String>,
}

pub(super) fn export(path: &Path, arguments: &ExportArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let now = wall_now();
    let at = |text: &Option<String>, usual| {
        text.as_deref()
            .map_or(Ok(usual), |text| when::read(text, now, config.site.timezone).map_err(Failure::Usage))
    };
    let from = at(&arguments.from, Time::from_unix_ms(0))?;
    let until = at(&arguments.to, Time::from_unix_ms(i64::MAX))?;
    let reader = Reader::open(&config.store_path)?;
    let known = reader.benches()?;
    let named = known.iter().find(|bench| ***bench == *arguments.bench).map(Arc::clone);
    let bench = match named {
        Some(bench) => bench,
        None => bench_of_plant(&config, &arguments.bench)?.ok_or_else(|| {
            let known = known.join(", ");
            Failure::Usage(format!("the record has no bench {:?}; it has: {known}", arguments.bench))
        })?,
    };

    let which = match arguments.wanted[..] {
        [Wanted::Quantity(quantity)] => Which::Quantity(quantity),
        [Wanted::Signs] => Which::Signs,
        _ => Which::Everything,
    };
    let is_wanted =
        |observed: Observed| arguments.wanted.is_empty() || arguments.wanted.contains(&Wanted::of(&observed));
    let mut progress = Progress::new(format!("exporting {bench}"));
    let mut begins = None;
    let mut out = match Out::new(arguments, config.site.timezone) {
        Ok(out) => out,
        Err(error) => return ended(Err(error)),
    };
    let mut instant: Vec<Recorded> = Vec::new();
    let mut outcome = Ok(());
    reader.readings(&bench, which, from, until, |recorded| {
        if outcome.is_err() || !is_wanted(recorded.observed) {
            return;
        }
        if instant.first().is_some_and(|first| first.time != recorded.time) {
            outcome = out.write(&mut instant);
            instant.clear();
            let begins = *begins.get_or_insert(recorded.time);
            let whole_h = now.min(until).hours_since(begins).max(1.0);
            progress.tell(recorded.time.hours_since(begins) / whole_h);
        }
        instant.push(recorded);
    })?;
    ended(outcome.and_then(|()| out.write(&mut instant)).and_then(|()| out.finish()))
}

fn ended(outcome: io::Result<()>) -> Result<(), Failure> {
    match outcome {
        // whoever reads has had enough
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other.map_err(failed),
    }
}

/// Where the record goes.
enum Out {
    Recording(BufWriter<Box<dyn Write>>),
    Table(Box<TableWriter<BufWriter<Box<dyn Write>>>>),
}

impl Out {
    fn new(arguments: &ExportArguments, zone: Tz) -> io::Result<Self> {
        let out = BufWriter::new(results());
        if !arguments.csv {
            return Ok(Self::Recording(out));
        }
        let has_column = |quantity: &Quantity| {
            arguments.wanted.is_empty() || arguments.wanted.contains(&Wanted::Quantity(*quantity))
        };
        let columns = Quantity::ALL.into_iter().filter(has_column).collect();
        TableWriter::new(out, columns, zone).map(Box::new).map(Self::Table)
    }

    /// What was recorded of one instant.
    fn write(&mut self, instant: &mut [Recorded]) -> io::Result<()> {
        match self {
            Self::Recording(out) => write_pack(out, instant),
            Self::Table(table) => table.instant(instant),
        }
    }

    fn finish(self) -> io::Result<()> {
        match self {
            Self::Recording(mut out) => out.flush(),
            Self::Table(table) => table.finish(),
        }
    }
}

/// Readings of one bench and one instant as one line: what people booked, then the sensors, the air before the ranges that
/// it corrects. The record keeps no order within an instant, and the model hears a recording in the order of its lines.
fn write_pack(out: &mut impl Write, pack: &mut [Recorded]) -> io::Result<()> {
    if pack.is_empty() {
        return Ok(());
    }
    pack.sort_by_key(|recorded| match recorded.observed {
        // what is taken back stands behind what it takes back
        Observed::Sign(Sign::Withdrawn(_) | Sign::HeightWithdrawn) => (1, None),
        Observed::Sign(_) => (0, None),
        Observed::Value(quantity, _) if quantity.by_hand() => (0, Some(quantity)),
        Observed::Value(quantity, _) => (2, Some(quantity)),
    });
    let records: Vec<Record<'_>> = pack
        .iter()
        .enumerate()
        .map(|(place, recorded)| {
            let (n, u, v, vs) = match recorded.observed {
                Observed::Value(quantity, value) => {
                    (quantity.name(), Some(quantity.unit()), Some(value), None)
                }
                Observed::Sign(sign) => (SIGN, None, None, Some(sign.to_string())),
            };
            let first = place == 0;
            Record {
                bn: first.then(|| format!("{}/", recorded.bench)),
                bt: first.then(|| seconds(recorded.time)).flatten(),
                n,
                u,
                v,
                vs,
            }
        })
        .collect();
    serde_json::to_writer(&mut *out, &records)?;
    out.write_all(b"\n")
}

/// Seconds since 1970: whole where the instant is a whole second.
fn seconds(time: Time) -> Option<serde_json::Number> {
    let ms = time.unix_ms();
    if ms % 1000 == 0 { Some((ms / 1000).into()) } else { serde_json::Number::from_f64(ms as f64 / 1e3) }
}
