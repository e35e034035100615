//! A side ranger that does not see the bud: told before the opening, by the real binary, as an alarm that is repeated.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs;

use chrono::{DateTime, Utc};
use end_to_end::course::Course;
use end_to_end::house::{House, of_kind, said};
use end_to_end::service::{Service, eventually};
use serde_json::Value;

/// A bud that is ripe by its signs, with a side ranger that sees it swell by 2 mm a day.
fn ripe() -> Course {
    let mut course = Course::new("east-3");
    for day in 0..8 {
        let cm_day = if day < 6 { 9.0 } else { 2.0 };
        course.grow(cm_day, 1.0, 0.002 * f64::from(day));
    }
    course.book("last-bract-dropped");
    course.book("edge-loose");
    course.grow(2.0, 0.5, 0.016);
    course
}

fn second(event: &Value) -> i64 {
    let time = event["time"].as_str().and_then(|text| text.parse::<DateTime<Utc>>().ok());
    time.expect("an event has a time").timestamp()
}

/// What `replay` says and what `run` keeps of a course at the end of which the alarm of that kind must stand, told before `crack`.
fn is_told_and_repeated(course: &Course, kind: &str, crack: i64) -> Value {
    let events = course.events();
    let told = of_kind(&events, kind);
    let alarm = told.iter().find(|event| event["severity"] == "alarm");
    assert!(alarm.is_some(), "no alarm {kind}: {told:?}");
    let alarm = (*alarm.expect("as just seen")).clone();
    assert!(second(&alarm) < crack, "told {} s after the first crack", second(&alarm) - crack);
    assert!(of_kind(&events, "opening-tonight").is_empty(), "nobody could see it");

    let house = House::new().with_bench("east-3").with_recording("season.jsonl");
    fs::write(house.path("season.jsonl"), &course.recorder.text).expect("a recording can be written");
    let service = Service::start(&house);
    service.wait_for_log("read to its end");
    let stands = format!(
        "SELECT count(*) FROM alarm WHERE kind = '{kind}' AND ended_ms IS NULL AND next_repeat_ms > raised_ms"
    );
    eventually("the alarm stands and is repeated", || house.figure(&stands) == 1);
    assert!(service.terminate().0.success());
    alarm
}

#[test]
fn a_side_ranger_that_reads_a_wall_is_an_alarm_before_the_opening_that_it_does_not_see() {
    let mut course = ripe();
    course.grow(2.0, 0.5, -1.2);
    let crack = course.second;
    course.grow(0.0, 0.4, -1.2);
    let alarm = is_told_and_repeated(&course, "edge-not-seen", crack);
    assert_eq!(alarm["why"], "impossible-figures");
    assert!(alarm["impossible_pct"].as_f64().is_some_and(|share| share > 90.0), "{alarm}");
}

#[test]
fn a_side_ranger_that_is_dead_is_an_alarm_though_the_one_overhead_lives() {
    let mut course = ripe();
    course.grow_seen_from_above(2.0, 0.5);
    let crack = course.second;
    course.grow_seen_from_above(0.0, 0.4);
    let alarm = is_told_and_repeated(&course, "sensor-silent", crack);
    assert_eq!(alarm["quantities"], serde_json::json!(["rim-range"]));
}

/// Readings half an hour apart, of the last day: `check` refuses them.
#[test]
fn check_refuses_a_side_ranger_that_speaks_too_seldom() {
    let house = House::new().with_bench("east-3");
    let now = Utc::now().timestamp();
    let recording = |every_s: i64| -> String {
        (1..=20)
            .rev()
            .map(|number| {
                format!(
                    "[{{\"bn\":\"east-3/\",\"n\":\"rim-range\",\"u\":\"m\",\"v\":0.95,\"t\":{}}}]\n",
                    now - every_s * number
                )
            })
            .collect()
    };
    fs::write(house.path("seldom.jsonl"), recording(1800)).expect("a recording can be written");
    let imported = house.run(&["import", &house.path("seldom.jsonl").display().to_string()]);
    assert!(imported.status.success(), "{}", said(&imported));
    let checked = said(&house.run(&["check"]));
    assert!(checked.contains("side ranger of east-3: FAILS: its readings come 30 min apart"), "{checked}");
}
