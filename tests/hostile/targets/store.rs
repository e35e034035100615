//! A store of which the disk has changed something.

use std::fs;
use std::sync::LazyLock;

use anthesisd::config;
use anthesisd::keeper::{read_state, written_state};
use anthesisd::store::{
    Alarm, Batch, BookWriter, Booking, Checkpoint, Coming, Depth, Draft, Entry, Importance, Message, Reader,
    Recorded, Retells, Store, StoredEvent, Which,
};
use bloom_model::bench::STATE_VERSION;
use bloom_model::book::entry::Fact;
use bloom_model::event::Severity;
use bloom_model::quantity::Quantity;
use bloom_model::reading::{BenchNumber, Observed};
use bloom_model::site::Site;
use bloom_model::time::Time;
use chrono::TimeDelta;
use tempfile::TempDir;

use super::{BENCHES, NOW, live_on, within};

/// The most that the service's own side of the store may hold at once, SQLite's apart.
const STORE_BYTES: usize = 64 << 20;
/// Bytes of a change: where (three bytes), how, and with what.
const CHANGE: usize = 5;

/// A folder in memory, where there is one: thousands of stores are written there.
pub(super) fn folder() -> TempDir {
    let in_memory = std::path::Path::new("/dev/shm");
    let made = if in_memory.is_dir() { tempfile::tempdir_in(in_memory) } else { tempfile::tempdir() };
    made.unwrap_or_else(|error| panic!("a folder can be made: {error}"))
}

fn site() -> Site {
    let text = "[site]\nname = \"saltmarsh\"\ntimezone = \"America/Halifax\"\n\
                [[bench]]\nid = \"east-3\"\nprofile = \"titan-arum\"\ntip = { mount_height_m = 3.1 }\nrim = { mount_distance_m = 0.95 }\n\
                [[bench]]\nid = \"west-1\"\nprofile = \"titan-arum\"\ntip = { mount_height_m = 3.1 }\n";
    let config = config::parse(text, std::path::Path::new("/nowhere/anthesisd.toml"));
    let config = config.unwrap_or_else(|faults| panic!("{faults}"));
    Site::new(config.site, config.benches.into_iter().map(|bench| bench.spec).collect())
}

fn at(minutes: i64) -> Time {
    NOW + TimeDelta::minutes(minutes)
}

fn measured(minutes: i64, quantity: Quantity, value: f64, fed: u64) -> Recorded {
    let observed = Observed::Value(quantity, value);
    Recorded { bench: BENCHES[0].into(), time: at(minutes), observed, note: None, by: None, fed: Some(fed) }
}

/// A sound store with something of everything, sealed days among it.
static SOUND: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let folder = folder();
    let path = folder.path().join("sound.db");
    let sound = || -> Result<(), Box<dyn std::error::Error>> {
        let mut store = Store::open(&path)?;
        let mut site = site();
        live_on(&mut site, at(-3 * 24 * 60));
        let rows = 0..600_i64;
        let mut readings: Vec<_> = rows
            .map(|n| {
                measured(
                    -2 * 24 * 60 + 5 * n,
                    Quantity::TipRange,
                    1.6 - 1e-4 * n as f64,
                    1 + n.unsigned_abs(),
                )
            })
            .collect();
        let sign = Observed::Sign("bract-dropped".parse()?);
        let (note, by) = (Some("the second".to_owned()), Some("Robin".to_owned()));
        readings.push(Recorded {
            bench: BENCHES[0].into(),
            time: at(-60),
            observed: sign,
            note,
            by,
            fed: Some(601),
        });
        let payload = r#"{"id":"east-3-2027a/bud-seen/1","event":"bud-seen","bench":"east-3"}"#;
        let mut checkpoints = Vec::new();
        for (number, bench) in (0..).zip(BENCHES) {
            let state = site.state_of(BenchNumber(number)).ok_or("a bench")?;
            let state = written_state(state)?;
            checkpoints.push(Checkpoint { bench: bench.into(), state, version: STATE_VERSION, fed: 601 });
        }
        store.commit(&Batch {
            readings,
            events: vec![StoredEvent {
                id: "east-3-2027a/bud-seen/1".to_owned(),
                bench: Some(BENCHES[0].into()),
                time: at(-30),
                kind: "bud-seen".to_owned(),
                severity: Severity::Notice,
                payload: payload.to_owned(),
                after_fed: 601,
            }],
            messages: vec![Message {
                topic: "anthesis/saltmarsh/east-3/event".to_owned(),
                payload: payload.to_owned(),
                retain: false,
                importance: Importance::Alarm,
                displaces: None,
            }],
            alarms: vec![Alarm {
                event_id: "east-3-2027a/opening-tonight/1".to_owned(),
                bench: Some(BENCHES[0].into()),
                severity: Severity::Alarm,
                kind: "opening-tonight".to_owned(),
                raised: at(-20),
                stands_until: None,
                delivered: Some(at(-20)),
                acknowledged: None,
                acknowledged_by: None,
                coming: Some(Coming { since: at(-10), until: at(5), by: Some("Robin".to_owned()) }),
                ended: None,
                repeats: 2,
                repeats_before: 1,
                next_repeat: Some(at(5)),
                payload: serde_json::from_str(payload)?,
            }],
            checkpoints,
            ..Batch::default()
        })?;
        while store.seal_step(at(24 * 60))? {}
        store.commit(&Batch {
            readings: vec![measured(1000, Quantity::RimRange, 0.8, 602)],
            ..Batch::default()
        })?;
        store.begin_run(NOW, 0)?;
        drop(store);
        let draft = Draft {
            time: NOW,
            subject: "AT-0412".to_owned(),
            fact: Fact::Dormant,
            by: None,
            note: None,
            corrects: None,
        };
        let booking = Booking { drafts: vec![draft], tell: vec![Entry::Acknowledge { ids: None, by: None }] };
        BookWriter::open(&path)?
            .write(NOW, |_| Ok::<_, ()>((booking, ())))?
            .map_err(|()| "it was refused")?;
        Ok(())
    };
    sound().unwrap_or_else(|error| panic!("a sound store can be made: {error}"));
    fs::read(&path).unwrap_or_else(|error| panic!("it can be read: {error}"))
});

/// The sound store with the changes that the input describes: bytes, holes, a lost end, and pages in each other's places.
fn changed(input: &[u8]) -> Vec<u8> {
    const PAGE: usize = 4096;
    let mut bytes = SOUND.clone();
    for change in input.chunks_exact(CHANGE) {
        let place = (usize::from(change[0]) | usize::from(change[1]) << 8 | usize::from(change[2]) << 16)
            % bytes.len();
        let with = change[4];
        match change[3] % 8 {
            0..4 => bytes[place] = with,
            4 => bytes[place] ^= 1 << (with % 8),
            5 => {
                let end = (place + usize::from(with)).min(bytes.len());
                bytes[place..end].fill(0);
            }
            6 => bytes.truncate(place.max(1)),
            _ => {
                let pages = bytes.len() / PAGE;
                if pages > 0 {
                    let (to, from) = (place / PAGE % pages * PAGE, usize::from(with) % pages * PAGE);
                    bytes.copy_within(from..from + PAGE, to);
                }
            }
        }
    }
    bytes
}

/// Whatever the disk changed: the store is opened and used, or refused with a word.
pub(super) fn damaged(input: &[u8]) {
    let folder = folder();
    let path = folder.path().join("anthesisd.db");
    fs::write(&path, changed(input)).unwrap_or_else(|error| panic!("memory can be written to: {error}"));
    within(STORE_BYTES, "a store", || {
        if let Ok(mut store) = Store::open(&path) {
            used(&mut store);
        }
        if let Ok(reader) = Reader::open(&path) {
            read(&reader);
        }
    });
}

fn used(store: &mut Store) {
    let _ = store.integrity_check(Depth::Full);
    if let Ok(checkpoints) = store.checkpoints() {
        let mut site = site();
        for checkpoint in checkpoints {
            if let Some(number) = site.number_of(&checkpoint.bench)
                && checkpoint.version == STATE_VERSION
                && let Ok(state) = read_state(&checkpoint.state)
            {
                site.restore(number, state);
            }
        }
        live_on(&mut site, NOW);
    }
    let _ = store.standing();
    let _ = store.outbox();
    let _ = store.pending_entries();
    let _ = store.replay_since(0, drop);
    let fed = store.newest_fed().unwrap_or(0);
    let batch = Batch {
        readings: vec![measured(2000, Quantity::Temperature, 25.0, fed.saturating_add(1))],
        ..Batch::default()
    };
    let _ = store.commit(&batch);
    for _ in 0..50 {
        if !store.seal_step(at(48 * 60)).unwrap_or(false) {
            break;
        }
    }
}

fn read(reader: &Reader) {
    let (from, until) = (Time::from_unix_ms(i64::MIN), Time::from_unix_ms(i64::MAX));
    for bench in reader.benches().unwrap_or_default() {
        for which in [Which::Everything, Which::Signs, Which::Quantity(Quantity::TipRange)] {
            let _ = reader.readings(&bench, which, from, until, drop);
        }
    }
    let _ = reader.events(Default::default(), |_, event| drop(event));
    let _ = reader.oldest_outgoing(0);
    let _ = reader.book();
    let _ = reader.life_events(until);
    let _ = reader.booked_by_hand();
}
