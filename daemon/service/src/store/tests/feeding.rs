//! What is not sealed yet is what was committed.

use rusqlite::Connection;

use super::*;
use crate::store::Checkpoint;
use crate::store::schema::{LADDER, migrate};

fn rows(from: i64, until: i64) -> Batch {
    let mut readings: Vec<_> = (from..until)
        .map(|n| measured("east-3", n, Quantity::Temperature, 27.3 + n as f64 / 64.0, Some(n as u64)))
        .collect();
    readings.push(signed("east-3", until, "scent", Some(until as u64)));
    // of the record only, and a zero below zero, which SQLite does not know
    readings.push(measured("east-4", until, Quantity::RimRange, 0.9, None));
    let state = Checkpoint { bench: "east-3".into(), state: Vec::new(), version: 1, fed: until as u64 };
    Batch { readings, checkpoints: vec![state], ..Batch::default() }
}

fn sound(store: &Store) -> bool {
    store.integrity_check(Depth::Quick).unwrap().is_empty()
}

#[test]
fn one_bit_of_a_row_that_is_not_sealed_shows() {
    let (_directory, path) = place_in_memory();
    let mut store = Store::open(&path).unwrap();
    store.commit(&rows(1, 20)).unwrap();
    let zero = measured("east-3", 30, Quantity::Temperature, -0.0, Some(21));
    store.commit(&of_readings(vec![zero])).unwrap();
    store.commit(&of_readings(vec![measured("east-3", 31, Quantity::Temperature, 24.31, Some(22))])).unwrap();
    // the same again changes nothing, and an import beside it neither
    store.commit(&of_readings(vec![measured("east-3", 3, Quantity::Temperature, 1.0, None)])).unwrap();
    assert!(sound(&store));
    let other = Connection::open(&path).unwrap();
    let change = |sql: &str| assert_eq!(other.execute(sql, []).unwrap(), 1, "{sql}");
    let value: i64 =
        other.query_row("SELECT value FROM reading WHERE fed = 22", [], |row| row.get(0)).unwrap();
    for bit in 0..63 {
        other.execute("UPDATE reading SET value = ?1 WHERE fed = 22", [value ^ (1 << bit)]).unwrap();
        assert!(!sound(&store), "bit {bit}");
    }
    for bit in 0..52 {
        let changed = f64::from_bits(24.31_f64.to_bits() ^ (1 << bit));
        other.execute("UPDATE reading SET value = ?1 WHERE fed = 22", [changed]).unwrap();
        assert!(!sound(&store), "bit {bit}");
    }
    other.execute("UPDATE reading SET value = ?1 WHERE fed = 22", [value]).unwrap();
    assert!(sound(&store));
    for (spoil, mend) in [
        (
            "UPDATE reading SET time_ms = time_ms + 1 WHERE fed = 7",
            "UPDATE reading SET time_ms = time_ms - 1 WHERE fed = 7",
        ),
        ("UPDATE reading SET fed = 1031 WHERE fed = 7", "UPDATE reading SET fed = 7 WHERE fed = 1031"),
        ("UPDATE booked SET what = 'flies'", "UPDATE booked SET what = 'scent'"),
        ("UPDATE booked SET bench = 'east-2'", "UPDATE booked SET bench = 'east-3'"),
        (
            "UPDATE feeding SET sum = sum + 1 WHERE last_fed = 20",
            "UPDATE feeding SET sum = sum - 1 WHERE last_fed = 20",
        ),
    ] {
        change(spoil);
        assert!(!sound(&store), "{spoil}");
        change(mend);
        assert!(sound(&store), "{mend}");
    }
    change("DELETE FROM reading WHERE fed = 12");
    assert_eq!(
        store.integrity_check(Depth::Quick).unwrap(),
        ["readings 1 to 20 are not those that were committed"]
    );
}

#[test]
fn what_is_being_sealed_and_what_is_sealed_is_no_fault() {
    let (_directory, path) = place_in_memory();
    let mut store = Store::open(&path).unwrap();
    store.commit(&rows(1, 200)).unwrap();
    for round in 0..20 {
        let from = 1_000 * (round + 1);
        assert!(sound(&store));
        if round % 3 == 0 {
            store.commit(&rows(from, from + 50)).unwrap();
        }
        let _ = store.seal_step(at(30 * 86_400)).unwrap();
        assert_eq!(store.integrity_check(Depth::Full).unwrap(), [""; 0], "round {round}");
    }
}

#[test]
fn commits_of_an_earlier_version_have_no_sum_and_are_no_faults() {
    let (_directory, path) = place();
    let mut old = Connection::open(&path).unwrap();
    migrate(&path, &mut old, &LADDER[..4]).unwrap();
    old.execute_batch(
        "INSERT INTO series VALUES (1, 'east-3', 'temperature');
         INSERT INTO reading VALUES (1811880000000, 1, 27.3, 1);
         INSERT INTO feeding VALUES (1, 1811880000000, 1811880000000);",
    )
    .unwrap();
    drop(old);
    let mut store = Store::open(&path).unwrap();
    assert!(sound(&store));
    store.commit(&rows(2, 9)).unwrap();
    assert!(sound(&store));
    store.conn.execute("UPDATE reading SET value = 27.25 WHERE fed = 5", []).unwrap();
    assert!(!sound(&store));
}
