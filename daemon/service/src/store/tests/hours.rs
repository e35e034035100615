//! Summaries of hours: pictures from them and from the readings are the same, and one that is not what it should be is made anew.

use rusqlite::Connection;

use super::super::hour::{CALIBRATION, sum_of};
use super::super::{Chart, ChartPoint, Importer};
use super::*;

pub(super) const QUANTITIES: [Quantity; 3] = [Quantity::Temperature, Quantity::Humidity, Quantity::TipRange];
pub(super) const DAY_S: i64 = 86_400;
/// Midnight (UTC) before the night of the bloom, s from [`at`].
pub(super) const MIDNIGHT_S: i64 = -1_811_880_000 % DAY_S;

/// Days of noisy readings every two minutes with an afternoon's gap, a spike and a stray reading in it.
pub(super) fn days(count: i64) -> Vec<Recorded> {
    let mut rows = Vec::new();
    for round in 0..count * 720 {
        let second = MIDNIGHT_S + round * 120 + round % 7;
        if (900..960).contains(&round) {
            continue;
        }
        let course = (round as f64 / 720.0 * std::f64::consts::TAU).sin();
        let noise = ((round * 2_654_435_761) % 11 - 5) as f64;
        let spike = if round % 331 == 0 { 90.0 } else { 0.0 };
        let values = [
            ((2_400.0 + 400.0 * course).round() + noise) / 100.0,
            ((760.0 - 80.0 * course).round() + noise) / 10.0,
            (1_600.0 - (round / 20) as f64 + noise - spike) / 1_000.0,
        ];
        for (quantity, value) in QUANTITIES.into_iter().zip(values) {
            rows.push(measured("east-3", second, quantity, value, None));
        }
    }
    rows
}

pub(super) fn imported(path: &std::path::Path, rows: Vec<Recorded>) {
    let mut importer = Importer::open(path).unwrap();
    importer.import(rows).unwrap();
    importer.finish().unwrap();
}

pub(super) fn seal_all(store: &mut Store) {
    for _ in 0..10_000 {
        if !store.seal_step(at(1_000_000_000)).unwrap() {
            return;
        }
    }
    panic!("it has no end");
}

/// The chart by the readings alone.
pub(super) fn one_by_one(
    reader: &Reader,
    quantity: Quantity,
    span: (i64, i64),
    points: usize,
) -> Vec<ChartPoint> {
    let mut chart = Chart::new(at(span.0), at(span.1), points);
    reader.series("east-3", quantity, at(span.0), at(span.1), |time, value| chart.add(time, value)).unwrap();
    chart.points()
}

#[track_caller]
fn assert_both_ways(reader: &Reader) {
    for (from, until, points) in [
        (MIDNIGHT_S, MIDNIGHT_S + 9 * DAY_S - 1, 100),
        (MIDNIGHT_S + 12_345, MIDNIGHT_S + 5 * DAY_S + 777, 37),
        (MIDNIGHT_S - 3 * DAY_S, MIDNIGHT_S + 20 * DAY_S, 23),
        (MIDNIGHT_S, MIDNIGHT_S + DAY_S - 1, 24),
        (MIDNIGHT_S, MIDNIGHT_S + 2 * DAY_S, 1),
    ] {
        for quantity in QUANTITIES {
            let brief = reader.chart("east-3", quantity, at(from), at(until), points).unwrap();
            let whole = one_by_one(reader, quantity, (from, until), points);
            assert!(!whole.is_empty() && brief.len() == whole.len() && brief.len() <= points);
            for (brief, whole) in brief.iter().zip(&whole) {
                assert_eq!((brief.from, brief.readings), (whole.from, whole.readings));
                assert_eq!(brief.least.to_bits(), whole.least.to_bits(), "{brief:?} {whole:?}");
                assert_eq!(brief.greatest.to_bits(), whole.greatest.to_bits(), "{brief:?} {whole:?}");
                assert!((brief.mean - whole.mean).abs() < 0.006, "{brief:?} {whole:?}");
            }
        }
    }
}

/// Changes body, rules and sum of a summary, of the sheet with that sum.
type Change = fn(&mut Vec<u8>, &mut u32, &mut u32, u32);

/// Changes every summary in the file.
fn falsify(path: &std::path::Path, change: Change) {
    let conn = Connection::open(path).unwrap();
    let rows: Vec<(i64, u32, Vec<u8>)> = conn
        .prepare("SELECT id, sheet, body FROM hours")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    for (id, sheet, mut body) in rows {
        let mut calibration = *CALIBRATION;
        let mut sum = sum_of(&body, calibration, sheet);
        change(&mut body, &mut calibration, &mut sum, sheet);
        conn.execute(
            "UPDATE hours SET calibration = ?2, sum = ?3, body = ?4 WHERE id = ?1",
            rusqlite::params![id, calibration, sum, body],
        )
        .unwrap();
    }
}

#[test]
fn a_picture_from_the_hours_is_the_one_from_the_readings() {
    let (_directory, path) = place();
    imported(&path, days(9));
    let reader = Reader::open(&path).unwrap();
    assert_both_ways(&reader);
    assert!(reader.damaged_summaries().unwrap().is_empty());
    // a sound summary is what is read: without the sheets there is a picture still
    let conn = Connection::open(&path).unwrap();
    conn.execute("UPDATE sealed SET body = zeroblob(3)", []).unwrap();
    let span = (at(MIDNIGHT_S), at(MIDNIGHT_S + 9 * DAY_S));
    assert!(reader.chart("east-3", Quantity::Humidity, span.0, span.1, 100).unwrap().len() > 90);
    assert!(
        reader.chart("east-3", Quantity::Humidity, span.0, span.1, 1_000).is_err(),
        "an hour is too coarse"
    );
}

#[test]
fn what_came_late_for_a_day_in_brief_is_in_the_picture() {
    let (_directory, path) = place();
    imported(&path, days(9));
    let mut store = Store::open(&path).unwrap();
    let second = MIDNIGHT_S + 2 * DAY_S + 30_000;
    let late = [
        measured("east-3", second, Quantity::Temperature, -3.25, Some(1)),
        measured("east-3", MIDNIGHT_S + 2 * DAY_S + 1_440, Quantity::Humidity, 12.5, Some(2)),
    ];
    store.commit(&of_readings(late.to_vec())).unwrap();
    let reader = Reader::open(&path).unwrap();
    assert_both_ways(&reader);
    let least = |reader: &Reader| {
        let points = reader
            .chart("east-3", Quantity::Temperature, at(MIDNIGHT_S), at(MIDNIGHT_S + 9 * DAY_S), 50)
            .unwrap();
        points.iter().fold(f64::INFINITY, |least, point| least.min(point.least))
    };
    assert!((least(&reader) + 3.25).abs() < 1e-12);
    let states =
        vec![super::super::Checkpoint { bench: "east-3".into(), state: vec![1], version: 1, fed: 2 }];
    store.commit(&Batch { checkpoints: states, ..Batch::default() }).unwrap();
    seal_all(&mut store);
    assert_both_ways(&reader);
    assert!((least(&reader) + 3.25).abs() < 1e-12);
}

#[test]
fn a_summary_that_is_damaged_absent_or_of_other_rules_is_told_and_made_anew() {
    let changes: [(Change, &str); 3] = [
        (|body, _, _, _| body[7] ^= 0x20, "bytes"),
        (|_, _, sum, _| *sum ^= 1, "bytes"),
        (
            |body, calibration, sum, sheet| {
                *calibration ^= 1;
                *sum = sum_of(body, *calibration, sheet);
            },
            "other rules",
        ),
    ];
    let (_directory, path) = place();
    imported(&path, days(9));
    let mut store = Store::open(&path).unwrap();
    let reader = Reader::open(&path).unwrap();
    for (change, told) in changes {
        falsify(&path, change);
        let said = reader.damaged_summaries().unwrap();
        assert!(said.len() == 9 && said.iter().all(|said| said.contains(told)), "{said:?}");
        assert!(
            reader.integrity_check(Depth::Full).unwrap().is_empty(),
            "no reading is lost, and no backup is needed"
        );
        assert_both_ways(&reader);
        seal_all(&mut store);
        assert_eq!(reader.damaged_summaries().unwrap(), [""; 0]);
        assert_both_ways(&reader);
    }
    Connection::open(&path).unwrap().execute("DELETE FROM hours WHERE id % 2 = 0", []).unwrap();
    assert_both_ways(&reader);
    seal_all(&mut store);
    assert_eq!(super::seal::count(&path, "hours"), super::seal::sheets(&path));
    assert_both_ways(&reader);
}

#[test]
fn a_summary_of_another_sheet_is_told() {
    let (_directory, path) = place();
    imported(&path, days(3));
    let conn = Connection::open(&path).unwrap();
    conn.execute(
        "UPDATE hours SET (calibration, sheet, sum, body) = (SELECT calibration, sheet, sum, body FROM hours WHERE id = 1)
         WHERE id = 2",
        [],
    )
    .unwrap();
    let said = Reader::open(&path).unwrap().damaged_summaries().unwrap();
    assert!(said.len() == 1 && said[0].contains("east-3 on 2027-06-"), "{said:?}");
    seal_all(&mut Store::open(&path).unwrap());
    assert!(Reader::open(&path).unwrap().damaged_summaries().unwrap().is_empty());
}

#[test]
fn a_file_of_version_5_is_taken_up_and_its_days_get_their_summaries() {
    let (_directory, path) = place();
    let old = Connection::open(&path).unwrap();
    old.execute_batch(include_str!("../../../../../tests/reference/store/v5.sql")).unwrap();
    drop(old);
    let mut store = Store::open(&path).unwrap();
    let (_other, new) = place();
    assert_eq!(
        super::file::definitions(&store.conn),
        super::file::definitions(&Store::open(&new).unwrap().conn)
    );
    let reader = Reader::open(&path).unwrap();
    let all = recorded(&reader, "east-3", Which::Everything);
    assert_eq!(all.len(), 600);
    assert_eq!(all[0].observed, Observed::Value(Quantity::Temperature, 24.0));
    let picture = || {
        let span = (at(MIDNIGHT_S), at(MIDNIGHT_S + 3 * DAY_S));
        reader.chart("east-3", Quantity::TipRange, span.0, span.1, 20).unwrap()
    };
    let before = picture();
    assert_eq!(before.iter().map(|point| point.readings).sum::<u32>(), 200);
    seal_all(&mut store);
    assert_eq!(super::seal::count(&path, "hours"), 4);
    assert!(reader.integrity_check(Depth::Full).unwrap().is_empty());
    let after = picture();
    assert_eq!(before.len(), after.len());
    for (before, after) in before.iter().zip(&after) {
        assert_eq!((before.from, before.readings), (after.from, after.readings));
        assert_eq!(
            [before.least, before.greatest].map(f64::to_bits),
            [after.least, after.greatest].map(f64::to_bits)
        );
    }
}
