//! Pseudo-terminals: a bench that a service can open like any serial port.

use std::fs::{self, File};
use std::io::{self, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{Mode, OFlags, fcntl_getfl, fcntl_setfl, open};
use rustix::io::ioctl_fionread;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

/// What became of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sent {
    /// It went out whole.
    Whole,
    /// Nobody read for too long: it was dropped and counted.
    Dropped,
}

/// A serial line whose far end is a path under a stable name.
///
/// The path's own end stays open here, so that a reader that closes it does not hang the line up; dropping the value
/// does, as pulling the cable would, and takes the name away as a device manager would.
#[derive(Debug)]
pub struct Port {
    controller: File,
    device: PathBuf,
    link: PathBuf,
    /// The end of a line of which the reader has already had the beginning; at most one line.
    owed: Vec<u8>,
    dropped: u64,
    kept_open: OwnedFd,
}

impl Port {
    /// Opens a pseudo-terminal in raw mode and lets `link` point to it, in the place of an older link of that name.
    ///
    /// # Errors
    /// When the system has no pseudo-terminal left, or `link` cannot be made or is something other than a link.
    pub fn open(link: &Path) -> io::Result<Self> {
        let controller = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&controller)?;
        unlockpt(&controller)?;
        let name = ptsname(&controller, Vec::new())?;
        let kept_open =
            open(name.as_c_str(), OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty())?;
        let mut settings = tcgetattr(&kept_open)?;
        settings.make_raw();
        tcsetattr(&kept_open, OptionalActions::Now, &settings)?;
        fcntl_setfl(&controller, fcntl_getfl(&controller)? | OFlags::NONBLOCK)?;
        let device = PathBuf::from(name.to_string_lossy().into_owned());
        point(link, &device)?;
        Ok(Self {
            controller: controller.into(),
            device,
            link: link.to_owned(),
            owed: Vec::new(),
            dropped: 0,
            kept_open,
        })
    }

    /// The stable path to give to a reader.
    pub fn path(&self) -> &Path {
        &self.link
    }

    /// The device behind it, which changes when the port is opened anew.
    pub fn device(&self) -> &Path {
        &self.device
    }

    /// How many bytes wait for a reader.
    ///
    /// # Errors
    /// When the terminal cannot be asked.
    pub fn unread(&self) -> io::Result<u64> {
        Ok(ioctl_fionread(&self.kept_open)?)
    }

    /// How many lines were dropped because nobody read.
    pub const fn dropped(&self) -> u64 {
        self.dropped
    }

    /// Sends a line, waiting at most `patience` for a reader. A line whose beginning is out already is finished with the
    /// next one, so that a slow reader misses lines and never sees half of one.
    ///
    /// # Errors
    /// When the terminal fails for another reason than a full buffer.
    pub fn send(&mut self, line: &[u8], patience: Duration) -> io::Result<Sent> {
        let until = Instant::now() + patience;
        let owed = std::mem::take(&mut self.owed);
        let written = self.write_until(&owed, until)?;
        if written < owed.len() {
            self.owed = owed[written..].to_vec();
            self.dropped += 1;
            return Ok(Sent::Dropped);
        }
        let written = self.write_until(line, until)?;
        if written == line.len() {
            return Ok(Sent::Whole);
        }
        if written > 0 {
            self.owed = line[written..].to_vec();
            return Ok(Sent::Whole);
        }
        self.dropped += 1;
        Ok(Sent::Dropped)
    }

    /// How much of `bytes` went out in time.
    fn write_until(&mut self, bytes: &[u8], until: Instant) -> io::Result<usize> {
        let mut written = 0;
        while written < bytes.len() {
            match self.controller.write(&bytes[written..]) {
                Ok(0) => break,
                Ok(count) => written += count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    let left = until.saturating_duration_since(Instant::now());
                    if left.is_zero() {
                        break;
                    }
                    // a reader that took only a little does not always wake the poll: look again every now and then
                    let wait = left.min(Duration::from_millis(20));
                    let timeout = Timespec::try_from(wait).map_err(io::Error::other)?;
                    poll(&mut [PollFd::new(&self.controller, PollFlags::OUT)], Some(&timeout)).map_or_else(
                        |error| if error == rustix::io::Errno::INTR { Ok(0) } else { Err(error) },
                        Ok,
                    )?;
                }
                Err(error) => return Err(error),
            }
        }
        Ok(written)
    }
}

impl Drop for Port {
    fn drop(&mut self) {
        // a link that meanwhile leads elsewhere belongs to a port opened later
        if fs::read_link(&self.link).is_ok_and(|device| device == self.device) {
            let _ = fs::remove_file(&self.link);
        }
    }
}

/// Lets `link` point to `device`, replacing an older link in one step.
fn point(link: &Path, device: &Path) -> io::Result<()> {
    match fs::symlink_metadata(link) {
        Ok(found) if !found.is_symlink() => {
            let text = format!("{} is there and is no link: name another path", link.display());
            return Err(io::Error::new(io::ErrorKind::AlreadyExists, text));
        }
        _ => {}
    }
    let mut fresh = link.as_os_str().to_owned();
    fresh.push(format!(".{}", std::process::id()));
    let fresh = PathBuf::from(fresh);
    let _ = fs::remove_file(&fresh);
    std::os::unix::fs::symlink(device, &fresh)?;
    fs::rename(&fresh, link)
}

/// Lets a season pass faster than the clock on the wall.
#[derive(Debug, Clone, Copy)]
pub struct Pace {
    begun: Instant,
    speed: f64,
}

impl Pace {
    /// Seconds of the season to one second on the wall, at least one in a thousand.
    pub fn new(speed: f64) -> Self {
        Self { begun: Instant::now(), speed: speed.max(1e-3) }
    }

    /// How long to wait until so much of the season has passed since the beginning.
    pub fn wait_for(&self, season_ms: i64) -> Duration {
        let due = Duration::from_secs_f64((season_ms.max(0) as f64 / 1000.0 / self.speed).min(1e9));
        (self.begun + due).saturating_duration_since(Instant::now())
    }
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use super::*;

    const SOON: Duration = Duration::from_millis(50);

    #[test]
    fn lines_come_through_as_they_were_sent() {
        let folder = tempfile::tempdir().unwrap();
        let mut port = Port::open(&folder.path().join("bench")).unwrap();
        for _ in 0..2 {
            // a reader that closes and comes back finds the line still up
            let mut reader = File::open(port.path()).unwrap();
            let line = b"[{\"n\":\"east-3/rim-range\",\"u\":\"m\",\"v\":0.802}]\r\n";
            assert_eq!(port.send(line, SOON).unwrap(), Sent::Whole);
            let mut got = vec![0; line.len()];
            reader.read_exact(&mut got).unwrap();
            assert_eq!(got, line);
            assert_eq!(port.unread().unwrap(), 0);
        }
    }

    #[test]
    fn what_nobody_has_read_is_counted() {
        let folder = tempfile::tempdir().unwrap();
        let mut port = Port::open(&folder.path().join("bench")).unwrap();
        let mut reader = File::open(port.path()).unwrap();
        port.send(b"[]\n[]\n", SOON).unwrap();
        // once the first byte can be read, all that was sent at once waits
        reader.read_exact(&mut [0]).unwrap();
        assert_eq!(port.unread().unwrap(), 5);
    }

    #[test]
    fn nobody_reading_costs_lines_and_never_half_of_one() {
        let folder = tempfile::tempdir().unwrap();
        let mut port = Port::open(&folder.path().join("bench")).unwrap();
        let line = |number: u32| format!("{number:0>199}\n").into_bytes();
        let sent: Vec<Sent> =
            (0..2000).map(|number| port.send(&line(number), Duration::ZERO).unwrap()).collect();
        assert!(sent.contains(&Sent::Dropped));
        assert_eq!(port.dropped(), sent.iter().filter(|sent| **sent == Sent::Dropped).count() as u64);
        let mut reader = File::open(port.path()).unwrap();
        let mut rest = port.controller.try_clone().unwrap();
        // read as much as was sent whole, while the owed end of the last line goes out
        let whole = sent.iter().filter(|sent| **sent == Sent::Whole).count();
        let owed = std::mem::take(&mut port.owed);
        let mut got = vec![0; whole * 200 - owed.len()];
        reader.read_exact(&mut got).unwrap();
        rest.write_all(&owed).unwrap();
        let mut end = vec![0; owed.len()];
        reader.read_exact(&mut end).unwrap();
        got.extend(end);
        let numbers: Vec<u32> =
            String::from_utf8(got).unwrap().lines().map(|line| line.parse().unwrap()).collect();
        assert_eq!(numbers.len(), whole);
        assert!(numbers.windows(2).all(|pair| pair[1] > pair[0]));
    }

    #[test]
    fn pulling_the_cable_ends_the_reader_and_the_name_comes_back_with_a_new_device() {
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("bench");
        let port = Port::open(&link).unwrap();
        let mut reader = File::open(&link).unwrap();
        drop(port);
        assert!(!link.exists());
        // a hung-up terminal gives an error or the end, never a byte
        assert_eq!(reader.read(&mut [0; 8]).unwrap_or(0), 0);
        let mut again = Port::open(&link).unwrap();
        let mut reader = File::open(&link).unwrap();
        assert_eq!(again.send(b"[]\n", SOON).unwrap(), Sent::Whole);
        let mut got = [0; 3];
        reader.read_exact(&mut got).unwrap();
        assert_eq!(&got, b"[]\n");
    }

    #[test]
    fn a_file_in_the_way_is_not_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("bench");
        fs::write(&link, "mine").unwrap();
        assert!(Port::open(&link).unwrap_err().to_string().contains("is no link"));
        assert_eq!(fs::read_to_string(&link).unwrap(), "mine");
    }
}
