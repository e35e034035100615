//! `ledger-bench`: what the record costs on this machine, beside plain rows and a time-series server.

use std::path::PathBuf;
use std::process::ExitCode;

use bench_sim::ledger::{self, Fault, Plan, Stamps};
use clap::{Args, Parser, Subcommand};

/// Lives through days of forty benches with three quantities every ten seconds, and prints what the record took
#[derive(Debug, Parser)]
#[command(version)]
struct Arguments {
    #[command(flatten)]
    days: Days,
    /// Years of the record that the service is started with
    #[arg(long, default_value_t = 10)]
    years: u32,
    /// A folder for the files, some 10 GB; they are left there. A temporary one unless given
    #[arg(long)]
    folder: Option<PathBuf>,
    #[command(subcommand)]
    part: Option<Part>,
}

#[derive(Debug, Clone, Copy, Args)]
struct Days {
    /// Days that are lived through, two at least
    #[arg(long, default_value_t = 30, value_parser = clap::value_parser!(u32).range(2..))]
    days: u32,
    /// How readings are stamped
    #[arg(long, value_enum, default_value_t = Stamps::Whole)]
    stamps: Stamps,
}

#[derive(Debug, Subcommand)]
enum Part {
    /// The days alone, in this process
    #[command(hide = true)]
    Live {
        #[command(flatten)]
        days: Days,
        #[arg(long)]
        config: PathBuf,
    },
}

fn main() -> ExitCode {
    match work(Arguments::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("ledger-bench: {fault}");
            ExitCode::FAILURE
        }
    }
}

fn work(arguments: Arguments) -> Result<(), Fault> {
    if let Some(Part::Live { days, config }) = arguments.part {
        let lived = ledger::live(&config, days.days, days.stamps)?;
        println!("{}", serde_json::to_string(&lived)?);
        return Ok(());
    }
    let service = std::env::current_exe()?.with_file_name("anthesisd");
    if !service.exists() {
        return Err(format!("{} is not built: cargo build --release -p anthesisd", service.display()).into());
    }
    let temporary = tempfile::tempdir()?;
    let folder = arguments.folder.unwrap_or_else(|| temporary.path().to_owned());
    let Days { days, stamps } = arguments.days;
    println!("{}", ledger::run(&Plan { folder, days, years: arguments.years, stamps, service })?);
    Ok(())
}
