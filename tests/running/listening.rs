//! What people send by the broker: it holds nothing else back, none of it is lost, and none of it acts twice.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail them as tests do")]

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use bench_sim::pty::Port;
use chrono::Utc;
use end_to_end::house::{House, said};
use end_to_end::line::{saying, sign};
use end_to_end::mosquitto::Mosquitto;
use end_to_end::service::{Service, Slowed, eventually};
use end_to_end::web::{ask, page_of};
use serde_json::{Value, json};

/// A disk's sync on a memory card.
const SLOW_SYNC: Duration = Duration::from_millis(40);
const SIGN: &str = "anthesis/saltmarsh/east-3/sign";

fn house(broker: &Mosquitto) -> House {
    let house = ["east-3", "east-4", "west-1", "west-2"].into_iter().fold(House::new(), House::with_bench);
    house.with_serial("line").with("[alarm]\ntest_every_days = 0\n").with_broker(broker.port())
}

fn openings(house: &House) -> i64 {
    house.figure("SELECT count(*) FROM event WHERE kind = 'opening-tonight'")
}

fn booked(house: &House, what: &str) -> i64 {
    house.figure(&format!(
        "SELECT count(*) FROM event WHERE kind = 'sign-booked' AND payload ->> '$.sign' = '{what}'"
    ))
}

/// What the disk does meanwhile.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Disk {
    /// Each sync takes as long as on a memory card.
    Slow,
    /// Somebody holds the record, and nothing can be written.
    Held,
}

/// A sign that acts, on a line, while that comes by the broker at so many a second.
fn told_during(flood_of: &str, topic: &str, a_second: u32, qos: u8, disk: Disk) {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    let phone = broker.listen("phone", "anthesis/saltmarsh/+/alarm");
    saying(&mut port, &sign("west-2", "opened"), || {
        eventually("the line is read", || openings(&house) == 1);
    });
    phone.until(|heard| heard.payload.contains("west-2"));
    let _slowed = (disk == Disk::Slow).then(|| Slowed::at(&service, "fsync,fdatasync", SLOW_SYNC));
    let _held = (disk == Disk::Held).then(|| house.hold_store());
    // long enough that it cannot be over before the last opening is told
    let flood = broker.flood_at(qos, topic, a_second, vec![flood_of.to_owned(); 90 * a_second as usize]);
    eventually("the flood has begun", || flood.said() > 5 * a_second as usize);
    let mut late = Vec::new();
    for bench in ["east-3", "east-4", "west-1"] {
        let began = Instant::now();
        let line = sign(bench, "opened");
        saying(&mut port, &line, || {
            phone.until(|heard| heard.topic.contains(bench) && heard.payload.contains("opening-tonight"));
        });
        late.push(began.elapsed());
    }
    assert!(flood.goes_on(), "told only after the flood: {late:?}\n{}", service.log());
    println!("{a_second} a second of {flood_of} at QoS {qos}, disk {disk:?}: told after {late:?}");
}

#[test]
fn an_opening_on_the_line_is_told_at_once_whatever_comes_by_the_broker() {
    for flood in [r#"{"sign":"scent"}"#, r#"{"sign":"withdrawn scent"}"#] {
        told_during(flood, SIGN, 30, 1, Disk::Slow);
    }
    told_during(r#"{"id":"nothing of the kind"}"#, "anthesis/saltmarsh/acknowledge", 300, 1, Disk::Slow);
}

/// What comes at QoS 0 the broker never holds back.
#[test]
fn so_it_is_when_nothing_slows_the_broker_and_when_nothing_can_be_written() {
    told_during(r#"{"sign":"scent"}"#, SIGN, 300, 0, Disk::Slow);
    told_during(r#"{"sign":"scent"}"#, SIGN, 300, 0, Disk::Held);
    told_during(r#"{"sign":"scent"}"#, SIGN, 30, 1, Disk::Held);
}

#[test]
fn what_people_send_while_the_service_is_stopped_is_heard_at_the_next_start_and_once() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let _port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    let output = house.run(&["sign", "east-3", "opened"]);
    assert!(output.status.success(), "{}", said(&output));
    eventually("it is told", || openings(&house) == 1);
    let id: String = house
        .store()
        .query_row("SELECT event_id FROM alarm WHERE kind = 'opening-tonight'", [], |row| row.get(0))
        .unwrap();
    assert!(service.terminate().0.success());
    let stopped = Utc::now();

    broker.publish(
        "anthesis/saltmarsh/east-3/acknowledge",
        json!({ "id": id, "by": "ann" }).to_string().as_bytes(),
        false,
    );
    broker.publish("anthesis/saltmarsh/east-4/sign", br#"{"sign":"opened"}"#, false);
    let dated = json!({ "sign": "pollinated", "time": Utc::now() }).to_string();
    broker.publish(SIGN, dated.as_bytes(), false);
    let started = Utc::now();

    for run in 1..=3 {
        let service = Service::start(&house);
        let acknowledged = "SELECT count(*) FROM alarm WHERE acknowledged_by = 'ann'";
        eventually("all of it is heard", || {
            house.figure(acknowledged) == 1
                && booked(&house, "opened") == 2
                && booked(&house, "pollinated") == 1
        });
        assert_eq!(openings(&house), 1, "what has no time of its own moves no window");
        let asked: Value = house
            .stored_events()
            .iter()
            .map(|event| serde_json::from_str(event).unwrap())
            .find(|event: &Value| event.get("sent_until").is_some())
            .unwrap();
        let time = |key: &str| asked[key].as_str().unwrap().parse::<chrono::DateTime<Utc>>().unwrap();
        assert!(time("sent_from") < stopped && time("sent_until") > started, "{asked}");
        let message = asked["message"].as_str().unwrap();
        assert!(message.starts_with("When was \"opened\" at east-4? It was sent between "), "{message}");
        assert!(message.contains(" Record it: anthesisd sign east-4 opened --at"), "{message}");
        if run == 2 {
            // what comes now is as good as ever
            broker.publish("anthesis/saltmarsh/west-1/sign", br#"{"sign":"scent"}"#, false);
            eventually("it is booked", || booked(&house, "scent") == 1);
        }
        // killed, or stopped in order: either way nothing comes twice
        if run == 1 { service.kill() } else { assert!(service.terminate().0.success()) }
    }
    assert_eq!((booked(&house, "opened"), booked(&house, "pollinated"), booked(&house, "scent")), (2, 1, 1));
}

#[test]
fn a_message_that_is_too_long_makes_it_deaf_to_nothing_else() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let _port = Port::open(&house.path("line")).unwrap();
    broker.publish(SIGN, &vec![b'{'; 3 << 20], true);
    let service = Service::start(&house);
    broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    broker.publish("anthesis/saltmarsh/acknowledge", &vec![b'['; 2 << 20], false);
    broker.publish(SIGN, br#"{"sign":"scent"}"#, false);
    eventually("the sign is booked", || booked(&house, "scent") == 1);
    service.wait_for_log("a message from the broker is dropped: it is longer than 64 KiB");
    assert!(!service.log().contains("the next attempt comes in"), "{}", service.log());
}

#[test]
fn what_changes_nothing_fills_no_log_and_hides_no_sign() {
    let broker = Mosquitto::plain();
    let house = house(&broker);
    let _port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    let useless = |number: usize| match number % 4 {
        0 => json!({ "id": format!("nothing {number}") }).to_string(),
        1 => "x".repeat(1000),
        2 => json!({ "id": "a", "y".repeat(500): number }).to_string(),
        _ => "{}".to_owned(),
    };
    let floods = ["acknowledge", "east-3/acknowledge", "nowhere/sign", "east-3/sign"].map(|topic| {
        broker.flood(&format!("anthesis/saltmarsh/{topic}"), 1000, (0..3000).map(useless).collect())
    });
    floods.into_iter().for_each(|flood| flood.to_the_end());
    broker.publish("anthesis/saltmarsh/east-4/sign", br#"{"sign":"scent"}"#, false);
    eventually("the sign is booked", || booked(&house, "scent") == 1);
    let log = service.log();
    println!("12000 messages that change nothing: {} bytes of log", log.len());
    assert!(log.contains("what a person sent changed nothing"), "{log}");
    assert!(log.len() < 64 * 1024, "{} bytes", log.len());
}

#[test]
fn a_broker_and_a_line_that_go_are_missed_and_each_return_is_logged() {
    let mut broker = Mosquitto::plain();
    let house = house(&broker).with("[page]\nlisten = \"127.0.0.1:0\"\n");
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    let page = page_of(&service);
    let came = || service.log().matches("connected to the broker at").count();
    let broker_facts = || {
        let answer = ask(page, "GET /api/house", &[], "");
        serde_json::from_str::<Value>(&answer.body).unwrap_or_default()["working"]["broker"].clone()
    };
    for times in 1..=3 {
        eventually("it is connected, and that is logged", || came() == times);
        eventually("the facts say so", || {
            let facts = broker_facts();
            facts.is_object() && facts.get("away_since").is_none()
        });
        assert!(ask(page, "GET /metrics", &[], "").body.contains("anthesisd_broker_connected 1"));
        broker.stop();
        eventually("it is missed", || broker_facts().get("away_since").is_some());
        assert!(ask(page, "GET /metrics", &[], "").body.contains("anthesisd_broker_connected 0"));
        if times == 1 {
            eventually("the page says so", || {
                ask(page, "GET /", &[], "").body.contains("Phones hear nothing: no broker since")
            });
        }
        broker.start();
    }
    // the same of a line
    let back = || service.log().matches("the intake is back").count();
    let readings = || {
        let answer = ask(page, "GET /api/house", &[], "");
        let facts: Value = serde_json::from_str(&answer.body).unwrap_or_default();
        facts["working"]["intakes"][0]["readings"].as_u64().unwrap_or(0)
    };
    for times in 0..3 {
        let mut line = String::new();
        let _ = writeln!(line, "[{{\"n\":\"east-3/temperature\",\"u\":\"Cel\",\"v\":2{times}}}]");
        let before = readings();
        saying(&mut port, &line, || eventually("it is read", || back() == times && readings() > before));
        drop(port);
        eventually("it is missed", || service.log().matches("the device is gone").count() > times);
        port = Port::open(&house.path("line")).unwrap();
    }
}
