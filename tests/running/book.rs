//! The bloom book from the command line: one grammar, suggestions, corrections, and what the running service hears.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::process::Output;

use bench_sim::pty::Port;
use end_to_end::house::{House, said};
use end_to_end::service::{Service, eventually};
use serde_json::Value;

const TITAN: &str = "Amorphophallus titanum";

/// What a command of the book printed.
fn done(house: &House, line: &[&str]) -> String {
    let output = house.run(line);
    assert!(output.status.success(), "{line:?}: {}", said(&output));
    String::from_utf8(output.stdout).expect("results are text")
}

/// The same as JSON.
fn json(house: &House, line: &[&str]) -> Value {
    serde_json::from_str(&done(house, &[line, &["--json"]].concat())).expect("JSON")
}

/// What a command said that was not done, and its status.
fn refused(house: &House, line: &[&str]) -> (i32, String) {
    let Output { status, stderr, .. } = house.run(line);
    assert!(!status.success(), "{line:?} was done");
    (status.code().expect("it ended by itself"), String::from_utf8(stderr).expect("text"))
}

fn house() -> House {
    let house = House::new().with_bench("east-3");
    done(&house, &["plant", "AT-0412", "add", "--taxon", TITAN, "--from", "seed of 2014"]);
    done(&house, &["plant", "AT-0398", "add", "--taxon", TITAN]);
    house
}

#[test]
fn a_mistyped_name_gets_a_suggestion_and_nothing_is_booked() {
    let house = house();
    done(&house, &["pollen", "AT-0398", "collected", "6", "--stored", "-80", "--at", "2025-05-01 18:00"]);
    let entries = || house.figure("SELECT count(*) FROM book");
    let before = entries();
    for (line, suggestion) in [
        (&["plant", "AT-0421", "weighed", "31"][..], "did you mean AT-0412?"),
        (&["plant", "AT-0412", "wieghed", "31"], "weighed"),
        (&["pollen", "AT-0398-2052a", "thawed"], "did you mean AT-0398-2025a?"),
        (&["cross", "eats-3", "AT-0398-2025a"], "did you mean east-3?"),
        (&["fruit", "east-3", "colour", "oragne"], "orange"),
        (&["sign", "east-3", "bract-droped"], "bract-dropped"),
        (&["plant", "AT-0501", "add", "--mother", "AT-0413"], "did you mean AT-0412?"),
    ] {
        let (status, said) = refused(&house, line);
        assert_eq!(status, 2, "{line:?}: {said}");
        assert!(said.contains(suggestion), "{line:?}: {said}");
    }
    assert_eq!(entries(), before);
    // capitals do not matter
    done(&house, &["pollen", "at-0398-2025A", "thawed"]);
    assert_eq!(json(&house, &["pollen", "AT-0398-2025a"])["left"], 5);
}

#[test]
fn figures_that_cannot_be_and_times_to_come_are_refused_with_what_would_be_right() {
    let house = house();
    let (status, said) = refused(&house, &["plant", "AT-0412", "weighed", "5000"]);
    assert!(status == 2 && said.contains("between 0.001 and 500 kg"), "{said}");
    let (status, said) = refused(&house, &["plant", "AT-0412", "dormant", "--at", "2999-01-01"]);
    assert!(status == 2 && said.contains("yet to come"), "{said}");
    // daylight saving time in Halifax: 02:30 on 9 March 2025 did not exist (IANA time zone database)
    let (status, said) = refused(&house, &["plant", "AT-0412", "dormant", "--at", "2025-03-09 02:30"]);
    assert!(status == 2 && said.contains("does not exist"), "{said}");
    let booked = json(&house, &["plant", "AT-0412", "dormant", "--at", "2025-03-09 03:30"]);
    assert_eq!(booked["time"], "2025-03-09T06:30:00Z");
}

#[test]
fn a_correction_keeps_what_it_does_not_say_and_the_old_entry_stays_in_the_history() {
    let house = house();
    let wrong = json(
        &house,
        &[
            "plant",
            "east-3",
            "weighed",
            "312",
            "--at",
            "2025-03-01 10:00",
            "--by",
            "Robin",
            "--note",
            "washed",
        ],
    );
    let number = wrong["number"].to_string();
    let right = json(&house, &["plant", "east-3", "weighed", "31.2", "--corrects", &number]);
    for same in ["time", "by", "note", "subject"] {
        assert_eq!(right[same], wrong[same], "{same}");
    }
    let plant = json(&house, &["plant", "AT-0412"]);
    assert_eq!(plant["weighings"].as_array().expect("a list").len(), 1);
    assert_eq!(plant["weighings"][0]["mass_kg"], 31.2);
    let history = done(&house, &["book", "history", "AT-0412"]);
    assert!(history.contains("312 kg") && history.contains("[corrected by"), "{history}");
    let (status, said) = refused(&house, &["plant", "east-3", "weighed", "31", "--corrects", &number]);
    assert!(status == 2 && said.contains("already"), "{said}");
    done(&house, &["book", "withdraw", &right["number"].to_string()]);
    assert_eq!(json(&house, &["plant", "AT-0412"])["weighings"], Value::Array(Vec::new()));
    assert_eq!(house.figure("SELECT count(*) FROM book WHERE subject = 'AT-0412'"), 4);
}

#[test]
fn kinship_is_said_before_a_cross_is_booked() {
    let house = house();
    done(
        &house,
        &["plant", "AT-0500", "add", "--taxon", TITAN, "--mother", "AT-0412", "--father", "AT-0398"],
    );
    done(
        &house,
        &["plant", "AT-0501", "add", "--taxon", TITAN, "--mother", "AT-0412", "--father", "AT-0398"],
    );
    done(&house, &["plant", "AT-0413", "add", "--offset-of", "AT-0412"]);
    done(&house, &["plant", "AP-0031", "add", "--taxon", "Amorphophallus paeoniifolius"]);
    for plant in ["AT-0412", "AT-0413", "AT-0500", "AT-0501", "AT-0398", "AP-0031"] {
        done(&house, &["pollen", plant, "collected", "3", "--stored", "-80", "--at", "2025-05-01 18:00"]);
    }
    let crosses = || house.figure("SELECT count(*) FROM book WHERE fact LIKE '%pollinated%'");
    for (mother, lot, word) in [
        ("AT-0412", "AT-0412-2025a", "selfing, kinship 0.5"),
        ("AT-0412", "AT-0413-2025a", "the same clone, kinship 0.5"),
        ("AT-0500", "AT-0501-2025a", "sibs, kinship 0.25"),
        ("AT-0412", "AT-0500-2025a", "parent and offspring, kinship 0.25"),
    ] {
        let (status, said) = refused(&house, &["cross", mother, lot, "--at", "2025-06-02 21:40"]);
        assert!(status == 1 && said.contains(word) && said.contains("--anyway"), "{said}");
    }
    assert_eq!(crosses(), 0);
    let said = done(&house, &["cross", "AT-0412", "AT-0412-2025a", "--anyway", "--at", "2025-06-02 21:40"]);
    assert!(said.contains("selfing"), "{said}");
    let said = done(&house, &["cross", "AT-0412", "AT-0398-2025a", "--at", "2025-06-02 21:50"]);
    assert!(said.contains("unknown"), "{said}");
    let said = done(&house, &["cross", "AT-0412", "AP-0031-2025a", "--at", "2025-06-02 22:00"]);
    assert!(said.contains("hybrid, Amorphophallus titanum × Amorphophallus paeoniifolius"), "{said}");
    let booked = json(&house, &["cross"]);
    let hybrids: Vec<&Value> =
        booked.as_array().expect("a list").iter().map(|cross| &cross["hybrid"]).collect();
    assert_eq!(hybrids, [&Value::from(false), &Value::from(false), &Value::from(true)]);
}

#[test]
fn what_is_booked_in_the_book_is_heard_by_the_watch_and_not_asked_twice() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let _port = Port::open(&house.path("line")).expect("a pseudo-terminal");
    done(&house, &["plant", "AT-0398", "add", "--taxon", TITAN]);
    let service = Service::start(&house);
    let lot = json(&house, &["pollen", "AT-0398", "collected", "2", "--stored", "-80"]);
    let cross = json(&house, &["cross", "east-3", lot["subject"].as_str().expect("a name")]);
    let signs = |what: &str| {
        house.figure(&format!("SELECT count(*) FROM booked WHERE bench = 'east-3' AND what = '{what}'"))
    };
    eventually("the watch has heard of it", || signs("pollinated") == 1);
    done(&house, &["book", "withdraw", &cross["number"].to_string()]);
    eventually("the watch has heard that it was none", || signs("withdrawn pollinated") == 1);
    assert!(service.terminate().0.success());
}
