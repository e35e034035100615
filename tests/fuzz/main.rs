//! The targets of `tests/hostile` under an engine that follows coverage. `tests/fuzz/run` builds and starts it.
#![no_main]

#[path = "../hostile/targets/mod.rs"]
mod targets;

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;

/// The engine has arguments of its own; the target's name comes by the environment.
static TARGET: LazyLock<targets::Target> = LazyLock::new(|| {
    let name = std::env::var("ANTHESISD_TARGET").unwrap_or_default();
    let names = targets::TARGETS.map(|target| target.name).join(", ");
    targets::target(&name).unwrap_or_else(|| panic!("ANTHESISD_TARGET is {name:?}; there are {names}"))
});

fuzz_target!(|input: &[u8]| (TARGET.feed)(input));
