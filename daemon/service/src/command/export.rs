//! `export`: a bench's record as a recording on standard output.

use std::io::{self, BufWriter, Write};
use std::path::Path;

use bloom_model::reading::Observed;
use bloom_model::time::Time;
use clap::Args;
use serde::Serialize;

use super::{Failure, failed, read, when};
use crate::clock::wall_now;
use crate::store::{Reader, Recorded, Which};

/// `anthesisd export east-3`
#[derive(Debug, Args)]
pub(super) struct ExportArguments {
    /// The bench; one that is no longer configured is still in the record
    bench: String,
    /// From this time on: 2027-05-30, yesterday 18:00
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Up to this time
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
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
    if !known.iter().any(|bench| **bench == *arguments.bench) {
        let known = known.join(", ");
        return Err(Failure::Usage(format!(
            "the record has no bench {:?}; it has: {known}",
            arguments.bench
        )));
    }

    let mut out = BufWriter::new(io::stdout().lock());
    let mut pack: Vec<Recorded> = Vec::new();
    let mut outcome = Ok(());
    reader.readings(&arguments.bench, Which::Everything, from, until, |recorded| {
        if outcome.is_err() {
            return;
        }
        if pack.first().is_some_and(|first| first.time != recorded.time) {
            outcome = write_pack(&mut out, &mut pack);
            pack.clear();
        }
        pack.push(recorded);
    })?;
    let outcome = outcome.and_then(|()| write_pack(&mut out, &mut pack)).and_then(|()| out.flush());
    match outcome {
        // whoever reads has had enough
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other.map_err(failed),
    }
}

/// Readings of one bench and one instant as one line: what people booked, then the sensors, the air before the ranges that
/// it corrects. The record keeps no order within an instant, and the model hears a recording in the order of its lines.
fn write_pack(out: &mut impl Write, pack: &mut [Recorded]) -> io::Result<()> {
    if pack.is_empty() {
        return Ok(());
    }
    pack.sort_by_key(|recorded| match recorded.observed {
        Observed::Sign(_) => (0, None),
        Observed::Value(quantity, _) if quantity.by_hand() => (0, Some(quantity)),
        Observed::Value(quantity, _) => (1, Some(quantity)),
    });
    let records: Vec<Record<'_>> = pack
        .iter()
        .enumerate()
        .map(|(place, recorded)| {
            let (n, u, v, vs) = match recorded.observed {
                Observed::Value(quantity, value) => {
                    (quantity.name(), Some(quantity.unit()), Some(value), None)
                }
                Observed::Sign(sign) => ("sign", None, None, Some(sign.to_string())),
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
