//! The real service and its commands on the record.

use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use anthesisd::store::Store;
use bloom_model::time::Time;
use rusqlite::{Connection, params};
use serde_json::json;

use super::data::{BENCHES, Benches, QUANTITIES, READINGS_A_DAY, days_ago};
use super::{Fault, IMPORTED_DAYS, Plan, system};

/// What a start took.
#[derive(Debug)]
pub(super) struct Started {
    pub(super) seconds: f64,
    pub(super) resident_mib: f64,
}

/// What a command took.
#[derive(Debug)]
pub(super) struct Took {
    pub(super) seconds: f64,
    pub(super) rate: f64,
    pub(super) peak_mib: f64,
}

/// A configuration of the house in a folder, with its store there; gives its path.
pub(super) fn write_config(folder: &Path) -> Result<PathBuf, Fault> {
    let path = folder.join("anthesisd.toml");
    fs::write(&path, config(&folder.join("anthesisd.db"))?)?;
    Ok(path)
}

fn config(store: &Path) -> Result<String, Fault> {
    let mut text = String::from("[site]\nname = \"saltmarsh\"\ntimezone = \"America/Halifax\"\n");
    writeln!(text, "[store]\npath = {:?}", store.display().to_string())?;
    for number in 1..=BENCHES {
        writeln!(
            text,
            "[[bench]]\nid = \"bench-{number:02}\"\nplant = \"AT-{number:04}\"\nprofile = \"titan-arum\"\n\
             tip = {{ mount_height_m = 3.1 }}"
        )?;
    }
    Ok(text)
}

/// Imports a recording of some days into a new store.
pub(super) fn import(config_path: &Path, plan: &Plan) -> Result<Took, Fault> {
    let recording = plan.folder.join("recording.jsonl");
    let mut out = BufWriter::new(File::create(&recording)?);
    let mut benches = Benches::new(BENCHES, plan.stamps, IMPORTED_DAYS);
    for round in 0..i64::from(IMPORTED_DAYS) * 8_640 {
        let mut packs = Vec::new();
        benches.round(round, |bench, time, values| {
            let [first, second, third] = QUANTITIES;
            packs.push(json!([
                {"bn": format!("{}/", bench.id), "bt": time.unix_ms() as f64 / 1e3, "n": first.name(), "u": first.unit(), "v": values[0]},
                {"n": second.name(), "u": second.unit(), "v": values[1]},
                {"n": third.name(), "u": third.unit(), "v": values[2]},
            ]));
        });
        for pack in packs {
            serde_json::to_writer(&mut out, &pack)?;
            out.write_all(b"\n")?;
        }
    }
    out.into_inner()?.sync_all()?;
    let own = config_path.with_file_name("import.toml");
    fs::write(&own, config(&plan.folder.join("import.db"))?)?;
    let readings = u64::from(IMPORTED_DAYS) * READINGS_A_DAY;
    let started = Instant::now();
    let recording = recording.display().to_string();
    let (said, peak_mib) = watched(plan, &own, &["import", &recording], true)?;
    let seconds = started.elapsed().as_secs_f64();
    if !said.lines().any(|line| line.starts_with(&format!("{readings} readings new"))) {
        return Err(format!("the import said {said:?}").into());
    }
    Ok(Took { seconds, rate: readings as f64 / seconds, peak_mib })
}

/// Makes the record as long as so many years, by telling the sealed days over and over under later dates, with a morning's
/// event for each bench and day; gives its length.
pub(super) fn grow(store: &Path, plan: &Plan) -> Result<u64, Fault> {
    let conn = Connection::open(store)?;
    let days = i64::from(plan.days) - 1;
    let first: i64 = conn.query_row("SELECT min(day) FROM sealed", [], |row| row.get(0))?;
    // earlier, so that the newest stay the newest
    for copy in 1..=(i64::from(plan.years) * 365 / days) {
        conn.execute(
            "INSERT INTO sealed (bench, day, readings, last_fed, sum, body)
             SELECT bench, day - ?1, readings, 1, sum, body FROM sealed WHERE day >= ?2 AND day < ?2 + ?3",
            params![copy * days, first, days],
        )?;
        conn.execute(
            "INSERT INTO hours (id, calibration, sheet, sum, body)
             SELECT copied.id, calibration, sheet, hours.sum, hours.body
             FROM sealed AS copied JOIN sealed AS one ON one.bench = copied.bench AND one.day = copied.day + ?1
             JOIN hours ON hours.id = one.id WHERE copied.day >= ?2 - ?1 AND copied.day < ?2 + ?3 - ?1",
            params![copy * days, first, days],
        )?;
    }
    conn.execute(
        "INSERT INTO event (id, bench, time_ms, kind, severity, payload, after_fed)
         SELECT bench || '/morning/' || day, bench, day * 86400000, 'morning', 'notice',
                '{\"id\":\"' || bench || '/morning/' || day || '\",\"message\":\"' || hex(zeroblob(150)) || '\"}', 1
         FROM sealed",
        [],
    )?;
    // the summaries of days are made after each hour's sealing, some at a time: as many hours as it takes
    let mut service = Store::open(store)?;
    let made = || conn.query_row("SELECT count(*) FROM days", [], |row| row.get::<_, i64>(0));
    let mut before = -1;
    while before < made()? {
        before = made()?;
        while service.seal_step(Time::from_unix_ms(days_ago(0)))? {}
    }
    drop(service);
    conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
    Ok(system::length(store))
}

/// Starts the service, and waits until the benches are as they were left.
pub(super) fn start(config: &Path, plan: &Plan) -> Result<Started, Fault> {
    let started = Instant::now();
    let mut child = Command::new(&plan.service)
        .arg("--config")
        .arg(config)
        .arg("run")
        .stdin(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()?;
    let errors = child.stderr.take().ok_or("no standard error")?;
    let mut lines = BufReader::new(errors).lines();
    let ready =
        lines.by_ref().map_while(Result::ok).any(|line| line.contains("the benches are as they were left"));
    let seconds = started.elapsed().as_secs_f64();
    let outcome = if ready {
        sleep(Duration::from_secs(2));
        system::resident_mib(child.id())
    } else {
        Err("the service did not start".into())
    };
    child.kill()?;
    child.wait()?;
    Ok(Started { seconds, resident_mib: outcome? })
}

/// Exports a year of a bench to nowhere.
pub(super) fn export_a_year(config: &Path, plan: &Plan) -> Result<Took, Fault> {
    let started = Instant::now();
    let day = |days| Time::from_unix_ms(days_ago(days)).to_string();
    let (from, until) = (day(plan.days + 366), day(plan.days + 1));
    let arguments = ["export", "bench-01", "--from", &from, "--to", &until];
    let (_, peak_mib) = watched(plan, config, &arguments, false)?;
    let seconds = started.elapsed().as_secs_f64();
    Ok(Took { seconds, rate: 365.0 * 8_640.0 * 3.0 / seconds, peak_mib })
}

/// Reviews a bench over the whole record.
pub(super) fn review_all(config: &Path, plan: &Plan) -> Result<Took, Fault> {
    let started = Instant::now();
    let day = |days| Time::from_unix_ms(days_ago(days)).to_string();
    let days = plan.years * 365;
    let page = plan.folder.join("review.html").display().to_string();
    let arguments = ["review", "bench-01", "--from", &day(days), "--to", &day(0), "--output", &page];
    let (_, peak_mib) = watched(plan, config, &arguments, false)?;
    let seconds = started.elapsed().as_secs_f64();
    Ok(Took { seconds, rate: f64::from(days) * 8_640.0 * 3.0 / seconds, peak_mib })
}

/// Runs a command to its end and looks at its memory meanwhile.
fn watched(plan: &Plan, config: &Path, arguments: &[&str], keep: bool) -> Result<(String, f64), Fault> {
    let mut child = Command::new(&plan.service)
        .arg("--config")
        .arg(config)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(if keep { Stdio::piped() } else { Stdio::null() })
        .spawn()?;
    let mut peak = 0.0_f64;
    while child.try_wait()?.is_none() {
        // gone or a zombie in between: then it has no such line
        peak = peak.max(system::peak_mib(child.id()).unwrap_or(0.0));
        sleep(Duration::from_millis(2));
    }
    let output = child.wait_with_output()?;
    if !output.status.success() {
        return Err(format!("{arguments:?} failed").into());
    }
    Ok((String::from_utf8_lossy(&output.stdout).into_owned(), peak))
}
