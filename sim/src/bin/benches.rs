//! `benches`: draws seasons and writes them as a recording, or plays them over pseudo-terminals.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

use bench_sim::options::{PlantWishes, RangerOptions, SeasonOptions};
use bench_sim::pty::{Pace, Port};
use bench_sim::recording::{Packs, Stamp, write_recording, write_truth};
use bench_sim::season::Season;
use bench_sim::trouble::Troubles;
use bench_sim::truth::Outcome;
use chrono::NaiveDate;
use clap::{ArgGroup, Parser};

/// Draws seasons of virtual benches from a seed.
#[derive(Debug, Parser)]
#[command(version, group(ArgGroup::new("result").required(true).multiple(true)))]
struct Arguments {
    /// The seed; further benches take the seeds after it
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// A bench's id; give it again for more benches
    #[arg(long = "bench", value_name = "ID", default_value = "east-3", value_parser = bench_id)]
    benches: Vec<String>,
    /// Seconds between readings
    #[arg(long, default_value_t = 60, value_parser = clap::value_parser!(u32).range(1..=3600))]
    interval_s: u32,
    /// What goes wrong: none, all, or names with commas between; a name after a minus is left out of all
    #[arg(long, default_value = "none", allow_hyphen_values = true)]
    troubles: Troubles,
    /// Overhead ranger to the datum, m; 0 for none
    #[arg(long, default_value_t = 3.1)]
    tip_mount_m: f64,
    /// Side ranger to the closed rim, m; 0 for none
    #[arg(long, default_value_t = 0.95)]
    rim_mount_m: f64,
    /// Local date on which a bud comes through the soil; one for each bench in turn, drawn where there are fewer
    #[arg(long = "emerges", value_name = "DATE")]
    emerges: Vec<NaiveDate>,
    /// Days from there to the opening; likewise
    #[arg(long = "opens-after", value_name = "DAYS", value_parser = clap::value_parser!(u32).range(5..=200))]
    opens_after: Vec<u32>,
    /// Somebody tapes the height a few times a week
    #[arg(long)]
    tape: bool,
    /// Somebody books the signs of the bud
    #[arg(long)]
    signs: bool,
    /// The spadix has a thermometer of its own
    #[arg(long)]
    spadix_thermometer: bool,
    /// Write the recording here (- is standard output)
    #[arg(long, value_name = "FILE", group = "result")]
    recording: Option<PathBuf>,
    /// Write what really happened here, as JSON (- is standard output)
    #[arg(long, value_name = "FILE", group = "result")]
    truth: Option<PathBuf>,
    /// Play over one pseudo-terminal a bench instead
    #[arg(long, conflicts_with = "recording", group = "result")]
    play: bool,
    /// Folder for the terminals' names when playing
    #[arg(long, value_name = "FOLDER", default_value = "/tmp")]
    ports: PathBuf,
    /// Seconds of the season to one second on the wall when playing
    #[arg(long, default_value_t = 60.0)]
    speed: f64,
    /// Days of the season to skip before playing
    #[arg(long, default_value_t = 0.0)]
    skip_days: f64,
    /// Play packs with the season's own times instead of none
    #[arg(long)]
    stamped: bool,
}

fn bench_id(text: &str) -> Result<String, &'static str> {
    let allowed = |byte: u8| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-';
    if !text.is_empty() && text.bytes().all(allowed) {
        Ok(text.to_owned())
    } else {
        Err("a bench's id is of a-z, 0-9 and -")
    }
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match run(&arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(io::stderr(), "benches: {error}");
            ExitCode::FAILURE
        }
    }
}

fn run(arguments: &Arguments) -> io::Result<()> {
    let seasons: Vec<Season> = arguments
        .benches
        .iter()
        .enumerate()
        .zip(arguments.seed..)
        .map(|((place, bench), seed)| Season::draw(seed, &options(arguments, place, bench)))
        .collect();
    if let Some(path) = &arguments.truth {
        write_truth(&seasons, create(path)?).map_err(|error| named(path, &error))?;
    }
    if let Some(path) = &arguments.recording {
        let lines = write_recording(&seasons, create(path)?).map_err(|error| named(path, &error))?;
        writeln!(io::stderr(), "{lines} packs in {}", path.display())?;
    }
    if arguments.play {
        return std::thread::scope(|scope| {
            let players: Vec<_> =
                seasons.iter().map(|season| scope.spawn(|| play(season, arguments))).collect();
            players.into_iter().try_for_each(|player| {
                player
                    .join()
                    .unwrap_or_else(|_| Err(io::Error::other("a player stopped by a fault of its own")))
            })
        });
    }
    Ok(())
}

fn options(arguments: &Arguments, place: usize, bench: &str) -> SeasonOptions {
    let (emerges_on, days_to_opening) =
        (arguments.emerges.get(place).copied(), arguments.opens_after.get(place).copied());
    let outcome = days_to_opening.map(|_| Outcome::Opens);
    let ranger =
        |mount_m: f64| (mount_m > 0.0).then(|| RangerOptions { mount_m, ..RangerOptions::default() });
    SeasonOptions {
        bench: bench.to_owned(),
        interval_s: arguments.interval_s,
        tip: ranger(arguments.tip_mount_m),
        rim: ranger(arguments.rim_mount_m),
        spadix_temperature: arguments.spadix_thermometer,
        tape: arguments.tape,
        signs: arguments.signs,
        troubles: arguments.troubles,
        plant: PlantWishes { outcome, emerges_on, days_to_opening, ..PlantWishes::default() },
        ..SeasonOptions::default()
    }
}

fn play(season: &Season, arguments: &Arguments) -> io::Result<()> {
    let link = arguments.ports.join(&season.options().bench);
    let mut port = Port::open(&link).map_err(|error| named(&link, &error))?;
    writeln!(io::stdout(), "{} {}", season.options().bench, port.path().display())?;
    let stamp = if arguments.stamped { Stamp::Season } else { Stamp::Arrival };
    let mut packs = Packs::new(season, stamp);
    let from = season.truth().start.plus_hours(24.0 * arguments.skip_days);
    let mut line = Vec::new();
    let pace = Pace::new(arguments.speed);
    loop {
        line.clear();
        let Some(time) = packs.next_line(&mut line) else {
            break;
        };
        if time < from {
            continue;
        }
        std::thread::sleep(pace.wait_for(time.unix_ms() - from.unix_ms()));
        port.send(&line, Duration::from_millis(200))?;
    }
    writeln!(io::stderr(), "{}: played; {} lines found no reader", season.options().bench, port.dropped())
}

fn create(path: &Path) -> io::Result<Box<dyn Write>> {
    if path == Path::new("-") {
        return Ok(Box::new(BufWriter::new(io::stdout())));
    }
    let file = File::create(path).map_err(|error| named(path, &error))?;
    Ok(Box::new(BufWriter::with_capacity(1 << 18, file)))
}

fn named(path: &Path, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("{}: {error}", path.display()))
}
