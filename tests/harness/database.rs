//! Debian's victoria-metrics and influxdb on loopback ports of their own.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "it serves tests only: what it cannot do fails them, with the cause"
)]

use std::fs::{self, File};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use tempfile::TempDir;

use crate::mosquitto::{started, tool};
use crate::service::eventually;

/// A database server. It goes with the value, its files too.
#[derive(Debug)]
pub struct Database {
    folder: TempDir,
    port: u16,
    process: Child,
}

impl Database {
    /// A victoria-metrics that keeps what is a century old.
    ///
    /// # Panics
    /// When it is not installed or does not start.
    pub fn victoria_metrics() -> Self {
        Self::start(|folder, port| {
            let mut command = tool("victoria-metrics", "victoria-metrics");
            command
                .arg(format!("-httpListenAddr=127.0.0.1:{port}"))
                .arg(format!("-storageDataPath={}", folder.display()))
                .arg("-retentionPeriod=100y");
            command
        })
    }

    /// An influxdb 1.
    ///
    /// # Panics
    /// When it is not installed or does not start.
    pub fn influxdb_1() -> Self {
        Self::start(|folder, port| {
            let shown = folder.display();
            let settings = format!(
                "reporting-disabled = true\nbind-address = \"127.0.0.1:0\"\n[meta]\ndir = \"{shown}/meta\"\n\
                 [data]\ndir = \"{shown}/data\"\nwal-dir = \"{shown}/wal\"\n[http]\nbind-address = \"127.0.0.1:{port}\"\n\
                 [monitor]\nstore-enabled = false\n"
            );
            let file = folder.join("influxdb.conf");
            fs::write(&file, settings).expect("the settings can be written");
            let mut command = tool("influxd", "influxdb");
            command.arg("-config").arg(file);
            command
        })
    }

    fn start(command: impl Fn(&Path, u16) -> Command) -> Self {
        let folder = TempDir::new().expect("a temporary folder");
        let probe = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a free port");
        let port = probe.local_addr().expect("a port").port();
        drop(probe);
        let log = File::create(folder.path().join("log")).expect("a log");
        let mut command = command(folder.path(), port);
        let child = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(log).spawn();
        let process = started(child, "a database", "victoria-metrics or influxdb");
        let mut database = Self { folder, port, process };
        eventually("the database listens", || {
            let alive = matches!(database.process.try_wait(), Ok(None));
            assert!(alive, "the database has ended:\n{}", database.log());
            TcpStream::connect((Ipv4Addr::LOCALHOST, port)).is_ok()
        });
        database
    }

    /// Its address.
    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// What it has said.
    pub fn log(&self) -> String {
        fs::read_to_string(self.folder.path().join("log")).unwrap_or_default()
    }

    /// Asks it something, and gives status and answer.
    ///
    /// # Panics
    /// When it does not answer.
    pub fn ask(&self, path: &str, parameters: &[(&str, &str)], body: Option<String>) -> (u16, String) {
        let runtime = tokio::runtime::Runtime::new().expect("a runtime");
        let url = format!("{}{path}", self.url());
        let client = reqwest::Client::builder().no_proxy().build().expect("a client");
        let request = match body {
            Some(body) => client.post(url).body(body),
            None => client.get(url),
        };
        runtime.block_on(async {
            let answer = request.query(parameters).send().await;
            let answer = answer.unwrap_or_else(|error| panic!("no answer: {error}\n{}", self.log()));
            (answer.status().as_u16(), answer.text().await.expect("a text"))
        })
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
