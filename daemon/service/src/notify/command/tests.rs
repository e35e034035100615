use std::fs;

use tempfile::TempDir;
use tokio::runtime::Runtime;
use tokio::task::JoinHandle;

use super::*;

/// A task whose program writes what it hears at the end of a file.
struct Siren {
    runtime: Runtime,
    caller: Caller,
    stop: watch::Sender<bool>,
    task: JoinHandle<()>,
    folder: TempDir,
}

impl Siren {
    fn new(broker: bool, script: &str) -> Self {
        Self::with_limit(broker, script, Duration::from_secs(3600))
    }

    fn with_limit(broker: bool, script: &str, time_limit: Duration) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let words = ["-c", script, &folder.path().join("heard").display().to_string()];
        let command =
            AlarmCommand { program: "/bin/sh".to_owned(), arguments: words.map(str::to_owned).into() };
        // an hour stands for ever here: no time that passes decides
        let (grace, stop_patience) = (Duration::from_secs(3600), Duration::from_millis(50));
        let spec = CommandSpec { command, broker, grace, time_limit, stop_patience };
        let (runtime, caller) = (Runtime::new().unwrap(), Caller::new(&spec));
        let (stop, stopping) = watch::channel(false);
        let task = runtime.spawn(run(
            spec,
            caller.clone(),
            stopping,
            crate::watchdog::Watch::new().stage("alarm command"),
        ));
        Self { runtime, caller, stop, task, folder }
    }

    fn call(&self, id: &str, row: Option<i64>) {
        self.caller.call(Call { event_id: id.to_owned(), payload: id.to_owned(), row, unanswered: false });
    }

    fn heard(&self) -> Vec<String> {
        heard_in(&self.folder)
    }

    fn hears(&self, all: &[&str]) {
        wait_until(|| self.heard().len() >= all.len());
        assert_eq!(self.heard(), all);
    }

    fn stop(self) -> (Vec<String>, Vec<Call>) {
        self.stop.send_replace(true);
        self.runtime.block_on(self.task).unwrap();
        (heard_in(&self.folder), self.caller.waiting())
    }
}

fn heard_in(folder: &TempDir) -> Vec<String> {
    let text = fs::read_to_string(folder.path().join("heard")).unwrap_or_default();
    text.lines().map(str::to_owned).collect()
}

fn wait_until(mut holds: impl FnMut() -> bool) {
    let patience = std::time::Instant::now() + Duration::from_secs(30);
    while !holds() {
        assert!(std::time::Instant::now() < patience, "waited in vain");
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn a_siren_that_hangs_holds_up_no_other_and_the_repeats_of_its_alarm_start_no_more_of_it() {
    let script = "read -r id; echo \"$id\" >> \"$0\"; test \"$id\" = good || exec sleep 100000";
    let siren = Siren::new(false, script);
    siren.call("hangs", None);
    siren.hears(&["hangs"]);
    siren.call("hangs", None);
    siren.call("good", None);
    siren.hears(&["hangs", "good"]);
    // and no more of them than is told
    let more: Vec<String> = (0..2 * AT_ONCE).map(|number| format!("hangs {number}")).collect();
    more.iter().for_each(|id| siren.call(id, None));
    wait_until(|| siren.heard().len() > AT_ONCE);
    let (heard, waiting) = siren.stop();
    assert_eq!(heard.len(), 1 + AT_ONCE, "{heard:?}");
    assert_eq!(waiting.len(), 1 + 2 * AT_ONCE - (AT_ONCE - 1));
}

#[test]
fn without_a_broker_each_is_told_at_once() {
    let siren = Siren::new(false, "read -r id; echo \"$id\" >> \"$0\"");
    let ids: Vec<String> = (0..10).map(|number| format!("east-{number}-2027a/opening-tonight/1")).collect();
    for id in &ids {
        siren.call(id, None);
    }
    wait_until(|| siren.heard().len() >= ids.len());
    assert_eq!(sorted(siren.heard()), ids);
}

#[test]
fn what_the_broker_took_or_a_person_noted_is_never_told_and_what_is_left_is_told_when_the_broker_goes() {
    let siren = Siren::new(true, "cat >> \"$0\"");
    for (row, id) in [(1, "delivered"), (2, "acknowledged"), (3, "left"), (4, "later")] {
        siren.call(id, Some(row));
    }
    siren.caller.delivered(1);
    siren.caller.withdraw("acknowledged");
    siren.caller.delivered(9);
    assert_eq!(siren.caller.waiting().len(), 2);
    siren.caller.broker_is_away(true);
    wait_until(|| siren.heard().len() == 2);
    siren.caller.broker_is_away(false);
    siren.call("held", Some(5));
    let (heard, waiting) = siren.stop();
    assert_eq!(sorted(heard), ["later", "left"]);
    assert_eq!(waiting.iter().map(|call| call.event_id.as_str()).collect::<Vec<_>>(), ["held"]);
}

#[test]
fn a_run_that_fails_stops_none_of_those_behind_it() {
    let siren = Siren::new(false, "read -r id; echo \"$id\" >> \"$0\"; test \"$id\" != bad || kill -SEGV $$");
    siren.call("bad", None);
    siren.call("good", None);
    wait_until(|| siren.heard().len() == 2);
    assert_eq!(sorted(siren.heard()), ["bad", "good"]);
}

fn sorted(mut heard: Vec<String>) -> Vec<String> {
    heard.sort();
    heard
}

#[test]
fn grace_and_limits_are_those_that_are_written_down() {
    let command = AlarmCommand { program: "siren".to_owned(), arguments: vec![] };
    let spec = CommandSpec::new(command, true);
    assert_eq!([spec.grace, spec.time_limit, spec.stop_patience].map(|span| span.as_secs()), [120, 60, 5]);
}

#[test]
fn what_never_ends_is_killed_at_its_limit_and_its_alarm_has_its_turn_again() {
    let script = "read -r id; echo \"$id\" >> \"$0\"; exec sleep 100000";
    let siren = Siren::with_limit(false, script, Duration::from_millis(300));
    siren.call("bad", None);
    siren.hears(&["bad"]);
    siren.call("bad", None);
    siren.hears(&["bad", "bad"]);
}

#[test]
fn a_stop_waits_for_no_program_that_never_ends_and_starts_none() {
    let siren = Siren::new(false, "cat >> \"$0\"; exec sleep 100000");
    siren.call("under way", None);
    siren.hears(&["under way"]);
    siren.call("under way", None);
    let (heard, waiting) = siren.stop();
    assert_eq!((heard, waiting.len()), (vec!["under way".to_owned()], 1));
}
