//! `rehearse`: plays a whole bloom against the real service and shows what a phone would get.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Mutex;

use clap::Parser;
use rehearsal::{Arguments, House, Rehearsal};
use tracing_subscriber::EnvFilter;

/// So many of the service's last warnings are shown when something has failed.
const WARNINGS_SHOWN: usize = 10;

fn main() -> ExitCode {
    let Arguments { own, hold, quick, warnings } = Arguments::parse();
    match rehearse(&Rehearsal { own, hold, quick }, warnings.as_deref()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            let _ = writeln!(io::stderr(), "rehearse: {why}");
            ExitCode::FAILURE
        }
    }
}

fn rehearse(rehearsal: &Rehearsal, named: Option<&[String]>) -> Result<(), String> {
    let house = House::new().map_err(|error| format!("no folder for the rehearsal: {error}"))?;
    let log = house.log_path();
    log_to(&log).map_err(|error| format!("{}: {error}", log.display()))?;
    let runtime = tokio::runtime::Runtime::new().map_err(|error| error.to_string())?;
    let played = runtime.block_on(async {
        match named {
            Some(named) => rehearsal.play_warnings(&house, named).await,
            None => rehearsal.play(&house).await,
        }
    });
    played.map_err(|why| format!("{why}{}", last_warnings(&log)))
}

/// The service's log goes into the folder, for the terminal is a phone.
fn log_to(path: &Path) -> io::Result<()> {
    let file = File::create(path)?;
    tracing_subscriber::fmt()
        .with_env_filter(EnvFilter::new("off,anthesisd=info"))
        .with_writer(Mutex::new(file))
        .with_target(false)
        .with_ansi(false)
        .init();
    Ok(())
}

/// The last of what the service warned of.
fn last_warnings(log: &Path) -> String {
    let text = fs::read_to_string(log).unwrap_or_default();
    let warned: Vec<&str> =
        text.lines().filter(|line| line.contains(" WARN ") || line.contains(" ERROR ")).collect();
    let from = warned.len().saturating_sub(WARNINGS_SHOWN);
    let last = warned.get(from..).unwrap_or_default();
    if last.is_empty() {
        String::new()
    } else {
        format!("\nThe service's last warnings, from {}:\n{}", log.display(), last.join("\n"))
    }
}
