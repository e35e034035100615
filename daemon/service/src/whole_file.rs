//! Small files that are read whole.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// The longest file that is read whole, in bytes; a longer one is refused.
const LONGEST: u64 = 1 << 20;

/// A file's bytes, up to [`LONGEST`].
///
/// # Errors
/// Where it cannot be read, or is longer.
pub(crate) fn read_bounded(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?.take(LONGEST + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LONGEST {
        return Err(io::Error::new(
            io::ErrorKind::FileTooLarge,
            "it is longer than 1 MiB; is it the right file?",
        ));
    }
    Ok(bytes)
}

/// Why a file cannot be read, and what to do.
pub(crate) fn unreadable(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file; create it, or correct the path".to_owned(),
        io::ErrorKind::PermissionDenied => {
            "may not be read by the user that anthesisd runs as; give it to that user".to_owned()
        }
        _ => format!("cannot be read: {error}"),
    }
}
