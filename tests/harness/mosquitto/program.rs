//! Programs of Debian packages: found, started, run.

use std::fs::File;
use std::path::PathBuf;
use std::process::{Child, Command};

/// A program of a Debian package, found in PATH or where daemons lie.
pub(crate) fn tool(program: &str, package: &str) -> Command {
    let folders = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&folders)
        .chain([PathBuf::from("/usr/sbin")])
        .map(|folder| folder.join(program))
        .find(|file| File::open(file).is_ok());
    match found {
        Some(file) => Command::new(file),
        None => panic!("{program} is not installed, and these checks need it: apt-get install {package}"),
    }
}

pub(crate) fn started(child: std::io::Result<Child>, program: &str, package: &str) -> Child {
    child.unwrap_or_else(|error| panic!("{program} of package {package} does not start: {error}"))
}

pub(super) fn run(command: &mut Command) {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?} does not start: {error}"));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?} failed ({}): {said}", output.status);
}
