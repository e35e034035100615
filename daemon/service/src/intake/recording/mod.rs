//! Recordings: JSON Lines of SenML packs whose records carry their own time, from a file, a pipe or standard input.

use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::os::unix::fs::FileTypeExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

use bloom_model::reading::Reading;
use tokio::net::unix::pipe;

use super::decoder::{ArrivalTime, Decoder, Refusal};
use super::feed::{Feed, Patience, Stopped};
use super::lines::each_line;

/// Bytes read at once by commands.
const BUFFER_BYTES: usize = 256 * 1024;
/// After a writer that wrote nothing.
const AFTER_NOTHING: Duration = Duration::from_secs(1);

/// Opens a recording; `-` is standard input.
///
/// # Errors
/// When the file cannot be opened; the text names it.
pub fn open_recording(path: &Path) -> io::Result<Box<dyn BufRead>> {
    if path == Path::new("-") {
        return Ok(Box::new(BufReader::with_capacity(BUFFER_BYTES, io::stdin())));
    }
    let file = File::open(path)
        .map_err(|error| io::Error::new(error.kind(), format!("{}: {error}", path.display())))?;
    Ok(Box::new(BufReader::with_capacity(BUFFER_BYTES, file)))
}

/// Hands what each line of a recording brings to `each`: its readings in chronological order, and what was refused of it.
///
/// # Errors
/// When reading fails; a line that cannot be understood is refused and stops nothing.
pub fn read_recording(
    reader: impl BufRead,
    decoder: &mut Decoder,
    mut each: impl FnMut(&[Reading], &[Refusal]),
) -> io::Result<()> {
    let (mut readings, mut refused) = (Vec::new(), Vec::new());
    each_line(reader, |line| {
        readings.clear();
        refused.clear();
        decoder.line(line, ArrivalTime::Carried, &mut readings, &mut refused);
        if !readings.is_empty() || !refused.is_empty() {
            each(&readings, &refused);
        }
    })
}

/// Looks whether it is there, for `check`.
pub(super) fn try_once(path: &Path) -> Result<String, String> {
    let there = std::fs::metadata(path).map(|_| "is there".to_owned());
    there.map_err(|error| format!("{error}: correct `path`, or make the pipe with mkfifo"))
}

/// Reads a recording as if live: a file once from its beginning, a named pipe for as long as the service runs.
pub(super) async fn run(mut feed: Feed, path: PathBuf) {
    let mut patience = Patience::new();
    loop {
        let (kind, why) = match read_all(&mut feed, &path).await {
            Ok(Ok(())) => {
                let _ = feed.ended().await;
                return;
            }
            Ok(Err(error)) => (
                "the recording cannot be read",
                format!("cannot be read: {error}; check the path and who may read it"),
            ),
            Err(Stopped) => return,
        };
        if feed.down(kind, why).await.is_err() || feed.pause(patience.next_pause()).await.is_err() {
            return;
        }
    }
}

/// Returns at the end of a regular file only.
async fn read_all(feed: &mut Feed, path: &Path) -> Result<io::Result<()>, Stopped> {
    match tokio::fs::metadata(path).await {
        Ok(metadata) if metadata.file_type().is_fifo() => read_pipe(feed, path).await.map(Err),
        Ok(_) => read_file(feed, path).await,
        Err(error) => Ok(Err(error)),
    }
}

async fn read_file(feed: &mut Feed, path: &Path) -> Result<io::Result<()>, Stopped> {
    let mut file = match tokio::fs::File::open(path).await {
        Ok(file) => file,
        Err(error) => return Ok(Err(error)),
    };
    feed.begin(false);
    loop {
        match feed.read(&mut file, |_| ArrivalTime::Carried).await? {
            Ok(0) => return Ok(Ok(())),
            Ok(_) => {}
            Err(error) => return Ok(Err(error)),
        }
    }
}

/// Reads one writer after the other, until the pipe cannot be opened or read.
async fn read_pipe(feed: &mut Feed, path: &Path) -> Result<io::Error, Stopped> {
    // opening this way does not wait for a writer; reading does
    let open = || pipe::OpenOptions::new().open_receiver(path);
    let mut receiver = match open() {
        Ok(receiver) => receiver,
        Err(error) => return Ok(error),
    };
    loop {
        feed.begin(false);
        let mut wrote_nothing = true;
        loop {
            match feed.read(&mut receiver, |_| ArrivalTime::Carried).await? {
                Ok(0) => break,
                Ok(_) => wrote_nothing = false,
                Err(error) => return Ok(error),
            }
        }
        // the new end is opened before the old one closes: what the next writer has written already stays in the pipe
        receiver = match open() {
            Ok(receiver) => receiver,
            Err(error) => return Ok(error),
        };
        if wrote_nothing {
            feed.pause(AFTER_NOTHING).await?;
        }
    }
}

#[cfg(test)]
mod tests;
