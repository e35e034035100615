//! The real service on a disk that is full, and its record taken away and put back.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use bench_sim::pty::Port;
use chrono::Utc;
use end_to_end::bud::Recorder;
use end_to_end::house::{House, said};
use end_to_end::line::{say, saying, sign};
use end_to_end::mosquitto::{Heard, Mosquitto};
use end_to_end::service::{Service, eventually};
use serde_json::Value;

/// A bud of two days that has been opening for three hours, up to now.
pub(super) fn an_opening(bench: &str) -> String {
    let now = Utc::now().timestamp();
    let mut recorder = Recorder::new(bench);
    for minute in -2 * 24 * 60..=0 {
        let open_h = (f64::from(minute) / 60.0 + 3.0).max(0.0);
        let rim = 0.21 * (1.0 - (std::f64::consts::PI * open_h / 7.0).cos());
        recorder.pack(now + i64::from(minute) * 60, Some(1.5 + 3e-5 * f64::from(minute)), Some(rim), 0.002);
    }
    recorder.text
}

pub(super) fn id_of(heard: &[Heard]) -> String {
    let last = &heard.last().expect("something was heard").payload;
    let event: Value = serde_json::from_str(last).expect("a payload is JSON");
    event["id"].as_str().expect("an event has an id").to_owned()
}

#[test]
fn an_alarm_leaves_the_house_though_the_disk_is_full_and_is_written_down_when_it_is_not() {
    let broker = Mosquitto::plain();
    let house = House::new().with_bench("east-3").with_serial("line").with_broker(broker.port());
    let listener = broker.listen("phone", "anthesis/saltmarsh/east-3/event");
    let mut port = Port::open(&house.path("line")).unwrap();
    let mut service = Service::start_to_fill_its_disk(&house);
    service.wait_for_log("connected to the broker");

    service.let_files_grow_to(Some(1));
    say(&mut port, &an_opening("east-3"));
    let id = id_of(&listener.until(|heard| heard.payload.contains("\"event\":\"opening-tonight\"")));
    let list = broker.listen("latecomer", "anthesis/saltmarsh/east-3/alarm");
    list.until(|heard| heard.payload.contains(&id));
    assert_eq!(house.figure("SELECT count(*) FROM event"), 0, "the store has taken nothing");
    assert_eq!(house.figure("SELECT count(*) FROM reading"), 0);
    assert!(service.is_alive());

    service.let_files_grow_to(None);
    let stored = format!("SELECT count(*) FROM event WHERE id = '{id}'");
    eventually("the alarm is written down under its id", || house.figure(&stored) == 1);
    assert_eq!(
        house.figure(&format!("SELECT count(*) FROM alarm WHERE event_id = '{id}' AND ended_ms IS NULL")),
        1
    );
    eventually("the readings are there", || house.figure("SELECT count(*) FROM reading") > 5_000);
    let (status, log) = service.terminate();
    assert!(status.success(), "{log}");
}

/// Packs of a quiet bench, so many seconds back and up to now.
fn quiet(bench: &str, seconds: i64) -> String {
    let now = Utc::now().timestamp();
    let mut recorder = Recorder::new(bench);
    (-seconds..0).for_each(|second| recorder.pack(now + second, Some(0.9), Some(0.0), 0.002));
    recorder.text
}

#[test]
fn a_backup_is_made_while_the_service_writes_and_put_back_after_a_kill() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    saying(&mut port, &sign("east-3", "spadix-visible"), || {
        eventually("the line is read", || house.figure("SELECT count(*) FROM booked") > 0);
    });
    let lines = quiet("east-3", 4_000);
    let mut copies = Vec::new();
    std::thread::scope(|scope| {
        let speaker = scope.spawn(|| say(&mut port, &lines));
        while !speaker.is_finished() || copies.len() < 3 {
            let copy = house.path(&format!("copy-{}.db", copies.len())).display().to_string();
            let output = house.run(&["backup", &copy]);
            assert!(output.status.success(), "{}", said(&output));
            assert_eq!(String::from_utf8_lossy(&output.stdout), format!("{copy}\n"));
            copies.push(copy);
        }
    });
    eventually("the newest readings are there", || house.figure("SELECT count(*) FROM reading") > 10_000);
    let first = copies.first().expect("some were made");
    let again = house.run(&["backup", first]);
    assert_eq!(again.status.code(), Some(1));
    assert!(said(&again).contains("is there already"), "{}", said(&again));
    let running = house.run(&["restore", first]);
    assert_eq!(running.status.code(), Some(1));
    assert!(said(&running).contains("stop the service first"), "{}", said(&running));

    let readings = house.figure("SELECT count(*) FROM reading");
    service.kill();
    let output = house.run(&["restore", first]);
    assert!(output.status.success(), "{}", said(&output));
    assert!(said(&output).contains("anthesisd.db.before-restore"), "{}", said(&output));
    assert!(house.figure("SELECT count(*) FROM reading") < readings);
    assert_eq!(house.figure("SELECT count(*) FROM booked"), 1);
    let checked = house.run(&["check"]);
    assert!(said(&checked).contains("anthesisd.db: is sound"), "{}", said(&checked));
    let service = Service::start(&house);
    saying(&mut port, &sign("east-3", "bract-dropped"), || {
        eventually("the service goes on from there", || house.figure("SELECT count(*) FROM booked") == 2);
    });
    assert!(service.terminate().0.success());

    let missing = house.run(&["restore", "/nowhere/copy.db"]);
    assert_eq!(missing.status.code(), Some(2));
    assert!(said(&missing).contains("name a backup"), "{}", said(&missing));
}
