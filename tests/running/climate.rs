//! Air outside a bench's limits: said when it has lasted, an alarm where heating must have failed, and over when it has lasted.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fmt::Write as _;

use end_to_end::house::House;
use serde_json::Value;

/// What is said of a bench's climate, a reading a minute from 2027-06-02T12:00:00Z: event, severity, time, limit.
fn said(minutes: i64, air_c: impl Fn(i64) -> f64) -> Vec<(String, String, String, Value)> {
    let house = House::new().with_bench_of(
        "east-3",
        "limits = { temperature_c = [18, 35], alarm_temperature_c = [15, 42] }\ntip = { mount_height_m = 3.1 }",
    );
    let mut text = String::new();
    for minute in 0..minutes {
        let (time, air_c) = (1_811_937_600 + 60 * minute, air_c(minute));
        writeln!(text, r#"[{{"n":"east-3/temperature","t":{time},"u":"Cel","v":{air_c}}}]"#)
            .expect("a text can be written to");
    }
    let word = |event: &Value, name: &str| event[name].as_str().unwrap_or_default().to_owned();
    let events = house.replay(&text);
    let of_climate = events.iter().filter(|event| word(event, "event").starts_with("climate"));
    of_climate
        .map(|event| {
            (word(event, "event"), word(event, "severity"), word(event, "time"), event["limit"].clone())
        })
        .collect()
}

#[test]
fn a_heater_that_fails_is_a_warning_then_an_alarm_and_over_when_it_is_warm_again() {
    // from 13:00 on it cools by 6 °C an hour, under 18 °C at 13:41 and under 15 °C at 14:11; at 15:20 it is warm again
    let told = said(300, |minute| match minute {
        ..60 => 22.0,
        60..200 => 22.0 - 0.1 * (minute - 60) as f64,
        _ => 22.0,
    });
    let event = |kind: &str, severity: &str, time: &str, limit: f64| {
        (kind.to_owned(), severity.to_owned(), format!("2027-06-02T{time}:00Z"), Value::from(limit))
    };
    assert_eq!(
        told,
        [
            event("climate", "warning", "13:51", 18.0),
            event("climate", "alarm", "14:21", 15.0),
            event("climate-over", "warning", "15:30", 18.0),
            event("climate-over", "warning", "15:30", 15.0),
        ]
    );
}

#[test]
fn a_door_that_is_opened_is_not_told_and_a_figure_at_its_limit_is_told_once() {
    assert_eq!(said(300, |minute| if minute % 15 < 10 { 17.0 } else { 22.0 }), []);
    // outside by a tenth of a degree, inside by a fifth: within the deadband it is not over
    let told = said(300, |minute| if minute % 20 < 12 { 17.9 } else { 18.2 });
    assert_eq!(told.len(), 1, "{told:?}");
}
