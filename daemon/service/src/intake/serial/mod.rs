//! A serial line that brings SenML packs, one a line.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use tokio::io::AsyncRead;
use tokio_serial::{ClearBuffer, SerialPort, SerialStream};

use super::feed::{Feed, Patience, Stopped};
use super::stamp::Stamper;
use crate::clock::Clock;

/// Bits on the line for each byte: start, eight of data, stop.
const BITS_A_BYTE: f64 = 10.0;

/// Reads the port until the service stops, and not before it is known what time it is. A port that is missing or goes is tried again under the same name.
pub(super) async fn run(mut feed: Feed, port: PathBuf, baud: u32, clock: Arc<Clock>) {
    let mut patience = Patience::new();
    if feed.clock_is_set(&clock).await.is_err() {
        return;
    }
    loop {
        feed.waits_for_a_driver();
        let Ok(opened) = feed.unless_stopped(open(&port, baud)).await else { return };
        let (kind, why) = match opened {
            Ok(stream) => {
                feed.begin(true);
                match read_until_gone(stream, &mut feed, baud, &clock).await {
                    Ok(why) => ("the port is gone", why),
                    Err(Stopped) => return,
                }
            }
            Err(why) => ("the port cannot be opened", why),
        };
        if feed.is_up() {
            patience = Patience::new();
        }
        if feed.down(kind, why).await.is_err() || feed.pause(patience.next_pause()).await.is_err() {
            return;
        }
    }
}

/// Opens the port once and closes it again, for `check`.
pub(super) async fn try_once(port: &Path, baud: u32) -> Result<String, String> {
    open(port, baud).await.map(|_| format!("opens at {baud} baud"))
}

/// Opens the port and clears what came before.
async fn open(port: &Path, baud: u32) -> Result<SerialStream, String> {
    let settings = tokio_serial::new(port.to_string_lossy(), baud);
    // off the async threads: a driver in trouble may take its time
    let opened = tokio::task::spawn_blocking(move || {
        let stream = SerialStream::open(&settings)?;
        stream.clear(ClearBuffer::Input)?;
        Ok::<_, tokio_serial::Error>(stream)
    });
    match opened.await {
        Ok(Ok(stream)) => Ok(stream),
        Ok(Err(error)) => {
            let error = error.to_string();
            Err(format!("cannot be opened: {error}; {}", remedy(&error)))
        }
        Err(error) => Err(format!("opening it failed: {error}")),
    }
}

/// How long a byte takes on a line of that speed, ms.
fn ms_a_byte(baud: u32) -> f64 {
    1e3 * BITS_A_BYTE / f64::from(baud.max(1))
}

/// The kind of the error says "no device" for nearly everything; the text knows better.
fn remedy(error: &str) -> &'static str {
    let error = error.to_ascii_lowercase();
    if error.contains("permission") {
        "let the service's user into the group that owns the port"
    } else if error.contains("lock") || error.contains("busy") {
        "another program holds the port, the running service perhaps: stop it first"
    } else {
        "plug the adapter in, or correct `port` in the configuration"
    }
}

/// Reads until the device goes, says how it went, and closes it: a handle still held makes the kernel give the device
/// another name when it comes back.
async fn read_until_gone(
    mut stream: impl AsyncRead + Unpin,
    feed: &mut Feed,
    baud: u32,
    clock: &Clock,
) -> Result<String, Stopped> {
    let mut stamper = Stamper::new(ms_a_byte(baud));
    loop {
        match feed.read(&mut stream, |behind| stamper.time(clock, behind)).await? {
            Ok(0) => return Ok("the device is gone: check cable and adapter".to_owned()),
            Ok(_) => {}
            Err(error) => return Ok(format!("the device is gone ({error}): check cable and adapter")),
        }
    }
}

#[cfg(test)]
mod tests;
