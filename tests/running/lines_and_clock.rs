//! A line that falls silent, and a machine whose clock is not set, as the real binary sees them.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::ffi::OsStr;
use std::fs;
use std::path::PathBuf;

use bench_sim::pty::Port;
use end_to_end::house::House;
use end_to_end::line::{say, saying};
use end_to_end::mosquitto::Mosquitto;
use end_to_end::service::{Service, eventually};
use serde_json::Value;

/// A round of a bench's sensors, stamped by its arrival.
fn round(bench: &str) -> String {
    format!(
        "[{{\"bn\":\"{bench}/\",\"n\":\"temperature\",\"u\":\"Cel\",\"v\":24.5}},\
         {{\"n\":\"tip-range\",\"u\":\"m\",\"v\":2.1}},{{\"n\":\"rim-range\",\"u\":\"m\",\"v\":0.95}}]\n"
    )
}

#[test]
fn a_line_that_falls_silent_is_told_once_and_not_once_a_bench() {
    let broker = Mosquitto::plain();
    let house = House::new()
        .with_bench("east-3")
        .with_bench("east-4")
        .with_serial("line")
        .with("[alarm]\nsilent_after_min = 1\ntest_every_days = 0\n")
        .with_broker(broker.port());
    let mut port = Port::open(&house.path("line")).unwrap();
    let listener = broker.listen("phone", "anthesis/saltmarsh/#");
    let service = Service::start(&house);
    let readings =
        |bench: &str| house.figure(&format!("SELECT count(*) FROM series WHERE bench = '{bench}'"));
    // the state of both benches shows that they were heard
    for bench in ["east-3", "east-4"] {
        let topic = format!("anthesis/saltmarsh/{bench}/now");
        saying(&mut port, &round(bench), || listener.until(|heard| heard.topic == topic));
    }
    let heard = listener.until(|heard| heard.topic == "anthesis/saltmarsh/event");
    let event: Value = serde_json::from_str(&heard[heard.len() - 1].payload).unwrap();
    assert_eq!((&event["event"], &event["severity"]), (&"intake-down".into(), &"warning".into()));
    let message = event["message"].as_str().unwrap();
    assert!(message.starts_with("Line dead: east-3, east-4 not read since "), "{message}");
    assert!(heard.iter().all(|heard| !heard.payload.contains("sensor-silent")));
    let silent = "SELECT count(*) FROM event WHERE kind = 'sensor-silent'";
    assert!(service.terminate().0.success());
    assert_eq!((house.figure(silent), readings("east-3") > 0), (0, true));
}

/// Debian's libfaketime, which tells a process another time of day.
pub(super) fn libfaketime() -> PathBuf {
    let folders = fs::read_dir("/usr/lib").expect("a Debian machine");
    let libraries =
        folders.filter_map(|folder| Some(folder.ok()?.path().join("faketime/libfaketimeMT.so.1")));
    let library = libraries.into_iter().find(|library| library.exists());
    library.expect("this check needs libfaketime: apt-get install faketime")
}

/// The service on a machine whose clock stands in 1970, and the file that says what time it is.
fn start_in_1970(house: &House) -> (Service, PathBuf) {
    let told_time = house.path("time");
    fs::write(&told_time, "@1970-01-01 00:00:10\n").expect("the time can be written");
    let library = libfaketime();
    let service = Service::spawn_with(
        house,
        &[
            ("LD_PRELOAD", library.as_os_str()),
            ("FAKETIME_TIMESTAMP_FILE", told_time.as_os_str()),
            ("FAKETIME_NO_CACHE", OsStr::new("1")),
            ("FAKETIME_DONT_FAKE_MONOTONIC", OsStr::new("1")),
        ],
    );
    service.wait_for_log("the machine's clock is not set");
    (service, told_time)
}

#[test]
fn a_machine_that_starts_in_1970_reads_nothing_until_its_clock_is_set() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let mut port = Port::open(&house.path("line")).unwrap();
    let (service, told_time) = start_in_1970(&house);
    // nobody reads: the line's own buffer takes it
    let _ = port.send(round("east-3").as_bytes(), std::time::Duration::from_millis(200));
    fs::write(&told_time, "+0\n").unwrap();
    let opened = "[{\"bn\":\"east-3/\",\"n\":\"sign\",\"vs\":\"opened\"}]\n";
    saying(&mut port, opened, || {
        let told = "SELECT count(*) FROM event WHERE kind = 'opening-tonight'";
        eventually("it is told", || house.figure(told) == 1);
    });
    say(&mut port, &round("east-3"));
    assert!(service.terminate().0.success());
    let first_ms = house.figure("SELECT min(time_ms) FROM event");
    let now_ms = chrono::Utc::now().timestamp_millis();
    assert!((now_ms - first_ms).abs() < 600_000, "{first_ms} for {now_ms}");
    let before = "SELECT (SELECT count(*) FROM reading WHERE time_ms < 1700000000000)
                       + (SELECT count(*) FROM booked WHERE time_ms < 1700000000000)";
    assert_eq!(house.figure(before), 0, "nothing was recorded of 1970");
}

#[test]
fn told_to_stop_while_it_waits_for_the_clock_it_stops_in_order() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let _port = Port::open(&house.path("line")).unwrap();
    let (status, log) = start_in_1970(&house).0.terminate();
    assert!(status.success(), "{log}");
    // the line waits for the clock before the start is through
    let in_order = ["the record is written to its last reading", "stopping before the start is through"];
    assert!(in_order.iter().any(|said| log.contains(said)), "{log}");
}
