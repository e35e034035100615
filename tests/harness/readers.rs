//! What the page tells programs, read by libraries of another language: see `readers.py`.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::Value;

use crate::house::said;

/// Has a text read, `described` or as `metrics`.
///
/// # Panics
/// When it cannot be read, with the reader's reason; when the readers are not installed.
pub fn read(by: &str, text: &str) -> Value {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut reader = Command::new(here.join("../target/readers/bin/python"))
        .arg(here.join("harness/readers.py"))
        .arg(by)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the readers are there: tests/run installs them");
    let mut input = reader.stdin.take().expect("an input");
    // one that has found a fault reads no further, and says so
    let _ = input.write_all(text.as_bytes());
    drop(input);
    let output = reader.wait_with_output().expect("it ends");
    assert!(output.status.success(), "{}", said(&output));
    serde_json::from_slice(&output.stdout).expect("JSON")
}
