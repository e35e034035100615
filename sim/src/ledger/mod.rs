//! The ledger bench: what the record costs, beside plain rows and a time-series server, on the same data and machine.

mod daemon;
mod data;
mod live;
mod plain;
mod server;
mod system;
mod table;

use std::path::{Path, PathBuf};
use std::time::Instant;

use anthesisd::store::{Importer, Reader, Recorded};
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;

pub use data::Stamps;
pub use live::{Lived, live};
pub use table::Table;

use data::{BENCHES, Benches, QUANTITIES, READINGS_A_DAY, days_ago};

/// Any fault ends the run with what it says.
pub type Fault = Box<dyn std::error::Error + Send + Sync>;

/// How much is tried.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Where the files lie; they are left there.
    pub folder: PathBuf,
    /// Days of the record as it is lived through.
    pub days: u32,
    /// Years of the record that the service is started with.
    pub years: u32,
    /// How readings are stamped.
    pub stamps: Stamps,
    /// The binary of the service.
    pub service: PathBuf,
}

/// Points of the chart that a year is reduced to.
const CHART_POINTS: usize = 1_000;
/// Each is timed so often; the median is told.
const TIMES: usize = 7;
/// Days of the recording that is imported.
const IMPORTED_DAYS: u32 = 4;

/// Runs everything, and says meanwhile on standard error what it is at.
///
/// # Errors
/// The first thing that cannot be done.
pub fn run(plan: &Plan) -> Result<Table, Fault> {
    let mut table = Table::new();
    std::fs::create_dir_all(&plan.folder)?;
    let config = daemon::write_config(&plan.folder)?;

    eprintln!("living through {} days of {BENCHES} benches", plan.days);
    let store = plan.folder.join("anthesisd.db");
    let lived = live::in_a_child(&config, plan)?;
    eprintln!("the same in plain rows");
    let plain = plain::live(&plan.folder.join("plain.db"), plan)?;
    let one_by_one = plain::one_row_a_commit(&plan.folder.join("one.db"), plan.stamps)?;
    let server = server::run(&plan.folder.join("server"), plan)?;
    table.row(
        &format!("bytes a reading at rest, {} days in: file", plan.days),
        "0.50",
        format!("{:.3}", lived.file_bytes as f64 / lived.readings as f64),
        format!("{:.2}", plain.file_bytes as f64 / plain.readings as f64),
        server.as_ref().map(|server| format!("{:.3}", server.bytes_a_reading)),
    );
    table.row(
        "the same with the write-ahead log's file",
        "",
        format!("{:.3}", (lived.file_bytes + lived.log_bytes) as f64 / lived.readings as f64),
        format!("{:.2}", (plain.file_bytes + plain.log_bytes) as f64 / plain.readings as f64),
        None,
    );
    table.row(
        "MB written a day (plain rows: a commit a minute; one row a commit)",
        "70",
        format!("{:.1}", lived.written_a_day() / 1e6),
        format!("{:.1}; {:.0}", plain.written_a_day() / 1e6, one_by_one * READINGS_A_DAY as f64 / 1e6),
        None,
    );
    table.row("longest sealing step, ms", "", format!("{:.1}", lived.longest_step_ms), String::new(), None);
    table.row(
        "resident at most: model, store and sealing, MiB",
        "25",
        format!("{:.1}", lived.peak_mib),
        String::new(),
        server.as_ref().map(|server| format!("{:.0}", server.peak_mib)),
    );

    eprintln!("a year of one bench");
    let year = plan.folder.join("year.db");
    let rate = import_year(&year, plan.stamps)?;
    table.row(
        "readings a second into the store, through the library",
        "500,000",
        thousands(rate),
        thousands(plain::import_rate(&plan.folder.join("plain-import.db"), plan.stamps)?),
        None,
    );
    let (from, until) = year_span();
    let reader = Reader::open(&year)?;
    let chart = median_ms(|| {
        let points = reader.chart("bench-01", Quantity::TipRange, from, until, CHART_POINTS)?;
        expect_points(points.len())
    })?;
    table.row(
        &format!("ms for a year of one quantity as {CHART_POINTS} points (plain rows: keyed for it)"),
        "2",
        format!("{chart:.2}"),
        format!("{:.0}", plain::chart_ms(&plan.folder.join("plain-year.db"), plan.stamps)?),
        server.as_ref().map(|server| format!("{:.0}", server.chart_ms)),
    );

    eprintln!("a recording of {IMPORTED_DAYS} days, imported by the command");
    let imported = daemon::import(&config, plan)?;
    table.row(
        "readings a second, `anthesisd import` of a recording",
        "500,000",
        thousands(imported.rate),
        String::new(),
        None,
    );
    table.row("resident at most in it, MiB", "", format!("{:.1}", imported.peak_mib), String::new(), None);

    eprintln!("{} years of record", plan.years);
    let grown = daemon::grow(&store, plan)?;
    let started = daemon::start(&config, plan)?;
    table.row(
        &format!("s to start with {} years of record ({:.1} GB)", plan.years, grown as f64 / 1e9),
        "2",
        format!("{:.2}", started.seconds),
        String::new(),
        None,
    );
    table.row("resident then, MiB", "25", format!("{:.1}", started.resident_mib), String::new(), None);
    let reader = Reader::open(&store)?;
    let from = Time::from_unix_ms(days_ago(plan.years * 365));
    let chart = median_ms(|| {
        let points = reader.chart("bench-01", Quantity::TipRange, from, until, CHART_POINTS)?;
        expect_points(points.len())
    })?;
    drop(reader);
    table.row(
        &format!("ms for {} years of one quantity as {CHART_POINTS} points, beside all benches", plan.years),
        "10",
        format!("{chart:.2}"),
        String::new(),
        None,
    );
    let exported = daemon::export_a_year(&config, plan)?;
    table.row(
        "resident at most in `export` of a year of a bench, MiB",
        "64",
        format!("{:.1}", exported.peak_mib),
        String::new(),
        None,
    );
    let reviewed = daemon::review_all(&config, plan)?;
    table.row(
        &format!("resident at most in `review` of {} years of a bench, MiB", plan.years),
        "64",
        format!("{:.1}", reviewed.peak_mib),
        String::new(),
        None,
    );
    table.row("seconds in it", "1", format!("{:.2}", reviewed.seconds), String::new(), None);
    Ok(table)
}

/// The first and the last instant of a year of readings.
fn year_span() -> (Time, Time) {
    (Time::from_unix_ms(days_ago(365)), Time::from_unix_ms(days_ago(0) - 1))
}

/// Writes a year of one bench; gives the rate.
fn import_year(path: &Path, stamps: Stamps) -> Result<f64, Fault> {
    let mut benches = Benches::new(1, stamps, 365);
    let mut importer = Importer::open(path)?;
    let mut readings = 0;
    let mut spent = std::time::Duration::ZERO;
    for day in 0..365 {
        let mut batch = Vec::new();
        for round in day * 8_640..(day + 1) * 8_640 {
            benches.round(round, |bench, time, values| {
                for (quantity, value) in QUANTITIES.into_iter().zip(values) {
                    batch.push(recorded(&bench.id, time, quantity, value));
                }
            });
        }
        readings += batch.len();
        let started = Instant::now();
        importer.import(batch)?;
        spent += started.elapsed();
    }
    let started = Instant::now();
    importer.finish()?;
    Ok(readings as f64 / (spent + started.elapsed()).as_secs_f64())
}

fn recorded(bench: &std::sync::Arc<str>, time: Time, quantity: Quantity, value: f64) -> Recorded {
    let observed = Observed::Value(quantity, value);
    Recorded { bench: bench.clone(), time, observed, note: None, by: None, fed: None }
}

fn expect_points(points: usize) -> Result<(), Fault> {
    if points == CHART_POINTS { Ok(()) } else { Err(format!("a chart of {points} points").into()) }
}

fn median_ms(mut work: impl FnMut() -> Result<(), Fault>) -> Result<f64, Fault> {
    let mut times = Vec::new();
    for _ in 0..TIMES {
        let started = Instant::now();
        work()?;
        times.push(started.elapsed().as_secs_f64() * 1e3);
    }
    times.sort_by(f64::total_cmp);
    times.get(TIMES / 2).copied().ok_or_else(|| "nothing was timed".into())
}

fn thousands(number: f64) -> String {
    let digits = format!("{number:.0}");
    let mut said = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place) % 3 == 0 {
            said.push(',');
        }
        said.push(digit);
    }
    said
}
