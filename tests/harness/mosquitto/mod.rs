//! Debian's mosquitto on a loopback port of its own: started, killed, paused, listened to.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "it serves tests only: what it cannot do fails them, with the cause"
)]

mod authority;
mod clients;
mod program;

use std::fmt::Write as _;
use std::fs::{self, File, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::sync_channel;
use std::thread;
use std::time::{Duration, Instant};

use rustix::process::{Pid, Signal, kill_process};
use tempfile::TempDir;

pub use self::authority::Authority;
use self::clients::logged_in;
pub use self::clients::{Flood, Heard, Listener, Login};
use self::program::run;
pub(crate) use self::program::{started, tool};

/// A check that waits longer than this fails; nothing else depends on it.
pub const PATIENCE: Duration = Duration::from_secs(60);
/// Messages that wait to be looked at; with more the broker waits.
const WAITING: usize = 10_000;

/// A broker. It goes with the value, its files too.
#[derive(Debug)]
pub struct Mosquitto {
    folder: TempDir,
    port: u16,
    settings: String,
    process: Option<Child>,
}

impl Mosquitto {
    /// One that lets everybody in.
    ///
    /// # Panics
    /// When mosquitto is not installed or does not start.
    pub fn plain() -> Self {
        Self::with(TempDir::new().expect("a temporary folder"), "allow_anonymous true\n".to_owned())
    }

    /// One that lets that user in and nobody else.
    ///
    /// # Panics
    /// When mosquitto is not installed or does not start.
    pub fn with_password(username: &str, password: &str) -> Self {
        let folder = TempDir::new().expect("a temporary folder");
        let file = folder.path().join("passwords");
        run(tool("mosquitto_passwd", "mosquitto").args(["-c", "-b"]).arg(&file).args([username, password]));
        Self::with(folder, format!("allow_anonymous false\npassword_file {}\n", file.display()))
    }

    /// One with the settings of a file for `/etc/mosquitto/conf.d` and its access rules, on a port of its own, that knows these
    /// users.
    ///
    /// # Panics
    /// When mosquitto is not installed or does not start.
    pub fn with_rules(settings: &str, access: &str, users: &[Login]) -> Self {
        let folder = TempDir::new().expect("a temporary folder");
        let (passwords, rules) = (folder.path().join("passwords"), folder.path().join("access"));
        File::create(&passwords).expect("the passwords' file");
        for (user, password) in users {
            run(tool("mosquitto_passwd", "mosquitto").arg("-b").arg(&passwords).args([user, password]));
        }
        fs::write(&rules, access).expect("the rules are written");
        let settings: String = settings
            .lines()
            .filter(|line| !line.starts_with("listener ") && !line.starts_with("persistence "))
            .map(|line| match line.split(' ').next() {
                Some("password_file") => format!("password_file {}\n", passwords.display()),
                Some("acl_file") => format!("acl_file {}\n", rules.display()),
                _ => format!("{line}\n"),
            })
            .collect();
        Self::with(folder, settings)
    }

    /// One that speaks TLS, with a certificate for `name` that `authority` has signed.
    ///
    /// # Panics
    /// When mosquitto or openssl is not installed or does not start.
    pub fn with_tls(authority: &Authority, name: &str) -> Self {
        let folder = TempDir::new().expect("a temporary folder");
        let (certificate, key) = authority.sign(folder.path(), name);
        let mut settings = "allow_anonymous true\n".to_owned();
        let _ = writeln!(settings, "certfile {}\nkeyfile {}", certificate.display(), key.display());
        Self::with(folder, settings)
    }

    fn with(folder: TempDir, settings: String) -> Self {
        let mut broker = Self { folder, port: 0, settings, process: None };
        // the port is free when it is asked for and may be taken when it is used
        for _ in 0..5 {
            let probe = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a free port");
            broker.port = probe.local_addr().expect("a port").port();
            drop(probe);
            if broker.try_start() {
                return broker;
            }
        }
        panic!("mosquitto did not start; it said:\n{}", broker.log());
    }

    /// The port on 127.0.0.1.
    pub const fn port(&self) -> u16 {
        self.port
    }

    /// Starts it again, with what it kept when it was stopped in order.
    ///
    /// # Panics
    /// When it does not start.
    pub fn start(&mut self) {
        assert!(self.try_start(), "mosquitto did not start again; it said:\n{}", self.log());
    }

    /// Whether it runs and takes connections.
    fn try_start(&mut self) -> bool {
        let folder = self.folder.path().display();
        // as root mosquitto would become a user who may not read the folder; otherwise `user` is passed over
        let config = format!(
            "user root\nlistener {} 127.0.0.1\n{}persistence true\npersistence_location {folder}/\n\
             max_queued_messages 0\nlog_dest stderr\nlog_type all\n",
            self.port, self.settings
        );
        let file = self.folder.path().join("mosquitto.conf");
        fs::write(&file, config).expect("the broker's configuration is written");
        let log =
            OpenOptions::new().create(true).append(true).open(self.log_file()).expect("the broker's log");
        let mut command = tool("mosquitto", "mosquitto");
        let child = command.arg("-c").arg(file).stdout(Stdio::null()).stderr(log).spawn();
        let process = self.process.insert(started(child, "mosquitto", "mosquitto"));
        let deadline = Instant::now() + PATIENCE;
        while Instant::now() < deadline {
            if TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)).is_ok() {
                return true;
            }
            if !matches!(process.try_wait(), Ok(None)) {
                return false;
            }
            thread::sleep(Duration::from_millis(5));
        }
        false
    }

    /// Kills it without warning: it keeps nothing.
    pub fn kill(&mut self) {
        self.end(Signal::KILL);
    }

    /// Kills it and takes away all that it ever kept, as when its disk is replaced.
    ///
    /// # Panics
    /// When its file cannot be removed.
    pub fn kill_and_forget(&mut self) {
        self.kill();
        let kept = self.folder.path().join("mosquitto.db");
        if kept.exists() {
            fs::remove_file(kept).expect("the broker's file can be removed");
        }
    }

    /// Stops it in order: it keeps sessions, queues and retained messages.
    pub fn stop(&mut self) {
        self.end(Signal::TERM);
    }

    /// Freezes it: its port takes connections, and nobody answers.
    pub fn pause(&self) {
        self.signal(Signal::STOP);
    }

    /// Lets it go on.
    pub fn resume(&self) {
        self.signal(Signal::CONT);
    }

    fn end(&mut self, signal: Signal) {
        self.signal(signal);
        if let Some(mut process) = self.process.take() {
            let _ = process.wait();
        }
    }

    fn signal(&self, signal: Signal) {
        if let Some(process) = &self.process {
            let _ = kill_process(Pid::from_child(process), signal);
        }
    }

    fn log_file(&self) -> PathBuf {
        self.folder.path().join("log")
    }

    /// What it has logged since it was first started: every packet, with its topic and length.
    pub fn log(&self) -> String {
        fs::read_to_string(self.log_file()).unwrap_or_default()
    }

    /// The topic and payload length of every message that clients have published, in the order in which it took them.
    pub fn received(&self) -> Vec<(String, usize)> {
        let log = self.log();
        let published = log.lines().filter(|line| line.contains(": Received PUBLISH from "));
        published
            .filter_map(|line| {
                let (_, rest) = line.split_once('\'')?;
                let (topic, rest) = rest.split_once('\'')?;
                let bytes = rest.rsplit_once(" bytes))")?.0.rsplit_once('(')?.1;
                Some((topic.to_owned(), bytes.parse().ok()?))
            })
            .collect()
    }

    /// Waits until it has logged that text.
    ///
    /// # Panics
    /// When it has not for long.
    pub fn wait_for_log(&self, text: &str) {
        let deadline = Instant::now() + PATIENCE;
        while !self.log().contains(text) {
            assert!(Instant::now() < deadline, "mosquitto never logged {text:?}; it said:\n{}", self.log());
            thread::sleep(Duration::from_millis(5));
        }
    }

    /// Listens to a topic filter with mosquitto_sub, in a session that outlives an orderly restart. It listens when this
    /// returns.
    ///
    /// # Panics
    /// When mosquitto-clients is not installed.
    pub fn listen(&self, name: &str, filter: &str) -> Listener {
        self.listens(None, name, filter)
    }

    /// The same, logged in.
    ///
    /// # Panics
    /// When mosquitto-clients is not installed.
    pub fn listen_as(&self, login: Login, name: &str, filter: &str) -> Listener {
        self.listens(Some(login), name, filter)
    }

    fn listens(&self, login: Option<Login>, name: &str, filter: &str) -> Listener {
        let mut command = tool("mosquitto_sub", "mosquitto-clients");
        command.args([
            "-h",
            "127.0.0.1",
            "-p",
            &self.port.to_string(),
            "-q",
            "1",
            "-c",
            "-i",
            name,
            "-t",
            filter,
        ]);
        logged_in(&mut command, login);
        command.args(["-F", "%r %t %p"]).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut process = started(command.spawn(), "mosquitto_sub", "mosquitto-clients");
        let output = process.stdout.take().expect("its output is piped");
        let (sender, heard) = sync_channel(WAITING);
        thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    break;
                }
            }
        });
        self.wait_for_log(&format!("Sending SUBACK to {name}"));
        Listener { process, heard }
    }

    /// Publishes with mosquitto_pub, at QoS 1.
    ///
    /// # Panics
    /// When mosquitto-clients is not installed, or the broker does not take it.
    pub fn publish(&self, topic: &str, payload: &[u8], retain: bool) {
        let file = self.folder.path().join("payload");
        fs::write(&file, payload).expect("the payload is written");
        let mut command = tool("mosquitto_pub", "mosquitto-clients");
        command.args(["-h", "127.0.0.1", "-p", &self.port.to_string(), "-q", "1", "-t", topic]);
        if retain {
            command.arg("-r");
        }
        run(command.arg("-f").arg(file));
    }

    /// Publishes each line as a message of its own, at QoS 1 and no faster than so many a second, until all are said or the value goes.
    ///
    /// # Panics
    /// When mosquitto-clients is not installed.
    pub fn flood(&self, topic: &str, a_second: u32, lines: Vec<String>) -> Flood {
        self.flood_at(1, topic, a_second, lines)
    }

    /// The same at that quality of service.
    ///
    /// # Panics
    /// When mosquitto-clients is not installed.
    pub fn flood_at(&self, qos: u8, topic: &str, a_second: u32, lines: Vec<String>) -> Flood {
        let mut command = tool("mosquitto_pub", "mosquitto-clients");
        command.args([
            "-h",
            "127.0.0.1",
            "-p",
            &self.port.to_string(),
            "-q",
            &qos.to_string(),
            "-l",
            "-t",
            topic,
        ]);
        let child = command.stdin(Stdio::piped()).stderr(Stdio::null()).spawn();
        let mut process = started(child, "mosquitto_pub", "mosquitto-clients");
        let mut input = process.stdin.take().expect("its input is piped");
        let said = Arc::new(AtomicUsize::new(0));
        let (count, pause) = (Arc::clone(&said), Duration::from_secs(1) / a_second.max(1));
        let all = lines.len();
        thread::spawn(move || {
            for line in lines {
                if writeln!(input, "{line}").and_then(|()| input.flush()).is_err() {
                    break;
                }
                count.fetch_add(1, Ordering::Relaxed);
                thread::sleep(pause);
            }
        });
        Flood { process, said, all }
    }

    /// Publishes with mosquitto_pub, at QoS 1, and says whether the broker let it in; what it then does with the message it
    /// does not say.
    ///
    /// # Panics
    /// When mosquitto-clients is not installed.
    pub fn publish_as(&self, login: Option<Login>, topic: &str, payload: &str) -> bool {
        let mut command = tool("mosquitto_pub", "mosquitto-clients");
        command.args([
            "-h",
            "127.0.0.1",
            "-p",
            &self.port.to_string(),
            "-q",
            "1",
            "-t",
            topic,
            "-m",
            payload,
        ]);
        logged_in(&mut command, login);
        command.stderr(Stdio::null()).status().expect("mosquitto_pub starts").success()
    }
}

impl Drop for Mosquitto {
    fn drop(&mut self) {
        self.kill();
    }
}
