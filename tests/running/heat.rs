//! A warning of heat for the people in the house, once for all benches, in the units that they read.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fmt::Write as _;

use end_to_end::house::{House, of_kind};
use serde_json::Value;

/// So many hours of two benches, a reading a minute, of 60 % and the temperature that each hour has.
fn hours(hours: i64, air_c: impl Fn(i64) -> f64) -> String {
    let mut text = String::new();
    for minute in 0..60 * hours {
        for bench in ["east-3", "east-4"] {
            let (t, bt) = (air_c(minute / 60), 1_811_937_600 + minute * 60);
            writeln!(
                text,
                r#"[{{"bn":"{bench}/","bt":{bt},"n":"temperature","u":"Cel","v":{t}}},{{"n":"humidity","u":"%RH","v":60}}]"#
            )
            .expect("a text can be written to");
        }
    }
    text
}

/// Six hours, the hot air from the second hour on for two hours.
fn recording(hot_c: f64) -> String {
    hours(6, |hour| if (2..4).contains(&hour) { hot_c } else { 26.0 })
}

fn heat(events: &[Value]) -> Vec<&Value> {
    events
        .iter()
        .filter(|event| event["event"].as_str().is_some_and(|kind| kind.starts_with("heat")))
        .collect()
}

#[test]
fn heat_is_said_once_for_the_house_of_no_bench() {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    // 34 °C and 60 %: 42.2 °C by the published algorithm (tests/reference/heat_stress_grid.csv), "danger" by the chart
    let events = house.replay(&recording(34.0));
    let told = heat(&events);
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!(told[0]["id"], "saltmarsh/heat/2027-06-02T14:11:00Z");
    assert_eq!(
        (&told[0]["severity"], &told[0]["level"], &told[0]["bench"], &told[0]["hottest_bench"]),
        (&"warning".into(), &"danger".into(), &Value::Null, &"east-3".into())
    );
    assert_eq!(
        told[0]["message"],
        "HEAT in the house: short spells, water, a second person. It feels like 42.2 °C in the shade at east-3 (34.0 °C and 60 %). Local \
         rules for work in heat come first."
    );
}

#[test]
fn a_house_that_is_hot_every_day_is_warned_of_once_a_day_at_most() {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    // five days, hot from 14:00Z to 16:00Z and from 18:00Z to 20:00Z, and a cool fourth one
    let events = house.replay(&hours(120, |hour| {
        let (day, hour) = (hour / 24, hour % 24);
        let twice = (2..4).contains(&hour) || (6..8).contains(&hour);
        if day != 3 && twice { 34.0 } else { 26.0 }
    }));
    let told = heat(&events);
    let days: Vec<&str> = told.iter().filter_map(|event| event["time"].as_str()?.get(..10)).collect();
    assert_eq!(days, ["2027-06-02", "2027-06-06"], "the first day of each spell: {told:?}");
}

#[test]
fn extreme_heat_is_an_alarm_that_stands_until_it_is_over() {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    // 38 °C and 60 %: a heat index of 54 °C by the published algorithm; 34 °C: 42.2 °C
    let events = house.replay(&hours(9, |hour| match hour {
        2..4 => 38.0,
        4..7 => 34.0,
        _ => 26.0,
    }));
    let told: Vec<(&str, &str, &str, &Value)> = heat(&events)
        .iter()
        .map(|event| {
            let word = |name: &str| event[name].as_str().unwrap_or_default();
            (word("event"), word("severity"), word("time"), &event["level"])
        })
        .collect();
    let (extreme, danger) = (Value::from("extreme-danger"), Value::from("danger"));
    assert_eq!(
        told,
        [
            ("heat", "alarm", "2027-06-02T14:11:00Z", &extreme),
            ("heat-over", "warning", "2027-06-02T18:01:00Z", &danger),
        ]
    );
    let message = heat(&events)[0]["message"].as_str().expect("text");
    assert!(message.starts_with("STAY OUT of the house: extreme heat."), "{message}");
}

#[test]
fn it_is_capped_at_the_end_of_its_scale_and_read_in_the_sites_units() {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    let config = std::fs::read_to_string(house.config()).expect("a configuration");
    let path = house.path("us.toml");
    std::fs::write(&path, config.replace("[site]", "[site]\nunits = \"us\"")).expect("a configuration");
    std::fs::write(house.path("hot.jsonl"), recording(45.0)).expect("a recording");
    let output = end_to_end::house::anthesisd()
        .args([
            "--config",
            &path.display().to_string(),
            "replay",
            &house.path("hot.jsonl").display().to_string(),
        ])
        .output()
        .expect("the binary starts");
    let events = end_to_end::house::events_of(&String::from_utf8_lossy(&output.stdout));
    let told = of_kind(&events, "heat");
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!((&told[0]["heat_index_c"], &told[0]["above_scale"]), (&58.3.into(), &true.into()));
    let message = told[0]["message"].as_str().expect("text");
    assert!(
        message.contains(
            "It feels hotter than 137.0 °F, above the scale, in the shade at east-3 (113.0 °F and 60 %)."
        ),
        "{message}"
    );
}
