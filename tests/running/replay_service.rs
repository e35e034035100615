//! `replay --service`: what the whole service would have told of a recording.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fmt::Write as _;
use std::fs;

use end_to_end::house::{House, events_of, said};
use serde_json::Value;

/// 2027-06-02T12:00:00Z, nine in the morning in Halifax.
const START_S: i64 = 1_811_937_600;

/// A day and a half of two benches, a pack a minute, whose side rangers look at buds of which a person recorded the spadix. For an hour
/// nobody speaks; later one bench is silent for two hours.
fn recording() -> String {
    let mut text = String::new();
    for bench in ["east-3", "east-4"] {
        let sign = format!(r#"[{{"n":"{bench}/sign","t":{START_S},"vs":"spadix-visible"}}]"#);
        writeln!(text, "{sign}").expect("a text can be written to");
    }
    for minute in 0..36 * 60 {
        if (300..360).contains(&minute) {
            continue;
        }
        let time = START_S + 60 * minute;
        for bench in ["east-3", "east-4"] {
            if bench == "east-4" && (900..1020).contains(&minute) {
                continue;
            }
            let height_m = 1.2 + 0.03 * minute as f64 / 1440.0;
            let flicker = 0.001 * (minute % 7) as f64;
            writeln!(
                text,
                r#"[{{"bn":"{bench}/","bt":{time},"n":"temperature","u":"Cel","v":{:.3}}},{{"n":"humidity","u":"%RH","v":{:.2}}},{{"n":"tip-range","u":"m","v":{:.3}}},{{"n":"rim-range","u":"m","v":{:.3}}}]"#,
                25.0 + flicker,
                70.0 + flicker,
                3.1 - height_m + flicker,
                0.95 + flicker,
            )
            .expect("a text can be written to");
        }
    }
    text
}

fn word<'a>(event: &'a Value, name: &str) -> &'a str {
    event[name].as_str().unwrap_or_default()
}

#[test]
fn the_service_that_is_played_tells_of_lines_tests_and_repeats() {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    let (recording, path) = (recording(), house.path("service.jsonl"));
    fs::write(&path, &recording).expect("a file can be written");
    let path = path.display().to_string();
    let played = house.run(&["replay", "--service", &path]);
    assert!(played.status.success(), "{}", said(&played));
    let played = String::from_utf8(played.stdout).expect("a text");
    let told = events_of(&played);
    let (repeats, events): (Vec<&Value>, Vec<&Value>) =
        told.iter().partition(|event| !event["repeat"].is_null());
    let of =
        |kind: &str| -> Vec<&&Value> { events.iter().filter(|event| word(event, "event") == kind).collect() };

    // one cause, one alarm: the line, and not each bench
    let dead = of("intake-down");
    assert_eq!(dead.len(), 1, "{played}");
    assert_eq!(word(dead[0], "severity"), "alarm", "two buds are unwatched");
    // quiet since 16:59Z, and told after the quarter of an hour that a sensor may be silent
    assert!(word(dead[0], "time").starts_with("2027-06-02T17:14:"), "{}", dead[0]);
    assert_eq!(of("intake-down-over").len(), 1);
    // later a bench is silent on a line that works
    let silent = of("sensor-silent");
    assert_eq!(silent.len(), 1, "{played}");
    assert_eq!(word(silent[0], "bench"), "east-4");
    // both stay unanswered
    for alarm in [dead[0], silent[0]] {
        let id = word(alarm, "id");
        let numbers: Vec<i64> = repeats
            .iter()
            .filter(|repeat| word(repeat, "id") == id)
            .filter_map(|repeat| repeat["repeat"].as_i64())
            .collect();
        assert!(numbers.len() >= 2, "{id}: {numbers:?}");
        assert_eq!(numbers, (1..=numbers.len() as i64).collect::<Vec<_>>(), "{id}");
    }

    // what the plants give is told by both
    let plain = house.replay(&recording);
    let of_plants = |events: &[&Value]| -> Vec<String> {
        let kinds = ["bud-seen", "morning", "sign-booked", "slowing", "test"];
        let of_bench = events.iter().filter(|event| !event["bench"].is_null());
        of_bench
            .filter(|event| kinds.contains(&word(event, "event")))
            .map(|event| word(event, "id").to_owned())
            .collect()
    };
    let plants = of_plants(&plain.iter().collect::<Vec<_>>());
    assert!(plants.len() >= 4, "{plants:?}");
    assert_eq!(of_plants(&events), plants);
}

#[test]
fn the_played_service_says_the_same_each_time_and_leaves_nothing_behind() {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    let (path, temporary) = (house.path("service.jsonl"), house.path("temporary"));
    fs::write(&path, recording()).expect("a file can be written");
    fs::create_dir(&temporary).expect("a folder can be made");
    let play = || {
        let mut command = house.command(&["replay", "--service", &path.display().to_string()]);
        let output = command.env("TMPDIR", &temporary).output().expect("the binary starts");
        assert!(output.status.success(), "{}", said(&output));
        output.stdout
    };
    assert_eq!(play(), play());
    assert_eq!(fs::read_dir(&temporary).expect("a folder").count(), 0);
}
