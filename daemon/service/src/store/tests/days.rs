//! Summaries of days: pictures of many days from them and from the readings are the same, and none is ever of other days than are there.

use rusqlite::Connection;

use super::super::Checkpoint;
use super::super::hour::{CALIBRATION, sum_of};
use super::hours::{DAY_S, MIDNIGHT_S, QUANTITIES, days, imported, one_by_one, seal_all};
use super::seal::count;
use super::*;

/// A stretch of 32 days (UTC) begins so many days after [`MIDNIGHT_S`]; the data begin within the one before.
const STRETCH_D: i64 = 22;
const DAYS: i64 = 100;

/// A hundred days of readings, and the summaries of the three stretches of them that are over.
fn hundred_days(path: &std::path::Path) -> (Store, Reader) {
    imported(path, days(DAYS));
    let mut store = Store::open(path).unwrap();
    seal_all(&mut store);
    assert_eq!(count(path, "days"), 3);
    (store, Reader::open(path).unwrap())
}

#[track_caller]
fn assert_both_ways(reader: &Reader) {
    for (from, until, points) in [
        (MIDNIGHT_S, MIDNIGHT_S + DAYS * DAY_S - 1, 20),
        (MIDNIGHT_S + 12_345, MIDNIGHT_S + 95 * DAY_S + 777, 31),
        (MIDNIGHT_S - 300 * DAY_S, MIDNIGHT_S + 200 * DAY_S, 100),
        (MIDNIGHT_S + STRETCH_D * DAY_S, MIDNIGHT_S + (STRETCH_D + 32) * DAY_S - 1, 1),
        (MIDNIGHT_S, MIDNIGHT_S + DAYS * DAY_S, 50),
    ] {
        for quantity in QUANTITIES {
            let brief = reader.chart("east-3", quantity, at(from), at(until), points).unwrap();
            let whole = one_by_one(reader, quantity, (from, until), points);
            assert!(!whole.is_empty() && brief.len() == whole.len() && brief.len() <= points);
            for (brief, whole) in brief.iter().zip(&whole) {
                assert_eq!((brief.from, brief.readings), (whole.from, whole.readings));
                assert_eq!(brief.least.to_bits(), whole.least.to_bits(), "{brief:?} {whole:?}");
                assert_eq!(brief.greatest.to_bits(), whole.greatest.to_bits(), "{brief:?} {whole:?}");
                // each of the two means on the way is to a tenth of the last decimal
                assert!((brief.mean - whole.mean).abs() < 0.011, "{brief:?} {whole:?}");
            }
        }
    }
}

fn least(reader: &Reader) -> f64 {
    let until = at(MIDNIGHT_S + DAYS * DAY_S);
    let points = reader.chart("east-3", Quantity::Temperature, at(MIDNIGHT_S), until, 20).unwrap();
    points.iter().fold(f64::INFINITY, |least, point| least.min(point.least))
}

#[test]
fn a_picture_of_many_days_is_the_one_from_the_readings() {
    let (_directory, path) = place();
    let (_store, reader) = hundred_days(&path);
    assert_both_ways(&reader);
    assert!(reader.damaged_summaries().unwrap().is_empty());
    // sound ones are what is read: without hours and sheets there is a picture still
    let before = reader.sheets_opened();
    let conn = Connection::open(&path).unwrap();
    conn.execute("DELETE FROM hours", []).unwrap();
    conn.execute("UPDATE sealed SET body = zeroblob(3)", []).unwrap();
    let ends = at(MIDNIGHT_S + (STRETCH_D + 64) * DAY_S);
    let span = (at(MIDNIGHT_S + STRETCH_D * DAY_S), Time::from_unix_ms(ends.unix_ms() - 1));
    assert_eq!(reader.chart("east-3", Quantity::Humidity, span.0, span.1, 20).unwrap().len(), 20);
    assert_eq!(reader.sheets_opened(), before);
    let finer = reader.chart("east-3", Quantity::Humidity, span.0, span.1, 30);
    assert!(finer.is_err(), "a day is too coarse where a point is two");
}

#[test]
fn what_came_late_is_in_the_picture_and_its_stretch_is_made_anew() {
    let (_directory, path) = place();
    let (mut store, reader) = hundred_days(&path);
    let late = measured("east-3", MIDNIGHT_S + 40 * DAY_S + 30_000, Quantity::Temperature, -3.25, Some(1));
    store.commit(&of_readings(vec![late])).unwrap();
    assert!((least(&reader) + 3.25).abs() < 1e-12, "among the rows");
    assert_both_ways(&reader);
    let states = vec![Checkpoint { bench: "east-3".into(), state: vec![1], version: 1, fed: 1 }];
    store.commit(&Batch { checkpoints: states, ..Batch::default() }).unwrap();
    for _ in 0..100 {
        if count(&path, "days") == 3 {
            store.seal_step(at(1_000_000_000)).unwrap();
        }
    }
    assert_eq!(count(&path, "days"), 2, "its day is sealed anew");
    assert!((least(&reader) + 3.25).abs() < 1e-12, "sealed, and its stretch without a summary");
    seal_all(&mut store);
    assert_eq!(count(&path, "days"), 3);
    assert!((least(&reader) + 3.25).abs() < 1e-12, "in the summary");
    assert_both_ways(&reader);
}

/// What is done to every summary in the file, and what is told of it.
type Change<'a> = (&'a dyn Fn(&Connection), &'a str);

fn changed(conn: &Connection, sql: &str) {
    assert_eq!(conn.execute(sql, []).unwrap(), 3, "{sql}");
}

#[test]
fn a_summary_that_is_damaged_moved_or_of_other_rules_is_told_and_made_anew() {
    let (_directory, path) = place();
    let (mut store, reader) = hundred_days(&path);
    let conn = Connection::open(&path).unwrap();
    let of_other_rules = |conn: &Connection| {
        let rows: Vec<(i64, u32, Vec<u8>)> = conn
            .prepare("SELECT stretch, place, body FROM days")
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        for (stretch, place, body) in rows {
            let calibration = *CALIBRATION ^ 1;
            conn.execute(
                "UPDATE days SET calibration = ?2, sum = ?3 WHERE stretch = ?1",
                rusqlite::params![stretch, calibration, sum_of(&body, calibration, place)],
            )
            .unwrap();
        }
    };
    let changes: [Change<'_>; 4] = [
        (&|conn| changed(conn, "UPDATE days SET sum = sum - 1"), "bytes"),
        (&|conn| changed(conn, "UPDATE days SET body = zeroblob(length(body))"), "bytes"),
        (&|conn| changed(conn, "UPDATE days SET stretch = stretch - 1"), "bytes"),
        (&of_other_rules, "other rules"),
    ];
    for (change, told) in changes {
        change(&conn);
        let said = reader.damaged_summaries().unwrap();
        assert!(said.len() == 3 && said.iter().all(|said| said.contains(told)), "{said:?}");
        assert!(said[0].contains("the days of east-3 from 2027-"), "{said:?}");
        assert!(reader.integrity_check(Depth::Full).unwrap().is_empty(), "no reading is lost");
        assert_both_ways(&reader);
        // what lies at a stretch of which there are no days is nobody's: it is told of and never read
        conn.execute("DELETE FROM days WHERE stretch NOT IN (SELECT day / 32 FROM sealed)", []).unwrap();
        seal_all(&mut store);
        assert_eq!(reader.damaged_summaries().unwrap(), [""; 0]);
        assert_eq!(count(&path, "days"), 3);
        assert_both_ways(&reader);
    }
}

#[test]
fn a_file_of_version_6_is_taken_up_and_its_stretch_gets_its_summary() {
    let (_directory, path) = place();
    let old = Connection::open(&path).unwrap();
    old.execute_batch(include_str!("../../../../../tests/reference/store/v6.sql")).unwrap();
    drop(old);
    let mut store = Store::open(&path).unwrap();
    let (_other, new) = place();
    let definitions = super::file::definitions;
    assert_eq!(definitions(&store.conn), definitions(&Store::open(&new).unwrap().conn));
    let reader = Reader::open(&path).unwrap();
    let all = recorded(&reader, "east-3", Which::Everything);
    // as it was imported: eight a day, each by this rule
    let values = (0..320).map(|n| (200 + n * 37 % 97 + n / 8) as f64 / 10.0);
    assert_eq!(all.len(), 320);
    for (row, value) in all.iter().zip(values) {
        assert!(
            matches!(row.observed, Observed::Value(Quantity::Temperature, known) if known.to_bits() == value.to_bits())
        );
    }
    let picture = || {
        let span = (Time::from_unix_ms(20_960 * DAY_S * 1_000), Time::from_unix_ms(21_000 * DAY_S * 1_000));
        reader.chart("east-3", Quantity::Temperature, span.0, span.1, 10).unwrap()
    };
    let before = picture();
    assert_eq!(before.iter().map(|point| point.readings).sum::<u32>(), 320);
    seal_all(&mut store);
    assert_eq!(count(&path, "days"), 1);
    assert!(reader.integrity_check(Depth::Full).unwrap().is_empty());
    for (before, after) in before.iter().zip(picture()) {
        assert_eq!((before.from, before.readings), (after.from, after.readings));
        assert_eq!(
            [before.least, before.greatest].map(f64::to_bits),
            [after.least, after.greatest].map(f64::to_bits)
        );
    }
}
