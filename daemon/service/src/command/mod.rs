//! The command line: what was typed, what it does, and the exit status that follows.
//!
//! Standard output carries results only; everything else goes to standard error.

mod alarm_test;
mod backup;
mod bloom_book;
mod book;
mod check;
mod check_seeing;
mod circumstances;
mod examples;
mod export;
mod figure;
mod import;
mod page_password;
mod progress;
mod replay;
mod review;
mod run;
mod status;
pub mod table;
mod tape;
mod when;

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use bloom_model::site::Site;
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use tracing_subscriber::EnvFilter;

use crate::config::{self, Config};
use crate::store::{StoreError, Watching};
use crate::words::{Shown, shown};

pub use run::{RunOptions, Running, start};

/// Wrong configuration (EX_CONFIG of sysexits.h).
const EXIT_CONFIG: u8 = 78;

/// Watches benches of titan arums and their kin, and raises the alarm on the afternoon one opens.
#[derive(Debug, Parser)]
#[command(name = "anthesisd", version, max_term_width = 100)]
struct Arguments {
    /// The configuration file
    #[arg(long, global = true, value_name = "FILE", default_value = config::DEFAULT_PATH)]
    config: PathBuf,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// The service, in the foreground, until SIGTERM or SIGINT
    Run,
    /// How the house is, on one screen: alarms, benches, lines, broker, store; exits 0 only if nothing stands and nothing is wrong
    Status(status::StatusArguments),
    /// Reads the configuration and tries intakes, store, broker, database and page; a line each
    Check,
    /// Runs recordings through the same code as the service and writes the events to standard output
    Replay {
        /// Recordings: SenML packs, one a line; `-` is standard input
        #[arg(required = true, value_name = "RECORDING")]
        recordings: Vec<PathBuf>,
        /// What the whole service would have told: also a line that is dead, tests of whether people are reached, and repeats
        #[arg(long)]
        service: bool,
    },
    /// Puts recordings and tables into the record
    Import(import::ImportArguments),
    /// Writes the record of a bench to standard output, as a recording or a table
    Export(export::ExportArguments),
    /// Writes the record of a bloom, or of a span of days, as one HTML file
    Review(review::ReviewArguments),
    /// Copies the record into a new file, while the service runs or not
    Backup {
        /// The file to make
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// Puts a backup in the place of the record, which is kept under another name; the service must be stopped
    Restore {
        /// A file that `backup` made
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// Records a height that you taped, and says how it fits; or takes one back
    Tape(tape::TapeArguments),
    /// Records a sign that you saw, or a thing that you did
    Sign(book::SignArguments),
    /// Plants: origin, parents, weighings, repottings, dormancy
    Plant(bloom_book::PlantArguments),
    /// The pollen bank: lots collected or received, where they are kept, thaws, tests
    Pollen(bloom_book::PollenArguments),
    /// Pollinations, and the crosses they make; says how the two plants are related first
    Cross(bloom_book::CrossArguments),
    /// Fruit of a cross: set, colour, losses, harvest, seed, sowing, seedlings
    Fruit(bloom_book::FruitArguments),
    /// The sheet for bloom night: windows, pollen that could serve, what to thaw, what to bring, what can hurt
    Tonight(bloom_book::TonightArguments),
    /// The bloom book as a whole: history, overlaps, blooms compared, calendar, export and import
    Book(bloom_book::BookArguments),
    /// Takes note of an alarm, or of all that stand: it is repeated no more
    Acknowledge(book::AcknowledgeArguments),
    /// Tries the alarm command and the broker now, with a message that is marked as a test; says of each whether it was delivered
    AlarmTest,
    /// Reads a password and writes its hash, for the file that `[page] password_file` names
    PagePassword,
}

/// Why a command did not do what it was asked.
#[derive(Debug)]
enum Failure {
    /// The operator's file: exit status 78.
    Configuration(String),
    /// Wrong usage: exit status 2.
    Usage(String),
    /// Anything else: exit status 1.
    Failed(String),
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        Self::Failed(error.to_string())
    }
}

/// The commands and their options: what manual pages and completions are made from.
pub fn definition() -> clap::Command {
    examples::shown_in(Arguments::command())
}

/// Reads the command line, does what it says, and gives the exit status.
pub fn main() -> ExitCode {
    // clap answers --help and --version itself with status 0, and wrong usage with status 2
    let arguments =
        Arguments::from_arg_matches(&definition().get_matches()).unwrap_or_else(|error| error.exit());
    log_to_standard_error();
    let config = &arguments.config;
    let outcome = match arguments.command {
        Command::Run => run::run(config),
        Command::Status(arguments) => status::status(config, &arguments),
        Command::Check => check::check(config),
        Command::Replay { recordings, service } => replay::replay(config, &recordings, service),
        Command::Import(arguments) => import::import(config, &arguments),
        Command::Export(arguments) => export::export(config, &arguments),
        Command::Review(arguments) => review::review(config, &arguments),
        Command::Backup { file } => backup::backup(config, &file),
        Command::Restore { file } => backup::restore(config, &file),
        Command::Tape(arguments) => tape::tape(config, &arguments),
        Command::Sign(arguments) => book::sign(config, &arguments),
        Command::Plant(arguments) => bloom_book::plant(config, arguments),
        Command::Pollen(arguments) => bloom_book::pollen(config, arguments),
        Command::Cross(arguments) => bloom_book::cross(config, arguments),
        Command::Fruit(arguments) => bloom_book::fruit(config, arguments),
        Command::Tonight(arguments) => bloom_book::tonight(config, &arguments),
        Command::Book(arguments) => bloom_book::book(config, arguments),
        Command::Acknowledge(arguments) => book::acknowledge(config, arguments),
        Command::AlarmTest => alarm_test::alarm_test(config),
        Command::PagePassword => page_password::page_password(),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            let (status, said) = match failure {
                Failure::Configuration(said) => (EXIT_CONFIG, said),
                Failure::Usage(said) => (2, said),
                Failure::Failed(said) => (1, said),
            };
            for line in said.lines() {
                // nobody may be left to read it; the status says it too
                let _ = writeln!(io::stderr(), "anthesisd: {}", shown(line));
            }
            ExitCode::from(status)
        }
    }
}

/// Log lines go to standard error; with times and colour only where a person reads them, for a journal adds its own times.
fn log_to_standard_error() {
    let filter = EnvFilter::try_from_env("ANTHESISD_LOG")
        .unwrap_or_else(|_| EnvFilter::new("info,rumqttc=error,rustls=error"));
    let terminal = io::stderr().is_terminal();
    let builder = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(move || -> Box<dyn Write> {
            if terminal {
                Box::new(Shown::with_colours(io::stderr()))
            } else {
                Box::new(Shown::new(io::stderr()))
            }
        })
        // it would be told on standard error, and panic where that is what fails: a log that nobody reads ends no service
        .log_internal_errors(false)
        .with_target(false)
        .with_ansi(terminal);
    if terminal { builder.init() } else { builder.without_time().init() }
}

/// The configuration, with the files that it names.
fn load(path: &Path) -> Result<Config, Failure> {
    config::load(path).map_err(|faults| Failure::Configuration(faults.to_string()))
}

/// The configuration alone, for commands that open no secret: whoever books a sign need not be able to read the password.
fn read(path: &Path) -> Result<Config, Failure> {
    config::read(path).map_err(|faults| Failure::Configuration(faults.to_string()))
}

/// The model of the configured site.
fn site_of(config: &Config) -> Site {
    Site::new(config.site.clone(), config.benches.iter().map(|bench| bench.spec.clone()).collect())
}

/// The bench of that id, or the one that the plant of that accession stands on.
///
/// # Errors
/// With the nearest id that the configuration knows; with the benches, where that plant stands on several.
fn named_bench(config: &Config, id: &str) -> Result<Arc<str>, Failure> {
    let specs = || config.benches.iter().map(|bench| &bench.spec);
    let ids = || specs().map(|spec| &*spec.id);
    if let Some(spec) = specs().find(|spec| *spec.id == *id) {
        return Ok(Arc::clone(&spec.id));
    }
    if let Some(bench) = bench_of_plant(config, id)? {
        return Ok(bench);
    }
    let nearest = ids().max_by(|a, b| strsim::jaro_winkler(a, id).total_cmp(&strsim::jaro_winkler(b, id)));
    let known = ids().collect::<Vec<_>>().join(", ");
    Err(Failure::Usage(match nearest {
        Some(nearest) if strsim::jaro_winkler(nearest, id) > 0.7 => {
            format!("no bench {id:?} in the configuration; did you mean {nearest:?}? There are: {known}")
        }
        _ => format!("no bench {id:?} in the configuration; there are: {known}"),
    }))
}

/// The bench that the plant of that accession stands on, if it is configured.
///
/// # Errors
/// With the benches, where it stands on several.
fn bench_of_plant(config: &Config, plant: &str) -> Result<Option<Arc<str>>, Failure> {
    let specs = config.benches.iter().map(|bench| &bench.spec);
    let of_it =
        specs.filter(|spec| spec.plant.as_deref().is_some_and(|known| known.eq_ignore_ascii_case(plant)));
    match of_it.map(|spec| &spec.id).collect::<Vec<_>>().as_slice() {
        [] => Ok(None),
        [one] => Ok(Some(Arc::clone(one))),
        several => {
            let several = several.iter().map(|id| &***id).collect::<Vec<_>>().join(", ");
            Err(Failure::Usage(format!("{plant} stands on several benches: say which of {several} you mean")))
        }
    }
}

/// What is to be said behind an answer: whether what was recorded is taken up now. Nothing where the service runs.
fn taken_up(config: &Config) -> &'static str {
    if Watching::is_claimed(&config.store_path) {
        ""
    } else {
        "; the service is not running, and takes it up when it starts"
    }
}

/// A line of results on standard output; whoever reads may have had enough.
fn print(line: impl std::fmt::Display) -> Result<(), Failure> {
    match writeln!(io::stdout(), "{}", shown(&line.to_string())) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other.map_err(failed),
    }
}

/// Standard output for results that are written as they are: as a file or a program has them, or as a terminal may.
fn results() -> Box<dyn Write> {
    let out = io::stdout().lock();
    if io::stdout().is_terminal() { Box::new(Shown::new(out)) } else { Box::new(out) }
}

/// Results as JSON, for scripts.
fn print_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    print(serde_json::to_string_pretty(value).map_err(failed)?)
}

/// `1 bench`, `2 benches`.
fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

fn failed(error: impl std::fmt::Display) -> Failure {
    Failure::Failed(error.to_string())
}
