//! `sign` and `acknowledge`: what a person tells the service, put into the store for it to take up.

use std::path::Path;

use bloom_model::reading::Observed;
use bloom_model::sign::{MovedMounts, PlainSign, Sign};
use clap::Args;

use super::circumstances::Circumstances;
use super::{Failure, known_bench, read};
use crate::clock::wall_now;
use crate::config::Config;
use crate::store::{Entry, Reader};
use crate::words;

/// `anthesisd sign east-3 bract-dropped`
#[derive(Debug, Args)]
pub(super) struct SignArguments {
    /// The bench
    bench: String,
    /// The sign: emerged, spadix-visible, edge-coloured, bract-dropped, last-bract-dropped, edge-loose, scent, flies, opened,
    /// full-open, not-opening, pollinated, pollen-collected, closed, collapsed, fruit-set, fruit-ripe, leaf or
    /// mount-moved
    sign: String,
    /// With mount-moved: the new distance from the overhead ranger down to the datum, in metres
    #[arg(long, value_name = "METRES")]
    tip: Option<f64>,
    /// With mount-moved: the new distance from the side ranger to the spathe edge, in metres
    #[arg(long, value_name = "METRES")]
    rim: Option<f64>,
    /// Takes back a sign booked for that time
    #[arg(long)]
    withdraw: bool,
    #[command(flatten)]
    circumstances: Circumstances,
}

/// `anthesisd acknowledge`
#[derive(Debug, Args)]
pub(super) struct AcknowledgeArguments {
    /// The alarm's id; all that stand if it is left out
    id: Option<String>,
    /// Who
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
}

pub(super) fn sign(path: &Path, arguments: &SignArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let sign = read_sign(arguments)?;
    put(&config, &arguments.bench, Observed::Sign(sign), &arguments.circumstances)
}

pub(super) fn acknowledge(path: &Path, arguments: AcknowledgeArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let standing = Reader::open(&config.store_path)?.standing()?;
    let mut ids = standing.iter().map(|alarm| alarm.event_id.as_str());
    match &arguments.id {
        _ if standing.is_empty() => {
            return Err(Failure::Failed("no alarm stands: there is nothing to acknowledge".to_owned()));
        }
        Some(id) if !ids.any(|standing| standing == id) => {
            let standing: Vec<_> = standing.iter().map(|alarm| alarm.event_id.as_str()).collect();
            return Err(Failure::Failed(format!(
                "no alarm {id:?} stands; there are: {}",
                standing.join(", ")
            )));
        }
        _ => {}
    }
    let (_, by) = words::note_and_by(None, arguments.by.as_deref()).map_err(Failure::Usage)?;
    Entry::Acknowledge { id: arguments.id, by }.put(&config.store_path)?;
    Ok(())
}

fn read_sign(arguments: &SignArguments) -> Result<Sign, Failure> {
    let moved = MovedMounts { tip_m: arguments.tip, rim_m: arguments.rim };
    let text = match (arguments.sign.as_str(), moved) {
        ("mount-moved", MovedMounts { tip_m: None, rim_m: None }) => {
            return Err(Failure::Usage(
                "mount-moved wants the new distance: --rim METRES or --tip METRES".to_owned(),
            ));
        }
        ("mount-moved", moved) => Sign::MountMoved(moved).to_string(),
        (_, MovedMounts { tip_m: None, rim_m: None }) if arguments.withdraw => {
            format!("withdrawn {}", arguments.sign)
        }
        (sign, MovedMounts { tip_m: None, rim_m: None }) => sign.to_owned(),
        _ => return Err(Failure::Usage("--tip and --rim go with mount-moved only".to_owned())),
    };
    text.parse().map_err(|error| {
        let nearest = PlainSign::ALL.iter().map(|sign| sign.name()).max_by(|a, b| {
            strsim::jaro_winkler(a, &arguments.sign).total_cmp(&strsim::jaro_winkler(b, &arguments.sign))
        });
        Failure::Usage(format!("{error}; nearest is {}", nearest.unwrap_or_default()))
    })
}

fn put(config: &Config, bench: &str, observed: Observed, around: &Circumstances) -> Result<(), Failure> {
    known_bench(config, bench)?;
    let now = wall_now();
    let time = around.time(config, now)?.unwrap_or(now);
    let (note, by) = around.note_and_by()?;
    Entry::Observed { bench: bench.to_owned(), time, observed, note, by }.put(&config.store_path)?;
    Ok(())
}
