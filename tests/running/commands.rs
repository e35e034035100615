//! The commands: what a person books, what goes into the record and comes out of it, and what `check` finds.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::io::{BufRead, BufReader, Read};
use std::process::{Output, Stdio};
use std::time::Instant;

use bench_sim::options::SeasonOptions;
use bench_sim::pty::Port;
use bench_sim::recording::write_recording;
use bench_sim::season::Season;
use end_to_end::house::{House, assert_alike, of_kind, said};
use end_to_end::mosquitto::Mosquitto;
use end_to_end::service::{Service, eventually};
use serde_json::Value;

fn recording(seed: u64, bench: &str) -> String {
    let options = SeasonOptions {
        bench: bench.to_owned(),
        interval_s: 600,
        tape: true,
        signs: true,
        ..SeasonOptions::default()
    };
    let mut text = Vec::new();
    write_recording(&[Season::draw(seed, &options)], &mut text).expect("memory can be written to");
    String::from_utf8(text).expect("a recording is text")
}

fn out(output: &Output) -> String {
    assert!(output.status.success(), "{}", said(output));
    String::from_utf8(output.stdout.clone()).expect("results are text")
}

/// Every record of a recording: bench, time, name, value.
fn records(text: &str) -> Vec<(String, f64, String, Value)> {
    let mut records = Vec::new();
    for line in text.lines() {
        let pack: Vec<Value> = serde_json::from_str(line).expect("a pack a line");
        let (bench, time) =
            (pack[0]["bn"].as_str().expect("a name"), pack[0]["bt"].as_f64().expect("a time"));
        records.extend(pack.iter().map(|record| {
            let value = if record["v"].is_null() { &record["vs"] } else { &record["v"] };
            (bench.to_owned(), time, record["n"].as_str().expect("a name").to_owned(), value.clone())
        }));
    }
    records
}

#[test]
fn what_was_imported_comes_out_again_and_tells_the_same() {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    let (one, other) = (recording(5, "east-3"), recording(6, "east-4"));
    let told = house.replay_lines(&one);
    assert!(told.len() > 20);
    let files = [("one.jsonl", &one), ("other.jsonl", &other)].map(|(name, text)| {
        let path = house.path(name);
        std::fs::write(&path, text).expect("a file can be written");
        path.display().to_string()
    });
    // before the last line stands what each file brought
    let import = || {
        let said = out(&house.run(&["import", &files[0], &files[1]]));
        said.lines().next_back().map(|line| format!("{line}\n")).expect("a line")
    };
    let readings = records(&one).len() + records(&other).len();
    assert_eq!(import(), format!("{readings} readings new, 0 known before, 0 refused\n"));
    assert_eq!(import(), format!("0 readings new, {readings} known before, 0 refused\n"));

    let exported = out(&house.run(&["export", "east-3"]));
    assert_alike(&records(&exported), &records(&one));
    assert_alike(&house.replay_lines(&exported), &told);
    // a recording cut anywhere and put together again is the same recording
    let half = one.len() / 2;
    let half = half + one[half..].find('\n').expect("a line end") + 1;
    let (from, to) = (&records(&one[half..])[0], &records(&one[..half]).pop().expect("a record"));
    let time =
        |seconds: f64| chrono::DateTime::from_timestamp(seconds as i64, 0).expect("an instant").to_rfc3339();
    let first = out(&house.run(&["export", "east-3", "--to", &time(to.1)]));
    let second = out(&house.run(&["export", "east-3", "--from", &time(from.1)]));
    assert_alike(&house.replay_lines(&format!("{first}{second}")), &told);
}

/// An import is for the record; the model has not heard of it and hears it when it comes by a line.
#[test]
fn what_was_imported_first_is_told_all_the_same_when_the_service_hears_it() {
    let house = House::new().with_bench("east-3").with_recording("recording.jsonl");
    let text = recording(5, "east-3");
    let told = house.replay_lines(&text);
    out(&house.run(&["import", &house.path("recording.jsonl").display().to_string()]));
    for _ in 0..2 {
        let service = Service::start(&house);
        service.wait_for_log("the recording has been read to its end");
        assert!(service.terminate().0.success());
        assert_alike(&house.stored_events(), &told);
    }
    let by_hand = records(&text).iter().filter(|(.., name, _)| name == "height" || name == "sign").count();
    assert_eq!(house.figure("SELECT count(*) FROM booked WHERE fed IS NOT NULL"), by_hand as i64);
}

/// The model hears the readings of one instant in their order: what corrects a range comes before the range.
#[test]
fn an_export_keeps_the_order_within_an_instant() {
    let house = House::new().with_bench("east-3");
    let text = r#"[{"bn":"east-3/","bt":1780300800,"n":"rim-range","u":"m","v":0.8}]
[{"bn":"east-3/","bt":1780300860,"n":"sign","vs":"emerged"},{"n":"temperature","u":"Cel","v":27.31},{"n":"humidity","u":"%RH","v":71.4},{"n":"tip-range","u":"m","v":0.914},{"n":"rim-range","u":"m","v":0.802}]
[{"bn":"east-3/","bt":1780300920.25,"n":"humidity","u":"%RH","v":71.5}]
"#;
    let path = house.path("recording.jsonl");
    std::fs::write(&path, text).expect("a file can be written");
    out(&house.run(&["import", &path.display().to_string()]));
    assert_eq!(out(&house.run(&["export", "east-3"])), text);
}

#[test]
fn what_a_person_books_is_taken_up_by_the_service_at_once_or_at_its_next_start() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let _port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    let began = Instant::now();
    out(&house.run(&["tape", "east-3", "1.32", "--by", "Robin", "--note", "leaning"]));
    out(&house.run(&["sign", "east-3", "bract-dropped", "--at", "yesterday 18:00"]));
    let booked = |what: &str, more: &str| {
        house.figure(&format!(
            "SELECT count(*) FROM booked WHERE bench = 'east-3' AND what = '{what}' AND {more}"
        ))
    };
    eventually("both are in the record", || {
        booked("height", "value = 1.32 AND by = 'Robin' AND note = 'leaning'") == 1
            && booked("bract-dropped", "value IS NULL AND fed IS NOT NULL") == 1
    });
    println!("booked after {:.1} s", began.elapsed().as_secs_f64());
    let signs = || -> Vec<String> {
        let events: Vec<Value> =
            house.stored_events().iter().map(|event| serde_json::from_str(event).expect("JSON")).collect();
        of_kind(&events, "sign-booked").iter().map(|event| event["sign"].to_string()).collect()
    };
    eventually("the sign is told", || signs() == ["\"bract-dropped\""]);
    assert!(service.terminate().0.success());

    out(&house.run(&["sign", "east-3", "bract-dropped", "--withdraw", "--at", "yesterday 18:00"]));
    assert_eq!(house.figure("SELECT count(*) FROM entry"), 1);
    let service = Service::start(&house);
    eventually("the sign is taken back", || signs().last().is_some_and(|sign| sign.contains("withdrawn")));
    assert_eq!(house.figure("SELECT count(*) FROM entry"), 0);
    assert!(service.terminate().0.success());
    assert_eq!(signs().len(), 2);
}

#[test]
fn an_acknowledgement_of_nothing_says_what_stands() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let service = Service::start(&house);
    let output = house.run(&["acknowledge"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(said(&output).contains("no alarm stands"), "{}", said(&output));
    out(&house.run(&["sign", "east-3", "opened"]));
    let standing = "SELECT count(*) FROM alarm WHERE ended_ms IS NULL AND acknowledged_ms IS NULL";
    eventually("the alarm stands", || house.figure(standing) == 1);
    let output = house.run(&["acknowledge", "east-3-2027a/opening-tonight/7"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(said(&output).contains("/opening-tonight/1"), "{}", said(&output));
    out(&house.run(&["acknowledge"]));
    eventually("it is acknowledged", || house.figure(standing) == 0);
    assert!(service.terminate().0.success());
}

#[test]
fn check_has_a_line_for_everything_that_the_configuration_names() {
    let mut broker = Mosquitto::plain();
    let house = House::new()
        .with_bench("east-3")
        .with_serial("line")
        .with_serial("other-line")
        .with_broker(broker.port());
    let _port = Port::open(&house.path("line")).unwrap();
    let other = Port::open(&house.path("other-line")).unwrap();
    let service = Service::start(&house);
    service.terminate();
    let named = [
        "configuration",
        "/line, serial: opens",
        "/other-line, serial: opens",
        "anthesisd.db: is sound",
        "lets us in",
    ];
    let text = out(&house.run(&["check"]));
    for name in named {
        assert_eq!(text.lines().filter(|line| line.contains(name)).count(), 1, "{name}: {text}");
    }
    assert!(!text.contains("FAILS"), "{text}");
    broker.kill();
    drop(other);
    let output = house.run(&["check"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let text = String::from_utf8_lossy(&output.stdout);
    let failing: Vec<&str> = text.lines().filter(|line| line.contains("FAILS")).collect();
    assert_eq!(failing.len(), 2, "{text}");
    assert!(failing[0].contains("other-line") && failing[1].contains("broker"), "{text}");
}

#[test]
fn whoever_reads_no_further_is_no_trouble() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let path = house.path("recording.jsonl");
    std::fs::write(&path, recording(5, "east-3")).expect("a file can be written");
    let path = path.display().to_string();
    for (arguments, reads) in [
        (&["replay", &path][..], true),
        (&["import", &path], false),
        (&["export", "east-3"], true),
        (&["check"], false),
    ] {
        let mut process = house
            .command(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it starts");
        let mut stdout = BufReader::with_capacity(1, process.stdout.take().expect("a pipe"));
        if reads {
            assert!(stdout.read_line(&mut String::new()).expect("a line") > 0);
        }
        drop(stdout);
        let mut errors = String::new();
        process.stderr.take().expect("a pipe").read_to_string(&mut errors).expect("text");
        let status = process.wait().expect("it ends");
        assert!(!errors.contains("panicked") && !errors.to_lowercase().contains("broken pipe"), "{errors}");
        // the line has no port: `check` says so by its status
        assert_eq!(status.code(), Some(i32::from(arguments == ["check"])), "{arguments:?}: {errors}");
    }
}

#[test]
fn a_service_whose_log_nobody_reads_goes_on() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let mut process = house.command(&["run"]).stderr(Stdio::piped()).spawn().expect("it starts");
    let mut log = BufReader::with_capacity(1, process.stderr.take().expect("a pipe"));
    let mut line = String::new();
    while !line.contains("starting") {
        line.clear();
        assert!(log.read_line(&mut line).expect("a line") > 0);
    }
    drop(log);
    for number in 1..=3 {
        out(&house.run(&["sign", "east-3", "scent"]));
        let told = "SELECT count(*) FROM event WHERE kind = 'sign-booked'";
        eventually("the sign is told", || house.figure(told) == number);
    }
    process.kill().expect("it still runs");
    process.wait().expect("it ends");
}
