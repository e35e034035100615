//! What the page tells programs: JSON as its description promises, figures that another parser reads, troubles in plain words.

use std::fs;
use std::net::SocketAddr;
use std::process::Command;
use std::thread;
use std::time::Duration;

use bench_sim::pty::Port;
use end_to_end::house::{House, built, said};
use end_to_end::readers;
use end_to_end::service::{Service, eventually};
use end_to_end::web::{Answer, ask, page_of};
use serde_json::{Value, json};

use super::{ROBIN, get, guarded_house, house, raise_alarm, write_secret};

/// 2025-05-22T22:00 in Halifax: the first bench has opened, the second is in bud.
const EVENING_UNIX_S: i64 = 1_747_962_000;

/// A house on bloom night, from a season that `benches` draws, with a book that has something of most kinds.
fn on_bloom_night() -> House {
    let keys = "tip = { mount_height_m = 3.1 }\nrim = { mount_distance_m = 0.95 }\n\
                limits = { temperature_c = [18, 35], humidity_pct = [60, 95], vpd_kpa = [0, 1.6], alarm_temperature_c = [15, 42] }";
    let house = House::new()
        .with_bench_of("east-3", keys)
        .with_bench("west-1")
        .with_recording("evening.jsonl")
        .with("[page]\nlisten = \"127.0.0.1:0\"\n");
    let season = "--seed 28 --bench east-3 --bench west-1 --emerges 2025-04-05 --emerges 2025-04-16 --opens-after 47 \
                  --opens-after 47 --interval-s 600 --tape --signs --recording -";
    let drawn = Command::new(built("benches")).args(season.split_whitespace()).output().expect("it starts");
    assert!(drawn.status.success(), "{}", said(&drawn));
    let whole = String::from_utf8(drawn.stdout).expect("text");
    let by_evening = |line: &&str| {
        let pack: Value = serde_json::from_str(line).expect("a pack");
        let times = pack
            .as_array()
            .expect("records")
            .iter()
            .filter_map(|record| record["bt"].as_f64().or(record["t"].as_f64()));
        times.fold(0.0, f64::max) <= EVENING_UNIX_S as f64
    };
    let evening: Vec<&str> = whole.lines().filter(by_evening).collect();
    fs::write(house.path("evening.jsonl"), evening.join("\n") + "\n").expect("a recording can be written");
    house
}

/// Types lines into the house's book; a quoted part is one word.
fn type_in(house: &House, lines: &[&str]) {
    for line in lines {
        let words = line.split('"').enumerate().flat_map(|(place, part)| match place % 2 {
            0 => part.split_whitespace().collect::<Vec<_>>(),
            _ => vec![part],
        });
        let output = house.run(&words.collect::<Vec<_>>());
        assert!(output.status.success(), "{line}: {}", said(&output));
    }
}

fn media_of(answer: &Answer) -> String {
    let line = answer.head.lines().find_map(|line| line.strip_prefix("content-type: "));
    line.expect("a media type").to_owned()
}

/// An answer for [`readers::read`].
fn told(path: &str, answer: &Answer) -> Value {
    let media = media_of(answer);
    let body = if media.ends_with("json") {
        serde_json::from_str(&answer.body).expect("JSON")
    } else {
        json!(answer.body)
    };
    json!({ "path": path, "status": answer.status, "media": media, "body": body })
}

/// What is answered as JSON, asked with a pause: who asks without one is held up as anybody is.
fn seen(at: SocketAddr, path: &str) -> Value {
    thread::sleep(Duration::from_millis(100));
    serde_json::from_str(&get(at, path).body).expect("JSON")
}

#[test]
fn every_answer_is_as_the_description_promises() {
    let house = on_bloom_night();
    let service = Service::start(&house);
    let at = page_of(&service);
    eventually("the recording is read", || service.log().contains("read to its end"));
    type_in(
        &house,
        &[
            r#"plant AT-0412 add --taxon "Amorphophallus titanum" --from "seed, 2014" --at "2025-01-10 10:00""#,
            r#"plant AT-0398 add --taxon "Amorphophallus titanum" --from "seed of another garden" --at "2025-01-10 10:05""#,
            r#"plant AT-0412 weighed 31.2 --at "2025-01-14 10:00""#,
            r#"plant AT-0412 repotted --pot 120 --at "2025-01-14 11:00""#,
            r#"pollen AT-0412 collected 4 --stored -80 --place "freezer 2" --at "2023-06-20 19:00""#,
            r#"pollen AT-0398 received 3 --collected "2024-06-02 20:00" --stored -80 --at "2024-06-05 09:00""#,
            r#"pollen AT-0398-2024a tested 41 --at "2025-05-20 17:00""#,
            r#"pollen AT-0398-2024a thawed --at "2025-05-22 21:00""#,
            r#"cross east-3 AT-0398-2024a --flowers "all round" --by Robin --note "lower ring" --at "2025-05-22 21:40""#,
        ],
    );
    let seen = |path: &str| seen(at, path);
    eventually("the opening stands", || !seen("/api/alarms").as_array().expect("a list").is_empty());

    let document = seen("/api/openapi.json");
    let mut answers = Vec::new();
    for path in document["paths"].as_object().expect("paths").keys() {
        let answer = get(at, &path.replace("{bench}", "east-3"));
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        answers.push(told(path, &answer));
    }
    for asked in [
        "/api/benches/west-1",
        "/api/events?from=2025-01-01T00:00:00Z&at_most=1000",
        "/api/events?bench=east-3&until=2025-05-01T00:00:00Z&at_most=3",
        "/api/benches/west-9",
        "/api/events?bench=west-9",
        "/api/events?at_most=1001",
        "/api/events?until=noon",
        "/api/events?whence=west",
    ] {
        let path = asked.split('?').next().expect("a path");
        let path = if path.starts_with("/api/benches/") { "/api/benches/{bench}" } else { path };
        answers.push(told(path, &get(at, asked)));
    }
    let statuses: Vec<_> = answers.iter().rev().take(5).map(|answer| answer["status"].clone()).collect();
    assert_eq!(json!(statuses), json!([400, 400, 400, 404, 404]), "{answers:?}");

    // what the promise is tried on is no empty shell
    let house_now = seen("/api/house");
    let [open, bud] = &house_now["benches"].as_array().expect("benches")[..] else { panic!("{house_now}") };
    assert!(
        open["state"]["receptive"]["from"].is_string() && open["climate"][0]["lies"] == "within",
        "{open}"
    );
    assert!(
        bud["state"]["opens"]["likely"].is_string() && bud["tonight"]["probability"].is_number(),
        "{bud}"
    );
    let entries = seen("/api/benches/east-3")["entries"].as_array().expect("entries").len();
    assert!(entries >= 4, "{entries} entries");
    assert_eq!(seen("/api/season").as_array().expect("blooms").len(), 2);
    let candidates = seen("/api/tonight")[0]["pollen"].as_array().expect("lots").len();
    assert_eq!(candidates, 2);
    let events = seen("/api/events?from=2025-01-01T00:00:00Z&at_most=1000");
    let mut stored: Vec<Value> =
        house.stored_events().iter().map(|event| serde_json::from_str(event).expect("JSON")).collect();
    stored.reverse();
    assert_eq!(events, json!(stored), "as they are in the record, newest first");

    let read = json!({ "document": document, "answers": answers }).to_string();
    assert_eq!(readers::read("described", &read), json!([]));

    // and who reads it would see a fault, were there one
    let mut wrong = answers.clone();
    let place = wrong.iter().position(|answer| answer["path"] == "/api/house").expect("it is there");
    wrong[place]["body"]["benches"][0]["state"]["height_m"] = json!("tall");
    wrong[place]["body"]["benches"][1]["taxon"] = Value::Null;
    wrong[place]["body"]["working"]["mood"] = json!("good");
    let read = json!({ "document": document, "answers": wrong }).to_string();
    let faults = readers::read("described", &read).as_array().expect("faults").len();
    assert!(faults >= 3, "{faults}");
}

/// The figures of an answer, as another parser reads them.
struct Figures(Vec<Value>);

impl Figures {
    fn of(at: SocketAddr) -> Self {
        thread::sleep(Duration::from_millis(100));
        let answer = get(at, "/metrics");
        assert_eq!(media_of(&answer), "application/openmetrics-text; version=1.0.0; charset=utf-8");
        assert!(answer.body.ends_with("# EOF\n"), "{}", answer.body);
        Self(readers::read("metrics", &answer.body).as_array().expect("figures").clone())
    }

    fn find(&self, name: &str, labels: &Value) -> Option<f64> {
        let found = self.0.iter().find(|figure| figure[3] == name && figure[4] == *labels)?;
        Some(found[5].as_f64().expect("a number"))
    }

    fn is(&self, name: &str, labels: &Value, wanted: f64) -> bool {
        self.find(name, labels).is_some_and(|found| (found - wanted).abs() < 1e-9)
    }
}

#[test]
fn figures_are_read_by_another_parser_and_say_what_the_facts_say() {
    // nobody listens on the port that is named for discarding (RFC 863)
    let readings_to = "[readings_to]\ndatabase = \"http://127.0.0.1:9\"\norganization = \"glasshouse\"\nbucket = \"benches\"\ntoken_file = \"token\"\n";
    let house = house().with(readings_to);
    write_secret(&house, "token", "secret", 0o600);
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    let at = page_of(&service);
    raise_alarm(&house, &mut port, "east-3");
    let air = r#"[{"bn":"east-3/","n":"temperature","u":"Cel","v":27.31},{"n":"humidity","u":"%RH","v":71.4},{"n":"co2","u":"ppm","v":620},{"n":"humidity","u":"%RH","v":171}]"#;
    end_to_end::line::say(&mut port, &format!("{air}\n"));
    let shown = || seen(at, "/api/house");
    eventually("the air is shown", || shown()["benches"][0]["state"]["humidity_pct"] == 71.4);

    let figures = Figures::of(at);
    let none = json!({});
    let bench = json!({ "bench": "east-3", "plant": "AT-0412" });
    let other = json!({ "bench": "east-4", "plant": "AT-0412" });
    let line = json!({ "intake": house.path("line") });
    let taken = shown()["working"]["readings_taken"].as_f64().expect("a count");
    for (name, labels, wanted) in [
        ("anthesisd_moving", &none, 1.0),
        ("anthesisd_serving", &none, 1.0),
        ("anthesisd_run", &none, 1.0),
        ("anthesisd_store_readable", &none, 1.0),
        ("anthesisd_store_writable", &none, 1.0),
        ("anthesisd_outbox_messages", &none, 0.0),
        ("anthesisd_readings_total", &none, taken),
        ("anthesisd_intake_up", &line, 1.0),
        ("anthesisd_intake_refused_total", &line, 1.0),
        ("anthesisd_standing_alarms", &json!({ "acknowledged": "no" }), 1.0),
        ("anthesisd_standing_alarms", &json!({ "acknowledged": "yes" }), 0.0),
        ("anthesisd_bench_temperature_celsius", &bench, 27.31),
        ("anthesisd_bench_humidity_ratios", &bench, 0.714),
        ("anthesisd_bench_co2_parts_per_million", &bench, 620.0),
        ("anthesisd_bench_silent", &bench, 0.0),
        ("anthesisd_bench_silent", &other, 1.0),
        ("anthesisd_bench_stage", &json!({ "bench": "east-3", "plant": "AT-0412", "stage": "opening" }), 1.0),
    ] {
        assert!(figures.is(name, labels, wanted), "{name}: {:?}, not {wanted}", figures.find(name, labels));
    }
    assert!(taken >= 3.0, "{taken}");
    for (name, labels) in [
        ("anthesisd_newest_reading_age_seconds", &bench),
        // the booked sign waits for a server that is not there
        ("anthesisd_readings_behind_seconds", &none),
    ] {
        let age_s = figures.find(name, labels).expect("it is told");
        assert!(age_s > 0.0 && age_s < 120.0, "{name}: {age_s}");
    }
    assert!(figures.find("anthesisd_store_size_bytes", &none).expect("a size") > 4096.0);
    // a bench that was never heard of has no age
    assert_eq!(figures.find("anthesisd_newest_reading_age_seconds", &other), None);

    // a record that cannot be read takes no other figure with it
    fs::rename(house.path("anthesisd.db"), house.path("elsewhere.db")).expect("a file can be renamed");
    let figures = Figures::of(at);
    fs::rename(house.path("elsewhere.db"), house.path("anthesisd.db")).expect("a file can be renamed");
    assert!(figures.is("anthesisd_store_readable", &none, 0.0));
    assert!(figures.find("anthesisd_newest_reading_age_seconds", &bench).is_some());

    drop(port);
    eventually("the line is out", || Figures::of(at).is("anthesisd_intake_up", &line, 0.0));
    let intake = shown()["working"]["intakes"][0].clone();
    assert!(intake["out_since"].is_string() && intake["why"].is_string(), "{intake}");
}

/// RFC 9457 names the members and the media type; RFC 9110 the heads that come with 401 and 405.
#[test]
fn programs_hear_in_json_what_is_wrong_and_what_to_do() {
    let house = guarded_house();
    let _port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    let at = page_of(&service);
    eventually("the keeper has told what the house is like", || {
        ask(at, "GET /api/house", &[ROBIN], "").status == 200
    });
    let foreign = ("Host", "rebound.example");
    for (line, headers, status, says) in [
        ("GET /api/house", &[][..], 401, "password"),
        ("GET /metrics", &[], 401, "password"),
        ("GET /watch/moving", &[], 401, "password"),
        ("GET /api/house", &[ROBIN, foreign], 403, "names"),
        ("GET /api/benches/west-9", &[ROBIN], 404, "west-9"),
        ("GET /api/nothing", &[ROBIN], 404, "/api/openapi.json"),
        ("POST /api/house", &[ROBIN], 405, "method"),
    ] {
        let answer = ask(at, line, headers, "");
        assert_eq!(
            (answer.status, media_of(&answer)),
            (status, "application/problem+json".to_owned()),
            "{line}"
        );
        let problem: Value = serde_json::from_str(&answer.body).expect("JSON");
        assert_eq!(problem["status"], status, "{problem}");
        assert!(problem["detail"].as_str().expect("words").contains(says), "{problem}");
        assert_eq!(answer.head.contains("www-authenticate: basic"), status == 401, "{}", answer.head);
        assert_eq!(answer.head.contains("allow: get"), status == 405, "{}", answer.head);
    }
    // a person is still told in a page
    assert!(media_of(&get(at, "/nothing")).starts_with("text/html"));
    assert_eq!(ask(at, "GET /metrics", &[ROBIN], "").status, 200);
}
