//! What the system says of a process.

use std::fs;
use std::path::Path;

use super::Fault;

/// Bytes that this process has handed to the file system.
pub(super) fn written() -> Result<u64, Fault> {
    number("/proc/self/io", "wchar:")
}

/// The most memory that a process had resident so far, MiB.
pub(super) fn peak_mib(process: u32) -> Result<f64, Fault> {
    Ok(number(&format!("/proc/{process}/status"), "VmHWM:")? as f64 / 1024.0)
}

/// What it has now.
pub(super) fn resident_mib(process: u32) -> Result<f64, Fault> {
    Ok(number(&format!("/proc/{process}/status"), "VmRSS:")? as f64 / 1024.0)
}

fn number(file: &str, name: &str) -> Result<u64, Fault> {
    let text = fs::read_to_string(file)?;
    let line = text.lines().find_map(|line| line.strip_prefix(name));
    let word = line.and_then(|line| line.split_whitespace().next());
    Ok(word.ok_or_else(|| format!("{file} has no {name}"))?.parse()?)
}

/// The length of a file; 0 if there is none.
pub(super) fn length(path: &Path) -> u64 {
    fs::metadata(path).map_or(0, |file| file.len())
}

/// The length of a store's write-ahead log.
pub(super) fn log_length(store: &Path) -> u64 {
    let mut name = store.as_os_str().to_owned();
    name.push("-wal");
    length(Path::new(&name))
}

/// Blocks that all files below a folder take, in bytes.
pub(super) fn folder_length(folder: &Path) -> Result<u64, Fault> {
    let mut bytes = 0;
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        bytes +=
            if entry.file_type()?.is_dir() { folder_length(&entry.path())? } else { entry.metadata()?.len() };
    }
    Ok(bytes)
}
