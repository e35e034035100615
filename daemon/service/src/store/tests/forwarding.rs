//! What was forwarded, and what came behind it: nothing is passed over, whatever comes when.

use std::collections::BTreeSet;

use super::*;
use crate::store::{Forwarded, Importer, Late};

const ELSEWHERE: &str = "http://127.0.0.1:8086 organization \"glasshouse\" bucket \"benches\"";

fn forwarded(until: Option<Time>, late: Vec<Late>) -> Batch {
    Batch { forwarded: Forwarded { until, late }, ..Batch::default() }
}

fn spans(reader: &Reader) -> Vec<(String, Time, Time)> {
    let late = reader.late(100).unwrap();
    late.into_iter().map(|late| (late.bench.to_string(), late.from, late.until)).collect()
}

fn warm(bench: &str, seconds: i64) -> Recorded {
    measured(bench, seconds, Quantity::Temperature, 27.3, None)
}

#[test]
fn what_comes_behind_the_newest_is_noted_and_nothing_else() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let reader = Reader::open(&path).unwrap();
    store.commit(&of_readings(vec![warm("east-3", 0), warm("east-4", 60)])).unwrap();
    assert_eq!(reader.forwarding().unwrap(), None, "nobody asked for it");
    store.forward_to(ELSEWHERE).unwrap();
    let state = reader.forwarding().unwrap().unwrap();
    assert_eq!(state.newest, at(60));
    assert!(state.sent_until < at(-1_000_000), "the whole record waits");
    assert_eq!(reader.first_after(state.sent_until).unwrap(), Some(at(0)));

    // a batch becomes visible at once: only what is behind those before it is late
    store.commit(&of_readings(vec![warm("east-3", 120), warm("east-4", 90)])).unwrap();
    assert_eq!((spans(&reader), reader.forwarding().unwrap().unwrap().newest), (vec![], at(120)));
    store.commit(&of_readings(vec![warm("east-3", 30), warm("east-3", 50), warm("east-3", -7200)])).unwrap();
    let two = [("east-3".to_owned(), at(-7200), at(-7200)), ("east-3".to_owned(), at(30), at(50))];
    assert_eq!(spans(&reader), two);
    // what was there already is no news
    store.commit(&of_readings(vec![warm("east-4", 60)])).unwrap();
    assert_eq!(spans(&reader), two);
    // an import and what people book come late by nature
    let mut importer = Importer::open(&path).unwrap();
    importer.import(vec![warm("west-1", 10)]).unwrap();
    importer.finish().unwrap();
    store.commit(&of_readings(vec![signed("west-1", 20, "scent", None)])).unwrap();
    assert_eq!(spans(&reader).last(), Some(&("west-1".to_owned(), at(10), at(20))));
    let before = reader.late(100).unwrap();
    importer.import(vec![warm("west-1", 10)]).unwrap();
    importer.finish().unwrap();
    assert_eq!(reader.late(100).unwrap(), before, "the same recording again is no news");
}

#[test]
fn a_span_that_grew_while_it_was_sent_is_sent_again() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let reader = Reader::open(&path).unwrap();
    store.commit(&of_readings(vec![warm("east-3", 1000)])).unwrap();
    store.forward_to(ELSEWHERE).unwrap();
    store.commit(&of_readings(vec![warm("east-3", 10), warm("east-3", 30)])).unwrap();
    let sent = reader.late(100).unwrap();
    store.commit(&of_readings(vec![warm("east-3", 20)])).unwrap();
    store.commit(&forwarded(Some(at(1000)), sent)).unwrap();
    assert_eq!(spans(&reader), [("east-3".to_owned(), at(10), at(30))]);
    store.commit(&forwarded(None, reader.late(100).unwrap())).unwrap();
    assert_eq!(spans(&reader), []);
    assert_eq!(reader.forwarding().unwrap().unwrap().sent_until, at(1000));
    store.commit(&forwarded(Some(at(5)), Vec::new())).unwrap();
    assert_eq!(reader.forwarding().unwrap().unwrap().sent_until, at(1000), "it never goes back");
}

#[test]
fn the_same_destination_goes_on_and_another_gets_everything() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    store.forward_to(ELSEWHERE).unwrap();
    store.commit(&of_readings(vec![warm("east-3", 10), warm("east-3", 0)])).unwrap();
    store.commit(&forwarded(Some(at(10)), Vec::new())).unwrap();
    store.commit(&of_readings(vec![warm("east-4", 0)])).unwrap();
    let reader = Reader::open(&path).unwrap();
    store.forward_to(ELSEWHERE).unwrap();
    assert_eq!(reader.forwarding().unwrap().unwrap().sent_until, at(10));
    assert_eq!(reader.late(100).unwrap().len(), 1);
    store.forward_to("http://other:8086").unwrap();
    assert!(reader.forwarding().unwrap().unwrap().sent_until < at(0));
    assert_eq!(reader.late(100).unwrap(), [], "it comes with the whole");
}

#[test]
fn what_is_sealed_waits_as_what_is_not() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let reader = Reader::open(&path).unwrap();
    store.commit(&of_readings((0..100).map(|place| warm("east-3", place * 10)).collect())).unwrap();
    for _ in 0..2 {
        while store.seal_step(at(1_000_000)).unwrap() {}
    }
    assert_eq!(store.conn.query_row("SELECT count(*) FROM reading", [], |row| row.get(0)), Ok(0));
    store.forward_to(ELSEWHERE).unwrap();
    let state = reader.forwarding().unwrap().unwrap();
    assert!(state.newest >= at(990));
    // it may say too early an instant, never too late a one, and goes on
    let first = reader.first_after(state.sent_until).unwrap().unwrap();
    assert!(first > at(-86_400) && first <= at(0));
    assert_eq!(reader.first_after(at(500)).unwrap(), Some(at(500) + chrono::TimeDelta::milliseconds(1)));
    assert_eq!(reader.first_after(state.newest).unwrap(), None);
    store.commit(&of_readings(vec![warm("east-3", 505)])).unwrap();
    assert_eq!(spans(&reader), [("east-3".to_owned(), at(505), at(505))]);
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(24))]

    /// Commits of any times, and a forwarder that asks, reads and reports with commits in between: all of it is sent.
    #[test]
    fn nothing_is_passed_over(
        rounds in proptest::collection::vec(
            (proptest::collection::vec((0..3_usize, 0..20_000_i64), 1..6), 0..4_usize),
            1..12,
        ),
    ) {
        let benches = ["east-3", "east-4", "west-1"];
        let (_directory, path) = place();
        let mut store = Store::open(&path).unwrap();
        store.forward_to(ELSEWHERE).unwrap();
        let reader = Reader::open(&path).unwrap();
        let mut sent = BTreeSet::new();
        let read = |sent: &mut BTreeSet<(String, i64)>, bench: &str, from: Time, until: Time| {
            reader.readings(bench, Which::Everything, from, until, |row| {
                sent.insert((row.bench.to_string(), row.time.unix_ms()));
            }).unwrap();
        };
        // what the forwarder asked for before a commit, and acts on after it
        let mut asked = None;
        for (readings, act) in rounds.iter().chain([&(Vec::new(), 0), &(Vec::new(), 1), &(Vec::new(), 2)]) {
            if *act == 0 {
                asked = Some((reader.forwarding().unwrap().unwrap(), reader.late(100).unwrap()));
            }
            let rows = readings.iter().map(|(bench, seconds)| warm(benches[*bench], *seconds)).collect();
            store.commit(&of_readings(rows)).unwrap();
            if *act == 1 && let Some((state, late)) = &asked {
                for bench in benches {
                    read(&mut sent, bench, state.sent_until + chrono::TimeDelta::milliseconds(1), state.newest);
                }
                for late in late.iter().filter(|late| late.from <= state.sent_until) {
                    read(&mut sent, &late.bench, late.from, late.until);
                }
            }
            if *act == 2 && let Some((state, late)) = asked.take() {
                for bench in benches {
                    read(&mut sent, bench, state.sent_until + chrono::TimeDelta::milliseconds(1), state.newest);
                }
                for late in late.iter().filter(|late| late.from <= state.sent_until) {
                    read(&mut sent, &late.bench, late.from, late.until);
                }
                store.commit(&forwarded(Some(state.newest), late)).unwrap();
            }
        }
        let mut held = BTreeSet::new();
        for bench in benches {
            read(&mut held, bench, at(-1_000_000_000), at(1_000_000_000));
        }
        let left: Vec<_> = held.difference(&sent).collect();
        proptest::prop_assert!(left.is_empty(), "{left:?}");
    }
}
