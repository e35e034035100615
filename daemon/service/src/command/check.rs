//! `check`: tries everything that the configuration names, a line each, and changes nothing.

use std::path::Path;
use std::time::Duration;

use super::{Failure, counted, failed, load, print};
use crate::config::{AlarmCommand, Config, PageConfig};
use crate::forward::{ForwarderSpec, try_server};
use crate::intake::try_once;
use crate::notify::topics::Topics;
use crate::notify::{PublisherSpec, try_broker};
use crate::page::try_to_listen;
use crate::store::{Depth, Mirror, Reader, StoreError, mirror_path, open_to_others, saved_beside};

/// How long the broker and the database may take to answer.
pub(super) const PATIENCE: Duration = Duration::from_secs(10);

pub(super) fn check(path: &Path) -> Result<(), Failure> {
    let config = load(path)?;
    let benches = counted(config.benches.len(), "bench", "benches");
    tell(format_args!("configuration {}: right; {benches}", path.display()));
    let mut faults = 0_u32;
    let mut say = |what: String, outcome: Result<String, String>| match outcome {
        Ok(well) => tell(format_args!("{what}: {well}")),
        Err(why) => {
            faults += 1;
            tell(format_args!("{what}: FAILS: {why}"));
        }
    };
    if config.intakes.is_empty() {
        say(
            "intakes".to_owned(),
            Err("none: add an [[intake]] for each line that benches hang on, with its port".to_owned()),
        );
    }
    let runtime = tokio::runtime::Runtime::new().map_err(failed)?;
    for intake in &config.intakes {
        let what = format!("intake {}, {}", intake.source().display(), intake.kind());
        say(what, runtime.block_on(try_once(intake)));
    }
    say(format!("store {}", config.store_path.display()), store(&config));
    for (what, outcome) in super::check_seeing::intervals(&config) {
        say(what, outcome);
    }
    match &config.mqtt {
        Some(mqtt) => {
            let topics = Topics::new(&mqtt.prefix, &config.site.name);
            let spec = PublisherSpec::new(mqtt, &topics, String::new());
            let outcome = runtime.block_on(try_broker(&spec, PATIENCE));
            say(
                format!("broker {}:{}", mqtt.host, mqtt.port),
                outcome.map(|()| "lets us in, and passes on what we say".to_owned()),
            );
        }
        None => tell(format_args!("broker: none configured; alarms go to {} only", ways_out(&config))),
    }
    if let Some(readings_to) = &config.readings_to {
        let outcome = runtime.block_on(try_server(&ForwarderSpec::new(readings_to, &config), PATIENCE));
        say(format!("database {}", readings_to.database), outcome.map(|()| "takes what we send".to_owned()));
    }
    if let Some(AlarmCommand { program, .. }) = &config.alarm.command {
        say(format!("alarm command {program}"), alarm_command(program, config.mqtt.is_some()));
    }
    match &config.page {
        Some(page) => say(format!("page http://{}/", page.listen), page_can_listen(page)),
        None => tell("page: none configured; add a section [page] for one at http://127.0.0.1:8750/"),
    }
    if config.alarm.test_every_days.is_none() {
        tell(NO_TESTS);
    }
    match faults {
        0 => Ok(()),
        1 => Err(Failure::Failed("one thing does not serve: see the line above".to_owned())),
        many => Err(Failure::Failed(format!("{many} things do not serve: see the lines above"))),
    }
}

/// A port that is taken is most likely the service's own, which is checked while it runs.
fn page_can_listen(page: &PageConfig) -> Result<String, String> {
    let asks = if page.password_file.is_some() {
        "asks for the password"
    } else {
        "asks for no password, on this machine only"
    };
    match try_to_listen(page.listen) {
        Ok(()) => Ok(format!("can listen, and {asks}")),
        Err(error) if error.kind() == std::io::ErrorKind::AddrInUse => {
            Ok("the port is taken: by the running service, or else by another program".to_owned())
        }
        Err(error) => {
            Err(format!("{error}: give an address of this machine and a port above 1023 in [page] listen"))
        }
    }
}

/// That the program is there and executable was seen to when the configuration was loaded; whether by us is left. A name
/// without a folder is looked for when it is run.
fn alarm_command(program: &str, broker: bool) -> Result<String, String> {
    if program.contains('/') && rustix::fs::access(program, rustix::fs::Access::EXEC_OK).is_err() {
        return Err(
            "this user may not run it: chmod +x it, and run this check as the service's user".to_owned()
        );
    }
    let when = if broker { " that the broker has not taken" } else { "" };
    Ok(format!("is there, and is run for each alarm{when}; `anthesisd alarm-test` runs it now"))
}

const NO_TESTS: &str = "[alarm] test_every_days = 0: no test alarm is raised, so nobody learns whether alarms still reach a person; \
                        run `anthesisd alarm-test` often";

/// Where alarms go without a broker.
pub(super) const fn ways_out(config: &Config) -> &'static str {
    match config.alarm.command {
        Some(_) => "the log, the store and the alarm command",
        None => "the log and the store",
    }
}

/// The exit status says it too, so that a line that nobody reads is no trouble.
fn tell(line: impl std::fmt::Display) {
    let _ = print(line);
}

/// A store up to this size is looked at in full: that takes some seconds.
const SMALL_STORE_BYTES: u64 = 256 << 20;

pub(super) fn depth(store: &Path) -> Depth {
    let small = std::fs::metadata(store).is_ok_and(|file| file.len() <= SMALL_STORE_BYTES);
    if small { Depth::Full } else { Depth::Quick }
}

/// A store that is there must be sound and its owner's alone; one that is not yet there needs a folder that it can be made in.
fn store(config: &Config) -> Result<String, String> {
    let path = &config.store_path;
    match Reader::open(path) {
        Ok(reader) => match reader.integrity_check(depth(path)) {
            Ok(faults) => {
                let damaged = (!faults.is_empty()).then(|| {
                    format!("damaged: {}; put back a backup (`anthesisd restore FILE`)", faults.join("; "))
                });
                let faults: Vec<String> = damaged.into_iter().chain(open_to_others(path)).collect();
                let summaries = reader.damaged_summaries().map_err(|error| error.to_string())?;
                if faults.is_empty() {
                    Ok(sound(path) + &to_be_made(&summaries))
                } else {
                    Err(faults.join("; "))
                }
            }
            Err(error) => Err(error.to_string()),
        },
        Err(StoreError::Missing { .. }) => not_there(path),
        Err(error) => Err(error.to_string()),
    }
}

/// Summaries of hours that are not what they should be: no reading is lost with them.
fn to_be_made(summaries: &[String]) -> String {
    match summaries {
        [] => String::new(),
        [first, others @ ..] => {
            let more =
                if others.is_empty() { String::new() } else { format!(" (and {} more)", others.len()) };
            format!(
                ". {first}{more}; the service makes such summaries anew from the readings, you need do nothing"
            )
        }
    }
}

fn sound(path: &Path) -> String {
    match saved_beside(path).last() {
        Some(saved) => format!(
            "is sound. Beside it lies a record that was open when its file was taken away: {} (remove it when you need it no more)",
            saved.display()
        ),
        None => "is sound".to_owned(),
    }
}

/// No store: none has been made yet, or it is gone.
fn not_there(path: &Path) -> Result<String, String> {
    let (mirror, saved) = (Mirror::read(path), saved_beside(path));
    if mirror.is_some() || !saved.is_empty() {
        let written = mirror.and_then(|mirror| mirror.written);
        let written = written.map_or_else(String::new, |time| format!(", last written {time}"));
        let back = saved.last().map_or_else(
            || "put back a backup (`anthesisd restore FILE`)".to_owned(),
            |saved| format!("put back what was saved (`anthesisd restore {}`)", saved.display()),
        );
        return Err(format!(
            "was here and is gone{written}: {back}; to begin an empty one, remove {}",
            mirror_path(path).display()
        ));
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let made = "is not there yet; it will be made at the first start";
    let there = folder.ancestors().find(|folder| folder.exists()).unwrap_or(Path::new("/"));
    if rustix::fs::access(there, rustix::fs::Access::WRITE_OK).is_ok() {
        return Ok(made.to_owned());
    }
    // the service manager makes it for the service's user before the first start
    if folder == Path::new(STATE_FOLDER) && there != folder {
        return Ok(format!("{made}, and so will {STATE_FOLDER}, by the service manager"));
    }
    Err(format!("is not there, and {} cannot be written: run as the service's user", there.display()))
}

/// What the unit names as its `StateDirectory`.
const STATE_FOLDER: &str = "/var/lib/anthesisd";
