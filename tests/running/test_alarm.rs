//! The test alarm: raised where readings alone say so, and answered by a person.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::ffi::OsStr;
use std::thread;
use std::time::Duration;

use bench_sim::pty::Port;
use chrono::{DateTime, TimeDelta, Timelike, Utc};
use chrono_tz::America::Halifax;
use end_to_end::course::Course;
use end_to_end::house::{House, of_kind};
use end_to_end::line::{self, saying};
use end_to_end::mosquitto::{Heard, Mosquitto};
use end_to_end::service::{Service, eventually};
use serde_json::Value;

use super::lines_and_clock::libfaketime;

/// A sign as a recording has it.
fn seen(time: &str, sign: &str) -> String {
    let at: DateTime<Utc> = time.parse().expect("an instant");
    format!("[{{\"bn\":\"east-3/\",\"bt\":{},\"n\":\"sign\",\"vs\":\"{sign}\"}}]\n", at.timestamp())
}

fn tests_of(house: &House, recording: &str) -> Vec<(String, String)> {
    let events = house.replay(recording);
    let text = |event: &Value, key: &str| event[key].as_str().expect("text").to_owned();
    let tests = of_kind(&events, "test");
    assert!(tests.iter().all(|test| test["severity"] == "alarm"));
    tests.into_iter().map(|test| (text(test, "id"), text(test, "time"))).collect()
}

#[test]
fn a_bud_that_is_seen_asks_a_person_to_prove_that_alarms_arrive() {
    let house = House::new().with_bench("east-3");
    let later = seen("2027-05-03T12:00:00Z", "flies");
    // 09:00 in Halifax
    let by_day = seen("2027-05-01T12:00:00Z", "spadix-visible") + &later;
    let wanted = |time: &str| vec![("east-3-2027a/test/1".to_owned(), time.to_owned())];
    assert_eq!(tests_of(&house, &by_day), wanted("2027-05-01T12:00:00Z"));
    // 23:00: the message of the bud wakes nobody, and the test waits for the morning
    let by_night = seen("2027-05-02T02:00:00Z", "spadix-visible") + &later;
    assert_eq!(tests_of(&house, &by_night), wanted("2027-05-02T10:00:00Z"));
    let events = house.replay(&by_night);
    assert_eq!(of_kind(&events, "bud-seen")[0]["time"], "2027-05-02T02:00:00Z");
    let message = of_kind(&events, "test")[0]["message"].as_str().expect("text");
    assert!(message.starts_with("TEST ALARM east-3: acknowledge it now. Nothing is wrong"), "{message}");
}

/// Between seven in the morning and nine in the evening, by the clocks of the house.
fn told_by_day(of: DateTime<Utc>) -> DateTime<Utc> {
    let mut time = of;
    while !(7..21).contains(&time.with_timezone(&Halifax).hour()) {
        time =
            (time + TimeDelta::hours(1)).with_minute(0).and_then(|time| time.with_second(0)).expect("a time");
    }
    time
}

#[test]
fn a_bud_that_slows_asks_again() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.grow(2.0, 4.0, 0.0);
    let events = course.events();
    let times = |kind: &str| -> Vec<DateTime<Utc>> {
        let time =
            |event: &&Value| event["time"].as_str().and_then(|time| time.parse().ok()).expect("a time");
        of_kind(&events, kind).iter().map(time).collect()
    };
    let turns = [times("bud-seen"), times("slowing")].concat();
    assert_eq!(turns.len(), 2);
    assert_eq!(times("test"), turns.into_iter().map(told_by_day).collect::<Vec<_>>());
}

/// As on a machine whose clocks show that time (UTC; seven in the morning in Halifax is ten).
fn started_at(house: &House, time: &str) -> Service {
    let (library, time) = (libfaketime(), format!("@{time}"));
    let environment = [
        ("LD_PRELOAD", library.as_os_str()),
        ("FAKETIME", OsStr::new(&time)),
        ("FAKETIME_DONT_FAKE_MONOTONIC", OsStr::new("1")),
        ("TZ", OsStr::new("UTC")),
    ];
    let service = Service::spawn_with(house, &environment);
    service.wait_for_log("starting");
    service
}

#[test]
fn every_so_many_days_the_house_asks_by_itself() {
    let house = House::new().with_bench("east-3").with_serial("line").with("[alarm]\ntest_every_days = 30\n");
    let _port = Port::open(&house.path("line")).expect("a line");
    let tests = || house.figure("SELECT count(*) FROM event WHERE kind = 'test' AND bench IS NULL");
    let service = started_at(&house, "2027-06-02 09:59:48");
    eventually("the first morning asks", || tests() == 1);
    assert!(service.terminate().0.success());
    let service = started_at(&house, "2027-07-01 09:59:48");
    thread::sleep(Duration::from_secs(16));
    assert_eq!(tests(), 1, "29 days later nothing is asked");
    assert!(service.terminate().0.success());
    let service = started_at(&house, "2027-07-02 09:59:48");
    eventually("after 30 days it asks again", || tests() == 2);
    assert!(service.terminate().0.success());
}

#[test]
fn who_wants_no_tests_gets_none() {
    let house = House::new().with_bench("east-3").with("[alarm]\ntest_every_days = 0\n");
    assert_eq!(tests_of(&house, &seen("2027-05-01T12:00:00Z", "spadix-visible")), []);
}

#[test]
fn a_test_stands_over_a_restart_until_a_person_acknowledges_it() {
    let broker = Mosquitto::plain();
    let house =
        House::new().where_it_is_noon().with_bench("east-3").with_serial("line").with_broker(broker.port());
    let mut port = Port::open(&house.path("line")).expect("a line");
    let tests_on_the_list = |heard: &Heard| -> Vec<Value> {
        let list: Value = serde_json::from_str(&heard.payload).expect("a list");
        list.as_array().expect("a list").iter().filter(|alarm| alarm["event"] == "test").cloned().collect()
    };
    let list = |name: &str, wanted: &dyn Fn(&[Value]) -> bool| {
        let listener = broker.listen(name, "anthesis/saltmarsh/east-3/alarm");
        let heard = listener.until(|heard| wanted(&tests_on_the_list(heard)));
        tests_on_the_list(&heard[heard.len() - 1])
    };
    let service = Service::start(&house);
    let found = saying(&mut port, &line::sign("east-3", "spadix-visible"), || {
        list("phone", &|tests| !tests.is_empty())
    });
    let id = found[0]["id"].as_str().expect("an id").to_owned();
    service.kill();
    let subscribed = || broker.log().matches("Sending SUBACK to anthesisd-saltmarsh").count();
    let before = subscribed();
    let service = Service::start(&house);
    eventually("the next life listens", || subscribed() > before);
    assert_eq!(list("later", &|tests| !tests.is_empty())[0]["id"], id.as_str());
    let answer = format!(r#"{{"id":"{id}","by":"Robin"}}"#);
    broker.publish("anthesis/saltmarsh/east-3/acknowledge", answer.as_bytes(), false);
    let answered = list("last", &|tests| tests.iter().any(|test| test["acknowledged"]["by"] == "Robin"));
    assert_eq!(answered.len(), 1);
    assert!(service.terminate().0.success());
    let due =
        "SELECT count(*) FROM alarm WHERE kind = 'test' AND next_repeat_ms IS NOT NULL AND ended_ms IS NULL";
    assert_eq!(house.figure(due), 0, "it is repeated no more");
}
