//! `check`: tries everything that the configuration names, a line each, and changes nothing.

use std::path::Path;
use std::time::Duration;

use super::{Failure, failed, load};
use crate::config::{Config, InputConfig};
use crate::link;
use crate::notify::topics::Topics;
use crate::notify::{PublisherSpec, try_broker};
use crate::store::{Reader, StoreError};

/// How long the broker may take to answer.
const BROKER_PATIENCE: Duration = Duration::from_secs(10);

pub(super) fn check(path: &Path) -> Result<(), Failure> {
    let config = load(path)?;
    println!("configuration {}: right; {} benches", path.display(), config.benches.len());
    let mut faults = 0_u32;
    let mut say = |what: String, outcome: Result<String, String>| match outcome {
        Ok(well) => println!("{what}: {well}"),
        Err(why) => {
            faults += 1;
            println!("{what}: FAILS: {why}");
        }
    };
    if config.inputs.is_empty() {
        say(
            "inputs".to_owned(),
            Err("none: add an [[input]] with the port of each line of benches".to_owned()),
        );
    }
    let runtime = tokio::runtime::Runtime::new().map_err(failed)?;
    for input in &config.inputs {
        match input {
            InputConfig::Serial { port, baud } => say(
                format!("serial line {}", port.display()),
                runtime.block_on(link::try_port(port, *baud)).map(|()| format!("opens at {baud} baud")),
            ),
            InputConfig::Recording { path } => say(
                format!("recording {}", path.display()),
                std::fs::metadata(path)
                    .map(|_| "is there".to_owned())
                    .map_err(|error| format!("{error}: correct `path`, or make the pipe with mkfifo")),
            ),
        }
    }
    say(format!("store {}", config.store_path.display()), store(&config));
    match &config.mqtt {
        Some(mqtt) => {
            let topics = Topics::new(&mqtt.prefix, &config.site.name);
            let spec = PublisherSpec::new(mqtt, &topics, String::new());
            let outcome = runtime.block_on(try_broker(&spec, BROKER_PATIENCE));
            say(format!("broker {}:{}", mqtt.host, mqtt.port), outcome.map(|()| "lets us in".to_owned()));
        }
        None => println!("broker: none configured; alarms go to the log and the store only"),
    }
    if config.page.is_some() {
        println!("page: this version serves none yet");
    }
    if config.influx.is_some() {
        println!("forwarding: this version does not forward yet");
    }
    if config.alarm.command.is_some() {
        println!("alarm command: this version does not run it yet");
    }
    match faults {
        0 => Ok(()),
        1 => Err(Failure::Failed("one thing does not serve: see the line above".to_owned())),
        many => Err(Failure::Failed(format!("{many} things do not serve: see the lines above"))),
    }
}

/// A store that is there must be sound; one that is not yet there needs a folder that it can be made in.
fn store(config: &Config) -> Result<String, String> {
    let path = &config.store_path;
    match Reader::open(path) {
        Ok(reader) => match reader.integrity_check() {
            Ok(faults) if faults.is_empty() => Ok("is sound".to_owned()),
            Ok(faults) => Err(format!("damaged: {}; put back a backup", faults.join("; "))),
            Err(error) => Err(error.to_string()),
        },
        Err(StoreError::Missing { .. }) => {
            let folder = path.ancestors().skip(1).find(|folder| folder.exists()).unwrap_or(Path::new("/"));
            let writable = rustix::fs::access(folder, rustix::fs::Access::WRITE_OK).is_ok();
            if writable {
                Ok("is not there yet; it will be made".to_owned())
            } else {
                Err(format!(
                    "is not there, and {} cannot be written: run as the service's user",
                    folder.display()
                ))
            }
        }
        Err(error) => Err(error.to_string()),
    }
}
