//! A process killed at any moment loses nothing that it confirmed.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use super::seal::sheets;
use super::*;
use crate::store::{Checkpoint, Entry};

/// Set for the process that writes until it is killed.
const CHILD: &str = "ANTHESISD_TEST_KILLED_STORE";
/// How many kills, if more than the few of a normal run are wanted.
const KILLS: &str = "ANTHESISD_TEST_KILLS";
pub(super) const READINGS_PER_BATCH: u64 = 40;

/// The batch of a number: every part of it says which one it is.
pub(super) fn batch(number: u64) -> Batch {
    let fed = |n| Some(number * READINGS_PER_BATCH + n + 1);
    let reading = |n| {
        let seconds = i64::try_from(number * READINGS_PER_BATCH + n).unwrap();
        measured("east-3", seconds, Quantity::TipRange, number as f64, fed(n))
    };
    let id = format!("event-{number}");
    Batch {
        readings: (0..READINGS_PER_BATCH).map(reading).collect(),
        events: vec![raised(&id, 0, number * READINGS_PER_BATCH)],
        messages: vec![message(&id, Importance::Alarm, None)],
        checkpoints: vec![Checkpoint {
            bench: "east-3".into(),
            state: number.to_le_bytes().to_vec(),
            version: 1,
            fed: (number + 1) * READINGS_PER_BATCH,
        }],
        ..Batch::default()
    }
}

/// Commits one batch after the other and says so, until it is killed.
fn write_for_ever(path: &Path) -> ! {
    let mut store = Store::open(path).unwrap();
    let first = store.newest_fed().unwrap() / READINGS_PER_BATCH;
    for number in first.. {
        store.commit(&batch(number)).unwrap();
        say(&format!("confirmed {number}\n"));
        // older readings are sealed a piece at a time, and killed at it
        for _ in 0..2 {
            store.seal_step(batch(number).readings[0].time).unwrap();
        }
        if number % 32 == 0 {
            Entry::Acknowledge { ids: Some(vec![number.to_string()]), by: None }.put(path).unwrap();
            say(&format!("put {number}\n"));
        }
    }
    unreachable!("the numbers do not run out")
}

/// In one write, so that no kill cuts a line in two.
pub(super) fn say(line: &str) {
    std::io::stderr().write_all(line.as_bytes()).unwrap();
}

/// What a child said before it was killed.
struct Said {
    confirmed: Option<u64>,
    put: Option<u64>,
}

fn run_and_kill(path: &Path, after: Duration) -> Said {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args([
            "--exact",
            "store::tests::kill::a_killed_process_loses_nothing_that_it_confirmed",
            "--nocapture",
        ])
        .env(CHILD, path)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(after);
    child.kill().unwrap();
    let mut said = Said { confirmed: None, put: None };
    for line in BufReader::new(child.stderr.take().unwrap()).lines().map_while(Result::ok) {
        let number = |word: &str| line.strip_prefix(word).and_then(|rest| rest.parse().ok());
        said.confirmed = number("confirmed ").or(said.confirmed);
        said.put = number("put ").or(said.put);
        assert!(!line.contains("panicked"), "{line}");
    }
    child.wait().unwrap();
    said
}

/// Every batch up to the last is there in all its parts, and of the one after it nothing. Gives their number.
pub(super) fn whole_batches(path: &Path) -> u64 {
    let store = Store::open(path).unwrap();
    assert_eq!(store.integrity_check(Depth::Full).unwrap(), [""; 0]);
    let reader = Reader::open(path).unwrap();
    let readings = recorded(&reader, "east-3", Which::Everything);
    let batches = readings.len() as u64 / READINGS_PER_BATCH;
    let expected = (0..batches).flat_map(|number| batch(number).readings);
    let said = |reading: &Recorded| (reading.time, reading.observed);
    assert!(
        readings.iter().map(said).eq(expected.map(|reading| said(&reading))),
        "{} readings",
        readings.len()
    );
    assert_eq!(store.newest_fed().unwrap(), batches * READINGS_PER_BATCH);
    let ids = (0..batches).map(|number| format!("event-{number}"));
    let mut events = Vec::new();
    reader.events(Default::default(), |_, event| events.push(event.id)).unwrap();
    assert!(events.iter().cloned().eq(ids.clone()));
    let mut messages = Vec::new();
    let mut after = 0;
    while let Some(next) = reader.oldest_outgoing(after).unwrap() {
        after = next.id;
        messages.push(next.payload);
    }
    assert!(messages.into_iter().eq(ids));
    let states: Vec<_> = store.checkpoints().unwrap().into_iter().map(|state| state.state).collect();
    let last = batches.checked_sub(1).map(|number| number.to_le_bytes().to_vec());
    assert!(states.into_iter().eq(last));
    batches
}

#[test]
fn a_killed_process_loses_nothing_that_it_confirmed() {
    if let Some(path) = std::env::var_os(CHILD) {
        write_for_ever(Path::new(&path));
    }
    let kills = std::env::var(KILLS)
        .ok()
        .and_then(|kills| kills.parse().ok())
        .unwrap_or(if std::env::var_os("ANTHESISD_LONG").is_some() { 1_000 } else { 40_u64 });
    let mut confirmed_in_all = 0;
    let mut working = 0;
    let mut sealed = 0;
    let (mut directory, mut path) = place();
    for kill in 0..kills {
        // some are killed while they make the file, others with a long log behind them
        if kill % 10 == 0 {
            (directory, path) = place();
        }
        let before = if path.exists() { whole_batches(&path) } else { 0 };
        let said = run_and_kill(&path, Duration::from_micros(2_000 + (kill * 7_919) % 60_000));
        let after = whole_batches(&path);
        sealed += sheets(&path);
        let confirmed = said.confirmed.map_or(before, |number| number + 1);
        assert!(after >= confirmed, "kill {kill}: {confirmed} batches were confirmed, {after} are there");
        assert!(after <= confirmed + 1, "kill {kill}: {after} are there, {confirmed} were confirmed");
        if let Some(put) = said.put {
            let pending = Store::open(&path).unwrap().pending_entries().unwrap();
            let last = Ok(Entry::Acknowledge { ids: Some(vec![put.to_string()]), by: None });
            assert!(pending.iter().any(|(_, entry)| *entry == last), "kill {kill}: entry {put} is gone");
        }
        working += u64::from(said.confirmed.is_some());
        confirmed_in_all += after - before;
    }
    drop(directory);
    assert!(sealed > 0, "nothing was ever sealed");
    assert!(confirmed_in_all > 0, "no child ever came to write: nothing was tried");
    println!(
        "{kills} kills, {working} of them while writing, {confirmed_in_all} batches: 0 lost. That shows with 95 % \
         confidence a loss in fewer than {:.1} % of kills (3/n), and nothing about a power cut.",
        300.0 / working as f64
    );
}
