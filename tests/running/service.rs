//! The service between a serial line and a broker, and all that can happen to the three of them.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs;
use std::process::Command;
use std::thread;

use bench_sim::pty::Port;
use chrono::Utc;
use end_to_end::bud::Recorder;
use end_to_end::house::{House, said};
use end_to_end::line::{say, saying, sign};
use end_to_end::mosquitto::{Heard, Mosquitto};
use end_to_end::service::{Service, eventually};
use serde_json::Value;

const TOPIC: &str = "anthesis/saltmarsh";

/// Two benches on one line.
fn house(broker: &Mosquitto) -> House {
    House::new().with_bench("east-3").with_bench("east-4").with_serial("line").with_broker(broker.port())
}

fn is_alarm_of<'a>(bench: &'a str) -> impl Fn(&Heard) -> bool + 'a {
    move |heard| {
        heard.topic == format!("{TOPIC}/{bench}/event")
            && heard.payload.contains("\"event\":\"opening-tonight\"")
    }
}

fn json(heard: &Heard) -> Value {
    serde_json::from_str(&heard.payload).expect("a payload is JSON")
}

fn id_of(heard: &[Heard]) -> String {
    json(heard.last().expect("something was heard"))["id"].as_str().expect("an event has an id").to_owned()
}

/// The retained list of a bench, as someone finds it who comes now, once it holds what is wanted.
fn list(broker: &Mosquitto, bench: &str, wanted: impl Fn(&[Value]) -> bool) -> Vec<Value> {
    let listener = broker.listen(&format!("list-{bench}"), &format!("{TOPIC}/{bench}/alarm"));
    let alarms = |heard: &Heard| json(heard).as_array().cloned().unwrap_or_default();
    let heard = listener.until(|heard| wanted(&alarms(heard)));
    alarms(&heard[heard.len() - 1])
}

/// Whether the store says that somebody took note of the alarm, and that it is repeated no more.
fn is_acknowledged(house: &House, id: &str, by: &str) -> bool {
    house.figure(&format!(
        "SELECT count(*) FROM alarm WHERE event_id = '{id}' AND acknowledged_by = '{by}'
         AND acknowledged_ms IS NOT NULL AND next_repeat_ms IS NULL AND ended_ms IS NULL"
    )) == 1
}

#[test]
fn an_opening_on_the_line_is_an_alarm_on_the_phone_until_someone_takes_note() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let listener = broker.listen("phone", &format!("{TOPIC}/+/event"));
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);

    // a bud of two days that has been opening for three hours
    let now = Utc::now().timestamp();
    let mut recorder = Recorder::new("east-3");
    for minute in -2 * 24 * 60..=0 {
        let open_h = (f64::from(minute) / 60.0 + 3.0).max(0.0);
        let rim = 0.21 * (1.0 - (std::f64::consts::PI * open_h / 7.0).cos());
        recorder.pack(now + i64::from(minute) * 60, Some(1.5 + 3e-5 * f64::from(minute)), Some(rim), 0.002);
    }
    say(&mut port, &recorder.text);
    let measured = id_of(&listener.until(is_alarm_of("east-3")));
    let found = list(&broker, "east-3", |alarms| alarms.iter().any(|alarm| alarm["id"] == *measured));
    assert_eq!(found[0]["event"], "opening-tonight", "the gravest comes first: {found:?}");
    assert_eq!(found[0]["told_by"], "rim-range");
    let repeats =
        format!("SELECT count(*) FROM alarm WHERE event_id = '{measured}' AND next_repeat_ms > raised_ms");
    assert_eq!(house.figure(&repeats), 1);

    let output = house.run(&["acknowledge", &measured, "--by", "Robin"]);
    assert!(output.status.success(), "{}", said(&output));
    eventually("the alarm is acknowledged", || is_acknowledged(&house, &measured, "Robin"));
    list(&broker, "east-3", |alarms| alarms.iter().any(|alarm| alarm["acknowledged"]["by"] == "Robin"));

    // the same over the broker, for an alarm that a person raised
    let booked = sign("east-4", "opened");
    let seen = id_of(&saying(&mut port, &booked, || listener.until(is_alarm_of("east-4"))));
    let payload = format!(r#"{{"id":"{seen}","by":"Kim"}}"#);
    broker.publish(&format!("{TOPIC}/east-4/acknowledge"), payload.as_bytes(), false);
    eventually("the alarm is acknowledged", || is_acknowledged(&house, &seen, "Kim"));
    list(&broker, "east-4", |alarms| alarms.iter().any(|alarm| alarm["acknowledged"]["by"] == "Kim"));

    // and an alarm that is over stands no more
    broker.publish(&format!("{TOPIC}/east-4/sign"), br#"{"sign":"not-opening","by":"Kim"}"#, false);
    list(&broker, "east-4", |alarms| alarms.iter().all(|alarm| alarm["id"] != *seen));
    assert!(service.terminate().0.success());
    // what the broker has acknowledged is not sent again by the next life
    assert_eq!(house.figure("SELECT count(*) FROM outgoing WHERE topic LIKE '%/event'"), 0);
}

#[test]
fn a_cable_that_was_pulled_is_plugged_in_again() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let listener = broker.listen("phone", &format!("{TOPIC}/+/event"));
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    saying(&mut port, &sign("east-3", "opened"), || listener.until(is_alarm_of("east-3")));
    drop(port);
    service.wait_for_log("the device is gone");
    let mut port = Port::open(&house.path("line")).unwrap();
    saying(&mut port, &sign("east-4", "opened"), || listener.until(is_alarm_of("east-4")));
    assert!(service.terminate().0.success());
}

#[test]
fn a_port_that_is_missing_at_the_start_is_found_when_it_comes() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let listener = broker.listen("phone", &format!("{TOPIC}/+/event"));
    let service = Service::start(&house);
    service.wait_for_log("cannot be opened");
    let mut port = Port::open(&house.path("line")).unwrap();
    saying(&mut port, &sign("east-3", "opened"), || listener.until(is_alarm_of("east-3")));
    assert!(service.terminate().0.success());
}

#[test]
fn an_alarm_outlives_a_broker_that_forgets_everything_and_a_service_that_is_killed() {
    let mut broker = Mosquitto::plain();
    let house = house(&broker);
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    saying(&mut port, &sign("east-3", "opened"), || {
        list(&broker, "east-3", |alarms| !alarms.is_empty());
    });

    broker.kill_and_forget();
    let raised = "SELECT count(*) FROM event WHERE bench = 'east-4' AND kind = 'opening-tonight'";
    saying(&mut port, &sign("east-4", "opened"), || {
        eventually("the alarm is in the store", || house.figure(raised) == 1);
    });
    // what the alarm waits in must outlive this
    service.kill();
    let service = Service::start(&house);
    let before = broker.received().len();
    broker.start();
    let bytes = "SELECT octet_length(payload) FROM event WHERE bench = 'east-4' AND kind = 'opening-tonight'";
    let bytes = usize::try_from(house.figure(bytes)).unwrap();
    eventually("the alarm arrives", || {
        broker.received()[before..].contains(&(format!("{TOPIC}/east-4/event"), bytes))
    });
    // whoever comes to the new broker finds both: the alarm that it never saw, and the one that it forgot
    for bench in ["east-4", "east-3"] {
        let alarms = list(&broker, bench, |alarms| !alarms.is_empty());
        assert_eq!(alarms[0]["event"], "opening-tonight");
    }
    assert!(service.terminate().0.success());
}

#[test]
fn whoever_listens_knows_whether_the_service_lives() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let _port = Port::open(&house.path("line")).unwrap();
    let listener = broker.listen("phone", &format!("{TOPIC}/daemon"));
    let next = |service: &str| {
        let heard = listener.until(|heard| json(heard)["service"] == service);
        json(&heard[heard.len() - 1])["run"].as_i64().expect("a run has a number")
    };
    let service = Service::start(&house);
    let first = next("up");
    service.kill();
    assert_eq!(next("down"), first, "the last will");
    let service = Service::start(&house);
    assert_eq!(next("up"), first + 1);
    let (status, log) = service.terminate();
    assert!(status.success(), "{log}");
    assert_eq!(next("down"), first + 1, "the goodbye");
    let kept = broker.listen("later", &format!("{TOPIC}/daemon")).next();
    assert!(kept.retained && json(&kept)["service"] == "down", "{kept:?}");
}

/// Memory at most, MiB, in whichever profile: some ten times what the service needs.
const MEMORY_MIB: u64 = 60;

#[test]
fn a_line_that_babbles_costs_nobody_else_anything() {
    let broker = Mosquitto::plain();
    let house = house(&broker).with_serial("babbler");
    let listener = broker.listen("phone", &format!("{TOPIC}/+/event"));
    let mut port = Port::open(&house.path("line")).unwrap();
    let mut babbler = Port::open(&house.path("babbler")).unwrap();
    let service = Service::start(&house);
    let (_, most_kib) = thread::scope(|scope| {
        let babble = scope.spawn(|| {
            // more than the bound without an end of line, then one too many of them, then a megabyte that looks like a pack
            let piece = "x".repeat(64 << 10);
            for _ in 0..(MEMORY_MIB + 4) * 16 {
                say(&mut babbler, &piece);
            }
            say(&mut babbler, &"\u{0}[{\n".repeat(20_000));
            say(&mut babbler, &format!("{}\n", "[{\"bn\":\"east-4/\",\"v\":[".repeat(50_000)));
        });
        saying(&mut port, &sign("east-3", "opened"), || listener.until(is_alarm_of("east-3")));
        babble.join().expect("the babble is read");
        service.resident_kib()
    });
    assert!(most_kib < MEMORY_MIB << 10, "{most_kib} KiB");
    // what is good is still read
    saying(&mut babbler, &sign("east-4", "opened"), || listener.until(is_alarm_of("east-4")));
    let (status, log) = service.terminate();
    assert!(status.success());
    assert!(log.lines().count() < 100, "a babble does not fill the log:\n{log}");
}

#[test]
fn the_line_of_the_manual_by_which_a_second_machine_notices_does_notice() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let manual = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../README.md")).unwrap();
    let line = manual.lines().find(|line| line.contains("while mosquitto_sub")).expect("the manual shows it");
    let line = line.replace("-h BROKER", &format!("-h 127.0.0.1 -p {}", broker.port()));
    let service = Service::start(&house);
    let kept = broker.listen("kept", &format!("{TOPIC}/daemon"));
    kept.until(|heard| json(heard)["service"] == "up");
    let told = fs::File::create(house.path("told")).unwrap();
    let mut second = Command::new("sh").args(["-c", &line]).stdout(told).spawn().unwrap();
    broker.wait_for_log("Sending SUBACK to auto-");
    assert!(
        second.try_wait().unwrap().is_none(),
        "what the broker kept from before is no sign of life, nor of death"
    );
    service.kill();
    assert!(second.wait().unwrap().success());
    assert_eq!(fs::read_to_string(house.path("told")).unwrap(), "SILENT\n");
}

#[test]
fn hanging_up_on_it_ends_no_watch() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let mut port = Port::open(&house.path("line")).expect("a pseudo-terminal");
    let listener = broker.listen("phone", &format!("{TOPIC}/#"));
    let service = Service::start(&house);
    service.hang_up();
    service.wait_for_log("SIGHUP: the watch goes on");
    saying(&mut port, &sign("east-3", "opened"), || listener.until(is_alarm_of("east-3")));
    assert!(service.terminate().0.success());
}
