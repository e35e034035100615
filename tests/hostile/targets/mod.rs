//! The ways in from outside, each as a function of bytes that must not panic and keeps what it promises.
//!
//! The suite runs them on kept inputs and on changes of those.
#![expect(clippy::panic, reason = "a target that is broken, or cannot be tried, says so by a panic")]

mod book;
mod import;
mod line;
mod message;
mod settings;
mod store;

use std::path::{Path, PathBuf};

use allocation_counter::measure;
use bloom_model::reading::{BenchNumber, Observed, Reading};
use bloom_model::site::Site;
use bloom_model::time::Time;
use chrono::TimeDelta;

/// One way in.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Target {
    /// Its name, and that of its folder of inputs.
    pub(crate) name: &'static str,
    /// Hands it an input; panics where a promise is broken.
    pub(crate) feed: fn(&[u8]),
}

/// All of them.
pub(crate) const TARGETS: [Target; 8] = [
    Target { name: "serial", feed: line::serial },
    Target { name: "senml", feed: line::senml },
    Target { name: "configuration", feed: settings::configuration },
    Target { name: "profile", feed: settings::profile },
    Target { name: "mqtt", feed: message::incoming },
    Target { name: "store", feed: store::damaged },
    Target { name: "import", feed: import::file },
    Target { name: "book", feed: book::exchanged },
];

/// 2027-06-02T12:00:00Z.
const NOW: Time = Time::from_unix_ms(1_811_937_600_000);
/// The benches of the house that is attacked.
const BENCHES: [&str; 2] = ["east-3", "west-1"];

/// The target of that name.
pub(crate) fn target(name: &str) -> Option<Target> {
    TARGETS.into_iter().find(|target| target.name == name)
}

/// The inputs kept for a target: beginnings, and whatever once broke it.
pub(crate) fn kept(target: Target) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .ancestors()
        .find_map(|folder| {
            let inputs = folder.join("tests/reference/hostile").join(target.name);
            inputs.is_dir().then_some(inputs)
        })
        .unwrap_or_else(|| panic!("tests/reference/hostile/{} is missing", target.name))
}

/// Runs `work` and checks that it never held more than so many bytes at once.
fn within<T>(most_bytes: usize, what: &str, work: impl FnOnce() -> T) -> T {
    let mut done = None;
    let held = measure(|| done = Some(work())).bytes_max;
    assert!(held <= most_bytes as u64, "{what} held {held} bytes at once, {most_bytes} are the most");
    done.unwrap_or_else(|| unreachable!("the work was done"))
}

/// A site takes half a week of quiet readings on each of its first benches and stays on its feet.
fn live_on(site: &mut Site, from: Time) {
    use bloom_model::quantity::Quantity;
    const BENCHES: usize = 2;
    let mut events = Vec::new();
    let benches = u16::try_from(site.benches().len().min(BENCHES)).unwrap_or_default();
    for half_hour in 0..170_i32 {
        let time = from + TimeDelta::minutes(30 * i64::from(half_hour));
        let wobble = f64::from(half_hour % 7) * 1e-3;
        for number in 0..benches {
            for (quantity, value) in [
                (Quantity::Temperature, 25.0),
                (Quantity::Humidity, 80.0),
                (Quantity::TipRange, 1.6),
                (Quantity::RimRange, 0.9),
            ] {
                let observed = Observed::Value(quantity, value + wobble);
                site.take(&Reading { bench: BenchNumber(number), time, observed }, &mut events);
            }
        }
        site.pass_time(time + TimeDelta::minutes(20), &mut events);
    }
    assert!(site.next_due().is_none_or(|due| due > from), "time has passed");
}
