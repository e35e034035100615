//! One forecast at every moment, on one footing: the message, the page, tonight's sheet, the calendar, the answers for programs and
//! the command say the same dates and the same chance.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs;
use std::thread;
use std::time::Duration;

use chrono::NaiveDate;
use end_to_end::course::{Course, HOUR, MIDNIGHT};
use end_to_end::house::{House, of_kind, said};
use end_to_end::service::{Service, eventually};
use end_to_end::web::{ask, page_of};
use serde_json::Value;

use super::lines_and_clock::libfaketime;

const WHO: &str = "east-3: ";

/// What each place says at the end of a course.
struct Places {
    /// The events that were told, oldest first.
    events: Vec<Value>,
    overview: String,
    bench: String,
    tonight: String,
    calendar: String,
    house_api: Value,
    tonight_api: Value,
    /// What the command says when the service has stopped.
    command: String,
}

/// Plays a course through the service, asks every place, and stops it.
fn places(course: &Course, wall: &str) -> Places {
    let house = House::new()
        .with_bench("east-3")
        .with_recording("told.jsonl")
        .with("[page]\nlisten = \"127.0.0.1:0\"\n");
    fs::write(house.path("told.jsonl"), &course.recorder.text).expect("the recording can be written");
    let service = Service::start(&house);
    let at = page_of(&service);
    let get = |path: &str| {
        let answer = ask(at, &format!("GET {path}"), &[], "");
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        answer.body
    };
    let json = |path: &str| serde_json::from_str::<Value>(&get(path)).expect("JSON");
    let newest = bloom_model::time::Time::from_unix_ms(course.second * 1000).to_string();
    eventually("the page shows the end of the course", || {
        // an address that asks all the time is made to wait
        thread::sleep(Duration::from_millis(200));
        let known = ask(at, "GET /api/house", &[], "");
        known.status == 200
            && serde_json::from_str::<Value>(&known.body)
                .is_ok_and(|house| house["benches"][0]["state"]["time"] == newest.as_str())
    });
    let places = Places {
        events: house
            .stored_events()
            .iter()
            .map(|event| serde_json::from_str(event).expect("JSON"))
            .collect(),
        overview: get("/"),
        bench: get("/bench/east-3"),
        tonight: get("/tonight"),
        // long lines are folded (RFC 5545, section 3.1)
        calendar: get("/calendar.ics").replace("\r\n ", ""),
        house_api: json("/api/house"),
        tonight_api: json("/api/tonight"),
        command: String::new(),
    };
    let (status, log) = service.terminate();
    assert!(status.success(), "{log}");
    // the course is of a year to come, and the command goes by the machine's clock
    let mut command = house.command(&["tonight"]);
    command.env("LD_PRELOAD", libfaketime()).env("FAKETIME", wall).env("TZ", "America/Halifax");
    let output = command.output().expect("the binary starts");
    assert!(output.status.success(), "{}", said(&output));
    Places { command: String::from_utf8(output.stdout).expect("text"), ..places }
}

/// Day and month of a date in an event.
fn day(value: &Value, form: &str) -> String {
    let date: NaiveDate = value.as_str().and_then(|text| text.parse().ok()).expect("a date");
    date.format(form).to_string()
}

#[test]
fn every_place_says_the_same_of_one_moment() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 5.0, 0.0);
    course.grow(3.0, 1.0 + 13.0 / 24.0, 0.0);
    // the forecast of the morning is no longer the newest
    course.book("last-bract-dropped");
    course.grow(3.0, 1.0 / 24.0, 0.0);
    let places = places(&course, "2027-06-08 14:10:00");

    let newest = places.events.iter().rev().find(|event| event["opens"].is_object()).expect("a forecast");
    assert_eq!(newest["event"], "sign-booked");
    let morning = *of_kind(&places.events, "morning").last().expect("a morning");
    assert_ne!(
        (&morning["opens"], &morning["probability_tonight"]),
        (&newest["opens"], &newest["probability_tonight"]),
        "the bract that fell moved it"
    );

    let opens = &newest["opens"];
    let chance = newest["probability_tonight"].as_f64().expect("a chance");
    let never = newest["probability_never"].as_f64().expect("a chance");
    assert!((0.01..0.99).contains(&chance) && (0.1..0.5).contains(&never), "{newest}");
    let (first, likely, last) = ("earliest", "likely", "latest");
    let dates = format!(
        "likely {} ({} to {})",
        day(&opens[likely], "%-d %b"),
        day(&opens[first], "%-d"),
        day(&opens[last], "%-d %b")
    );
    let percent = |chance: f64| format!("{:.0} %", 100.0 * chance);
    for (place, text) in [("overview", &places.overview), ("bench", &places.bench)] {
        for words in [&dates, "forecast of 13:01", "if it opens", &percent(chance), &percent(never)] {
            assert!(text.contains(words), "{words:?} is not on the {place}:\n{text}");
        }
    }
    let sentence = format!(
        "In bud: tonight {}, opens {dates}, if it opens at all (chance that it never does {}). Forecast of Tue 8 Jun 2027 13:01.",
        percent(chance),
        percent(never)
    );
    for (place, text) in [("sheet", &places.tonight), ("command", &places.command)] {
        assert!(text.contains(&sentence), "{sentence:?} is not in the {place}:\n{text}");
    }
    let after = |date: &Value| {
        let date: NaiveDate = date.as_str().and_then(|text| text.parse().ok()).expect("a date");
        date.succ_opt().expect("there is a day after").format("%Y%m%d").to_string()
    };
    // the end of an event of whole days is the day after it (RFC 5545, section 3.6.1)
    for words in [
        format!("DTSTART;VALUE=DATE:{}", day(&opens[first], "%Y%m%d")),
        format!("DTEND;VALUE=DATE:{}", after(&opens[last])),
        "If it opens\\, four times in five in these days.".to_owned(),
        format!("Chance that it never opens: {}.", percent(never)),
    ] {
        assert!(places.calendar.contains(&words), "{words:?} is not in the calendar:\n{}", places.calendar);
    }
    for answer in [&places.house_api["benches"][0]["state"], &places.tonight_api[0]] {
        assert_eq!(answer["forecast_at"], newest["time"]);
        for figure in ["opens", "probability_tonight", "probability_never"] {
            assert_eq!(answer[figure], newest[figure], "{figure}: {answer}");
        }
    }
    assert_eq!(places.house_api["benches"][0]["tonight"]["probability"], newest["probability_tonight"]);
}

#[test]
fn a_bud_that_is_seen_at_noon_is_on_the_sheet_of_that_evening() {
    let mut course = Course::new("east-3");
    // growth shows after three quarters of a day
    course.grow(0.0, 18.0 / 24.0, 0.0);
    course.grow(9.0, 1.0 + 4.0 / 24.0, 0.0);
    let places = places(&course, "2027-06-03 22:10:00");
    assert_eq!(of_kind(&places.events, "morning").len(), 0);
    let seen = of_kind(&places.events, "bud-seen");
    assert_eq!(seen.len(), 1);
    let opens = &seen[0]["opens"];
    let not_tonight =
        format!("Not tonight</h2><ul><li>east-3: opens likely {} (", day(&opens["likely"], "%-d %b"));
    assert!(places.tonight.contains(&not_tonight), "{not_tonight:?} is not in {}", places.tonight);
    assert!(places.command.contains("east-3: AT-0412") && places.command.contains("In bud: tonight "));
    assert_eq!(places.tonight_api[0]["opens"], seen[0]["opens"]);
    assert_eq!(places.house_api["benches"][0]["state"]["opens"], seen[0]["opens"]);
}

#[test]
fn of_a_bud_that_has_most_likely_stopped_nobody_gives_a_date() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.grow(2.0, 2.0, 0.0);
    course.grow(0.0, 8.0 + 10.0 / 24.0, 0.0);
    assert_eq!((course.second - MIDNIGHT) / HOUR, 16 * 24 + 10);
    let places = places(&course, "2027-06-18 10:10:00");
    let morning = *of_kind(&places.events, "morning").last().expect("a morning");
    assert!(morning["probability_never"].as_f64().expect("a chance") > 0.5, "{morning}");
    assert!(morning["opens"].is_object(), "the details keep the dates, given that it opens");
    let message = morning["message"].as_str().expect("a sentence");
    assert!(message.starts_with(&format!("{WHO}most likely stopped (")), "{message}");
    assert!(!message.contains("Jun") && !message.contains("tonight"), "{message}");
    for text in [&places.overview, &places.bench] {
        assert!(text.contains("Most likely stopped") && !text.contains("<dt>Opens</dt>"), "{text}");
    }
    for (text, words) in [
        (&places.tonight, "Not tonight</h2><ul><li>east-3: most likely stopped ("),
        (&places.command, "In bud: most likely stopped ("),
    ] {
        assert!(text.contains(words), "{words:?} is not in {text}");
        assert!(!text.contains("Receptive") && !text.contains("Own pollen"), "{text}");
    }
    assert!(!places.calendar.contains("opens-"), "{}", places.calendar);
    assert!(places.tonight_api[0].get("receptive").is_none(), "{}", places.tonight_api);
    assert!(places.house_api["benches"][0].get("tonight").is_none());
}
