//! Seasons by the hundred through the model, held against their truth: one table, and what each trouble costs.

use std::process::ExitCode;
use std::thread;

use anthesisd::config::{DEFAULT_PATH, profile};
use bench_sim::options::SeasonOptions;
use bench_sim::season::Season;
use bench_sim::trial::{self, Summary, Verdict};
use bench_sim::trouble::{Trouble, Troubles};
use bench_sim::truth::Outcome;
use bloom_model::profile::Profile;
use clap::Parser;

/// Runs seasons through the model and prints how good the opening alarm was
#[derive(Debug, Parser)]
struct Arguments {
    /// How many seasons; of each four, one never opens
    #[arg(long, default_value_t = 100)]
    seasons: u64,
    /// The first seed; the others follow it
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// all, none, or names with commas between; `all,-people` leaves one out
    #[arg(long, default_value = "all")]
    troubles: Troubles,
    /// A row for each trouble alone, and for none
    #[arg(long)]
    each: bool,
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
    let arguments = Arguments::parse();
    let folder = std::path::Path::new(DEFAULT_PATH).parent().unwrap_or(std::path::Path::new("/"));
    let profile = match profile("titan-arum", folder) {
        Ok(profile) => profile,
        Err(error) => {
            eprintln!("trials: {error}");
            return ExitCode::FAILURE;
        }
    };
    let mut rows = Vec::new();
    if arguments.each {
        rows.push(("none".to_owned(), Troubles::NONE));
        rows.extend(Trouble::ALL.iter().map(|t| (t.name().to_owned(), Troubles::NONE.with(*t))));
    }
    rows.push((arguments.troubles.to_string(), arguments.troubles));
    if arguments.troubles == Troubles::all()
        && let Some(row) = rows.last_mut()
    {
        "all".clone_into(&mut row.0);
    }
    if !arguments.json {
        println!(
            "{} seasons a row from seed {}, a quarter of which never open",
            arguments.seasons, arguments.seed
        );
        println!("{}", Summary::HEAD);
    }
    for (name, troubles) in rows {
        let summary = Summary::of(&name, &run(&arguments, troubles, &profile));
        if arguments.json {
            match serde_json::to_string(&summary) {
                Ok(line) => println!("{line}"),
                Err(error) => eprintln!("trials: {error}"),
            }
        } else {
            println!("{summary}");
        }
    }
    ExitCode::SUCCESS
}

/// All seasons of one row, on as many threads as there are processors.
fn run(arguments: &Arguments, troubles: Troubles, profile: &Profile) -> Vec<Verdict> {
    let workers = thread::available_parallelism().map_or(1, |count| count.get() as u64);
    let work = |worker: u64| -> Vec<Verdict> {
        (worker..arguments.seasons)
            .step_by(usize::try_from(workers).unwrap_or(1))
            .map(|number| {
                let mut options = SeasonOptions {
                    troubles,
                    interval_s: arguments.interval_s,
                    signs: false,
                    ..SeasonOptions::default()
                };
                options.plant.outcome = Some(match number % 8 {
                    3 => Outcome::Stops,
                    7 => Outcome::Leaf,
                    _ => Outcome::Opens,
                });
                if arguments.overhead_only {
                    options.rim = None;
                }
                trial::run(&Season::draw(arguments.seed + number, &options), profile, |_| {})
            })
            .collect()
    };
    thread::scope(|scope| {
        let handles: Vec<_> = (0..workers).map(|worker| scope.spawn(move || work(worker))).collect();
        handles.into_iter().filter_map(|handle| handle.join().ok()).flatten().collect()
    })
}
