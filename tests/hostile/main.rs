//! Garbled and hostile input: every kept one, and some thousand changes of those.
//!
//! What is kept under `tests/reference/hostile` is beginnings and whatever once broke a target.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

mod change;
mod targets;

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::LazyLock;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use change::Changer;
use rustix::time::{ClockId, clock_gettime};
use targets::{Target, kept, target};

/// Processor time for each target; how much is tried in it depends on the machine, in what order does not.
fn worth() -> Duration {
    let long = std::env::var_os("ANTHESISD_LONG").is_some();
    if long { Duration::from_secs(600) } else { Duration::from_millis(1500) }
}

/// What the changes are drawn from: ANTHESISD_SEED, or in the long form the second it begins in, so that no two try the same.
fn seed() -> u64 {
    static SEED: LazyLock<u64> = LazyLock::new(|| match std::env::var("ANTHESISD_SEED") {
        Ok(given) => given.parse().expect("ANTHESISD_SEED is a number"),
        Err(_) if std::env::var_os("ANTHESISD_LONG").is_none() => 5,
        Err(_) => SystemTime::now().duration_since(UNIX_EPOCH).expect("a clock after 1970").as_secs(),
    });
    *SEED
}

/// Processor time of this thread so far.
fn worked() -> Duration {
    let spent = clock_gettime(ClockId::ThreadCPUTime);
    Duration::try_from(spent).expect("time that has passed")
}

fn attack(name: &str) {
    let target = target(name).expect("there is such a target");
    let folder = kept(target);
    let mut files: Vec<_> = fs::read_dir(&folder)
        .expect("the inputs can be listed")
        .map(|file| file.expect("an input").path())
        .collect();
    files.sort();
    let inputs: Vec<Vec<u8>> = files.iter().map(|file| fs::read(file).expect("an input")).collect();
    assert!(!inputs.is_empty(), "{name} has nothing to begin with");
    for (file, input) in files.iter().zip(&inputs) {
        println!("{}", file.display());
        (target.feed)(input);
    }
    let mut changer = Changer::new(inputs, seed());
    let began = worked();
    let mut tried = 0;
    while worked() - began < worth() {
        feed_and_keep(target, &changer.changed());
        tried += 1;
    }
    println!("{name}: {tried} changed inputs, ANTHESISD_SEED={}", seed());
}

/// An input that breaks a target is kept, to be tried for good.
fn feed_and_keep(target: Target, input: &[u8]) {
    if let Err(panic) = catch_unwind(AssertUnwindSafe(|| (target.feed)(input))) {
        let file = kept(target).join(format!("found-{}", input.len()));
        fs::write(&file, input).expect("the input can be kept");
        println!(
            "the input is kept in {}: name it for what it broke (ANTHESISD_SEED={})",
            file.display(),
            seed()
        );
        resume_unwind(panic);
    }
}

#[test]
fn a_serial_line_brings_anything() {
    attack("serial");
}

#[test]
fn a_pack_says_anything() {
    attack("senml");
}

#[test]
fn a_configuration_says_anything() {
    attack("configuration");
}

#[test]
fn a_profile_says_anything() {
    attack("profile");
}

#[test]
fn a_message_says_anything() {
    attack("mqtt");
}

#[test]
fn a_store_is_damaged_anywhere() {
    attack("store");
}

#[test]
fn a_file_to_be_imported_holds_anything() {
    attack("import");
}

#[test]
fn a_book_holds_anything() {
    attack("book");
}
