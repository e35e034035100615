//! `status`: how the house is, on one screen, by the record: while the service runs, and when it does not.

mod sheet;

use std::net::{TcpStream, ToSocketAddrs};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use bloom_model::bench::Bench;
use bloom_model::event::{EventKind, EventPlace};
use bloom_model::heat::{HeatLevel, HottestAir};
use bloom_model::site::Site;
use bloom_model::time::Time;
use clap::Args;
use serde::Serialize;
use serde_json::Value;

use super::run::reads_recordings_only;
use super::{Failure, named_bench, print, print_json, read, site_of};
use crate::clock::wall_now;
use crate::config::{Config, IntakeConfig};
use crate::facts::{AlarmFacts, BenchFacts, Lies};
use crate::keeper::{as_mirrored, as_recorded};
use crate::notify::standing::Standing;
use crate::store::{Alarm, EventFilter, Mirror, Reader, StoreError, Watching, Whose};

/// How long the broker's port may take to answer.
const PATIENCE: Duration = Duration::from_secs(2);

/// `anthesisd status`
#[derive(Debug, Args)]
pub(super) struct StatusArguments {
    /// The bench, or the accession of its plant; the whole house if left out
    bench: Option<String>,
    /// Results as JSON; alarms and benches are those of the page's /api/house
    #[arg(long)]
    json: bool,
}

/// How the house is.
#[derive(Debug, Serialize)]
struct Status {
    time: Time,
    site: Arc<str>,
    /// Whether a service watches by this record now.
    service_runs: bool,
    /// When the service was last started.
    started: Option<Time>,
    alarms: Vec<AlarmFacts>,
    benches: Vec<BenchFacts>,
    hottest: Option<HottestAir>,
    /// What befell the house's machine and is not over.
    troubles: Vec<TroubleNow>,
    intakes: Vec<Part>,
    broker: Option<Part>,
    /// Messages that the broker has yet to take.
    messages_waiting: u64,
    store: Part,
}

/// What befell the house's machine.
#[derive(Debug, Serialize)]
struct TroubleNow {
    event: String,
    what: Value,
    time: Time,
    message: String,
}

/// A part of the house's machine.
#[derive(Debug, Serialize)]
struct Part {
    name: String,
    /// What is wrong with it, and what to do.
    fault: Option<String>,
}

/// What the record has: the benches, the alarms that stand, and what befell the machine.
#[derive(Default)]
struct Recorded {
    site: Option<Site>,
    alarms: Vec<Alarm>,
    started: Option<Time>,
    troubles: Vec<TroubleNow>,
    messages_waiting: u64,
}

pub(super) fn status(path: &Path, arguments: &StatusArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let bench = arguments.bench.as_deref().map(|name| named_bench(&config, name)).transpose()?;
    let mut status = Status::of(&config);
    if let Some(bench) = &bench {
        status.benches.retain(|facts| facts.bench == *bench);
        status.alarms.retain(|alarm| alarm.bench.as_ref() == Some(bench));
    }
    if arguments.json {
        print_json(&status)?;
    } else {
        let lines = sheet::lines(&status, &config, bench.is_some(), path);
        lines.iter().try_for_each(print)?;
    }
    match (status.alarms.len(), status.faults()) {
        (0, 0) => Ok(()),
        // what it is stands on the sheet, above all else
        _ => Err(Failure::Failed(String::new())),
    }
}

impl Status {
    fn of(config: &Config) -> Self {
        let (recorded, fault) = recorded(config);
        let mut site = recorded.site.unwrap_or_else(|| site_of(config));
        let newest = site.benches().filter_map(Bench::newest).max();
        // a house that is played from a recording has the recording's time
        let now = newest.filter(|_| reads_recordings_only(config)).unwrap_or_else(wall_now);
        // what is silent by now is silent, whether a service has said so or not
        site.pass_time(now, &mut Vec::new());
        let silent_after = config.site.silent_after;
        let service_runs = Watching::is_claimed(&config.store_path);
        let standing = Standing::restore(recorded.alarms);
        Self {
            time: now,
            site: Arc::clone(&config.site.name),
            service_runs,
            started: recorded.started,
            alarms: standing.by_need().into_iter().map(|row| AlarmFacts::of(row, &row.payload)).collect(),
            benches: site
                .benches()
                .map(|bench| BenchFacts::of(bench, bench.view(), now, silent_after))
                .collect(),
            hottest: site.hottest_air(now).filter(|air| air.level != HeatLevel::Bearable),
            troubles: recorded.troubles,
            intakes: config.intakes.iter().map(|intake| Part::intake(intake, service_runs)).collect(),
            broker: config.mqtt.as_ref().map(|mqtt| Part::broker(&mqtt.host, mqtt.port)),
            messages_waiting: recorded.messages_waiting,
            store: Part { name: config.store_path.display().to_string(), fault },
        }
    }

    /// How many things are wrong that are no alarm.
    fn faults(&self) -> usize {
        let parts = self.intakes.iter().chain(&self.broker).chain([&self.store]);
        usize::from(!self.service_runs)
            + usize::from(self.hottest.is_some())
            + self.troubles.len()
            + parts.filter(|part| part.fault.is_some()).count()
            + self.benches.iter().filter(|bench| is_amiss(bench)).count()
    }

    /// `2 alarms stand; 1 thing is wrong`.
    fn summary(&self) -> String {
        let alarms = match self.alarms.len() {
            0 => None,
            1 => Some("one alarm stands".to_owned()),
            many => Some(format!("{many} alarms stand")),
        };
        let faults = match self.faults() {
            0 => None,
            1 => Some("one thing is wrong".to_owned()),
            many => Some(format!("{many} things are wrong")),
        };
        let said: Vec<String> = alarms.into_iter().chain(faults).collect();
        if said.is_empty() { "no alarm stands, and nothing is wrong".to_owned() } else { said.join("; ") }
    }
}

/// Whether a bench is not read as it should be, or its climate lies outside its limits.
fn is_amiss(bench: &BenchFacts) -> bool {
    bench.silent || !bench.sensors_out.is_empty() || bench.climate.iter().any(is_beyond)
}

fn is_beyond(facts: &crate::facts::ClimateFacts) -> bool {
    facts.lies.is_some_and(|lies| lies != Lies::Within)
}

/// What the record has, or where it cannot be had the mirror beside it; and what is wrong with the record.
fn recorded(config: &Config) -> (Recorded, Option<String>) {
    let mirror = Mirror::read(&config.store_path);
    let away = mirror.as_ref().is_some_and(|mirror| mirror.away);
    let read = if away { None } else { Some(from_record(config)) };
    let fault = match read {
        Some(Ok(recorded)) => return (recorded, None),
        Some(Err(StoreError::Missing { .. })) if mirror.is_none() => {
            return (
                Recorded::default(),
                Some("is not there yet: the service makes it when it starts".to_owned()),
            );
        }
        Some(Err(error)) => error.to_string(),
        None => "cannot be written: alarms go on, and what is shown is of the file beside it".to_owned(),
    };
    let recorded = mirror.map(|mirror| Recorded {
        site: Some(as_mirrored(site_of(config), &mirror)),
        alarms: mirror.alarms,
        ..Recorded::default()
    });
    (recorded.unwrap_or_default(), Some(fault))
}

fn from_record(config: &Config) -> Result<Recorded, StoreError> {
    let reader = Reader::open(&config.store_path)?;
    let started = reader.newest_start()?;
    Ok(Recorded {
        site: Some(as_recorded(site_of(config), &reader)?),
        alarms: reader.standing()?,
        started,
        troubles: troubles(&reader, started)?,
        messages_waiting: reader.outbox()?.rows,
    })
}

/// What befell the machine since the newest start and is not over: a start looks at everything anew.
fn troubles(reader: &Reader, started: Option<Time>) -> Result<Vec<TroubleNow>, StoreError> {
    let mut standing: Vec<TroubleNow> = Vec::new();
    let filter = EventFilter { whose: Whose::NoBench, from: started, ..EventFilter::default() };
    reader.events(filter, |_, event| {
        let row = match EventKind::of(&event.kind).map(EventKind::row) {
            Some(row) if row.place == EventPlace::Machine => row,
            _ => return,
        };
        let payload: Value = serde_json::from_str(&event.payload).unwrap_or_default();
        let ended = |kind: &str| kind == event.kind || row.ends.iter().any(|ends| ends.name() == kind);
        standing.retain(|trouble| !(ended(&trouble.event) && trouble.what == payload["what"]));
        if row.ends.is_empty() {
            standing.push(TroubleNow {
                event: event.kind,
                what: payload["what"].clone(),
                time: event.time,
                message: payload["message"].as_str().unwrap_or_default().to_owned(),
            });
        }
    })?;
    Ok(standing)
}

impl Part {
    fn intake(intake: &IntakeConfig, service_runs: bool) -> Self {
        let source = intake.source();
        let fault = if !source.exists() {
            Some("is not there: check plug and adapter, or correct its name in the configuration".to_owned())
        } else if service_runs {
            None
        } else {
            Some("is not read, for the service does not run".to_owned())
        };
        Self { name: source.display().to_string(), fault }
    }

    /// Whether something answers at the broker's port; `check` tries more.
    fn broker(host: &str, port: u16) -> Self {
        let answers = (host, port).to_socket_addrs().and_then(|addresses| {
            let mut last = std::io::Error::from(std::io::ErrorKind::AddrNotAvailable);
            for address in addresses {
                match TcpStream::connect_timeout(&address, PATIENCE) {
                    Ok(_) => return Ok(()),
                    Err(error) => last = error,
                }
            }
            Err(last)
        });
        let fault = answers.err().map(|error| {
            format!("does not answer ({error}): phones hear nothing. `anthesisd check` says more")
        });
        Self { name: format!("{host}:{port}"), fault }
    }
}
