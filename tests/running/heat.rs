//! A caution for the people in the house, once for all benches, in the units that they read.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fmt::Write as _;

use end_to_end::house::{House, of_kind};
use serde_json::Value;

/// Six hours of two benches, a reading a minute, the hot air from the second hour on for two hours.
fn recording(hot_c: f64) -> String {
    let mut text = String::new();
    for minute in 0..360_i64 {
        for bench in ["east-3", "east-4"] {
            let t = if (120..240).contains(&minute) { hot_c } else { 26.0 };
            let bt = 1_811_937_600 + minute * 60;
            writeln!(
                text,
                r#"[{{"bn":"{bench}/","bt":{bt},"n":"temperature","u":"Cel","v":{t}}},{{"n":"humidity","u":"%RH","v":60}}]"#
            )
            .expect("a text can be written to");
        }
    }
    text
}

fn cautions(events: &[Value]) -> Vec<&Value> {
    events
        .iter()
        .filter(|event| event["event"].as_str().is_some_and(|kind| kind.starts_with("caution")))
        .collect()
}

#[test]
fn heat_is_said_once_for_the_house_and_so_is_its_end() {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    // 34 °C and 60 %: 42.2 °C by the published algorithm (tests/reference/heat_stress_grid.csv)
    let events = house.replay(&recording(34.0));
    let told = cautions(&events);
    assert_eq!(told.len(), 2, "{told:?}");
    assert_eq!((&told[0]["event"], &told[0]["severity"]), (&"caution".into(), &"warning".into()));
    assert_eq!(told[0]["time"], "2027-06-02T14:10:00Z");
    assert_eq!(told[1]["event"], "caution-over");
    assert_eq!(told[1]["time"], "2027-06-02T16:30:00Z");
    let message = told[0]["message"].as_str().expect("text");
    assert!(
        message
            .starts_with("HEAT at east-3 (AT-0412): it feels like 42.2 °C in the shade (34.0 °C and 60 %)"),
        "{message}"
    );
    assert!(message.ends_with("A caution only: local rules for work in heat come first."), "{message}");
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
    let told = of_kind(&events, "caution");
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!((&told[0]["heat_index_c"], &told[0]["above_scale"]), (&58.3.into(), &true.into()));
    let message = told[0]["message"].as_str().expect("text");
    assert!(
        message.starts_with("GREAT HEAT at east-3 (AT-0412): it feels hotter than 137.0 °F, above the scale, in the shade (113.0 °F and 60 %)"),
        "{message}"
    );
}
