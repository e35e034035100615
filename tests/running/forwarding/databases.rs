//! The whole service before a database.

use std::collections::BTreeMap;
use std::fs;

use end_to_end::database::Database;
use end_to_end::house::{House, said};
use end_to_end::keyed_server::{BUCKET, Key, KeyedServer, TOKEN};
use end_to_end::service::Service;

use super::{START_MS, assert_holds, expected};

/// A house with a record of some hours of three benches, and the binary told to forward it to that address.
fn house(url: &str, name: &str) -> House {
    let house = House::new().with_bench("east-3");
    let bare = "tip = { mount_height_m = 3.1 }";
    let house = ["east-4", "west-1"].iter().fold(house, |house, id| house.with_bench_of(id, bare));
    let house = house.with_readings_to(url, name);
    let mut recording = String::new();
    for place in 0..720_i64 {
        let time = START_MS / 1000 + place * 10;
        for (bench, offset) in [("east-3", 0), ("east-4", 150), ("west-1", -225)] {
            // to the hundredth, as sensors report: victoria-metrics keeps twelve digits
            let warm = (2400 + offset + place * 7 % 613) as f64 / 100.0;
            let moist = (7000 + place * 31 % 1999) as f64 / 100.0;
            recording.push_str(&format!(
                "[{{\"bn\":\"{bench}/\",\"bt\":{time},\"n\":\"temperature\",\"u\":\"Cel\",\"v\":{warm}}},\
                 {{\"n\":\"humidity\",\"u\":\"%RH\",\"v\":{moist}}},{{\"n\":\"tip-range\",\"u\":\"m\",\"v\":0.914}}]\n"
            ));
        }
    }
    let time = START_MS / 1000 + 600;
    recording.push_str(&format!("[{{\"n\":\"east-3/height\",\"t\":{time},\"u\":\"m\",\"v\":1.32}}]\n"));
    recording.push_str(&format!("[{{\"n\":\"east-3/sign\",\"t\":{time},\"vs\":\"bract-dropped\"}}]\n"));
    let file = house.path("recording.jsonl");
    fs::write(&file, recording).unwrap();
    let import = house.run(&["import", &file.display().to_string()]);
    assert!(import.status.success(), "{}", said(&import));
    house
}

/// What a house's record is to look like elsewhere; all its benches carry the same plant.
fn expected_of(house: &House) -> BTreeMap<Key, String> {
    let labelled = |series: String| {
        if series.contains("plant=") { series } else { series.replace(",site=", ",plant=AT-0412,site=") }
    };
    let all = expected(&house.path("anthesisd.db")).into_iter();
    all.map(|((series, field, time), value)| ((labelled(series), field, time), value)).collect()
}

/// Runs the service until it has forwarded all, and stops it in order: by then the record says so.
fn forward_all(house: &House) {
    let service = Service::start(house);
    service.wait_for_log("all of the record is forwarded");
    let (status, log) = service.terminate();
    assert!(status.success(), "{log}");
    assert!(!log.contains(TOKEN), "{log}");
    assert_eq!(house.figure("SELECT sent_until_ms - newest_ms FROM forwarding"), 0);
    assert_eq!(house.figure("SELECT count(*) FROM forwarding_late"), 0);
}

#[test]
fn the_service_forwards_its_record_and_influxdb_s_own_parser_takes_every_line() {
    let server = KeyedServer::start();
    let house = house(&server.url(), BUCKET);
    let check = String::from_utf8(house.run(&["check"]).stdout).unwrap();
    assert!(check.contains(&format!("database {}: takes what we send", server.url())), "{check}");
    forward_all(&house);
    let wanted = expected_of(&house);
    assert_eq!(wanted.len(), 720 * 9 + 2);
    assert_holds(&server.kept(), &wanted);

    let influx = Database::influxdb_1();
    let (status, answer) = influx.ask("/query", &[("q", "CREATE DATABASE benches")], Some(String::new()));
    assert_eq!(status, 200, "{answer}");
    for body in server.bodies().into_iter().filter(|body| !body.starts_with('#')) {
        let answer = influx.ask("/write", &[("db", BUCKET), ("precision", "ms")], Some(body));
        assert_eq!(answer, (204, String::new()));
    }
    let query = "SELECT * FROM bench GROUP BY bench, plant, site";
    let (_, answer) = influx.ask("/query", &[("db", BUCKET), ("epoch", "ms"), ("q", query)], None);
    let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
    let mut held = BTreeMap::new();
    for series in answer["results"][0]["series"].as_array().unwrap() {
        let tag = |name: &str| series["tags"][name].as_str().unwrap();
        let key = format!("bench,bench={},plant={},site={}", tag("bench"), tag("plant"), tag("site"));
        for row in series["values"].as_array().unwrap() {
            for (place, name) in series["columns"].as_array().unwrap().iter().enumerate().skip(1) {
                let value = match &row[place] {
                    serde_json::Value::Null => continue,
                    serde_json::Value::String(text) => format!("\"{text}\""),
                    number => number.as_f64().unwrap().to_string(),
                };
                held.insert(
                    (key.clone(), name.as_str().unwrap().to_owned(), row[0].as_i64().unwrap()),
                    value,
                );
            }
        }
    }
    assert_holds(&held, &wanted);
}

#[test]
fn victoria_metrics_gives_back_what_the_service_sent() {
    let database = Database::victoria_metrics();
    let house = house(&database.url(), BUCKET);
    forward_all(&house);
    let (status, _) = database.ask("/internal/force_flush", &[], None);
    assert_eq!(status, 200);
    let (_, answer) = database.ask("/api/v1/export", &[("match[]", "{site=\"saltmarsh\"}")], None);
    let mut held = BTreeMap::new();
    for line in answer.lines() {
        let series: serde_json::Value = serde_json::from_str(line).unwrap();
        let label = |name: &str| series["metric"][name].as_str().unwrap();
        let key = format!("bench,bench={},plant={},site={}", label("bench"), label("plant"), label("site"));
        let field = label("__name__").strip_prefix("bench_").unwrap().to_owned();
        let numbers =
            series["timestamps"].as_array().unwrap().iter().zip(series["values"].as_array().unwrap());
        for (time, value) in numbers {
            let value = value.as_f64().unwrap().to_string();
            held.insert((key.clone(), field.clone(), time.as_i64().unwrap()), value);
        }
    }
    let mut wanted = expected_of(&house);
    // it keeps numbers and no texts
    for kept in [&mut wanted, &mut held] {
        kept.retain(|(_, field, _), _| field != "sign");
    }
    assert_eq!(held.len(), 720 * 9 + 1);
    assert_holds(&held, &wanted);
}

#[test]
fn check_says_what_keeps_the_forwarder_from_forwarding() {
    let server = KeyedServer::start();
    let house = house(&server.url(), "elsewhere");
    let check = house.run(&["check"]);
    let told = String::from_utf8(check.stdout).unwrap();
    assert!(told.contains("FAILS") && told.contains("knows no bucket \"elsewhere\""), "{told}");
    server.kill();
    let told = String::from_utf8(house.run(&["check"]).stdout).unwrap();
    assert!(told.contains("cannot be reached") && told.contains("Connection refused"), "{told}");
}
