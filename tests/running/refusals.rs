//! What is refused, with which exit status, and what a person is told: 2 for wrong usage, 78 for a wrong configuration
//! (EX_CONFIG of sysexits.h), 1 for anything else.

use std::fs;
use std::process::Output;

use end_to_end::house::{House, anthesisd, said};
use end_to_end::service::Service;

fn errors(output: &Output) -> String {
    assert!(output.stdout.is_empty(), "results only on standard output: {}", said(output));
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Nine lines, of which the fourth, the seventh and the last are good throughout.
const FAULTY: &str = r#"[{"bn":"east-3/","bt":1780300800,"n":"temperature","u":"Cel","v":27.3
[{"bn":"west-9/","bt":1780300800,"n":"temperature","u":"Cel","v":27.3}]
[{"bn":"east-3/","bt":1780300800,"n":"lightness","u":"lx","v":27.3},{"n":"humidity","u":"%RH","v":70}]
[{"bn":"east-3/","bt":1780300860,"n":"temperature","u":"Cel","v":27.3}]
[{"bn":"east-3/","bt":1780300920,"n":"temperature","u":"K","v":300.4},{"n":"humidity","u":"%RH","v":NaN}]
[{"bn":"east-3/","bt":1780300920,"n":"tip-range","u":"m","v":8.5},{"n":"rim-range","u":"m","v":0.01}]

[{"bn":"east-3/","n":"temperature","u":"Cel","v":27.3}]
[{"bn":"east-3/","bt":1780300980,"n":"humidity","u":"%RH","v":104.9}]
"#;

/// Line, record (0 for the whole line) and a word of the reason.
const FAULTS: [(u32, u32, &str); 8] = [
    (1, 0, "no SenML pack"),
    (2, 1, "no bench \"west-9\""),
    (3, 1, "no quantity \"lightness\""),
    (5, 1, "temperature in \"K\": it is measured in Cel"),
    (5, 2, "no finite number"),
    (6, 1, "tip-range of 8.5 m is impossible"),
    (6, 2, "rim-range of 0.01 m is impossible"),
    (8, 1, "no absolute time"),
];

#[test]
fn refused_records_are_named_and_stop_nothing() {
    let house = House::new().with_bench("east-3").with_recording("faulty.jsonl");
    let path = house.path("faulty.jsonl");
    fs::write(&path, FAULTY).expect("a file can be written");
    let path = path.display().to_string();
    let replayed = house.run(&["replay", &path]);
    let imported = house.run(&["import", &path]);
    for output in [&replayed, &imported] {
        assert!(output.status.success(), "{}", said(output));
        let told = String::from_utf8_lossy(&output.stderr);
        for (line, record, reason) in FAULTS {
            let place = if record == 0 {
                format!("line {line}: ")
            } else {
                format!("line {line}, record {record}: ")
            };
            let named = told.lines().any(|told| told.contains(&place) && told.contains(reason));
            assert!(named, "{place}{reason}:\n{told}");
        }
    }
    assert!(String::from_utf8_lossy(&replayed.stderr).contains("refused=8"), "{}", said(&replayed));
    let told = String::from_utf8_lossy(&imported.stdout);
    assert!(
        told.ends_with(
            "faulty.jsonl: 2 humidity, 1 temperature\n3 readings new, 0 known before, 8 refused\n"
        ),
        "{told}"
    );
    // as if live: each kind is named, and the rest of the same kind are counted
    let service = Service::start(&house);
    service.wait_for_log("the recording has been read to its end");
    let (status, log) = service.terminate();
    assert!(status.success());
    assert!(log.contains("line 1: no SenML pack") && log.contains("refused=8"), "{log}");
}

#[test]
fn wrong_usage_is_status_2_and_says_what_would_be_right() {
    let house = House::new().with_bench("east-3").with_bench("north-12");
    for (arguments, words) in [
        (&["frobnicate"][..], "frobnicate"),
        (&[], "Usage"),
        (&["replay"], "RECORDING"),
        (&["tape", "east-3"], "HEIGHT"),
        (&["tape", "east-3", "tall"], "tall"),
        (&["tape", "east-3", "5.01"], "between 0 and 5 m"),
        (&["tape", "east-4", "1.32"], "did you mean \"east-3\"?"),
        (&["sign", "north12", "opened"], "did you mean \"north-12\"?"),
        (&["sign", "zzz", "opened"], "there are: east-3, north-12"),
        (&["sign", "east-3", "oppened"], "nearest is opened"),
        (&["sign", "east-3", "mount-moved"], "--rim METRES"),
        (&["sign", "east-3", "opened", "--rim", "0.9"], "mount-moved only"),
        (&["sign", "east-3", "opened", "--at", "2099-01-01 08:00"], "yet to come"),
        (&["sign", "east-3", "opened", "--at", "tea time"], "is no time"),
    ] {
        let output = house.run(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", said(&output));
        let told = errors(&output);
        assert!(told.contains(words), "{arguments:?} wants {words:?}:\n{told}");
    }
}

#[test]
fn a_missing_or_wrong_configuration_is_status_78_whatever_the_command() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("anthesisd.toml");
    let wrong = "[site]\nname = \"saltmarsh\"\ntimezone = \"America/Halifaks\"\n\n\
                 [[bench]]\nid = \"East 3\"\nprofile = \"titan-arum\"\ntip = { mount_height_m = 0 }\n";
    for command in [
        &["run"][..],
        &["check"],
        &["replay", "-"],
        &["import", "-"],
        &["export", "east-3"],
        &["tape", "east-3", "1"],
        &["sign", "east-3", "opened"],
        &["acknowledge"],
    ] {
        let run = || {
            let output = anthesisd().arg("--config").arg(&path).args(command).output().expect("it starts");
            assert_eq!(output.status.code(), Some(78), "{command:?}: {}", said(&output));
            errors(&output)
        };
        let _ = fs::remove_file(&path);
        assert!(run().contains("there is no such file"), "{command:?}");
        fs::write(&path, wrong).expect("a file can be written");
        let told = run();
        let file = path.display();
        for line in [3, 6, 8] {
            assert!(told.contains(&format!("{file}:{line}: ")), "{command:?}, line {line}:\n{told}");
        }
        assert_eq!(told.lines().count(), 3, "a message a mistake:\n{told}");
    }
}

#[test]
fn a_store_of_a_newer_version_is_left_alone() {
    let house = House::new().with_bench("east-3").with_serial("line");
    Service::start(&house).terminate();
    let store = house.path("anthesisd.db");
    let newer = rusqlite::Connection::open(&store).expect("the store can be opened");
    newer.pragma_update(None, "user_version", 99).expect("the version can be set");
    newer.pragma_update(None, "journal_mode", "DELETE").expect("the log can be folded in");
    drop(newer);
    let before = fs::read(&store).expect("the store can be read");
    let recording = house.path("recording.jsonl");
    fs::write(&recording, "").expect("a file can be written");
    let recording = recording.display().to_string();
    for command in [
        &["check"][..],
        &["import", &recording],
        &["export", "east-3"],
        &["tape", "east-3", "1"],
        &["sign", "east-3", "opened"],
        &["acknowledge"],
    ] {
        let output = house.run(command);
        assert_eq!(output.status.code(), Some(1), "{command:?}: {}", said(&output));
        assert!(said(&output).contains("is of version 99"), "{command:?}: {}", said(&output));
    }
    // the watch goes on all the same
    let mut service = Service::start(&house);
    service.wait_for_log("is of version 99");
    assert!(service.is_alive());
    drop(service);
    assert_eq!(fs::read(&store).expect("the store can be read"), before);
}
