//! Sealed or not: the record is the same.

use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::Connection;

use super::*;
use crate::store::{Checkpoint, Importer};

/// How many sheets there are.
pub(super) fn sheets(path: &Path) -> u64 {
    count(path, "sealed")
}

/// How many rows there are.
pub(super) fn rows(path: &Path) -> u64 {
    ["reading", "reading_other", "reading_undated"].into_iter().map(|table| count(path, table)).sum()
}

/// Seals all that can be sealed, as of the end of the month: what is closed, and then what was filled meanwhile.
pub(super) fn seal(store: &mut Store) {
    for _ in 0..2 {
        while store.seal_step(at(30 * 86_400)).unwrap() {}
    }
}

pub(super) fn count(path: &Path, table: &str) -> u64 {
    let conn = Connection::open(path).unwrap();
    conn.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get::<_, u32>(0)).unwrap().into()
}

/// A batch whose checkpoint counts every reading up to that running number.
pub(super) fn counting(readings: Vec<Recorded>, fed: u64) -> Batch {
    let state = Checkpoint { bench: "east-3".into(), state: Vec::new(), version: 1, fed };
    Batch { readings, checkpoints: vec![state], ..Batch::default() }
}

/// What anybody reads of a bench: time, what, and who booked it.
fn said(reader: &Reader, bench: &str) -> Vec<(Time, String)> {
    let mut all: Vec<_> = recorded(reader, bench, Which::Everything)
        .into_iter()
        .map(|row| (row.time, format!("{:?} {:?}", row.observed, row.by)))
        .collect();
    assert!(all.is_sorted_by_key(|(time, _)| *time));
    all.sort();
    all
}

pub(super) fn series(reader: &Reader, bench: &str, quantity: Quantity) -> Vec<(Time, u64)> {
    let mut all = Vec::new();
    reader
        .series(bench, quantity, at(-1_000_000_000), at(1_000_000_000), |time, value| {
            all.push((time, value.to_bits()))
        })
        .unwrap();
    all
}

/// A small generator, so that every run tries the same.
struct Dice(u64);

impl Dice {
    fn below(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}

#[test]
fn late_repeated_and_disordered_readings_are_told_once_and_in_order_whenever_they_are_sealed() {
    for seed in 0..40 {
        let mut dice = Dice(seed);
        let (_directory, path) = place();
        let mut store = Store::open(&path).unwrap();
        let reader = Reader::open(&path).unwrap();
        let mut truth: BTreeMap<(&str, Quantity, Time), (f64, bool)> = BTreeMap::new();
        let mut fed = 0;
        for round in 0..30 {
            let mut readings = Vec::new();
            for _ in 0..dice.below(60) {
                // three days, mostly near the present, some of long ago, and often of an instant that was there before
                let seconds =
                    if dice.below(4) == 0 { dice.below(259_200) } else { round * 8_640 + dice.below(500) };
                let seconds = seconds as i64 / 50 * 50;
                let bench = ["east-3", "west-1"][dice.below(2) as usize];
                let quantity = [Quantity::Temperature, Quantity::TipRange][dice.below(2) as usize];
                let value =
                    dice.below(10_000) as f64 / 100.0 + if dice.below(9) == 0 { 1.0 / 3.0 } else { 0.0 };
                let taken = dice.below(3) > 0;
                fed += u64::from(taken);
                readings.push(measured(bench, seconds, quantity, value, taken.then_some(fed)));
                let was = truth.entry((bench, quantity, at(seconds))).or_insert((value, taken));
                if taken && !was.1 {
                    *was = (value, true);
                }
            }
            if dice.below(3) == 0 {
                store.commit(&of_readings(readings)).unwrap();
            } else {
                store.commit(&counting(readings, fed.saturating_sub(dice.below(20)))).unwrap();
            }
            for _ in 0..dice.below(7) {
                store.seal_step(at(300_000)).unwrap();
            }
            for bench in ["east-3", "west-1"] {
                let mut all = Vec::new();
                for quantity in [Quantity::Temperature, Quantity::TipRange] {
                    let expected: Vec<_> = truth
                        .iter()
                        .filter(|((of, what, _), _)| *of == bench && *what == quantity)
                        .map(|((_, _, time), (value, _))| (*time, value.to_bits()))
                        .collect();
                    assert_eq!(series(&reader, bench, quantity), expected, "seed {seed}, round {round}");
                    all.extend(expected.into_iter().map(|(time, bits)| {
                        (time, format!("{:?} None", Observed::Value(quantity, f64::from_bits(bits))))
                    }));
                }
                all.sort();
                assert_eq!(said(&reader, bench), all, "seed {seed}, round {round}");
            }
        }
        store.commit(&counting(Vec::new(), fed)).unwrap();
        seal(&mut store);
        assert_eq!(rows(&path), 0);
        assert_eq!(recorded(&reader, "east-3", Which::Signs), []);
        let all = said(&reader, "west-1");
        assert_eq!(all.len(), truth.keys().filter(|(bench, ..)| *bench == "west-1").count());
        assert_eq!(store.integrity_check(Depth::Full).unwrap(), [""; 0]);
    }
}

#[test]
fn a_part_of_a_sealed_day_is_read_to_its_ends() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let rows = (0..500).map(|n| measured("east-3", n * 600, Quantity::TipRange, n as f64, None));
    store.commit(&of_readings(rows.collect())).unwrap();
    seal(&mut store);
    let reader = Reader::open(&path).unwrap();
    for (from, until) in
        [(0, 0), (599, 601), (100_000, 200_000), (299_400, 299_400), (-50, -1), (86_000, 90_000)]
    {
        let expected: Vec<_> =
            (0..500).filter(|n| (from..=until).contains(&(n * 600))).map(|n| at(n * 600)).collect();
        let mut told = Vec::new();
        reader.series("east-3", Quantity::TipRange, at(from), at(until), |time, _| told.push(time)).unwrap();
        assert_eq!(told, expected);
        let mut told = Vec::new();
        reader.readings("east-3", Which::Everything, at(from), at(until), |row| told.push(row.time)).unwrap();
        assert_eq!(told, expected);
        let chart = reader.chart("east-3", Quantity::TipRange, at(from), at(until), 7).unwrap();
        assert_eq!(chart.iter().map(|point| point.readings as usize).sum::<usize>(), expected.len());
    }
}

#[test]
fn only_what_a_checkpoint_counts_is_sealed_and_a_restart_is_told_the_rest() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let row = |n: u64| measured("east-3", n as i64, Quantity::TipRange, n as f64, Some(n));
    store.commit(&counting((1..=60).map(row).collect(), 59)).unwrap();
    assert!(!store.seal_step(at(1_000)).unwrap(), "one is not counted");
    assert_eq!((rows(&path), sheets(&path)), (60, 0));
    store.commit(&counting(Vec::new(), 60)).unwrap();
    assert!(store.seal_step(at(1_000)).unwrap(), "the tables took turns");
    // what comes while the others are sealed is for the next turn
    store.commit(&of_readings((61..=100).map(row).collect())).unwrap();
    seal(&mut store);
    assert_eq!((rows(&path), sheets(&path)), (40, 1));
    let told: Vec<_> = replayed(&store, 60)
        .into_iter()
        .map(|item| match item {
            Replayed::Fed { fed, time, .. } => (fed, time),
            Replayed::Raised { .. } => panic!("no event was raised"),
        })
        .collect();
    assert_eq!(told, (61..=100).map(|n| (n, at(n as i64))).collect::<Vec<_>>());
    // a number that was confirmed is not given again, though its row is sealed and its note forgotten
    drop(store);
    let mut store = Store::open(&path).unwrap();
    assert_eq!(store.newest_fed().unwrap(), 100);
    store.commit(&counting(Vec::new(), 100)).unwrap();
    seal(&mut store);
    assert_eq!(store.newest_fed().unwrap(), 100);
    assert_eq!((count(&path, "feeding"), rows(&path)), (1, 0));
}

#[test]
fn a_state_that_must_be_reckoned_anew_is_told_sealed_days_in_the_order_of_time() {
    let (_directory, path) = place();
    let (_other, never_sealed) = place();
    let mut told = [&never_sealed, &path].map(|path| {
        let mut store = Store::open(path).unwrap();
        let mut fed = 0;
        for n in 0..300 {
            let mut readings = Vec::new();
            for bench in ["east-3", "west-1"] {
                fed += 1;
                readings.push(measured(bench, n * 1_000, Quantity::TipRange, n as f64, Some(fed)));
                readings.push(measured(bench, n * 1_000, Quantity::RimRange, 0.7, None));
            }
            if n % 50 == 10 {
                fed += 1;
                readings.push(signed("east-3", n * 1_000 + 5, "scent", Some(fed)));
            }
            let events = vec![raised(&format!("event-{n}"), n * 1_000 + 7, fed)];
            store.commit(&Batch { events, ..counting(readings, fed) }).unwrap();
            if n == 220 && path != &never_sealed {
                seal(&mut store);
            }
        }
        replayed(&store, 0)
    });
    assert!(sheets(&path) > 4 && rows(&path) > 10);
    let (was, now) = (std::mem::take(&mut told[0]), std::mem::take(&mut told[1]));
    // the running number of a sealed reading is that of its bench and day
    let seen = |item: &Replayed| match item {
        Replayed::Fed { bench, time, observed, .. } => (bench.to_string(), *time, format!("{observed:?}")),
        Replayed::Raised { id, time } => (id.clone(), *time, String::new()),
    };
    let times = |items: &[Replayed]| items.iter().map(|item| seen(item).1).collect::<Vec<_>>();
    assert!(times(&now).is_sorted());
    let sorted = |items: &[Replayed]| {
        let mut all: Vec<_> = items.iter().map(seen).collect();
        all.sort();
        all
    };
    assert_eq!(sorted(&now), sorted(&was));
}

#[test]
fn a_sealing_into_which_another_process_wrote_is_put_off() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let reader = Reader::open(&path).unwrap();
    let row = |n: i64| measured("east-3", n, Quantity::TipRange, n as f64, None);
    store.commit(&of_readings((0..10).map(row).collect())).unwrap();
    for step in ["the tables took turns", "gathered", "packed"] {
        assert!(store.seal_step(at(1_000)).unwrap(), "{step}");
    }
    // its own commits go to the other table, though the readings are the same
    store
        .commit(&of_readings(vec![row(15), measured("east-3", 5, Quantity::TipRange, 0.5, Some(1))]))
        .unwrap();
    let mut importer = Importer::open(&path).unwrap();
    importer.import((20..30).map(row).collect()).unwrap();
    importer.finish().unwrap();
    assert!(!store.seal_step(at(1_000)).unwrap());
    assert_eq!((rows(&path), sheets(&path)), (12, 1));
    let values = series(&reader, "east-3", Quantity::TipRange);
    assert_eq!(values.len(), 21);
    assert_eq!(values[5].1, 0.5_f64.to_bits(), "the model took that one, and it came first to the model");
    seal(&mut store);
    assert_eq!(rows(&path), 2, "what no checkpoint counts");
    assert_eq!(series(&reader, "east-3", Quantity::TipRange), values);
    store.commit(&counting(Vec::new(), 1)).unwrap();
    seal(&mut store);
    assert_eq!(rows(&path), 0);
    assert_eq!(series(&reader, "east-3", Quantity::TipRange), values);
}

#[test]
fn a_closed_table_of_many_days_is_sealed_slice_by_slice() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let row = |n: i64| measured("east-3", n * 5, Quantity::TipRange, (n % 977) as f64 / 8.0, None);
    store.commit(&of_readings((0..120_000).map(row).collect())).unwrap();
    let reader = Reader::open(&path).unwrap();
    let before = series(&reader, "east-3", Quantity::TipRange);
    let mut left = Vec::new();
    while store.seal_step(at(30 * 86_400)).unwrap() {
        left.push(rows(&path));
        assert_eq!(series(&reader, "east-3", Quantity::TipRange).len(), before.len());
    }
    left.dedup();
    assert!(left.len() >= 6 && left.is_sorted_by(|a, b| a > b), "{left:?}");
    assert_eq!((rows(&path), sheets(&path)), (0, 8));
    assert_eq!(series(&reader, "east-3", Quantity::TipRange), before);
}

#[test]
fn what_a_clock_that_was_not_set_stamped_is_not_sealed_and_not_lost() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let mut readings = vec![measured("east-3", 0, Quantity::TipRange, 0.9, None)];
    for ms in [0, 5_000, 86_400_000] {
        readings.push(Recorded { time: Time::from_unix_ms(ms), ..readings[0].clone() });
    }
    // nor what a clock stamped that was set to a year to come
    readings.push(measured("east-3", 300 * 86_400, Quantity::TipRange, 0.9, None));
    store.commit(&of_readings(readings.clone())).unwrap();
    seal(&mut store);
    assert_eq!((rows(&path), sheets(&path)), (4, 1));
    seal(&mut store);
    assert_eq!(count(&path, "reading_undated"), 4);
    let reader = Reader::open(&path).unwrap();
    let mut times = Vec::new();
    reader
        .series("east-3", Quantity::TipRange, Time::from_unix_ms(0), at(1_000_000_000), |time, _| {
            times.push(time)
        })
        .unwrap();
    readings.sort_by_key(|row| row.time);
    assert_eq!(times, readings.iter().map(|row| row.time).collect::<Vec<_>>());
}

#[test]
fn a_rotten_sheet_is_named_and_the_others_are_read() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    for bench in ["east-3", "west-1"] {
        let rows = (0..100).map(|n| measured(bench, n, Quantity::TipRange, n as f64, None));
        store.commit(&of_readings(rows.collect())).unwrap();
    }
    seal(&mut store);
    Connection::open(&path)
        .unwrap()
        .execute("UPDATE sealed SET body = CAST(x'00' || body AS BLOB) WHERE bench = 'west-1'", [])
        .unwrap();
    let reader = Reader::open(&path).unwrap();
    let faults = reader.integrity_check(Depth::Full).unwrap();
    assert_eq!(faults.len(), 1);
    assert!(faults[0].contains("west-1 on 2027-06-01"), "{faults:?}");
    let refused = reader.readings("west-1", Which::Everything, at(0), at(100), |_| ()).unwrap_err();
    assert!(refused.to_string().contains("damaged"), "{refused}");
    assert_eq!(series(&reader, "east-3", Quantity::TipRange).len(), 100);
}

#[test]
fn space_of_what_was_sealed_is_used_again() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let mut pages = Vec::new();
    let mut fed = 0;
    for hour in 0..40 {
        let mut readings = Vec::new();
        for n in 0..1_200 {
            fed += 1;
            let value = (n * 7_919 % 1_000) as f64 / 1_000.0;
            readings.push(measured("east-3", hour * 3_600 + n * 3, Quantity::TipRange, value, Some(fed)));
        }
        store.commit(&counting(readings, fed)).unwrap();
        seal(&mut store);
        pages.push(store.conn.query_row("PRAGMA page_count", [], |row| row.get::<_, i64>(0)).unwrap());
    }
    // 38 hours later: 45,600 readings more in the space of their sheets
    assert!(pages[39] - pages[2] <= 25, "{pages:?}");
}
