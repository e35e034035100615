//! Figures of the service at real speed, printed and never judged. On a quiet machine:
//!
//!     cargo build --release --package anthesisd
//!     cargo nextest run --release --package end-to-end --run-ignored only figures --no-capture
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::thread;
use std::time::{Duration, Instant};

use bench_sim::pty::Port;
use end_to_end::bud::Recorder;
use end_to_end::house::House;
use end_to_end::line::{say, saying, sign};
use end_to_end::mosquitto::{Heard, Mosquitto};
use end_to_end::service::Service;

const BENCHES: usize = 20;

/// A house of twenty benches on one line, with the service running and the line open.
fn under_way(broker: &Mosquitto) -> (House, Port, Service) {
    let mut house = House::new().with_bench("first").with_serial("line").with_broker(broker.port());
    for number in 1..=BENCHES {
        house = house.with_bench(&format!("bench-{number}"));
    }
    let mut port = Port::open(&house.path("line")).expect("a pseudo-terminal");
    let service = Service::start(&house);
    let listener = broker.listen("first", "anthesis/saltmarsh/first/event");
    saying(&mut port, &sign("first", "opened"), || listener.until(is_alarm));
    (house, port, service)
}

fn is_alarm(heard: &Heard) -> bool {
    heard.payload.contains("\"event\":\"opening-tonight\"")
}

#[test]
#[ignore = "figures, not a check"]
fn from_the_line_to_the_listener() {
    let broker = Mosquitto::plain();
    let (_house, mut port, service) = under_way(&broker);
    let listener = broker.listen("phone", "anthesis/saltmarsh/+/event");
    let mut took_ms: Vec<f64> = (1..=BENCHES)
        .map(|number| {
            let line = sign(&format!("bench-{number}"), "opened");
            let sent = Instant::now();
            say(&mut port, &line);
            listener.until(is_alarm);
            let took = sent.elapsed();
            // not in step with whatever the service does once a second
            thread::sleep(Duration::from_millis(137));
            took.as_secs_f64() * 1e3
        })
        .collect();
    assert!(service.terminate().0.success());
    took_ms.sort_by(f64::total_cmp);
    println!(
        "alarm, from the reading at the port to mosquitto_sub, {BENCHES} alarms: median {:.1} ms, most {:.1} ms",
        f64::midpoint(took_ms[BENCHES / 2 - 1], took_ms[BENCHES / 2]),
        took_ms[BENCHES - 1]
    );
}

#[test]
#[ignore = "figures, not a check"]
fn twenty_benches_with_nothing_to_tell() {
    const ROUNDS: u32 = 6;
    let broker = Mosquitto::plain();
    let (house, mut port, service) = under_way(&broker);
    let mut benches: Vec<_> = (1..=BENCHES).map(|number| Recorder::new(&format!("bench-{number}"))).collect();
    let (began, used_s) = (Instant::now(), service.processor_s());
    for round in 0..ROUNDS {
        for (place, bench) in (1..).zip(&mut benches) {
            bench.text.clear();
            bench.pack(chrono::Utc::now().timestamp(), Some(1.2), Some(0.0), 0.002);
            say(&mut port, &bench.text);
            let due = Duration::from_secs(10) * round + Duration::from_millis(500) * place;
            thread::sleep(due.saturating_sub(began.elapsed()));
        }
    }
    let (wall_s, used_s) = (began.elapsed().as_secs_f64(), service.processor_s() - used_s);
    let (now_kib, most_kib) = service.resident_kib();
    let (status, _) = service.terminate();
    assert!(status.success());
    assert_eq!(
        house.figure("SELECT count(*) FROM reading"),
        i64::from(ROUNDS) * BENCHES as i64 * 4,
        "every reading is in the record"
    );
    println!(
        "{BENCHES} benches, a pack each every 10 s, for {wall_s:.0} s: {:.1} MiB resident, {:.1} MiB at most; {:.2} % of a processor",
        now_kib as f64 / 1024.0,
        most_kib as f64 / 1024.0,
        100.0 * used_s / wall_s
    );
}
