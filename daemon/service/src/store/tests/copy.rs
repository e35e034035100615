//! A copy is the record at one moment, and is put back whole or not at all.

use std::fs;
use std::os::unix::fs::PermissionsExt;

use rusqlite::Connection;

use super::*;
use crate::store::error::StoreError;
use crate::store::restore;

fn rows(from: i64, count: i64) -> Batch {
    let row = |n: i64| measured("east-3", n, Quantity::TipRange, n as f64, Some(n.unsigned_abs()));
    of_readings((from..from + count).map(row).collect())
}

fn count(path: &std::path::Path) -> usize {
    recorded(&Reader::open(path).unwrap(), "east-3", Which::Everything).len()
}

fn names(folder: &TempDir) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.ends_with("-keeper"))
        .collect();
    names.sort();
    names
}

#[test]
fn a_copy_is_the_record_of_one_moment_though_it_is_written_meanwhile() {
    let (folder, path) = place();
    let mut store = Store::open(&path).unwrap();
    store.commit(&rows(1, 300_000)).unwrap();
    let copy = folder.path().join("copy.db");
    let mut told = Vec::new();
    Reader::open(&path)
        .unwrap()
        .copy_to(&copy, |share| {
            // every time that it says how far it has come, the keeper commits
            store.commit(&rows(400_000 + 100 * told.len() as i64, 100)).unwrap();
            told.push(share);
        })
        .unwrap();
    assert!(told.len() >= 2 && told[0] < 1.0 && told.is_sorted() && told.last() == Some(&1.0), "{told:?}");
    assert_eq!(count(&copy), 300_000);
    assert_eq!(count(&path), 300_000 + 100 * told.len());
    assert_eq!(Reader::open(&copy).unwrap().integrity_check(Depth::Full).unwrap(), [""; 0]);
    assert_eq!(fs::metadata(&copy).unwrap().permissions().mode() & 0o777, 0o600);
    drop(store);
    assert_eq!(names(&folder), ["anthesisd.db", "copy.db"], "the copy is one file");

    let before = fs::read(&copy).unwrap();
    let refused = Reader::open(&path).unwrap().copy_to(&copy, |_| {}).unwrap_err();
    assert!(matches!(refused, StoreError::Taken { .. }), "{refused}");
    assert!(fs::read(&copy).unwrap() == before, "left as it was");
}

#[test]
fn a_copy_takes_the_records_place_and_nothing_of_either_is_lost() {
    let (folder, path) = place();
    let mut store = Store::open(&path).unwrap();
    store.commit(&rows(1, 1_000)).unwrap();
    let copy = folder.path().join("copy.db");
    Reader::open(&path).unwrap().copy_to(&copy, |_| {}).unwrap();
    store.commit(&rows(5_000, 10)).unwrap();
    let refused = restore(&copy, &path, |_| {}).unwrap_err();
    assert!(matches!(refused, StoreError::Kept { .. }), "{refused}");

    // what a kill leaves: a file whose newest rows lie in its write-ahead log
    let wal = folder.path().join("anthesisd.db-wal");
    let (file, log) = (fs::read(&path).unwrap(), fs::read(&wal).unwrap());
    drop(store);
    fs::write(&path, file).unwrap();
    fs::write(&wal, log).unwrap();
    let aside = restore(&copy, &path, |_| {}).unwrap().expect("there was one");
    assert_eq!(count(&path), 1_000, "the log was not played into it");
    assert_eq!(count(&aside), 1_010, "it went with the other");
    let mut store = Store::open(&path).unwrap();
    assert_eq!(store.newest_fed().unwrap(), 1_000);
    store.commit(&rows(7_000, 1)).unwrap();
    drop(store);
    let other = restore(&copy, &path, |_| {}).unwrap().expect("there was one");
    assert_ne!(other, aside);
    assert_eq!((count(&path), count(&other), count(&aside)), (1_000, 1_001, 1_010));

    // in an empty house
    let (_new_folder, new) = place();
    assert_eq!(restore(&copy, &new, |_| {}).unwrap(), None);
    assert_eq!(count(&new), 1_000);
}

#[test]
fn what_is_no_sound_copy_is_refused_and_the_record_stays() {
    let (folder, path) = place();
    let mut store = Store::open(&path).unwrap();
    store.commit(&rows(1, 50_000)).unwrap();
    let copy = folder.path().join("copy.db");
    Reader::open(&path).unwrap().copy_to(&copy, |_| {}).unwrap();
    drop(store);
    let (record, sound) = (fs::read(&path).unwrap(), fs::read(&copy).unwrap());
    let mut damaged = sound.clone();
    let middle = damaged.len() / 2 / 4096 * 4096;
    damaged[middle..middle + 4096].fill(0xA5);
    for (bytes, what) in [(damaged, "Damaged"), (b"a sheet of heights".to_vec(), "Foreign")] {
        fs::write(&copy, bytes).unwrap();
        let refused = restore(&copy, &path, |_| {}).unwrap_err();
        assert!(format!("{refused:?}").starts_with(what), "{refused}");
    }
    fs::write(&copy, sound).unwrap();
    Connection::open(&copy).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let refused = restore(&copy, &path, |_| {}).unwrap_err();
    assert!(matches!(refused, StoreError::Newer { .. }), "{refused}");
    assert!(fs::read(&path).unwrap() == record, "as it was");
    assert_eq!(names(&folder), ["anthesisd.db", "copy.db"], "nothing is left over");
}

#[test]
fn a_copy_of_an_earlier_version_is_put_back_and_brought_up_to_date() {
    let (folder, path) = place();
    let old = folder.path().join("old.db");
    Connection::open(&old)
        .unwrap()
        .execute_batch(include_str!("../../../../../tests/reference/store/v1.sql"))
        .unwrap();
    restore(&old, &path, |_| {}).unwrap();
    assert!(matches!(Reader::open(&path), Err(StoreError::Older { found: 1, .. })));
    drop(Store::open(&path).unwrap());
    assert_eq!(count(&path), 6);
}
