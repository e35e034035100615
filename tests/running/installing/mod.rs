//! What a Debian package brings along: manual pages and completions as the commands are, the unit, the broker's access rules, the
//! samples. The package itself is tried by `deploy/try-package`.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests fail them as tests do"
)]

mod broker;
mod manual;
mod package;
mod samples;
mod unit;

use std::path::{Path, PathBuf};

/// A file of the project.
pub(super) fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join(name)
}

/// Its text.
pub(super) fn text(name: &str) -> String {
    let path = file(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}
