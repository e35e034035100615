//! The review of a bloom: every figure against an independent computation, and a page that needs nothing else.
//!
//! `tests/reference/review/figures.py` computes the same figures from the same recording in Python, with refet, PsychroLib,
//! statsmodels and pandas; its head names versions and methods. The two differ in every method that can be chosen.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "what the helpers of a check cannot do fails the check"
)]

mod look;

use std::collections::BTreeMap;
use std::fs;
use std::sync::Arc;

use anthesisd::store::{Batch, Store, StoredEvent};
use bench_sim::options::SeasonOptions;
use bench_sim::recording::write_recording;
use bench_sim::season::Season;
use bloom_model::event::Severity;
use bloom_model::time::Time;
use chrono::{DateTime, Utc};
use end_to_end::house::{House, said};
use end_to_end::tables::{Row, rows};
use serde_json::{Value, json};

const KEYS: &str = "tip = { mount_height_m = 3.1 }\nrim = { mount_distance_m = 0.95 }
limits = { temperature_c = [22.5, 24], alarm_temperature_c = [22, 26], humidity_pct = [72, 85], alarm_humidity_pct = [70, 99], vpd_kpa = [0.4, 0.7] }";

/// What is left out of the recording, as `figures.py` has it.
const HOLES: [(&[&str], &str, &str); 3] = [
    (&["temperature", "humidity", "tip-range", "rim-range"], "2027-03-12T03:20:30Z", "2027-03-12T09:10:30Z"),
    (&["humidity"], "2027-03-14T03:30:30Z", "2027-03-14T06:40:30Z"),
    (&["temperature"], "2027-02-20T18:00:30Z", "2027-02-20T23:30:30Z"),
];

/// What the record's events tell, as `figures.py` has it: figures must not move when the detector is tuned.
const STORY: [(&str, &str); 4] = [
    ("bud-seen", "2027-02-02T13:00:00Z"),
    ("opening-tonight", "2027-03-13T20:04:00Z"),
    ("full-open", "2027-03-14T03:00:00Z"),
    ("closed", "2027-03-15T11:41:00Z"),
];
const FIRST_CRACK: &str = "2027-03-13T18:31:00Z";

fn at(text: &str) -> Time {
    DateTime::parse_from_rfc3339(text).expect("an instant").with_timezone(&Utc).into()
}

/// The season of seed 1, whose bud opens on the evening before clocks are put forward, with its holes.
fn recording() -> String {
    let options = SeasonOptions { tape: true, signs: true, ..SeasonOptions::default() };
    let mut text = Vec::new();
    write_recording(&[Season::draw(1, &options)], &mut text).expect("memory can be written to");
    let holes = HOLES.map(|(names, from, until)| (names, at(from).unix_ms(), at(until).unix_ms()));
    let mut holed = String::new();
    for line in String::from_utf8(text).expect("a recording is text").lines() {
        let pack: Vec<Value> = serde_json::from_str(line).expect("a pack a line");
        let (base, time) = (pack[0]["bn"].clone(), pack[0]["bt"].clone());
        let ms = (time.as_f64().expect("a time") * 1e3) as i64;
        let lost = |record: &Value| {
            holes.iter().any(|(names, from, until)| {
                names.iter().any(|name| record["n"] == *name) && (*from..*until).contains(&ms)
            })
        };
        let mut kept: Vec<Value> = pack.into_iter().filter(|record| !lost(record)).collect();
        if let Some(first) = kept.first_mut() {
            first["bn"] = base;
            first["bt"] = time;
            holed.push_str(&json!(kept).to_string());
            holed.push('\n');
        }
    }
    holed
}

/// A house whose record holds the season and its story.
fn house(sections: &str) -> House {
    let house = House::new().with_bench_of("east-3", KEYS).with(sections);
    let path = house.path("season.jsonl");
    fs::write(&path, recording()).expect("a file can be written");
    out(&house, &["import", &path.display().to_string()]);
    tell(&house, "east-3-2027a", "AT-0412", 0);
    house
}

/// Puts the story into the record, so many hours later.
fn tell(house: &House, bloom: &str, plant: &str, later_h: i64) {
    let later = |text: &str| at(text).plus_hours(later_h as f64);
    let events = STORY.map(|(kind, time)| {
        let id = format!("{bloom}/{kind}/1");
        let payload = json!({"id": id, "time": later(time), "bench": "east-3", "event": kind, "bloom": bloom, "plant": plant, "message": format!("{kind} <b>&"),
            "began": (kind == "opening-tonight").then(|| later(FIRST_CRACK).to_string())});
        StoredEvent {
            id,
            bench: Some(Arc::from("east-3")),
            time: later(time),
            kind: kind.to_owned(),
            severity: Severity::Notice,
            payload: payload.to_string(),
            after_fed: 0,
        }
    });
    let mut store = Store::open(&house.path("anthesisd.db")).expect("a store");
    store.commit(&Batch { events: events.to_vec(), ..Batch::default() }).expect("a commit");
}

fn out(house: &House, arguments: &[&str]) -> String {
    let output = house.run(arguments);
    assert!(output.status.success(), "{}", said(&output));
    String::from_utf8(output.stdout).expect("results are text")
}

type Figures = BTreeMap<(String, String, String), (String, String)>;

/// `review --csv` by table, row and figure.
fn figures(house: &House, more: &[&str]) -> Figures {
    let text = out(house, &[&["review", "east-3", "--csv"], more].concat());
    let mut figures = Figures::new();
    for record in csv::Reader::from_reader(text.as_bytes()).records() {
        let record = record.expect("RFC 4180");
        let cell = |place: usize| record[place].to_owned();
        let before = figures.insert((cell(0), cell(1), cell(2)), (cell(3), cell(4)));
        assert!(before.is_none(), "{record:?} twice");
    }
    figures
}

/// How far a figure may lie from the reference: half of the last decimal that is written, and for what the model cleans as
/// much as the noise of a ranger (2 mm here) makes of the few readings that its gate leaves out.
fn allowed(figure: &str, unit: &str) -> f64 {
    match (figure, unit) {
        (_, "h") => 2e-4,
        (_, "kPa") => 6e-6,
        (_, "°C" | "%RH" | "°C·d" | "d") => 6e-5,
        ("height" | "height at its end" | "value", "m") => 1.5e-3,
        (_, "cm") => 0.15,
        ("rim rate sd" | "growth sd", "cm/h") => 0.01,
        (_, "cm/h") => 0.05,
        ("growth sd", "cm/d") => 0.01,
        (_, "cm/d") => 0.03,
        _ => panic!("no bound for {figure} in {unit}"),
    }
}

/// How far ASHRAE's formulas lie from those of FAO-56: 0.12 % of a deficit, and what lies on the other side of a limit then.
fn allowed_ashrae(row: &Row) -> f64 {
    match row.text("unit") {
        "kPa" => 0.0012 * row.number("value") + 1e-5,
        "°C" => 0.01,
        _ => 0.001 * row.number("value") + 0.75,
    }
}

/// When noise decides which of several hours is the greatest, the hour may be another, the figure not.
const WHEN_BY_NOISE: [&str; 3] = ["tallest", "fastest growth over a day", "furthest rim advance"];

fn compare(ours: &Figures, reference: Vec<Row>, left_out: &[&str]) {
    let mut left: Figures = ours.clone();
    left.retain(|(table, ..), _| !left_out.contains(&table.as_str()));
    for row in reference {
        let name = ["table", "row", "figure"].map(|column| row.text(column).to_owned());
        let [table, of, figure] = name;
        let (unit, value) =
            left.remove(&(table, of.clone(), figure.clone())).unwrap_or_else(|| panic!("missing: {row}"));
        assert_eq!(unit, row.text("unit"), "{row}");
        if unit.is_empty() {
            if !(figure == "when" && WHEN_BY_NOISE.contains(&of.as_str())) {
                assert_eq!(value, row.text("value"), "{row}");
            }
            continue;
        }
        let value: f64 = value.parse().expect("a figure is a number");
        row.agrees("value", value, allowed(&figure, &unit));
        if row.known("by_ashrae").is_some() {
            row.agrees("by_ashrae", value, allowed_ashrae(&row));
        }
    }
    assert!(left.is_empty(), "not in the reference: {left:?}");
}

#[test]
fn every_figure_is_that_of_an_independent_computation() {
    let house = house("");
    let bloom = figures(&house, &["--to", "2027-03-16"]);
    compare(&bloom, rows("review/bloom.csv", 1528), &["events", "hours"]);
    let span = figures(&house, &["--from", "2027-03-11", "--to", "2027-03-16"]);
    compare(&span, rows("review/span.csv", 2722), &["events"]);
    let hour = |row: &str| span.get(&("hours".to_owned(), row.to_owned(), "temperature".to_owned()));
    assert!(hour("2027-03-14T01:00:00-04:00").is_some() && hour("2027-03-14T03:00:00-03:00").is_some());
    assert!(hour("2027-03-14T02:00:00-04:00").is_none(), "clocks skip it");

    // what people are shown is what the spreadsheet has, with fewer decimals
    let summary = out(&house, &["review", "east-3", "--to", "2027-03-16", "--summary"]);
    let shown = |table: &str, row: &str, figure: &str, decimals: usize| {
        let (unit, value) = &bloom[&(table.to_owned(), row.to_owned(), figure.to_owned())];
        format!("{:.decimals$} {unit}", value.parse::<f64>().expect("a number"))
    };
    let page = out(&house, &["review", "east-3", "--to", "2027-03-16", "--output", "-"]);
    for words in [
        shown("bloom", "tallest", "value", 2),
        shown("bloom", "degree-days to first crack", "value", 1),
        shown("extremes", "nights: temperature", "lowest", 1),
        shown("limits", "whole: dew-point spread from 2.0 °C", "below", 1),
    ] {
        // the paragraph keeps a figure and its unit on one line
        assert!(summary.replace(['\n', '\u{a0}'], " ").contains(&words), "{words}: {summary}");
        assert!(page.replace('\u{a0}', " ").contains(&words), "{words}");
    }
}

/// Laid over itself: the same figures beside each other. Said to have opened half a day earlier: others.
#[test]
fn an_earlier_bloom_is_laid_over_where_both_open() {
    let house = house("");
    // the same instant, given as a time
    let beside = figures(&house, &["--to", "2027-03-16", "--compare", "2027-03-13 14:31"]);
    let same = |name: &str| {
        let get =
            |figure: &str| beside[&("comparison".to_owned(), name.to_owned(), figure.to_owned())].clone();
        assert_eq!(get("this bloom"), get("the earlier one"), "{name}");
    };
    for name in ["tallest", "nights: mean humidity", "temperature measured", "furthest rim advance"] {
        same(name);
    }
    let alone = figures(&house, &["--to", "2027-03-16"]);
    assert!(alone.iter().all(|(name, figure)| beside[name] == *figure), "laying over changes no figure");

    // a bloom told to have opened half a day later is moved by that
    tell(&house, "east-3-2026a", "AT-0300", -12);
    let moved = figures(&house, &["--to", "2027-03-16", "--compare", "east-3-2026a"]);
    let cell = |figure: &str| {
        let name = ("comparison".to_owned(), "nights: mean temperature".to_owned(), figure.to_owned());
        moved[&name].1.parse::<f64>().expect("a number")
    };
    assert!((cell("this bloom") - cell("the earlier one")).abs() > 1e-3);
    let page = out(&house, &["review", "east-3", "--compare", "east-3-2026a", "--output", "-"]);
    assert!(page.contains("east-3-2026a laid over"), "the legend names it");

    let summary = out(&house, &["review", "east-3-2026a", "--to", "2027-03-16", "--summary"]);
    assert!(summary.starts_with("AT-0300 on east-3 opened"), "the plant that stood there then: {summary}");

    let refused = house.run(&["review", "east-3", "--compare", "east-3-1999a"]);
    assert_eq!(refused.status.code(), Some(2), "{}", said(&refused));
    assert!(said(&refused).contains("east-3-2026a"), "it says what there is: {}", said(&refused));
}

/// The paragraph says what was, whatever part of the bloom is looked at; words are held against the story above.
#[test]
fn the_paragraph_tells_an_opening_in_the_span_and_one_outside_it() {
    let house = house("");
    let summary = |more: &[&str]| {
        let text = out(&house, &[&["review", "east-3", "--summary"], more].concat());
        let paragraph = text.split("\n\n").next().expect("a paragraph").replace(['\n', '\u{a0}'], " ");
        assert!(!paragraph.contains("given up"), "{paragraph}");
        paragraph
    };
    let whole = summary(&["--to", "2027-03-16"]);
    for words in [
        "AT-0412 on east-3 opened on Saturday 13 March 2027: the first crack about 14:31, the alarm at 16:04",
        "fully open by 23:00 (8.5 h after the crack). It had closed by 15 Mar 08:41 (41 h after the crack).",
        "The bud had been seen on Tuesday 2 February, 39 days before.",
        "degree-days",
        "Sensors fell silent",
    ] {
        let words = words.replace("degree-days", "°C·d of warmth above 17.0 °C");
        assert!(whole.contains(&words), "{words}: {whole}");
    }
    assert!(whole.contains("From the bud being seen to the first crack it had"), "{whole}");
    let after = summary(&["--from", "2027-03-15", "--to", "2027-03-16"]);
    assert!(after.contains("From the beginning of this span to the end it had"), "{after}");
    assert!(after.contains("it opened on Saturday 13 March 2027, which is not in this span"), "{after}");
    let before = summary(&["--from", "2027-03-01", "--to", "2027-03-08"]);
    assert!(before.contains("it opened on Saturday 13 March 2027, which is not in this span"), "{before}");
}

/// A spadix that falls over is no growth: drawn, it would flatten all that came before.
#[test]
fn the_growth_chart_ends_with_the_bloom() {
    let house = house("");
    let page = out(&house, &["review", "east-3", "--output", "-"]);
    let chart = page.split("aria-label=\"growth with its uncertainty\"").nth(1).expect("the chart");
    let chart = chart.split("</svg>").next().expect("its end");
    let ticks: Vec<f64> = chart
        .split("<text")
        .filter_map(|text| text.split('>').nth(1)?.split('<').next()?.trim().parse().ok())
        .collect();
    // the simulator's plant grows 4 mm an hour at its fastest, and loses a metre in a few hours in the end
    assert!(ticks.len() > 2 && ticks.iter().all(|tick| tick.abs() < 2.0), "{ticks:?}");
}

#[test]
fn us_units_are_shown_where_the_site_wants_them() {
    let metric = house("");
    let to = ["--to", "2027-03-16"];
    let celsius = figures(&metric, &to);
    let config = fs::read_to_string(metric.config()).expect("a configuration");
    let us = config.replace("[store]", "units = \"us\"\n\n[store]");
    let path = metric.path("us.toml");
    fs::write(&path, us).expect("a file can be written");
    let output = end_to_end::house::anthesisd()
        .arg("--config")
        .arg(&path)
        .args(["review", "east-3", "--csv", "--to", "2027-03-16"])
        .output()
        .expect("it starts");
    assert!(output.status.success(), "{}", said(&output));
    let mut checked = 0;
    for record in csv::Reader::from_reader(&output.stdout[..]).records() {
        let record = record.expect("RFC 4180");
        let name = (record[0].to_owned(), record[1].to_owned(), record[2].to_owned());
        let Some((unit, value)) = celsius.get(&name) else { continue };
        let (Ok(ours), Ok(theirs)) = (value.parse::<f64>(), record[4].parse::<f64>()) else { continue };
        let difference = name.1.contains("spread") || name.2.contains("spread");
        // NIST Special Publication 811 (2008), appendix B
        let (converted, wanted) = match unit.as_str() {
            "°C" if difference => (ours * 1.8, "°F"),
            "°C" => (ours * 1.8 + 32.0, "°F"),
            "°C·d" => (ours * 1.8, "°F·d"),
            "m" => (ours / 0.0254, "in"),
            "cm" => (ours / 2.54, "in"),
            "cm/h" => (ours / 2.54, "in/h"),
            "cm/d" => (ours / 2.54, "in/d"),
            other => (ours, other),
        };
        assert_eq!(&record[3], wanted, "{record:?}");
        assert!((converted - theirs).abs() < 0.002 * converted.abs().max(0.1), "{record:?} {value} {unit}");
        checked += 1;
    }
    assert!(checked > 10_000, "{checked}");
}

/// Three days of a bench with light, carbon dioxide and a second side ranger: 200 µmol/m²/s for 12 h are 200 × 12 × 3600 / 10⁶ = 8.64 mol/m² a day.
#[test]
fn light_is_summed_by_day_and_what_is_measured_beside_the_air_is_drawn() {
    let house = House::new().with_bench_of(
        "east-3",
        "limits = { co2_ppm = [350, 1000], alarm_co2_ppm = [0, 5000], light_umol_m2_s = [0, 600] }",
    );
    let mut text = String::new();
    let midnight_s = at("2027-06-02T03:00:00Z").unix_ms() / 1000;
    for minute in 0..=(3 * 1440) {
        let hour = minute / 60 % 24;
        let light = if (6..18).contains(&hour) { 200 } else { 0 };
        let co2 = if hour == 12 { 1200 } else { 800 };
        let pack = json!([
            {"bn": "east-3/", "bt": midnight_s + 60 * minute, "n": "light", "u": "umol/m2/s", "v": light},
            {"n": "co2", "u": "ppm", "v": co2},
            {"n": "rim-range-2", "u": "m", "v": 0.812},
            {"n": "rim-heard", "u": "/", "v": 0.75},
        ]);
        text.push_str(&format!("{pack}\n"));
    }
    let path = house.path("light.jsonl");
    fs::write(&path, text).expect("a file can be written");
    out(&house, &["import", &path.display().to_string()]);
    let span = ["--from", "2027-06-02", "--to", "2027-06-05"];
    let figures = figures(&house, &span);
    let figure = |table: &str, row: &str, figure: &str| {
        figures.get(&(table.to_owned(), row.to_owned(), figure.to_owned())).cloned().unwrap_or_default()
    };
    let is = |found: (String, String), unit: &str, value: f64| {
        assert_eq!(found.0, unit);
        assert!((found.1.parse::<f64>().expect("a number") - value).abs() < 1e-6, "{found:?}");
    };
    for day in ["2027-06-02", "2027-06-03", "2027-06-04"] {
        is(figure("light", day, "daily light integral"), "mol/m²/d", 8.64);
        is(figure("light", day, "measured"), "h", 24.0);
        is(figure("days", day, "light, highest"), "µmol/m²/s", 200.0);
    }
    // an hour of each of three days above its limit
    is(figure("limits", "whole: CO2 350 to 1000 ppm", "above"), "h", 3.0);
    is(figure("extremes", "whole: echoes heard by the side ranger", "mean"), "%", 75.0);
    let page = out(&house, &[&["review", "east-3", "--output", "-"][..], &span].concat());
    for title in
        ["CO2", "Light", "Daily light integral", "Second side ranger", "Echoes heard by the side ranger"]
    {
        assert!(page.contains(&format!("<h2>{title}</h2>")), "{title}");
    }
    assert!(
        !page.contains("<h2>Echoes heard by the overhead ranger</h2>"),
        "what nobody measured is not drawn"
    );
    assert!(
        page.contains("limit 1000 ppm") && !page.contains("alarm limit 5000 ppm"),
        "it would flatten the picture"
    );
}
