//! `alarm-test`: each way to people tried now, as an alarm goes, and marked as a test. Nothing is recorded and no alarm stands for it.

use std::path::Path;

use bloom_model::event::{EventKind, Severity};
use bloom_text::tried_by_hand;
use serde_json::json;

use super::check::PATIENCE;
use super::{Failure, failed, load, print};
use crate::clock::wall_now;
use crate::config::AlarmCommand;
use crate::notify::command::{CommandSpec, try_command};
use crate::notify::topics::Topics;
use crate::notify::{PublisherSpec, deliver};

pub(super) fn alarm_test(path: &Path) -> Result<(), Failure> {
    let config = load(path)?;
    let (site, now) = (&*config.site.name, wall_now());
    let message = tried_by_hand(site);
    let event = json!({
        "id": format!("{site}/{}/{now}", EventKind::Test.name()),
        "time": now,
        "site": site,
        "event": EventKind::Test.name(),
        "severity": Severity::Alarm.name(),
        "message": message,
    })
    .to_string();
    let runtime = tokio::runtime::Runtime::new().map_err(failed)?;
    let mut failures = 0_u32;
    let mut say = |way: String, outcome: Result<String, String>| {
        failures += u32::from(outcome.is_err());
        print(match outcome {
            Ok(done) => format!("{way}: {done}"),
            Err(why) => format!("{way}: NOT DELIVERED: {why}"),
        })
    };
    if let Some(mqtt) = &config.mqtt {
        let topics = Topics::new(&mqtt.prefix, site);
        let messages = [(topics.event(None), event.clone()), (topics.say(Severity::Alarm), message)];
        let spec = PublisherSpec::new(mqtt, &topics, String::new());
        let outcome = runtime.block_on(deliver(&spec, &messages, PATIENCE));
        let said = messages.map(|(topic, _)| topic).join(" and ");
        say(
            format!("broker {}:{}", mqtt.host, mqtt.port),
            outcome.map(|()| format!("acknowledged the test on {said}; now see whether the phone rang")),
        )?;
    }
    if let Some(command) = &config.alarm.command {
        let limit = CommandSpec::new(command.clone(), false).time_limit;
        let AlarmCommand { program, .. } = command;
        let outcome = runtime.block_on(try_command(command, &event, limit));
        let ended = |said: Option<String>| {
            let said = said.map_or_else(String::new, |said| format!(", and said: {said}"));
            format!("ended with exit status 0{said}")
        };
        say(format!("alarm command {program}"), outcome.map(ended))?;
    }
    match (failures, config.mqtt.is_some() || config.alarm.command.is_some()) {
        (_, false) => Err(Failure::Failed(
            "alarms reach nobody: configure a broker in [mqtt], or a program as [alarm] command".to_owned(),
        )),
        (0, true) => Ok(()),
        (1, true) => Err(Failure::Failed("one way does not deliver: see the line above".to_owned())),
        (many, true) => Err(Failure::Failed(format!("{many} ways do not deliver: see the lines above"))),
    }
}
