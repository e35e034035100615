//! The same data in victoria-metrics, where it is installed (`apt-get install victoria-metrics`).

use std::fmt::Write as _;
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use super::data::{BENCHES, Benches, QUANTITIES, READINGS_A_DAY};
use super::{CHART_POINTS, Fault, Plan, median_ms, system, year_span};

const PROGRAM: &str = "victoria-metrics";
/// For a start, and for what was taken in to be on the disk.
const PATIENCE: Duration = Duration::from_secs(60);

/// What it took.
#[derive(Debug)]
pub(super) struct Served {
    pub(super) bytes_a_reading: f64,
    pub(super) chart_ms: f64,
    pub(super) peak_mib: f64,
}

struct Server {
    child: Child,
    address: String,
}

/// Runs it over the days and over a year of one bench; `None` where it is not installed.
pub(super) fn run(folder: &Path, plan: &Plan) -> Result<Option<Served>, Fault> {
    let Some(days) = Server::start(&folder.join("days"))? else {
        eprintln!("{PROGRAM} is absent: its column stays empty");
        return Ok(None);
    };
    eprintln!("the same in {PROGRAM}");
    let mut benches = Benches::new(BENCHES, plan.stamps, plan.days);
    for day in 0..i64::from(plan.days) {
        days.put_day(&mut benches, day)?;
    }
    let peak_mib = system::peak_mib(days.child.id())?;
    days.stop()?;
    let readings = u64::from(plan.days) * READINGS_A_DAY;
    let bytes_a_reading = system::folder_length(&folder.join("days"))? as f64 / readings as f64;

    let Some(year) = Server::start(&folder.join("year"))? else { return Ok(None) };
    let mut benches = Benches::new(1, plan.stamps, 365);
    for day in 0..365 {
        year.put_day(&mut benches, day)?;
    }
    year.ask("GET", "/internal/force_flush", "")?;
    let (from, until) = year_span();
    let step_s = (until.unix_ms() - from.unix_ms() + 1) / 1_000 / CHART_POINTS as i64;
    let query = format!(
        "/api/v1/query_range?nocache=1&query=rollup(tip_range%7Bbench%3D%22bench-01%22%7D%5B{step_s}s%5D)&start={}&end={}&step={step_s}s",
        from.unix_ms() / 1_000 + step_s,
        until.unix_ms() / 1_000 + 1
    );
    let chart_ms = median_ms(|| {
        let answer = year.ask("GET", &query, "")?;
        if answer.matches("\"values\"").count() == 3 {
            Ok(())
        } else {
            Err(format!("not a chart: {answer:.200}").into())
        }
    })?;
    year.stop()?;
    Ok(Some(Served { bytes_a_reading, chart_ms, peak_mib }))
}

impl Server {
    fn start(folder: &Path) -> Result<Option<Self>, Fault> {
        // a port that is free now; if another takes it in between, the start fails and says so
        let address = TcpListener::bind("127.0.0.1:0")?.local_addr()?.to_string();
        let spawned = Command::new(PROGRAM)
            .arg(format!("-storageDataPath={}", folder.display()))
            .arg(format!("-httpListenAddr={address}"))
            .args(["-retentionPeriod=100y", "-loggerLevel=ERROR", "-search.maxUniqueTimeseries=10000"])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        let child = match spawned {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            other => other?,
        };
        let server = Self { child, address };
        let started = Instant::now();
        while server.ask("GET", "/health", "").is_err() {
            if started.elapsed() > PATIENCE {
                return Err(format!("{PROGRAM} did not answer").into());
            }
            sleep(Duration::from_millis(50));
        }
        Ok(Some(server))
    }

    fn put_day(&self, benches: &mut Benches, day: i64) -> Result<(), Fault> {
        let mut series: Vec<(String, Vec<i64>, Vec<f64>)> = Vec::new();
        for round in day * 8_640..(day + 1) * 8_640 {
            let mut place = 0;
            benches.round(round, |bench, time, values| {
                for (quantity, value) in QUANTITIES.into_iter().zip(values) {
                    if series.len() == place {
                        let name = quantity.name().replace('-', "_");
                        let metric = format!("{{\"__name__\":\"{name}\",\"bench\":\"{}\"}}", bench.id);
                        series.push((metric, Vec::new(), Vec::new()));
                    }
                    if let Some((_, times, all)) = series.get_mut(place) {
                        times.push(time.unix_ms());
                        all.push(value);
                    }
                    place += 1;
                }
            });
        }
        for (metric, times, values) in series {
            let mut body = String::new();
            writeln!(
                body,
                "{{\"metric\":{metric},\"values\":{},\"timestamps\":{}}}",
                serde_json::to_string(&values)?,
                serde_json::to_string(&times)?
            )?;
            self.ask("POST", "/api/v1/import", &body)?;
        }
        Ok(())
    }

    fn ask(&self, method: &str, path: &str, body: &str) -> Result<String, Fault> {
        let mut stream = TcpStream::connect(&self.address)?;
        let length = body.len();
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Length: {length}\r\n\r\n{body}",
            self.address
        )?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer)?;
        if answer.starts_with("HTTP/1.1 2") {
            Ok(answer)
        } else {
            Err(format!("{PROGRAM} said {answer:.200}").into())
        }
    }

    /// Has it write everything down and end.
    fn stop(mut self) -> Result<(), Fault> {
        let process = i32::try_from(self.child.id()).ok().and_then(rustix::process::Pid::from_raw);
        if let Some(process) = process {
            rustix::process::kill_process(process, rustix::process::Signal::TERM)?;
        }
        self.child.wait()?;
        Ok(())
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
    }
}
