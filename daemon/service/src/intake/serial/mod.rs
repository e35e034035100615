//! A serial line that brings SenML packs, one a line.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use bloom_model::time::Time;
use chrono::TimeDelta;
use tokio::io::AsyncRead;
use tokio_serial::{ClearBuffer, SerialPort, SerialStream};

use super::decoder::ArrivalTime;
use super::feed::{Feed, Patience, Stopped};
use crate::clock::Clock;

/// Bits on the line for each byte: start, eight of data, stop.
const BITS_A_BYTE: f64 = 10.0;

/// While the machine's clock is not set, it is looked at this often.
const CLOCK_LOOK: Duration = Duration::from_millis(500);

/// Reads the port until the service stops, and not before it is known what time it is. A port that is missing or goes is tried again under the same name.
pub(super) async fn run(mut feed: Feed, port: PathBuf, baud: u32, clock: Arc<Clock>) {
    let mut patience = Patience::new();
    let mut said = false;
    while clock.is_waiting() {
        feed.wait_for_clock(&mut said);
        if feed.pause(CLOCK_LOOK).await.is_err() {
            return;
        }
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
///
/// # Errors
/// With what is wrong and what to do.
pub async fn try_port(port: &Path, baud: u32) -> Result<(), String> {
    open(port, baud).await.map(drop)
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
    let mut stamper = Stamper::new(baud);
    loop {
        match feed.read(&mut stream, |behind| stamper.time(clock, behind)).await? {
            Ok(0) => return Ok("the device is gone: check cable and adapter".to_owned()),
            Ok(_) => {}
            Err(error) => return Ok(format!("the device is gone ({error}): check cable and adapter")),
        }
    }
}

/// The times at which lines were complete.
#[derive(Debug)]
struct Stamper {
    ms_a_byte: f64,
    last: Option<Time>,
}

impl Stamper {
    fn new(baud: u32) -> Self {
        Self { ms_a_byte: 1e3 * BITS_A_BYTE / f64::from(baud.max(1)), last: None }
    }

    /// The time of a line that is followed by `behind` bytes in the same read.
    ///
    /// With a clock that follows the readings there is no arrival: they carry their own time.
    fn time(&mut self, clock: &Clock, behind: usize) -> ArrivalTime {
        match clock {
            Clock::Machine(_) => ArrivalTime::Stamped(self.stamp(clock.now(), behind)),
            Clock::Readings(_) => ArrivalTime::Carried,
        }
    }

    /// Lines read together did not come together: the bytes behind one took their time on the line. A line comes at least
    /// a millisecond after the one before it, so that none passes for its repetition, but never after `now`.
    fn stamp(&mut self, now: Time, behind: usize) -> Time {
        let came = now - TimeDelta::milliseconds((behind as f64 * self.ms_a_byte) as i64);
        let after_last = self.last.map_or(came, |last| (last + TimeDelta::milliseconds(1)).min(now));
        let stamp = came.max(after_last);
        self.last = Some(stamp);
        stamp
    }
}

#[cfg(test)]
mod tests;
