//! Seasons by the hundred through the model, held against their truth: the alarm, the forecast, the hourly rate.

use std::path::PathBuf;
use std::process::ExitCode;
use std::thread;

use anthesisd::config::{DEFAULT_PATH, profile};
use bench_sim::options::SeasonOptions;
use bench_sim::season::Season;
use bench_sim::trial::forecast::{Diary, ForecastSummary};
use bench_sim::trial::published::PublishedTable;
use bench_sim::trial::{self, Summary, rate};
use bench_sim::trouble::{Trouble, Troubles};
use bench_sim::truth::Outcome;
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
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("trials: {error}");
            ExitCode::FAILURE
        }
    }
}

fn run(arguments: &Arguments) -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::path::Path::new(DEFAULT_PATH).parent().unwrap_or(std::path::Path::new("/"));
    let profile = profile("titan-arum", folder)?;
    match &arguments.what {
        None => openings(&arguments.seasons, arguments.each, &profile)?,
        Some(What::Forecast { seasons, unsigned, tape_only }) => {
            let mornings = each_season(seasons, |seed, mut options| {
                options.signs = !unsigned;
                options.tape = true;
                if *tape_only {
                    options.tip = None;
                }
                let season = Season::draw(seed, &options);
                let mut diary = Diary::new(&season, &profile);
                trial::run(&season, &profile, |event| diary.note(event));
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
        Some(What::Rate { buds, seed }) => {
            for stray_share in [0.0, 0.05] {
                println!("{}", rate::rates(*seed..seed + buds, stray_share, &profile));
            }
            println!("{}", rate::sweep(*seed..seed + buds, &profile));
        }
    }
    Ok(())
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
        let verdicts =
            each_season(&seasons, |seed, options| trial::run(&Season::draw(seed, &options), profile, |_| {}));
        let summary = Summary::of(&name, &verdicts);
        if seasons.json {
            println!("{}", serde_json::to_string(&summary)?);
        } else {
            println!("{summary}");
        }
    }
    Ok(())
}

/// Does something with every season, on as many threads as there are processors.
fn each_season<T: Send>(seasons: &Seasons, each: impl Fn(u64, SeasonOptions) -> T + Sync) -> Vec<T> {
    let workers = thread::available_parallelism().map_or(1, |count| count.get() as u64);
    let each = &each;
    let work = move |worker: u64| -> Vec<T> {
        (worker..seasons.seasons)
            .step_by(usize::try_from(workers).unwrap_or(1))
            .map(|number| {
                let mut options = SeasonOptions {
                    troubles: seasons.troubles,
                    interval_s: seasons.interval_s,
                    signs: false,
                    ..SeasonOptions::default()
                };
                options.plant.outcome = Some(match number % 8 {
                    3 => Outcome::Stops,
                    7 => Outcome::Leaf,
                    _ => Outcome::Opens,
                });
                if seasons.overhead_only {
                    options.rim = None;
                }
                each(seasons.seed + number, options)
            })
            .collect()
    };
    thread::scope(|scope| {
        let handles: Vec<_> = (0..workers).map(|worker| scope.spawn(move || work(worker))).collect();
        handles.into_iter().filter_map(|handle| handle.join().ok()).flatten().collect()
    })
}
