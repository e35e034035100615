//! The file itself: made, refused, migrated, full, damaged.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::time::Duration;

use rusqlite::Connection;

use super::*;
use crate::store::error::StoreError;
use crate::store::file::open_to_put;
use crate::store::schema::{LADDER, migrate};
use crate::store::{Entry, Importer};

fn mode(path: &std::path::Path) -> u32 {
    fs::metadata(path).unwrap().permissions().mode() & 0o777
}

fn one_reading(fed: u64) -> Batch {
    let seconds = i64::try_from(fed).unwrap();
    of_readings(vec![measured("east-3", seconds, Quantity::TipRange, 0.9, Some(fed))])
}

#[test]
fn a_new_store_is_for_its_owner_alone_and_every_commit_is_synced() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("var/lib/anthesisd.db");
    assert!(matches!(Reader::open(&path), Err(StoreError::Missing { .. })));
    let mut store = Store::open(&path).unwrap();
    store.commit(&one_reading(1)).unwrap();
    assert_eq!(mode(&path), 0o600);
    assert_eq!(mode(path.parent().unwrap()), 0o700);
    for file in fs::read_dir(path.parent().unwrap()).unwrap() {
        assert_eq!(mode(&file.unwrap().path()), 0o600, "the log and the lock likewise");
    }
    for conn in [&store.conn, &open_to_put(&path).unwrap()] {
        let number = |sql: &str| conn.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap();
        assert_eq!(number("PRAGMA synchronous"), 2, "2 is FULL");
        assert_eq!(conn.query_row("PRAGMA journal_mode", [], |row| row.get::<_, String>(0)).unwrap(), "wal");
    }
    assert_eq!(store.integrity_check(Depth::Full).unwrap(), [""; 0]);
}

#[test]
fn one_keeper_at_a_time_and_readers_cannot_write() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let refused = Store::open(&path).unwrap_err();
    assert!(matches!(refused, StoreError::Kept { .. }), "{refused}");
    store.commit(&one_reading(1)).unwrap();
    let reader = Reader::open(&path).unwrap();
    let refused = reader.conn.execute("DELETE FROM reading", []).unwrap_err();
    assert!(matches!(reader.error(refused), StoreError::Permission { .. }));
    drop(store);
    Store::open(&path).unwrap();
}

#[test]
fn a_newer_version_is_refused_and_left_as_it_is() {
    let (_directory, path) = place();
    drop(Store::open(&path).unwrap());
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let before = fs::read(&path).unwrap();
    let entry = Entry::Acknowledge { ids: None, by: None };
    for refused in [
        Store::open(&path).unwrap_err(),
        Reader::open(&path).unwrap_err(),
        Importer::open(&path).unwrap_err(),
        entry.put(&path).unwrap_err(),
    ] {
        assert!(matches!(refused, StoreError::Newer { found: 99, .. }), "{refused}");
        assert!(refused.to_string().contains(path.to_str().unwrap()));
    }
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn foreign_files_are_refused_and_left_as_they_are() {
    let (directory, path) = place();
    let other = Connection::open(&path).unwrap();
    other.execute_batch("CREATE TABLE recipe (name TEXT)").unwrap();
    drop(other);
    let text = directory.path().join("notes.txt");
    fs::write(&text, "Kept notes of a rainy week, longer than the hundred bytes of a header. ".repeat(20))
        .unwrap();
    for path in [&path, &text] {
        let before = fs::read(path).unwrap();
        for refused in [Store::open(path).unwrap_err(), Reader::open(path).unwrap_err()] {
            assert!(matches!(refused, StoreError::Foreign { .. }), "{refused}");
        }
        assert_eq!(fs::read(path).unwrap(), before);
    }
    let refused = Store::open(directory.path()).unwrap_err();
    assert!(matches!(refused, StoreError::Foreign { .. }), "a directory: {refused}");
    let refused = Store::open(&text.join("anthesisd.db")).unwrap_err();
    assert!(matches!(refused, StoreError::Disk { .. }), "below a file: {refused}");
}

#[test]
fn a_damaged_file_is_named_as_such() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let rows = (0..5_000).map(|n| measured("east-3", n, Quantity::TipRange, 0.9, Some(1 + n as u64)));
    store.commit(&of_readings(rows.collect())).unwrap();
    drop(store);
    // the header stays, every page behind the first is overwritten
    let mut bytes = fs::read(&path).unwrap();
    bytes[4096..].fill(0xA5);
    fs::write(&path, &bytes).unwrap();
    let refused = match Store::open(&path) {
        Ok(mut store) => {
            assert_ne!(store.integrity_check(Depth::Full).unwrap(), [""; 0]);
            store.commit(&one_reading(9_999)).unwrap_err()
        }
        Err(error) => error,
    };
    assert!(matches!(refused, StoreError::Damaged { .. }), "{refused}");

    bytes[100..4096].fill(0xA5);
    fs::write(&path, &bytes).unwrap();
    let refused = Store::open(&path).unwrap_err();
    assert!(matches!(refused, StoreError::Damaged { .. }), "{refused}");
}

#[test]
fn a_full_disk_loses_nothing_and_the_same_batch_goes_in_later() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    store.commit(&one_reading(1)).unwrap();
    let pages: i64 = store.conn.query_row("PRAGMA page_count", [], |row| row.get(0)).unwrap();
    let allow = |store: &Store, pages: i64| {
        store.conn.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(())).unwrap();
    };
    let rows = (2..3_000).map(|n| measured("new-bench", n, Quantity::RimRange, 0.9, Some(n as u64)));
    let batch = Batch {
        readings: rows.collect(),
        events: vec![raised("a", 2, 2)],
        messages: vec![message("a", Importance::Alarm, None)],
        ..Batch::default()
    };
    // let it fail at one page after another, until it passes untouched
    let mut failures = 0;
    for allowed in pages.. {
        allow(&store, allowed);
        match store.commit(&batch) {
            Err(refused) => {
                assert!(matches!(refused, StoreError::DiskFull { .. }), "{refused}");
                assert!(!store.knows_event("a").unwrap());
                assert_eq!(store.newest_fed().unwrap(), 1);
                assert_eq!(store.outbox().unwrap().rows, 0);
                failures += 1;
            }
            Ok(committed) => {
                assert_eq!(committed.known_readings, [0usize; 0]);
                break;
            }
        }
    }
    assert!(failures > 10, "{failures} failures");
    assert_eq!(replayed(&store, 0).len(), 3_000);
    assert_eq!(store.integrity_check(Depth::Full).unwrap(), [""; 0]);
}

#[test]
fn a_lock_held_too_long_is_told_and_passes() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    store.conn.busy_timeout(Duration::from_millis(20)).unwrap();
    let mut other = Connection::open(&path).unwrap();
    let held = other.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate).unwrap();
    let refused = store.commit(&one_reading(1)).unwrap_err();
    assert!(matches!(refused, StoreError::Locked { .. }), "{refused}");
    drop(held);
    store.commit(&one_reading(1)).unwrap();
}

#[test]
fn the_systems_refusals_name_their_remedy() {
    use std::io::{Error, ErrorKind};
    let path = std::path::Path::new("/var/lib/anthesisd/anthesisd.db");
    let said = |kind: ErrorKind| StoreError::of_io(path, &Error::from(kind)).to_string();
    assert!(said(ErrorKind::PermissionDenied).contains("as the user that the service runs as"));
    assert!(said(ErrorKind::StorageFull).contains("free some"));
    assert!(said(ErrorKind::NotFound).contains("[store]"));
    let failure = |code| {
        let error = rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(code), None);
        StoreError::of(path, error).to_string()
    };
    assert!(failure(rusqlite::ffi::SQLITE_IOERR_FSYNC).contains("dmesg"));
    assert!(failure(rusqlite::ffi::SQLITE_READONLY).contains("no permission"));
    assert!(failure(rusqlite::ffi::SQLITE_FULL).contains("free some"));
}

/// The definitions in a file, as text.
pub(super) fn definitions(conn: &Connection) -> Vec<(String, Option<String>)> {
    conn.prepare("SELECT name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%' ORDER BY name")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap()
}

#[test]
fn a_file_of_version_1_is_brought_up_to_date_with_all_that_it_held() {
    let (_directory, path) = place();
    let old = Connection::open(&path).unwrap();
    old.execute_batch(include_str!("../../../../../tests/reference/store/v1.sql")).unwrap();
    drop(old);
    let mut store = Store::open(&path).unwrap();
    let (_other, new) = place();
    assert_eq!(definitions(&store.conn), definitions(&Store::open(&new).unwrap().conn));

    let reader = Reader::open(&path).unwrap();
    let said: Vec<_> = recorded(&reader, "east-3", Which::Everything)
        .into_iter()
        .map(|row| (row.time, row.observed, row.note, row.by, row.fed))
        .collect();
    let value = Observed::Value;
    let sign = |text: &str| Observed::Sign(text.parse().unwrap());
    let words = |text: &str| Some(text.to_owned());
    assert_eq!(
        said,
        [
            (at(0), value(Quantity::Temperature, 27.31), None, None, Some(1)),
            (at(0), value(Quantity::TipRange, 0.914), None, None, Some(2)),
            (at(5), value(Quantity::Height, 2.186), words("from the pot rim"), words("Ida"), Some(4)),
            (at(10), value(Quantity::Temperature, 27.25), None, None, None),
            (at(60), sign("bract-dropped"), None, words("Ida"), Some(3)),
            (at(120), sign("withdrawn bract-dropped"), None, None, None),
        ]
    );
    assert_eq!(replayed(&store, 0).len(), 5, "four readings and one event");
    assert_eq!(
        replayed(&store, 2)[0],
        Replayed::Raised { id: "east-3-2027a/morning/1".to_owned(), time: at(7) }
    );
    assert_eq!(store.newest_fed().unwrap(), 4);
    let checkpoint = &store.checkpoints().unwrap()[0];
    assert_eq!((&checkpoint.state[..], checkpoint.version, checkpoint.fed), (&[0u8, 1, 255][..], 1, 2));
    let standing = store.standing().unwrap();
    assert_eq!((standing.len(), standing[0].repeats), (1, 2));
    assert_eq!(standing[0].kind, "opening-tonight");
    let outgoing = reader.oldest_outgoing(0).unwrap().unwrap();
    assert_eq!((outgoing.id, outgoing.retain), (12, true));
    assert_eq!(reader.outbox().unwrap().dropped, 3);
    assert_eq!(
        store.pending_entries().unwrap(),
        [(5, Ok(Entry::Acknowledge { ids: None, by: words("Ida") }))]
    );
}

#[test]
fn a_ladder_is_climbed_whole_or_not_at_all() {
    let (_directory, path) = place();
    drop(Store::open(&path).unwrap());
    let mut conn = Connection::open(&path).unwrap();
    let version = |conn: &Connection| {
        conn.query_row("PRAGMA user_version", [], |row| row.get::<_, isize>(0).map(isize::unsigned_abs))
            .unwrap()
    };
    let before = definitions(&conn);
    let mut ladder = LADDER.to_vec();
    ladder.extend(["CREATE TABLE cross (name TEXT) STRICT", "ALTER TABLE crosss ADD COLUMN pollen TEXT"]);
    migrate(&path, &mut conn, &ladder).expect_err("the last step fails");
    assert_eq!((version(&conn), definitions(&conn)), (LADDER.len(), before));
    ladder[LADDER.len() + 1] = "ALTER TABLE cross ADD COLUMN pollen TEXT";
    migrate(&path, &mut conn, &ladder).unwrap();
    assert_eq!(version(&conn), LADDER.len() + 2);
    conn.execute("INSERT INTO cross (name, pollen) VALUES ('a', 'b')", []).unwrap();
    migrate(&path, &mut conn, &ladder).expect("nothing is left to do");
    // what is now of a newer version is refused by this one
    assert!(matches!(Store::open(&path), Err(StoreError::Newer { .. })));
}
