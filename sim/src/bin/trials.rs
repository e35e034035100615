//! Seasons by the hundred through the model, held against their truth: the alarm, the forecast, the hourly rate.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anthesisd::config::{DEFAULT_PATH, profile};
use bench_sim::options::SeasonOptions;
use bench_sim::trial::forecast::ForecastSummary;
use bench_sim::trial::mornings::Diary;
use bench_sim::trial::published::PublishedTable;
use bench_sim::trial::scenario::Scenario;
use bench_sim::trial::{self, Many, Summary, rate};
use bench_sim::trouble::{Trouble, Troubles};
use bloom_model::event::EventKind;
use bloom_model::profile::Profile;
use clap::{Args, Parser, Subcommand};

/// Runs seasons through the model and prints how good the opening alarm was
#[derive(Debug, Parser)]
#[command(args_conflicts_with_subcommands = true)]
struct Arguments {
    #[command(subcommand)]
    what: Option<What>,
    #[command(flatten)]
    seasons: Seasons,
    /// A row for each trouble alone, and for none
    #[arg(long)]
    each: bool,
}

#[derive(Debug, Subcommand)]
enum What {
    /// The forecast of every morning of the seasons
    Forecast {
        #[command(flatten)]
        seasons: Seasons,
        /// Nobody books signs
        #[arg(long)]
        unsigned: bool,
        /// Height by tape only, two to four times a week
        #[arg(long)]
        tape_only: bool,
    },
    /// The forecast on published blooms, each left out in turn
    Published {
        /// The folder of the series
        #[arg(long, default_value = "tests/reference/series")]
        folder: PathBuf,
    },
    /// Scenarios from their files: physics, limits and seed
    Scenario {
        /// The files, such as sim/scenarios/house.toml
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// So many seasons in place of the file's
        #[arg(long)]
        seasons: Option<u64>,
        /// Only the season of this seed, with every event of its bloom but the mornings
        #[arg(long)]
        tell: Option<u64>,
    },
    /// The hourly rate against what an hour can tell, and a sweep of temperature
    Rate {
        /// How many buds
        #[arg(long, default_value_t = 10)]
        buds: u64,
        /// The first seed; the others follow it
        #[arg(long, default_value_t = 1)]
        seed: u64,
    },
}

#[derive(Debug, Clone, Args)]
struct Seasons {
    /// How many seasons; of each four, one never opens
    #[arg(long, default_value_t = 100)]
    seasons: u64,
    /// The first seed; the others follow it
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// all, none, or names with commas between; `all,-people` leaves one out
    #[arg(long, default_value = "all")]
    troubles: Troubles,
    /// Seconds between readings
    #[arg(long, default_value_t = 60)]
    interval_s: u32,
    /// The overhead ranger only
    #[arg(long)]
    overhead_only: bool,
    /// The table as JSON
    #[arg(long)]
    json: bool,
}

fn main() -> ExitCode {
    match run(&Arguments::parse()) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("trials: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Gives whether all limits were held.
fn run(arguments: &Arguments) -> Result<bool, Box<dyn std::error::Error>> {
    let folder = Path::new(DEFAULT_PATH).parent().unwrap_or(Path::new("/"));
    let profile = profile("titan-arum", folder)?;
    match &arguments.what {
        None => openings(&arguments.seasons, arguments.each, &profile)?,
        Some(What::Forecast { seasons, unsigned, tape_only }) => {
            let mut many = seasons.many();
            many.options.signs = !unsigned;
            many.options.tape = true;
            if *tape_only {
                many.options.tip = None;
            }
            let mornings = many.each(|season| {
                let mut diary = Diary::new(season, &profile);
                trial::run(season, &profile, |event| diary.note(event));
                diary.mornings
            });
            let summary = ForecastSummary::of(&mornings.concat());
            if seasons.json {
                println!("{}", serde_json::to_string(&summary)?);
            } else {
                println!("{summary}");
            }
        }
        Some(What::Published { folder }) => {
            for (signs, said) in [(false, "Heights alone"), (true, "With the signs that the sources tell of")]
            {
                println!("{said}:\n{}\n", PublishedTable::of(folder, &profile, signs)?);
            }
        }
        Some(What::Scenario { files, tell: Some(seed), .. }) => tell(files, *seed, &profile)?,
        Some(What::Scenario { files, seasons, .. }) => return scenarios(files, *seasons, &profile),
        Some(What::Rate { buds, seed }) => {
            for stray_share in [0.0, 0.05] {
                println!("{}", rate::rates(*seed..seed + buds, stray_share, &profile));
            }
            println!("{}", rate::sweep(*seed..seed + buds, &profile));
        }
    }
    Ok(true)
}

/// Tells one season of each scenario.
fn tell(files: &[PathBuf], seed: u64, profile: &Profile) -> Result<(), Box<dyn std::error::Error>> {
    for file in files {
        let truth = Scenario::read(file)?.tell(seed, profile, |event, sentence| {
            if event.bloom.is_some() && event.kind != EventKind::Morning {
                println!("{} {}", event.time, sentence);
            }
        });
        println!("{}", serde_json::to_string_pretty(&truth)?);
    }
    Ok(())
}

/// Plays scenarios; gives whether all of their limits were held.
fn scenarios(
    files: &[PathBuf],
    seasons: Option<u64>,
    profile: &Profile,
) -> Result<bool, Box<dyn std::error::Error>> {
    let mut all_held = true;
    for file in files {
        let mut scenario = Scenario::read(file)?;
        scenario.seasons = seasons.unwrap_or(scenario.seasons);
        let name = file.file_stem().map_or(file.display().to_string(), |stem| stem.display().to_string());
        let (summary, full_open, wrong) = scenario.play(&name, profile);
        println!(
            "{}: {} seasons from seed {}\n{}\n{summary}",
            scenario.says,
            scenario.seasons,
            scenario.seed,
            Summary::HEAD
        );
        println!(
            "nobody was told of {} of {} openings, {} more began under an opening alarm that stood already; edge-not-seen of a ranger that sees the edge: {} ({} as alarms), {:.2} a bench-year",
            summary.untold(),
            summary.openings,
            summary.missed_called,
            summary.edge_not_seen_falsely,
            summary.edge_not_seen_falsely_as_alarm,
            summary.edge_not_seen_falsely as f64 / summary.bench_years
        );
        for row in &full_open {
            println!("{row}");
        }
        for held in scenario.limits.held_against(&summary) {
            all_held &= held.holds();
            println!("{held}");
        }
        for (seed, what) in wrong {
            println!("season {seed}: {what}");
        }
        println!();
    }
    Ok(all_held)
}

fn openings(seasons: &Seasons, each: bool, profile: &Profile) -> Result<(), serde_json::Error> {
    let mut rows = Vec::new();
    if each {
        rows.push(("none".to_owned(), Troubles::NONE));
        rows.extend(Trouble::ALL.iter().map(|t| (t.name().to_owned(), Troubles::NONE.with(*t))));
    }
    rows.push((seasons.troubles.to_string(), seasons.troubles));
    if seasons.troubles == Troubles::all()
        && let Some(row) = rows.last_mut()
    {
        "all".clone_into(&mut row.0);
    }
    if !seasons.json {
        println!(
            "{} seasons a row from seed {}, a quarter of which never open",
            seasons.seasons, seasons.seed
        );
        println!("{}", Summary::HEAD);
    }
    for (name, troubles) in rows {
        let seasons = Seasons { troubles, ..seasons.clone() };
        let verdicts = seasons.many().each(|season| trial::run(season, profile, |_| {}));
        let summary = Summary::of(&name, &verdicts);
        if seasons.json {
            println!("{}", serde_json::to_string(&summary)?);
        } else {
            println!("{summary}");
        }
    }
    Ok(())
}

impl Seasons {
    fn many(&self) -> Many {
        let mut options = SeasonOptions {
            troubles: self.troubles,
            interval_s: self.interval_s,
            ..SeasonOptions::default()
        };
        if self.overhead_only {
            options.rim = None;
        }
        Many { seasons: self.seasons, seed: self.seed, options }
    }
}
