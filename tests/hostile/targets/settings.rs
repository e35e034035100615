//! The configuration, and profiles of plants.

use std::fs;
use std::path::Path;

use anthesisd::config::{self, ConfigFaults, ProfileError};
use bloom_model::site::Site;
use bloom_model::spec::{BenchSpec, Limits, Mount};

use super::{NOW, live_on, within};

/// The most that reading a file may take, bytes a byte of it and besides: profiles of some kinds of plants.
const BYTES_A_BYTE: usize = 600;
const BYTES_BESIDES: usize = 8 << 20;

/// What is taken serves a house; what is not is refused with a place in the file.
pub(super) fn configuration(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else { return };
    let read = || config::parse(text, Path::new("/nowhere/anthesisd.toml"));
    match within(BYTES_BESIDES + BYTES_A_BYTE * input.len(), "a configuration", read) {
        Ok(config) => {
            assert!(!config.benches.is_empty());
            let again = read().map(|again| format!("{again:?}"));
            assert_eq!(again, Ok(format!("{config:?}")));
            let benches = config.benches.iter().map(|bench| bench.spec.clone()).collect();
            live_on(&mut Site::new(config.site, benches), NOW);
        }
        Err(faults) => placed(&faults, text),
    }
}

fn placed(faults: &ConfigFaults, text: &str) {
    let lines = text.lines().count().max(1);
    assert!(faults.iter().len() > 0);
    for fault in faults.iter() {
        // what is missing may be told for the end of the file
        assert!(fault.line.is_none_or(|line| (1..=lines + 1).contains(&line)), "{fault}");
        assert!(!fault.what.is_empty());
    }
}

/// Likewise for a profile: a bench with it lives.
pub(super) fn profile(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else { return };
    let house = super::store::folder();
    let folder = house.path().join("profiles");
    fs::create_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    fs::write(folder.join("x.toml"), text).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let read = || config::profile("x", house.path());
    match within(BYTES_BESIDES + BYTES_A_BYTE * input.len(), "a profile", read) {
        Ok(profile) => {
            let sample = "[site]\nname = \"saltmarsh\"\ntimezone = \"America/Halifax\"\n[[bench]]\nid = \"east-3\"\nprofile = \"titan-arum\"\n";
            let config = config::parse(sample, Path::new("/nowhere/anthesisd.toml"));
            let site = config.unwrap_or_else(|faults| panic!("{faults}")).site;
            let mount = |distance_m| Some(Mount { distance_m, assumed_speed_m_s: None });
            let bench = BenchSpec {
                id: "east-3".into(),
                plant: None,
                profile,
                tip: mount(3.1),
                rim: mount(0.95),
                limits: Limits::default(),
                earlier: Vec::new(),
            };
            live_on(&mut Site::new(site, vec![bench]), NOW);
        }
        Err(ProfileError::Wrong(faults)) => placed(&faults, text),
        Err(ProfileError::Unknown { name, .. }) => panic!("{name} is there"),
    }
}
