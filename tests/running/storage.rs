//! The real service on a disk that is full, and its record taken away and put back.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use bench_sim::pty::Port;
use chrono::Utc;
use end_to_end::bud::Recorder;
use end_to_end::house::House;
use end_to_end::line::say;
use end_to_end::mosquitto::{Heard, Mosquitto};
use end_to_end::service::{Service, eventually};
use serde_json::Value;

/// A bud of two days that has been opening for three hours, up to now.
fn an_opening(bench: &str) -> String {
    let now = Utc::now().timestamp();
    let mut recorder = Recorder::new(bench);
    for minute in -2 * 24 * 60..=0 {
        let open_h = (f64::from(minute) / 60.0 + 3.0).max(0.0);
        let rim = 0.21 * (1.0 - (std::f64::consts::PI * open_h / 7.0).cos());
        recorder.pack(now + i64::from(minute) * 60, Some(1.5 + 3e-5 * f64::from(minute)), Some(rim), 0.002);
    }
    recorder.text
}

fn id_of(heard: &[Heard]) -> String {
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
