//! The rehearsal as a grower plays it: what it shows, what it leaves behind, what it writes to somebody else's broker.
#![expect(clippy::expect_used, reason = "helpers of tests fail them as tests do")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::PathBuf;
use std::process::{Command, Output};

use anthesisd::store::{EventFilter, Reader};
use end_to_end::house::{anthesisd, built, events_of, said};
use end_to_end::mosquitto::{Authority, Heard, Mosquitto};
use serde_json::Value;
use tempfile::TempDir;

/// Plays it without pauses, with all that it leaves behind in a folder that goes with the test.
fn rehearse(folder: &TempDir, arguments: &[&str]) -> Output {
    let mut command = Command::new(built("rehearse"));
    command.env("TMPDIR", folder.path()).arg("--quick").args(arguments);
    command.output().expect("rehearse starts")
}

/// The file that the last lines name.
fn named(output: &str, what: &str) -> PathBuf {
    let line = output.lines().find_map(|line| line.strip_prefix(what)).expect(what);
    line.split_whitespace().next().expect("a path").into()
}

#[test]
fn it_shows_the_whole_bloom_and_leaves_its_record() {
    let folder = TempDir::new().unwrap();
    let output = rehearse(&folder, &[]);
    assert!(output.status.success(), "{}", said(&output));
    let shown = String::from_utf8(output.stdout).unwrap();
    for told in [
        "New bud east-3",
        "SLOWING east-3: ",
        "ALARM    REHEARSAL: OPENING NOW east-3: thaw pollen",
        "notice   REHEARSAL: FULLY OPEN east-3",
        "ALARM    REHEARSAL: POLLEN east-3: collect it, trays in now",
        "notice   REHEARSAL: east-3 has closed",
        "taken note of, as you would: anthesis/saltmarsh/east-3/acknowledge",
        "no false opening alarm",
    ] {
        assert!(shown.contains(told), "{told:?} was not shown:\n{shown}");
    }
    assert!(!shown.contains('\x1b'), "nothing is redrawn where no terminal is");

    let mut kept = BTreeSet::new();
    let reader = Reader::open(&named(&shown, "store")).unwrap();
    reader
        .events(EventFilter::default(), |_, event| {
            kept.insert(event.id);
        })
        .unwrap();
    assert!(kept.contains("east-3-2027a/opening-tonight/1") && kept.contains("east-3-2027a/full-open/1"));

    // what went over the wires, at whatever speed, tells the same bloom when it is read from the recording. Growth is looked at
    // by the hour, and at this speed an hour may pass between the packs of two benches: `slowing` may fall either side of it.
    // An answer to an acknowledgement is of people, and the recording holds readings.
    // A link that a busy machine holds up for a millisecond has been silent for a quarter of an hour: the recording knows nothing of it
    let mut replay = anthesisd();
    replay.arg("--config").arg(named(&shown, "configuration")).arg("replay").arg(named(&shown, "recording"));
    let replayed = replay.output().unwrap();
    assert!(replayed.status.success(), "{}", said(&replayed));
    let replayed = events_of(&String::from_utf8_lossy(&replayed.stdout));
    let replayed: BTreeSet<String> =
        replayed.iter().map(|event| event["id"].as_str().unwrap().to_owned()).collect();
    let of_the_bloom = |ids: &BTreeSet<String>| -> BTreeSet<String> {
        let others = ["/slowing/", "/slowing-over/", "/sensor-silent/", "/sensor-back/", "/acknowledged/"];
        ids.iter().filter(|id| others.iter().all(|kind| !id.contains(kind))).cloned().collect()
    };
    assert_eq!(of_the_bloom(&kept), of_the_bloom(&replayed));

    let truth = fs::read_to_string(named(&shown, "truth")).unwrap();
    let truth: Value = serde_json::from_str(&truth).unwrap();
    let opens = |bench: &&Value| bench["outcome"] == "opens" && bench["bench"] == "east-3";
    assert_eq!(truth.as_array().unwrap().iter().filter(opens).count(), 1);
}

/// Whether each object in the payload says that it is a rehearsal.
fn is_marked(payload: &Value) -> bool {
    match payload {
        Value::Array(items) => items.iter().all(is_marked),
        other => other["rehearsal"] == true,
    }
}

#[test]
fn among_others_each_message_is_marked_and_nothing_of_theirs_is_touched() {
    let broker = Mosquitto::plain();
    let theirs =
        [("anthesis/saltmarsh/daemon", r#"{"service":"up"}"#), ("anthesis/saltmarsh/east-3/alarm", "[]")];
    for (topic, payload) in theirs {
        broker.publish(topic, payload.as_bytes(), true);
    }
    let own = "anthesis/saltmarsh-rehearsal/";
    let listener = broker.listen("phone", &format!("{own}#"));
    let folder = TempDir::new().unwrap();
    let output = rehearse(&folder, &["--broker", &format!("mqtt://127.0.0.1:{}", broker.port())]);
    assert!(output.status.success(), "{}", said(&output));

    broker.publish(&format!("{own}end-of-test"), b"end", false);
    let mut heard = listener.until(|heard| heard.topic.ends_with("end-of-test"));
    heard.pop();
    let (mut events, mut unmarked) = (BTreeSet::new(), Vec::new());
    // the empty ones take retained messages off the broker (MQTT 3.1.1, section 3.3.1.3); acknowledgements are a person's, and nobody
    // is meant by what tries the broker
    let of_the_service = |heard: &&Heard| {
        !heard.payload.is_empty() && !["/acknowledge", "/check"].iter().any(|end| heard.topic.ends_with(end))
    };
    let (bare, objects): (Vec<&Heard>, Vec<&Heard>) =
        heard.iter().filter(of_the_service).partition(|heard| heard.topic.contains("/say/"));
    assert!(bare.iter().all(|heard| heard.payload.starts_with("REHEARSAL: ")), "{bare:?}");
    let alarms = format!("{own}say/alarm");
    assert!(bare.iter().any(|heard| heard.topic == alarms), "{bare:?}");
    for message in objects {
        let payload: Value = serde_json::from_str(&message.payload).unwrap();
        if !is_marked(&payload) {
            unmarked.push(format!("{} {}", message.topic, message.payload));
        }
        if let Some(text) = payload["message"].as_str() {
            assert!(text.starts_with("REHEARSAL: "), "{text}");
            events.extend(payload["event"].as_str().map(str::to_owned));
        }
    }
    assert_eq!(unmarked, [""; 0]);
    for kind in ["opening-tonight", "full-open", "morning", "slowing", "pollen-shed", "closed"] {
        assert!(events.contains(kind), "{kind} is not among {events:?}");
    }
    let said_up = heard.iter().any(|heard| heard.topic.ends_with("/daemon") && heard.payload.contains("up"));
    assert!(said_up, "the service said that it is up");

    // what a client that comes later finds at the broker: what was there before, and nothing of the rehearsal
    let later = broker.listen("later", "#");
    broker.publish("end-of-test", b"end", false);
    let mut left = later.until(|heard| heard.topic == "end-of-test");
    left.pop();
    let mut left: Vec<_> = left.iter().map(|heard| (heard.topic.as_str(), heard.payload.as_str())).collect();
    left.sort_unstable();
    assert_eq!(left, theirs);
    let topics: BTreeSet<_> = broker.received().into_iter().map(|(topic, _)| topic).collect();
    let foreign = |topic: &&String| {
        !topic.starts_with(own) && *topic != "end-of-test" && theirs.iter().all(|(known, _)| known != topic)
    };
    assert_eq!(topics.iter().find(foreign), None);
}

#[test]
fn a_line_that_is_unplugged_in_earnest_is_one_warning_on_the_growers_phone_and_taken_back() {
    let broker = Mosquitto::plain();
    let listener = broker.listen("phone", "anthesis/saltmarsh-rehearsal/#");
    let folder = TempDir::new().unwrap();
    let url = format!("mqtt://127.0.0.1:{}", broker.port());
    let output = rehearse(&folder, &["--warnings", "intake-down", "--broker", &url]);
    assert!(output.status.success(), "{}", said(&output));
    let shown = String::from_utf8(output.stdout).unwrap();
    assert!(shown.contains("1 of 1. The line of east-3 and east-4 is unplugged"), "{shown}");
    assert!(shown.contains("intake-down came once and was taken back by intake-down-over."), "{shown}");

    // what went to the phone, read without the rehearsal's own ears
    broker.publish("anthesis/saltmarsh-rehearsal/end-of-test", b"end", false);
    let mut heard = listener.until(|heard| heard.topic.ends_with("end-of-test"));
    heard.pop();
    let events = heard.iter().filter(|heard| heard.topic.ends_with("/event"));
    let events: Vec<Value> = events.map(|heard| serde_json::from_str(&heard.payload).unwrap()).collect();
    assert!(events.iter().all(is_marked), "{events:?}");
    let loud: Vec<&Value> = events.iter().filter(|event| event["severity"] != "notice").collect();
    let kinds: Vec<&Value> = loud.iter().map(|event| &event["event"]).collect();
    assert_eq!(kinds, ["intake-down", "intake-down-over"], "{loud:?}");
    let message = loud[0]["message"].as_str().unwrap();
    assert!(message.contains("Line dead: east-3, east-4 not read since "), "{message}");
    // the last word of each retained topic is the empty one that takes it off the broker (MQTT 3.1.1, section 3.3.1.3)
    let last: BTreeMap<&str, &str> =
        heard.iter().map(|heard| (heard.topic.as_str(), heard.payload.as_str())).collect();
    for topic in ["daemon", "alarm", "east-3/alarm", "east-3/now", "west-1/now"] {
        assert_eq!(last[&*format!("anthesis/saltmarsh-rehearsal/{topic}")], "", "{topic}");
    }
}

#[test]
fn every_warning_comes_in_earnest_once_and_is_taken_back() {
    // some two minutes of waiting: retries and the pauses between them take their time on the wall
    if std::env::var_os("ANTHESISD_LONG").is_none() {
        return;
    }
    let folder = TempDir::new().unwrap();
    let output = rehearse(&folder, &["--warnings"]);
    assert!(output.status.success(), "{}", said(&output));
    let shown = String::from_utf8(output.stdout).unwrap();
    let mut kept: BTreeMap<String, u32> = BTreeMap::new();
    let reader = Reader::open(&named(&shown, "store")).unwrap();
    reader.events(EventFilter::default(), |_, event| *kept.entry(event.kind).or_default() += 1).unwrap();
    for (warning, over) in [
        ("sensor-silent", "sensor-back"),
        ("intake-down", "intake-down-over"),
        ("sensor-stuck", "sensor-back"),
        ("edge-not-seen", "edge-not-seen-over"),
        ("climate", "climate-over"),
        ("heat", "heat-over"),
        ("store-failing", "store-failing-over"),
        ("readings-behind", "readings-behind-over"),
        ("clock-untrusted", "clock-untrusted-over"),
    ] {
        assert!(shown.contains(&format!("{warning} came once and was taken back by {over}.")), "{shown}");
        assert_eq!(kept.get(warning), Some(&1), "{kept:?}");
        assert!(kept.contains_key(over), "{kept:?}");
    }
}

#[test]
fn a_broker_that_is_not_there_is_named_before_anything_is_played() {
    let folder = TempDir::new().unwrap();
    // port 1, tcpmux: nothing listens there
    let output = rehearse(&folder, &["--broker", "mqtt://127.0.0.1:1"]);
    assert_eq!(output.status.code(), Some(1));
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(error.contains("127.0.0.1:1 cannot be reached"), "{error}");
    assert!(output.stdout.is_empty(), "{}", said(&output));
}

#[test]
fn it_gets_in_where_the_service_does() {
    let authority = Authority::new("saltmarsh");
    let private = Mosquitto::with_tls(&authority, "localhost");
    let folder = TempDir::new().unwrap();
    let url = format!("mqtts://localhost:{}", private.port());
    let ca_file = authority.certificate().display().to_string();
    let output = rehearse(&folder, &["--broker", &url, "--ca-file", &ca_file]);
    assert!(output.status.success(), "{}", said(&output));
    let output = rehearse(&folder, &["--broker", &url]);
    assert_eq!(output.status.code(), Some(1));
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(error.contains("signed by none of the authorities"), "{error}");

    // where the shipped access rules hold, and the grower's phone hears it
    let shipped = |name: &str| {
        fs::read_to_string(format!("{}/../deploy/{name}", env!("CARGO_MANIFEST_DIR"))).expect(name)
    };
    let logins = [("saltmarsh", "cinnamon"), ("grower", "samphire")];
    let guarded = Mosquitto::with_rules(&shipped("mosquitto.conf"), &shipped("mosquitto-access"), &logins);
    let phone = guarded.listen_as(logins[1], "phone", "anthesis/saltmarsh-rehearsal/+/event");
    let url = format!("mqtt://127.0.0.1:{}", guarded.port());
    let file = folder.path().join("mqtt-password");
    fs::write(&file, "cinnamon\n").unwrap();
    fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).unwrap();
    let login = ["--broker", &url, "--username", "saltmarsh", "--password-file", &file.display().to_string()];
    let output = rehearse(&folder, &login);
    assert!(output.status.success(), "{}", said(&output));
    phone.until(|heard| heard.payload.contains("OPENING NOW"));
}
