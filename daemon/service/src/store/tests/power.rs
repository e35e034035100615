//! A power cut at any moment: what was written and not synced may be lost, in any part, and nothing that was confirmed with it.
//!
//! The model: strace(1) records what a process writes and syncs. Up to any moment, what was synced is on the disk; of what was
//! not, each sector of 512 bytes is there or is not, and so are a new length and a new or removed name. Not modelled: a drive
//! that says it has synced and has not.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};

use super::kill::{batch, say, whole_batches};
use super::*;

/// Set for the process that is recorded.
const CHILD: &str = "ANTHESISD_TEST_POWER";
/// How many cuts, if more than the few of a normal run are wanted.
const CUTS: &str = "ANTHESISD_TEST_CUTS";
/// Enough for the log to be written back while the store is open, and once before when it is closed.
const BATCHES: u64 = 150;
const SECTOR: usize = 512;

fn write_some(path: &Path) {
    let mut store = Store::open(path).unwrap();
    for number in 0..BATCHES {
        if number == BATCHES / 5 {
            drop(store);
            store = Store::open(path).unwrap();
        }
        let batch = batch(number);
        store.commit(&batch).unwrap();
        say(&format!("confirmed {number}\n"));
        for _ in 0..2 {
            store.seal_step(batch.readings[0].time).unwrap();
        }
    }
}

/// Something that the process did, as far as the disk is concerned.
#[derive(Debug)]
enum Deed {
    Create(String),
    Write { file: String, at: usize, bytes: Vec<u8> },
    Cut { file: String, length: usize },
    Sync(String),
    SyncNames,
    Remove(String),
    Confirmed(u64),
}

/// What the process did, in its order.
fn recorded_deeds() -> Vec<Deed> {
    let (directory, path) = place();
    let log = directory.path().join("strace");
    let status = Command::new("strace")
        .args(["-f", "-qq", "-y", "-xx", "-s", "200000", "-o"])
        .arg(&log)
        .args([
            "-e",
            "trace=openat,write,writev,pwrite64,pwritev,fsync,fdatasync,ftruncate,unlink,rename,fallocate",
        ])
        .arg(std::env::current_exe().unwrap())
        .args(["--exact", "store::tests::power::a_power_cut_loses_nothing_that_was_confirmed", "--nocapture"])
        .env(CHILD, &path)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .expect("strace, of Debian");
    assert!(status.success());
    let folder = directory.path().to_str().unwrap();
    fs::read_to_string(&log).unwrap().lines().filter_map(|line| deed(line, folder)).collect()
}

/// A line of strace's: `PID call(FD<PATH>, "BYTES", …) = RESULT`, with paths and bytes in hexadecimal.
fn deed(line: &str, folder: &str) -> Option<Deed> {
    let (before, result) = line.rsplit_once(" = ")?;
    let (_, call) = before.trim_end().split_once(' ')?;
    let (call, arguments) = call.trim_start().split_once('(')?;
    assert!(!before.ends_with("<unfinished ...>"), "one thread at a time writes: {line}");
    if result.starts_with('-') {
        return None;
    }
    let path = |text: &str| String::from_utf8(bytes(text)).unwrap();
    let name = |path: String| path.strip_prefix(folder).map(|name| name.trim_start_matches('/').to_owned());
    let opened = |text: &str| text.split_once('<')?.1.split_once('>').map(|(hex, _)| path(hex));
    let of_fd = || name(opened(arguments)?);
    let number = |place: usize| -> usize {
        let last = arguments.trim_end_matches(')').rsplit(", ").nth(place).unwrap();
        last.parse().unwrap_or_else(|_| panic!("{call}: {last}"))
    };
    let quoted = || bytes(arguments.split('"').nth(1).unwrap());
    match call {
        "openat" if arguments.contains("O_CREAT") || arguments.contains("O_TRUNC") => {
            assert!(!arguments.contains("O_TRUNC"), "{line}");
            name(opened(result)?).map(Deed::Create)
        }
        "pwrite64" => Some(Deed::Write { file: of_fd()?, at: number(0), bytes: quoted() }),
        "write" => {
            let said = String::from_utf8(quoted()).ok()?;
            said.strip_prefix("confirmed ")?.trim().parse().ok().map(Deed::Confirmed)
        }
        "ftruncate" => Some(Deed::Cut { file: of_fd()?, length: number(0) }),
        "fsync" | "fdatasync" => Some(match of_fd()? {
            name if name.is_empty() => Deed::SyncNames,
            file => Deed::Sync(file),
        }),
        "unlink" => name(path(arguments.split('"').nth(1)?)).map(Deed::Remove),
        "openat" => None,
        other => panic!("{other} is not understood: {line}"),
    }
}

/// `\x61\x62` as bytes.
fn bytes(hex: &str) -> Vec<u8> {
    hex.split("\\x").skip(1).map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect()
}

/// A file on the disk, and what is not surely there yet.
#[derive(Debug, Default, Clone)]
struct OnDisk {
    synced: Vec<u8>,
    pending: Vec<Pending>,
    /// Whether its name would outlive a cut.
    named: bool,
    /// Removed, but the removal is not surely there.
    removed: bool,
}

#[derive(Debug, Clone)]
enum Pending {
    Write(usize, Vec<u8>),
    Cut(usize),
}

impl Pending {
    fn put(&self, content: &mut Vec<u8>, mut keeps: impl FnMut() -> bool) {
        match self {
            Self::Cut(length) => {
                if keeps() {
                    content.resize(*length, 0);
                }
            }
            Self::Write(at, bytes) => {
                let mut place = *at;
                for sector in bytes.chunks(SECTOR) {
                    if keeps() {
                        let end = place + sector.len();
                        if content.len() < end {
                            content.resize(end, 0);
                        }
                        content[place..end].copy_from_slice(sector);
                    }
                    place += sector.len();
                }
            }
        }
    }
}

/// A disk whose power is cut.
#[derive(Debug, Default)]
struct Disk {
    files: BTreeMap<String, OnDisk>,
    confirmed: Option<u64>,
}

impl Disk {
    fn take(&mut self, deed: &Deed) {
        match deed {
            Deed::Create(name) => {
                let known = self.files.get(name).is_some_and(|file| !file.removed);
                if !known {
                    self.files.insert(name.clone(), OnDisk::default());
                }
            }
            Deed::Write { file, at, bytes } => self.change(file, Pending::Write(*at, bytes.clone())),
            Deed::Cut { file, length } => self.change(file, Pending::Cut(*length)),
            Deed::Sync(name) => {
                if let Some(file) = self.files.get_mut(name) {
                    for pending in std::mem::take(&mut file.pending) {
                        pending.put(&mut file.synced, || true);
                    }
                }
            }
            Deed::SyncNames => {
                self.files.retain(|_, file| !file.removed);
                self.files.values_mut().for_each(|file| file.named = true);
            }
            Deed::Remove(name) => {
                if let Some(file) = self.files.get_mut(name) {
                    file.removed = true;
                }
            }
            Deed::Confirmed(number) => self.confirmed = Some(*number),
        }
    }

    fn change(&mut self, file: &str, pending: Pending) {
        if let Some(file) = self.files.get_mut(file) {
            file.pending.push(pending);
        }
    }

    /// What is found when the power is back.
    fn cut(&self, random: &mut SmallRng, folder: &Path) {
        // all of it lost, all of it there, and everything between
        let share = [0.0, 0.1, 0.5, 0.9, 1.0][random.random_range(0..5)];
        for (name, file) in &self.files {
            // the index of the log is shared memory, which no cut outlives
            let lost = (!file.named || file.removed) && random.random_bool(0.5);
            if lost || name.ends_with("-shm") {
                continue;
            }
            let mut content = file.synced.clone();
            for pending in &file.pending {
                pending.put(&mut content, || random.random_bool(share));
            }
            fs::write(folder.join(name), content).unwrap();
        }
    }
}

#[test]
fn a_power_cut_loses_nothing_that_was_confirmed() {
    if let Some(path) = std::env::var_os(CHILD) {
        return write_some(Path::new(&path));
    }
    let deeds = recorded_deeds();
    let syncs = deeds.iter().filter(|deed| matches!(deed, Deed::Sync(_))).count() as u64;
    let confirmed = deeds.iter().filter(|deed| matches!(deed, Deed::Confirmed(_))).count() as u64;
    assert!(confirmed == BATCHES && syncs >= BATCHES, "{confirmed} confirmed, {syncs} synced");

    let cuts = std::env::var(CUTS)
        .ok()
        .and_then(|cuts| cuts.parse().ok())
        .unwrap_or(if std::env::var_os("ANTHESISD_LONG").is_some() { 1_000 } else { 60_usize });
    let mut random = SmallRng::seed_from_u64(19);
    let mut moments: Vec<usize> = (0..cuts).map(|_| random.random_range(0..=deeds.len())).collect();
    moments.sort_unstable();
    let (mut disk, mut done, mut lost) = (Disk::default(), 0, 0);
    for moment in moments {
        deeds[done..moment].iter().for_each(|deed| disk.take(deed));
        done = moment;
        let (directory, path) = place_in_memory();
        disk.cut(&mut random, directory.path());
        let confirmed = disk.confirmed.map_or(0, |number| number + 1);
        let there = if path.exists() { whole_batches(&path) } else { 0 };
        assert!(
            there >= confirmed && there <= confirmed + 1,
            "cut at {moment}: {confirmed} confirmed, {there} there"
        );
        lost += u64::from(there == confirmed);
    }
    println!(
        "{cuts} power cuts among {} writes and syncs: what was confirmed was there; in {lost} no more",
        deeds.len()
    );
}
