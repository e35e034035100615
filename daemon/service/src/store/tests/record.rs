//! Readings, signs, events, checkpoints; what is told again after a restart.

use super::*;
use crate::store::{
    Checkpoint, Entry, EventFilter, Imported, Importer, MAX_PENDING_ENTRIES, Retells, StoreError, Whose,
};

#[test]
fn the_first_reading_of_a_bench_quantity_and_time_wins() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let first = measured("east-3", 0, Quantity::TipRange, 0.914, Some(1));
    let committed = store.commit(&of_readings(vec![first.clone()])).unwrap();
    assert_eq!(committed.known_readings, [0usize; 0]);

    let again = store
        .commit(&of_readings(vec![
            measured("east-3", 0, Quantity::TipRange, 0.5, Some(2)),
            measured("east-3", 0, Quantity::RimRange, 0.8, Some(3)),
            measured("east-4", 0, Quantity::TipRange, 0.7, Some(4)),
            measured("east-3", 0, Quantity::TipRange, 0.6, None),
            signed("east-3", 0, "scent", Some(5)),
            signed("east-3", 0, "scent", Some(6)),
            signed("east-3", 0, "withdrawn scent", Some(7)),
        ]))
        .unwrap();
    assert_eq!(again.known_readings, [0, 3, 5]);
    assert_eq!(store.newest_fed().unwrap(), 7);

    let reader = Reader::open(&path).unwrap();
    assert_eq!(recorded(&reader, "east-3", Which::Quantity(Quantity::TipRange)), [first]);
    assert_eq!(recorded(&reader, "east-3", Which::Signs).len(), 2);
    assert_eq!(recorded(&reader, "east-3", Which::Everything).len(), 4);
    let tip = |value| Observed::Value(Quantity::TipRange, value);
    assert!(store.was_fed("east-3", at(0), tip(9.9)).unwrap());
    assert!(!store.was_fed("east-3", at(1), tip(0.914)).unwrap());
    assert!(!store.was_fed("west-1", at(0), tip(0.914)).unwrap());
    assert!(store.was_fed("east-3", at(0), Observed::Sign("scent".parse().unwrap())).unwrap());
    assert!(!store.was_fed("east-3", at(0), Observed::Sign("flies".parse().unwrap())).unwrap());
    store.commit(&of_readings(vec![signed("east-3", 0, "flies", None)])).unwrap();
    assert!(!store.was_fed("east-3", at(0), Observed::Sign("flies".parse().unwrap())).unwrap());
}

#[test]
fn notes_signs_and_values_come_back_bit_for_bit_in_the_order_of_time() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let mut taped = measured("east-3", 20, Quantity::Height, 1.32, Some(3));
    taped.note = Some("with the long tape".to_owned());
    taped.by = Some("Ida".to_owned());
    let moved = signed("east-3", 30, "mount-moved tip=3.1 rim=0.95", Some(4));
    let rows = vec![
        measured("east-3", 10, Quantity::Temperature, 0.1 + 0.2, Some(1)),
        measured("east-3", 40, Quantity::Humidity, 100.0, Some(2)),
        taped,
        moved,
        measured("east-3", 5, Quantity::SpadixTemperature, -0.0, None),
    ];
    store.commit(&of_readings(rows.clone())).unwrap();
    let reader = Reader::open(&path).unwrap();
    let mut expected = rows;
    expected.sort_by_key(|row| row.time);
    let all = recorded(&reader, "east-3", Which::Everything);
    assert_eq!(all, expected);
    // a bench that is in no configuration stays readable
    assert_eq!(reader.benches().unwrap().iter().map(|id| &**id).collect::<Vec<_>>(), ["east-3"]);
    let mut few = Vec::new();
    reader.readings("east-3", Which::Everything, at(10), at(20), |row| few.push(row.time)).unwrap();
    assert_eq!(few, [at(10), at(20)], "both ends are included");
}

#[test]
fn a_replay_tells_what_was_fed_in_the_order_in_which_it_was_fed() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let fed = |row: &Recorded| Replayed::Fed {
        fed: row.fed.unwrap(),
        bench: row.bench.clone(),
        time: row.time,
        observed: row.observed,
    };
    let mark = |event: &StoredEvent| Replayed::Raised { id: event.id.clone(), time: event.time };
    // benches whose clocks disagree, a tape booked a day late, a sign of last week, records of an import in between
    let r1 = measured("east-3", 100, Quantity::TipRange, 0.9, Some(1));
    let r2 = measured("west-1", 40, Quantity::TipRange, 0.8, Some(2));
    let r3 = measured("east-3", -86_400, Quantity::Height, 1.2, Some(3));
    let r4 = measured("east-3", 110, Quantity::TipRange, 0.91, Some(4));
    let r5 = signed("east-3", -600_000, "bract-dropped", Some(5));
    let r6 = measured("west-1", -5_000, Quantity::Humidity, 70.0, Some(6));
    let r7 = measured("east-3", 120, Quantity::TipRange, 0.92, Some(7));
    let (e0, e2, e5) = (raised("a", 99, 0), raised("b", 100, 2), raised("c", 110, 5));
    let e5_later = raised("d", 105, 5);
    store
        .commit(&Batch {
            readings: vec![
                r2.clone(),
                measured("east-3", 90, Quantity::TipRange, 0.7, None),
                r1.clone(),
                r3.clone(),
            ],
            events: vec![e0.clone(), e2.clone()],
            ..Batch::default()
        })
        .unwrap();
    let mut importer = Importer::open(&path).unwrap();
    importer
        .import((0..200).map(|s| measured("east-3", s, Quantity::Temperature, 27.0, None)).collect())
        .unwrap();
    importer.finish().unwrap();
    store
        .commit(&Batch {
            readings: vec![r4.clone(), r5.clone()],
            events: vec![e5.clone()],
            ..Batch::default()
        })
        .unwrap();
    // in a commit of its own, after the reading it follows
    store.commit(&Batch { events: vec![e5_later.clone()], ..Batch::default() }).unwrap();
    store.commit(&of_readings(vec![r7.clone(), r6.clone()])).unwrap();

    let whole = [
        mark(&e0),
        fed(&r1),
        fed(&r2),
        mark(&e2),
        fed(&r3),
        fed(&r4),
        fed(&r5),
        mark(&e5),
        mark(&e5_later),
        fed(&r6),
        fed(&r7),
    ];
    assert_eq!(replayed(&store, 0), whole);
    drop(store);
    let store = Store::open(&path).unwrap();
    assert_eq!(replayed(&store, 2), whole[3..], "an event raised right after the number is told again");
    assert_eq!(replayed(&store, 4), whole[6..]);
    assert_eq!(replayed(&store, 5), whole[7..]);
    assert_eq!(replayed(&store, 7), []);
}

#[test]
fn a_replay_of_many_portions_keeps_the_order() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    // two clocks an hour apart, 260,000 readings in uneven commits, with a commit of a sign alone now and then
    let mut fed = 0;
    let mut told = Vec::new();
    while fed < 260_000 {
        let mut readings = Vec::new();
        for _ in 0..(7_000 + fed % 900) {
            fed += 1;
            let (bench, shift) = if fed % 2 == 0 { ("east-3", 0) } else { ("west-1", -3_600) };
            readings.push(measured(
                bench,
                fed as i64 + shift,
                Quantity::TipRange,
                1.0 / fed as f64,
                Some(fed),
            ));
        }
        store.commit(&of_readings(readings)).unwrap();
        fed += 1;
        store.commit(&of_readings(vec![signed("east-3", fed as i64, "scent", Some(fed))])).unwrap();
        let id = format!("event-{fed}");
        store.commit(&Batch { events: vec![raised(&id, 0, fed)], ..Batch::default() }).unwrap();
        told.push(id);
    }
    for since in [0, 1, 99_999, 100_000, 123_456] {
        let mut next = since;
        let mut events = Vec::new();
        store
            .replay_since(since, |item| match item {
                Replayed::Fed { fed, observed, .. } => {
                    next += 1;
                    assert_eq!(fed, next);
                    if let Observed::Value(_, value) = observed {
                        assert!((value * fed as f64 - 1.0).abs() < 1e-12);
                    }
                }
                Replayed::Raised { id, .. } => {
                    assert_eq!(id, format!("event-{next}"));
                    events.push(id);
                }
            })
            .unwrap();
        assert_eq!(next, fed, "nothing is left out");
        let later = told.iter().filter(|id| id[6..].parse::<u64>().unwrap() >= since);
        assert!(events.iter().eq(later));
    }
}

#[test]
fn a_running_number_out_of_order_is_refused_whole() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let second = of_readings(vec![measured("east-3", 1, Quantity::TipRange, 0.9, Some(2))]);
    store.commit(&second).unwrap();
    let early = Batch {
        readings: vec![measured("west-1", 2, Quantity::TipRange, 0.9, Some(1))],
        events: vec![raised("early", 2, 1)],
        ..Batch::default()
    };
    assert!(matches!(store.commit(&early), Err(StoreError::Bug { .. })));
    assert!(!store.knows_event("early").unwrap());
    // a commit that was confirmed to nobody may be tried again
    assert_eq!(store.commit(&second).unwrap().known_readings, [0]);
    // the refused one gave a series a number: nobody may go on using it
    store.commit(&of_readings(vec![measured("west-1", 2, Quantity::TipRange, 0.7, Some(3))])).unwrap();
    let reader = Reader::open(&path).unwrap();
    assert_eq!(recorded(&reader, "west-1", Which::Everything).len(), 1);
}

#[test]
fn what_an_import_brings_is_for_the_record_only_and_yields_to_what_the_model_took() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    store.commit(&of_readings(vec![measured("east-3", 10, Quantity::TipRange, 0.9, Some(1))])).unwrap();

    let mut importer = Importer::open(&path).expect("beside the keeper");
    let batch = vec![
        measured("east-3", 10, Quantity::TipRange, 0.1, Some(77)),
        measured("east-3", 20, Quantity::TipRange, 0.2, Some(78)),
        measured("old-bench", 5_000, Quantity::TipRange, 0.3, None),
        signed("east-3", 15, "scent", None),
    ];
    let mut import = || {
        let mut imported = importer.import(batch.clone()).unwrap();
        imported.add(importer.finish().unwrap());
        imported
    };
    assert_eq!(import(), Imported { new: 3, known: 1 });
    assert_eq!(import(), Imported { new: 0, known: 4 });

    assert_eq!(store.newest_fed().unwrap(), 1);
    // the keeper had told the model before the import came, and commits only now
    store.commit(&of_readings(vec![measured("east-3", 20, Quantity::TipRange, 0.88, Some(2))])).unwrap();
    let values: Vec<_> = recorded(&Reader::open(&path).unwrap(), "east-3", Which::Everything)
        .into_iter()
        .map(|row| (row.observed, row.fed))
        .collect();
    let tip = |value| Observed::Value(Quantity::TipRange, value);
    let scent = Observed::Sign("scent".parse().unwrap());
    assert_eq!(values, [(tip(0.9), Some(1)), (scent, None), (tip(0.88), Some(2))]);
    assert_eq!(replayed(&store, 0).len(), 2);
}

#[test]
fn an_event_is_kept_once() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let first = raised("east-3-2027a/morning/1", 0, 4);
    let batch = |events| Batch { events, ..Batch::default() };
    store.commit(&batch(vec![first.clone()])).unwrap();
    let mut other = raised("east-3-2027a/morning/1", 60, 9);
    other.payload = "{}".to_owned();
    let mut of_site = raised("saltmarsh/test/2027-06-02T19:45:00Z", 120, 9);
    (of_site.bench, of_site.severity) = (None, Severity::Alarm);
    let committed = store.commit(&batch(vec![of_site.clone(), other])).unwrap();
    assert_eq!(committed.known_events, [1]);
    assert!(store.knows_event(&first.id).unwrap() && !store.knows_event("east-3-2027a/morning/2").unwrap());

    let reader = Reader::open(&path).unwrap();
    let read = |filter| {
        let mut all = Vec::new();
        reader.events(filter, |number, event| all.push((number, event))).unwrap();
        all
    };
    let all = read(EventFilter::default());
    assert_eq!(
        all.iter().map(|(_, event)| event.clone()).collect::<Vec<_>>(),
        [first.clone(), of_site.clone()]
    );
    assert_eq!(reader.newest_event().unwrap(), all[1].0);
    let only = |filter| read(filter).into_iter().map(|(_, event)| event).collect::<Vec<_>>();
    let (first, of_site) = ([first], [of_site]);
    let of = |whose| only(EventFilter { whose, ..EventFilter::default() });
    assert_eq!(of(Whose::Bench("east-3")), first);
    assert_eq!(of(Whose::NoBench), of_site);
    assert!(of(Whose::Bench("west-1")).is_empty());
    assert_eq!(only(EventFilter { after: all[0].0, ..EventFilter::default() }), of_site);
    assert_eq!(only(EventFilter { from: Some(at(1)), ..EventFilter::default() }), of_site);
    assert_eq!(only(EventFilter { until: Some(at(0)), ..EventFilter::default() }), first);
}

#[test]
fn states_and_runs_outlive_the_process() {
    let (_directory, path) = place();
    let state = |bench: &str, bytes: &[u8], fed| Checkpoint {
        bench: bench.into(),
        state: bytes.to_vec(),
        version: 3,
        fed,
    };
    let mut store = Store::open(&path).unwrap();
    assert_eq!(store.begin_run(at(0), 0).unwrap(), 1);
    for checkpoints in
        [vec![state("east-3", b"bud", 4), state("west-1", b"", 4)], vec![state("east-3", b"\0open", 9)]]
    {
        store.commit(&Batch { checkpoints, ..Batch::default() }).unwrap();
    }
    drop(store);
    let mut store = Store::open(&path).unwrap();
    assert_eq!(store.checkpoints().unwrap(), [state("east-3", b"\0open", 9), state("west-1", b"", 4)]);
    assert_eq!(store.begin_run(at(-9), 0).unwrap(), 2, "whatever the clock says");
    for expected in 3..1_100 {
        assert_eq!(store.begin_run(at(0), 0).unwrap(), expected);
    }
}

#[test]
fn entries_of_another_connection_are_seen_and_taken_up_once() {
    let (_directory, path) = place();
    let observed = Observed::Value(Quantity::Height, 1.32);
    let tape = Entry::Observed {
        bench: "east-3".to_owned(),
        time: at(0),
        observed,
        note: Some("“long” tape".to_owned()),
        by: None,
    };
    assert!(matches!(tape.put(&path), Err(StoreError::Missing { .. })));
    assert!(!path.exists(), "asking makes no file");

    let mut store = Store::open(&path).unwrap();
    assert!(store.others_wrote().unwrap(), "what came before the start counts");
    assert!(!store.others_wrote().unwrap());
    store.begin_run(at(0), 0).unwrap();
    assert!(!store.others_wrote().unwrap(), "its own commits do not");
    tape.put(&path).unwrap();
    let all = Entry::Acknowledge { ids: None, by: Some("Ida".to_owned()) };
    all.put(&path).unwrap();
    assert!(store.others_wrote().unwrap());

    let pending = store.pending_entries().unwrap();
    let (ids, entries): (Vec<i64>, Vec<_>) = pending.into_iter().unzip();
    assert_eq!(entries, [Ok(tape.clone()), Ok(all)]);
    let readings = vec![measured("east-3", 0, Quantity::Height, 1.32, Some(1))];
    store.commit(&Batch { readings, consumed: ids, ..Batch::default() }).unwrap();
    assert_eq!(store.pending_entries().unwrap(), []);

    // one that this version cannot read is named, and does not stand in the way of the others
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute("INSERT INTO entry (body) VALUES ('{\"prune\":{}}')", []).unwrap();
    tape.put(&path).unwrap();
    let pending = store.pending_entries().unwrap();
    assert!(pending[0].1.as_ref().unwrap_err().to_string().contains("prune"));
    assert_eq!(pending[1].1, Ok(tape.clone()));

    for _ in 2..MAX_PENDING_ENTRIES {
        other.execute("INSERT INTO entry (body) VALUES ('{}')", []).unwrap();
    }
    assert!(matches!(tape.put(&path), Err(StoreError::TooManyEntries { pending: MAX_PENDING_ENTRIES, .. })));
    // a change that could not be read is told again, or its entry would lie there unseen
    other.execute_batch("ALTER TABLE entry RENAME TO away").unwrap();
    assert!(store.others_wrote().unwrap());
    store.pending_entries().unwrap_err();
    assert!(store.others_wrote().unwrap());
    other.execute_batch("ALTER TABLE away RENAME TO entry").unwrap();
    let long = Entry::Acknowledge { ids: None, by: Some("x".repeat(20_000)) };
    assert!(matches!(long.put(&path), Err(StoreError::EntryTooLong { .. })));
}
