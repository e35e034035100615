//! Imports go into the sealed days at once.

use super::seal::{counting, rows, seal, series, sheets};
use super::*;
use crate::store::{Imported, Importer};

#[test]
fn an_import_is_sealed_at_once_and_counts_what_was_known_wherever_it_lay() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let row = |n: i64, fed| measured("east-3", n, Quantity::TipRange, n as f64 / 8.0, fed);
    let fed = |n: i64| row(n, Some(n as u64 + 1));
    // sealed, closed, and of after that
    store.commit(&counting((0..10).map(fed).collect(), 10)).unwrap();
    seal(&mut store);
    store.commit(&counting((10..20).map(fed).collect(), 20)).unwrap();
    assert!(store.seal_step(at(100)).unwrap());
    store.commit(&of_readings((20..30).map(fed).collect())).unwrap();
    assert_eq!((rows(&path), sheets(&path)), (20, 1));

    let mut importer = Importer::open(&path).unwrap();
    let mut import = |rows: Vec<Recorded>| {
        let mut imported = importer.import(rows).unwrap();
        imported.add(importer.finish().unwrap());
        imported
    };
    // four days (UTC), some rows twice, and others between those that were there
    let mut all: Vec<_> = (0..40).flat_map(|n| [row(n, None), row(n, None)]).collect();
    all.extend((0..100).map(|n| row(n * 2_000 + 1_000, None)));
    assert_eq!(import(all.clone()), Imported { new: 110, known: 70 });
    assert_eq!((rows(&path), sheets(&path)), (20, 4));
    assert_eq!(import(all), Imported { new: 0, known: 180 });
    let reader = Reader::open(&path).unwrap();
    assert_eq!(series(&reader, "east-3", Quantity::TipRange).len(), 140);
    // and the running service goes on
    assert_eq!(replayed(&store, 20).len(), 10);
    store.commit(&counting(vec![fed(31)], 32)).unwrap();
    seal(&mut store);
    assert_eq!(rows(&path), 0);
    assert_eq!(series(&reader, "east-3", Quantity::TipRange).len(), 140);
}

#[test]
fn a_long_import_is_written_as_it_comes() {
    let (_directory, path) = place();
    let mut importer = Importer::open(&path).unwrap();
    let mut imported = Imported::default();
    for day in 0..4 {
        let midnight = (20_000 + day) * 86_400_000;
        let row = |n: i64| Recorded {
            time: Time::from_unix_ms(midnight + n),
            ..measured("east-3", 0, Quantity::TipRange, n as f64 / 1e3, None)
        };
        imported.add(importer.import((0..500_000).map(row).collect()).unwrap());
    }
    assert_eq!(imported, Imported { new: 1_000_000, known: 0 }, "all but the newest day");
    imported.add(importer.finish().unwrap());
    assert_eq!(imported, Imported { new: 2_000_000, known: 0 });
}
