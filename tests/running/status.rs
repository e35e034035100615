//! `status`, as a person asks over SSH: of a service that runs, and of one that does not.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use bench_sim::pty::Port;
use end_to_end::house::{House, said};
use end_to_end::line::saying;
use end_to_end::service::{Service, eventually};
use serde_json::Value;

const ROUND: &str = "[{\"bn\":\"east-3/\",\"n\":\"temperature\",\"u\":\"Cel\",\"v\":24.5},\
                     {\"n\":\"tip-range\",\"u\":\"m\",\"v\":2.1},{\"n\":\"rim-range\",\"u\":\"m\",\"v\":0.95}]\n";

fn house() -> House {
    House::new()
        .with_bench("east-3")
        .with_serial("line")
        .with("[alarm]\nsilent_after_min = 15\ntest_every_days = 0\n")
}

/// What it prints, and its exit status.
fn status(house: &House, more: &[&str]) -> (String, Option<i32>) {
    let output = house.run(&[&["status"], more].concat());
    (String::from_utf8(output.stdout.clone()).expect("text"), output.status.code())
}

/// What may be longer than a terminal is wide is a command, which is copied, or has a path of this check in it.
fn fits_a_terminal(told: &str, house: &House) {
    let folder = house.folder.path().display().to_string();
    for line in told.lines().filter(|line| !line.contains(&folder)) {
        assert!(line.chars().count() <= 80, "{line}");
        assert!(!line.contains('\u{1b}'), "no colours: {line:?}");
    }
}

#[test]
fn all_is_well_only_where_the_service_runs_and_its_benches_are_read() {
    let house = house();
    let mut port = Port::open(&house.path("line")).expect("a line");
    let (told, code) = status(&house, &[]);
    assert!(
        told.contains("THE SERVICE IS NOT RUNNING") && told.contains("systemctl start anthesisd"),
        "{told}"
    );
    assert_eq!(code, Some(1), "{told}");

    let service = Service::start(&house);
    saying(&mut port, ROUND, || {
        // what was recorded is committed at once, and the readings before it
        eventually("a reading is in the record", || {
            let _ = house.run(&["sign", "east-3", "scent"]);
            house.figure("SELECT count(*) FROM series") > 0
        });
        let (told, code) = status(&house, &[]);
        assert_eq!(code, Some(0), "{told}");
        assert!(
            told.contains("No alarm stands, and nothing is wrong.") && told.contains("service: runs"),
            "{told}"
        );
        assert!(told.contains("  east-3  ") && told.contains("newest reading:"), "{told}");
        fits_a_terminal(&told, &house);
        let (of_plant, code) = status(&house, &["at-0412"]);
        assert_eq!(code, Some(0), "{of_plant}");
        assert!(of_plant.contains("air temperature 24.5 °C") || of_plant.contains("24.5 °C"), "{of_plant}");
    });
    assert!(service.terminate().0.success());
    let (told, code) = status(&house, &[]);
    assert_eq!(code, Some(1), "{told}");
    assert!(
        told.contains("! THE SERVICE IS NOT RUNNING") && told.contains("does not run, last started"),
        "{told}"
    );
}

#[test]
fn an_alarm_that_stands_comes_first_with_the_command_that_acknowledges_it() {
    let house = house().with_bench("west-1");
    let _port = Port::open(&house.path("line")).expect("a line");
    let service = Service::start(&house);
    let answer = house.run(&["sign", "east-3", "opened"]);
    assert!(said(&answer).contains("east-3: opened recorded, today "), "{}", said(&answer));
    eventually("the alarm stands", || house.figure("SELECT count(*) FROM alarm WHERE ended_ms IS NULL") == 1);
    let (told, code) = status(&house, &[]);
    assert_eq!(code, Some(1), "{told}");
    let place = |words: &str| told.find(words).unwrap_or_else(|| panic!("{words}: {told}"));
    assert!(place("! ALARM east-3, opening-tonight, since ") < place("! west-1"), "{told}");
    assert!(told.contains("pollinate "), "the hours of the night: {told}");
    fits_a_terminal(&told, &house);
    // exactly as it stands there
    let command = told.lines().find(|line| line.contains(" acknowledge ")).expect("the command").trim();
    let words: Vec<&str> = command.split(' ').skip(3).chain(["--by", "ann"]).collect();
    let answer = house.run(&words);
    assert!(said(&answer).contains("acknowledged by ann"), "{}", said(&answer));
    eventually("it is acknowledged", || {
        status(&house, &[]).0.contains("acknowledged ") && status(&house, &[]).0.contains(" by ann")
    });
    // the alarm of another bench is none of this one's
    let (other, _) = status(&house, &["west-1"]);
    assert!(!other.contains("ALARM") && !other.contains("east-3"), "{other}");
    // two benches hold that plant
    let output = house.run(&["status", "AT-0412"]);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("east-3, west-1"), "{}", said(&output));
    // a program is told the same, in the shape of the page's
    let (json, _) = status(&house, &["--json"]);
    let json: Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!((&json["service_runs"], &json["alarms"][0]["acknowledged_by"]), (&true.into(), &"ann".into()));
    assert_eq!(json["benches"][0]["state"]["stage"], "opening");
    assert!(service.terminate().0.success());
}

#[test]
fn a_record_that_cannot_be_had_is_said_and_the_alarms_are_told_all_the_same() {
    let house = house();
    let port = Port::open(&house.path("line")).expect("a line");
    let service = Service::start(&house);
    let _ = house.run(&["sign", "east-3", "opened"]);
    eventually("the alarm stands", || house.figure("SELECT count(*) FROM alarm WHERE ended_ms IS NULL") == 1);
    assert!(service.terminate().0.success());
    drop(port);
    std::fs::write(house.path("anthesisd.db"), b"this is no record").expect("a file can be written");
    let (told, code) = status(&house, &[]);
    assert_eq!(code, Some(1), "{told}");
    assert!(told.contains("ALARM east-3, opening-tonight") && told.contains("! store"), "{told}");
    assert!(told.contains("! intake") && told.contains("is not there"), "{told}");
}
