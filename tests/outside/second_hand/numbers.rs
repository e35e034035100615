//! The profile's numbers, read from the file itself.

use std::path::Path;

/// A profile file as it lies in `config/profiles`.
pub(super) struct Numbers(toml::Table);

impl Numbers {
    pub(super) fn of(name: &str) -> Self {
        let path =
            Path::new(env!("CARGO_MANIFEST_DIR")).join("../config/profiles").join(format!("{name}.toml"));
        Self(std::fs::read_to_string(path).unwrap().parse().unwrap())
    }

    pub(super) fn get(&self, key: &str) -> f64 {
        self.0[key]["value"].as_float().unwrap()
    }

    /// Three numbers of one name: one in ten is lower than the first and higher than the last.
    pub(super) fn three(&self, before: &str, ends: [&str; 3], after: &str) -> [f64; 3] {
        ends.map(|end| self.get(&format!("{before}{end}{after}")))
    }

    /// Days from something seen to the opening.
    pub(super) fn days_from(&self, what: &str) -> [f64; 3] {
        self.three(&format!("{what}_to_opening_"), ["earliest", "likely", "latest"], "_d")
    }
}
