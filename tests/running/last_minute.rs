//! What a kill costs: readings without an event are on the disk a minute after they came, and nothing older is ever lost.
//!
//! Only in the long form (`tests/run --long`), for it takes minutes.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fmt::Write as _;
use std::thread;
use std::time::{Duration, Instant};

use bench_sim::pty::Port;
use chrono::Utc;
use end_to_end::house::House;
use end_to_end::line::say;
use end_to_end::service::Service;
use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};

/// The stated batch, and what a loaded machine may add to it.
const BATCH: Duration = Duration::from_secs(60 + 5);

/// One house from its start to its death: what it was told, ms since 1970, what is on the disk of it, and how old the oldest loss was.
fn lives_and_dies(seed: u64) -> (usize, Duration) {
    let house = House::new().with_bench("east-3").with_serial("line");
    let mut port = Port::open(&house.path("line")).expect("a pseudo-terminal");
    let service = Service::start(&house);
    let mut random = SmallRng::seed_from_u64(seed);
    let life = Duration::from_millis(random.random_range(70_000..130_000));
    let (began, mut told) = (Instant::now(), Vec::new());
    // the first line after a port is opened may have begun before, and is not counted on
    say(&mut port, "\n");
    while began.elapsed() < life {
        let now = Utc::now().timestamp_millis();
        let mut line = String::new();
        write!(line, r#"[{{"n":"east-3/temperature","t":{}.{:03},"u":"Cel","v":"#, now / 1000, now % 1000)
            .expect("memory");
        writeln!(line, "{:.2}}}]", 25.0 + (told.len() % 50) as f64 / 100.0).expect("memory");
        say(&mut port, &line);
        told.push(now);
        thread::sleep(Duration::from_millis(random.random_range(20..200)));
    }
    let died = Utc::now().timestamp_millis();
    service.kill();
    let store = house.store();
    let mut rows = store.prepare("SELECT time_ms FROM reading ORDER BY time_ms").expect("a right question");
    let kept: Vec<i64> =
        rows.query_map([], |row| row.get(0)).expect("rows").map(|row| row.expect("a time")).collect();
    // whoever opens a port throws away what was said before: from the first reading that was heard on, each counts
    told.retain(|time| kept.first().is_some_and(|first| time >= first));
    assert!(told.len() > 300, "{} readings were heard of", told.len());
    let lost: Vec<i64> = told.iter().copied().filter(|time| kept.binary_search(time).is_err()).collect();
    let oldest = lost.first().map_or(0, |time| died - time);
    assert_eq!(told.len() - lost.len(), kept.len(), "nothing else is there, and nothing twice");
    (lost.len(), Duration::from_millis(oldest.unsigned_abs()))
}

#[test]
#[ignore = "the long form"]
fn a_kill_loses_nothing_that_is_older_than_a_minute() {
    let houses: Vec<_> = (0..20).map(|seed| thread::spawn(move || lives_and_dies(seed))).collect();
    for house in houses {
        let (lost, oldest) = house.join().expect("a house that holds");
        println!("{lost} readings lost, the oldest {:.1} s old", oldest.as_secs_f64());
        assert!(oldest <= BATCH, "{oldest:?} old");
    }
}
