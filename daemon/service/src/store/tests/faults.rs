//! The n-th call to the system fails, once or from then on, for every n until a run passes untouched.
//!
//! The model of these faults: a disk that answers with an error, or is full, at any call that opens, reads, writes, syncs or
//! cuts a file of the store. Not modelled: one that says yes and forgets. strace(1) makes the calls fail.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use super::kill::{batch, say, whole_batches};
use super::*;

/// Set for the process that is to be disturbed.
const CHILD: &str = "ANTHESISD_TEST_FAILING_STORE";
/// As often is tried what fails, before it is left: more often than one fault can make it fail.
const TRIES: usize = 4;
/// More calls than any run makes; a loop that gets here does not end by itself.
const FAR_TOO_MANY: usize = 2000;
/// What fails, and how.
const FAULTS: [(&str, &str); 6] = [
    ("openat", "EIO"),
    ("pread64", "EIO"),
    ("pwrite64", "EIO"),
    ("pwrite64", "ENOSPC"),
    ("fdatasync,fsync", "EIO"),
    ("ftruncate", "EIO"),
];

/// In the long form the process makes its store, too, and writes more: each batch is some twenty calls more.
fn is_long() -> bool {
    std::env::var_os("ANTHESISD_LONG").is_some()
}

/// Tries until it goes, as the keeper does: what a commit did not take is offered again as it is.
fn persistently<T>(mut work: impl FnMut() -> Result<T, crate::store::StoreError>) -> Option<T> {
    for _ in 0..TRIES {
        match work() {
            Ok(done) => return Some(done),
            Err(error) => say(&format!("{error}\n")),
        }
    }
    None
}

fn write_some(path: &Path) -> Option<()> {
    let mut store = persistently(|| Store::open(path))?;
    for number in 0..if is_long() { 6 } else { 1 } {
        let batch = batch(number);
        persistently(|| store.commit(&batch))?;
        say(&format!("confirmed {number}\n"));
        // it fails by itself and is taken up again by the next
        let _ = store.seal_step(batch.readings[0].time);
    }
    persistently(|| Reader::open(path)?.book())?;
    say("done\n");
    Some(())
}

/// Runs it once with that fault; whether the fault came.
fn disturbed(what: &str, error: &str, when: &str) -> bool {
    let (directory, path) = place_in_memory();
    if !is_long() {
        drop(Store::open(&path).unwrap());
    }
    let log = directory.path().join("strace");
    let place = |name: &str| directory.path().join(name);
    let mut strace = Command::new("strace");
    strace.args(["--seccomp-bpf", "-f", "-qq", "-o"]).arg(&log);
    strace.args(["-e", &format!("trace={what}"), "-e", &format!("inject={what}:error={error}:when={when}")]);
    for name in ["anthesisd.db", "anthesisd.db-wal", "anthesisd.db-shm", "anthesisd.db-keeper", ""] {
        strace.arg("-P").arg(place(name));
    }
    let output = strace
        .arg(std::env::current_exe().unwrap())
        .args([
            "--exact",
            "store::tests::faults::whatever_call_fails_what_was_confirmed_is_there",
            "--nocapture",
        ])
        .env(CHILD, &path)
        .stdout(Stdio::null())
        .output()
        .expect("strace, of Debian");
    let said = String::from_utf8_lossy(&output.stderr);
    let case = format!("{what} {error} {when}\n{said}");
    assert!(output.status.success() && !said.contains("panicked"), "{case}");
    let came = fs::read_to_string(&log).unwrap().contains("(INJECTED)");
    let confirmed = said.lines().filter(|line| line.starts_with("confirmed ")).count() as u64;
    let once = !when.ends_with('+');
    assert!(!once || said.contains("done\n"), "a single fault is got over: {case}");
    // whole and sound, whatever was tried and failed
    let there = if path.exists() { whole_batches(&path) } else { 0 };
    assert!(there >= confirmed && there <= confirmed + 1, "{there} of {confirmed} confirmed: {case}");
    came
}

#[test]
fn whatever_call_fails_what_was_confirmed_is_there() {
    if let Some(path) = std::env::var_os(CHILD) {
        write_some(Path::new(&path));
        return;
    }
    for (what, error) in FAULTS {
        for from_then_on in ["", "+"] {
            let untouched =
                (1..FAR_TOO_MANY).find(|n| !disturbed(what, error, &format!("{n}{from_then_on}")));
            let untouched = untouched.expect("a run that is not touched");
            println!("{what} {error}{from_then_on}: failed at each of {} calls", untouched - 1);
            assert!(untouched > 1, "{what} is called at all");
        }
    }
}
