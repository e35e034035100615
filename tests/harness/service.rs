//! `anthesisd run` on a house: started, killed, stopped, listened to and measured.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use rustix::process::{Pid, Resource, Rlimit, Signal, kill_process, prlimit};

use crate::house::House;
use crate::mosquitto::{PATIENCE, started, tool};

/// The kernel's unit for times in proc(5), USER_HZ: 100 on all that Debian runs on but Alpha.
const TICKS_A_SECOND: f64 = 100.0;

/// A running service. It is killed when the value goes.
#[derive(Debug)]
pub struct Service {
    process: Child,
    log: PathBuf,
}

impl Service {
    /// Starts the service, and returns when it has read its configuration and opened its store.
    ///
    /// # Panics
    /// When it does not start.
    pub fn start(house: &House) -> Self {
        Self::spawn(house).started()
    }

    /// Starts the service so that [`Service::let_files_grow_to`] makes its writes fail, as a full disk does, and does not end
    /// it; returns as [`Service::start`] does.
    ///
    /// # Panics
    /// When it does not start.
    pub fn start_to_fill_its_disk(house: &House) -> Self {
        let run = house.command(&["run"]);
        // a process that writes beyond the limit is sent a signal first
        let mut command = Command::new("sh");
        command.args(["-c", "trap '' XFSZ; exec \"$0\" \"$@\""]).arg(run.get_program()).args(run.get_args());
        Self::spawn_command(house, command).started()
    }

    /// Starts the service on a disk that takes nothing, not even its log, until [`Service::let_files_grow_to`] lets it; waits for
    /// nothing.
    ///
    /// # Panics
    /// When the binary does not start.
    pub fn spawn_on_a_full_disk(house: &House) -> Self {
        let run = house.command(&["run"]);
        let mut command = Command::new("sh");
        command.args(["-c", "trap '' XFSZ; ulimit -S -f 0; exec \"$0\" \"$@\""]);
        command.arg(run.get_program()).args(run.get_args());
        Self::spawn_command(house, command)
    }

    /// No file grows beyond so many bytes by its hand from now on; `None` lifts the limit.
    ///
    /// # Panics
    /// When the system does not allow it.
    pub fn let_files_grow_to(&self, bytes: Option<u64>) {
        let limit = Rlimit { current: bytes, maximum: None };
        prlimit(Some(Pid::from_child(&self.process)), Resource::Fsize, limit).expect("a limit can be set");
    }

    fn started(mut self) -> Self {
        let service = &mut self;
        eventually("the service has started", || {
            assert!(service.is_alive(), "the service has ended:\n{}", service.log());
            service.log().contains("starting")
        });
        self
    }

    /// Starts the service and waits for nothing.
    ///
    /// # Panics
    /// When the binary does not start.
    pub fn spawn(house: &House) -> Self {
        Self::spawn_with(house, &[])
    }

    /// The same, with these variables in its environment.
    ///
    /// # Panics
    /// When the binary does not start.
    pub fn spawn_with(house: &House, environment: &[(&str, &OsStr)]) -> Self {
        let mut command = house.command(&["run"]);
        command.envs(environment.iter().copied());
        Self::spawn_command(house, command)
    }

    fn spawn_command(house: &House, mut command: Command) -> Self {
        let log = (0_u32..)
            .map(|number| house.path(&format!("log-{number}")))
            .find(|path| !path.exists())
            .expect("numbers do not run out");
        let to = File::create(&log).expect("the log can be written");
        let process =
            command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(to).spawn().expect("the binary starts");
        Self { process, log }
    }

    /// What it has said so far.
    pub fn log(&self) -> String {
        fs::read_to_string(&self.log).unwrap_or_default()
    }

    /// Waits until it has said that.
    ///
    /// # Panics
    /// When it has not for long.
    pub fn wait_for_log(&self, text: &str) {
        let deadline = Instant::now() + PATIENCE;
        while !self.log().contains(text) {
            assert!(Instant::now() < deadline, "the service never said {text:?}; it said:\n{}", self.log());
            thread::sleep(Duration::from_millis(5));
        }
    }

    /// Whether it still runs.
    pub fn is_alive(&mut self) -> bool {
        matches!(self.process.try_wait(), Ok(None))
    }

    /// The number of its process.
    pub fn process(&self) -> u32 {
        self.process.id()
    }

    /// Ends it without warning.
    pub fn kill(self) {
        drop(self);
    }

    /// Asks it to stop, as a service manager does, and waits until it has.
    ///
    /// # Panics
    /// When it does not stop for long.
    pub fn terminate(mut self) -> (ExitStatus, String) {
        self.send(Signal::TERM);
        eventually("the service has stopped", || !self.is_alive());
        let status = self.process.wait().expect("it has ended");
        (status, self.log())
    }

    /// Hangs up on it, as a terminal that is closed does, or somebody who wants the configuration read again.
    pub fn hang_up(&self) {
        self.send(Signal::HUP);
    }

    /// Sends it a signal, and waits for nothing.
    pub fn send(&self, signal: Signal) {
        let _ = kill_process(Pid::from_child(&self.process), signal);
    }

    /// Memory that it holds, KiB, and the most that it ever held.
    ///
    /// # Panics
    /// When it has ended.
    pub fn resident_kib(&self) -> (u64, u64) {
        let status = fs::read_to_string(format!("/proc/{}/status", self.process.id()))
            .expect("a running process has a status");
        let field = |name: &str| {
            status
                .lines()
                .find_map(|line| line.strip_prefix(name))
                .and_then(|rest| rest.split_whitespace().next())
                .and_then(|number| number.parse().ok())
                .expect("proc(5) names it")
        };
        (field("VmRSS:"), field("VmHWM:"))
    }

    /// Time on a processor so far, seconds.
    ///
    /// # Panics
    /// When it has ended.
    pub fn processor_s(&self) -> f64 {
        let stat = fs::read_to_string(format!("/proc/{}/stat", self.process.id()))
            .expect("a running process has a stat");
        // proc(5): the name in brackets may hold anything; utime and stime are the 12th and 13th field after it
        let fields: Vec<&str> =
            stat.rsplit_once(')').map(|(_, rest)| rest.split_whitespace().collect()).unwrap_or_default();
        let ticks = |place: usize| fields[place].parse::<f64>().expect("a number of ticks");
        (ticks(11) + ticks(12)) / TICKS_A_SECOND
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Waits until something holds.
///
/// # Panics
/// When it does not for long.
pub fn eventually(what: &str, mut holds: impl FnMut() -> bool) {
    let deadline = Instant::now() + PATIENCE;
    while !holds() {
        assert!(Instant::now() < deadline, "waited {} s in vain: {what}", PATIENCE.as_secs());
        thread::sleep(Duration::from_millis(5));
    }
}

/// A service whose calls of one kind take long, by strace(1): a disk that does not say when a write is there. Until the value goes.
#[derive(Debug)]
pub struct Slowed(Child);

impl Slowed {
    /// From now on.
    ///
    /// # Panics
    /// When strace is not installed, or may not trace the service.
    pub fn at(service: &Service, call: &str, each: Duration) -> Self {
        let log = service.log.with_extension("strace");
        let inject = format!("inject={call}:delay_enter={}", each.as_micros());
        let mut strace = tool("strace", "strace");
        strace.args([
            "-f",
            "-e",
            &format!("trace={call}"),
            "-e",
            &inject,
            "-p",
            &service.process().to_string(),
        ]);
        let to = File::create(&log).expect("strace's words can be kept");
        let process =
            started(strace.stdin(Stdio::null()).stdout(Stdio::null()).stderr(to).spawn(), "strace", "strace");
        eventually("strace has taken hold", || {
            fs::read_to_string(&log).unwrap_or_default().contains("attached")
        });
        Self(process)
    }
}

impl Drop for Slowed {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
