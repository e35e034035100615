//! What a service manager does for a service, as sd_notify(3) describes it: it listens, and it can see threads.

use std::any::Any;
use std::ffi::OsStr;
use std::fs;
use std::os::unix::net::UnixDatagram;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use nix::sys::ptrace;
use nix::sys::wait::{WaitPidFlag, waitpid};
use nix::unistd::Pid;
use rustix::process::Signal;

use crate::house::House;
use crate::mosquitto::PATIENCE;
use crate::service::Service;

/// A manager that wants a sign of life every [`INTERVAL`].
#[derive(Debug)]
pub struct Manager {
    socket: UnixDatagram,
    path: PathBuf,
}

/// The time within which a sign of life is due.
pub const INTERVAL: Duration = Duration::from_secs(3);

impl Manager {
    /// Listens in the house's folder.
    ///
    /// # Panics
    /// When no socket can be made there.
    pub fn listen(house: &House) -> Self {
        let path = house.path("notify");
        let socket = UnixDatagram::bind(&path).expect("a socket can be made");
        Self { socket, path }
    }

    /// Starts the service and waits until it says that it is ready.
    ///
    /// # Panics
    /// When it never does.
    pub fn start(&self, house: &House) -> Service {
        let service = self.spawn(house);
        self.hear("READY=1", PATIENCE).expect("the service gets ready");
        service
    }

    /// Starts the service and waits for nothing.
    pub fn spawn(&self, house: &House) -> Service {
        let interval = INTERVAL.as_micros().to_string();
        Service::spawn_with(
            house,
            &[("NOTIFY_SOCKET", self.path.as_os_str()), ("WATCHDOG_USEC", OsStr::new(&interval))],
        )
    }

    /// Does with a service whose signs of life stay away what a service manager does: ends it (systemd.service(5), `WatchdogSec=`),
    /// and starts it anew. What holds it is let go when it is dead.
    ///
    /// # Panics
    /// When its signs of life do not stay away, or the next life never gets ready.
    pub fn kills_and_starts_anew(&self, house: &House, service: Service, held: Box<dyn Any>) -> Service {
        let deadline = Instant::now() + PATIENCE;
        while self.hear("WATCHDOG=1", INTERVAL).is_some() {
            assert!(Instant::now() < deadline, "it hangs, and gives signs of life:\n{}", service.log());
        }
        service.send(Signal::ABORT);
        drop(held);
        service.kill();
        self.start(house)
    }

    /// The next word that contains that text, and how often others came before.
    pub fn hear(&self, text: &str, patience: Duration) -> Option<usize> {
        let deadline = Instant::now() + patience;
        let (mut others, mut word) = (0, [0; 1024]);
        loop {
            let left = deadline.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return None;
            }
            self.socket.set_read_timeout(Some(left)).expect("a timeout can be set");
            let Ok(length) = self.socket.recv(&mut word) else { continue };
            if String::from_utf8_lossy(&word[..length]).contains(text) {
                return Some(others);
            }
            others += 1;
        }
    }

    /// Whether a sign of life comes within three intervals, of those that are given from now on.
    pub fn sees_life(&self) -> bool {
        self.socket.set_nonblocking(true).expect("a socket can be told not to wait");
        let mut word = [0; 1024];
        while self.socket.recv(&mut word).is_ok() {}
        self.socket.set_nonblocking(false).expect("a socket can be told to wait");
        self.hear("WATCHDOG=1", INTERVAL * 3).is_some()
    }
}

/// Threads of a process that are held where they are, until the value goes. By whoever froze them only.
#[derive(Debug)]
pub struct Frozen(Vec<Pid>);

impl Frozen {
    /// Holds every thread of the service whose name begins so.
    ///
    /// # Panics
    /// When there is none, or the system does not let us (ptrace(2)).
    pub fn threads(service: &Service, name: &str) -> Self {
        let tasks =
            fs::read_dir(format!("/proc/{}/task", service.process())).expect("a running process has tasks");
        let meant = tasks.filter_map(|task| {
            let path = task.ok()?.path();
            let is_meant = fs::read_to_string(path.join("comm")).ok()?.starts_with(name);
            is_meant.then(|| path.file_name()?.to_str()?.parse().ok()).flatten()
        });
        let threads: Vec<Pid> = meant.map(Pid::from_raw).collect();
        assert!(!threads.is_empty(), "no thread {name}");
        for thread in &threads {
            ptrace::attach(*thread).expect("a child may be traced");
            waitpid(*thread, Some(WaitPidFlag::__WALL)).expect("a traced thread stops");
        }
        Self(threads)
    }
}

impl Drop for Frozen {
    fn drop(&mut self) {
        for thread in &self.0 {
            if ptrace::detach(*thread, None).is_err() {
                // it was killed: the dead wait for whoever traced them
                let _ = waitpid(*thread, Some(WaitPidFlag::__WALL));
            }
        }
    }
}
