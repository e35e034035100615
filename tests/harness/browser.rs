//! Chromium, driven as a person would: by WebDriver (W3C), through Debian's chromium-driver.

use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::web::ask;

/// What a window is like.
#[derive(Debug, Clone, Copy)]
pub struct Window {
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
    /// Whether the person prefers dark pages.
    pub dark: bool,
}

impl Window {
    /// A phone held upright, by day.
    pub const PHONE: Self = Self { width: 360, height: 740, dark: false };
    /// A screen in an office, by day.
    pub const SCREEN: Self = Self { width: 1400, height: 900, dark: false };

    /// The same at night.
    #[must_use]
    pub const fn at_night(self) -> Self {
        Self { dark: true, ..self }
    }
}

/// A running chromium-driver. It ends with the value, and its browsers with it.
#[derive(Debug)]
pub struct Driver {
    process: Child,
    port: u16,
    folder: TempDir,
}

impl Driver {
    /// Starts it.
    ///
    /// # Panics
    /// When it is not installed: `tests/run` installs it.
    pub fn start() -> Self {
        let mut process = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver starts: tests/run installs it");
        let output = BufReader::new(process.stdout.take().expect("it has an output"));
        let mut lines = output.lines().map_while(Result::ok);
        // "ChromeDriver was started successfully on port 36443."
        let port = lines.by_ref().find_map(|line| {
            let port =
                line.rsplit_once("on port ").and_then(|(_, port)| port.trim_end_matches('.').parse().ok());
            // what it says first is the port it was asked for
            port.filter(|port| *port != 0)
        });
        // whatever else it says must find a reader
        std::thread::spawn(move || lines.for_each(drop));
        Self {
            process,
            port: port.expect("it says its port"),
            folder: tempfile::tempdir().expect("a folder"),
        }
    }

    /// Opens a window with a profile of its own that reaches nothing but this machine.
    ///
    /// # Panics
    /// When it cannot.
    pub async fn open(&self, window: Window) -> Page {
        let Window { width, height, dark } = window;
        let number = std::fs::read_dir(self.folder.path()).map_or(0, Iterator::count);
        let profile = self.folder.path().join(number.to_string());
        std::fs::create_dir(&profile).expect("a folder");
        let options = json!({
            "args": [
                "--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--disable-dev-shm-usage",
                "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
                format!("--window-size={},{}", width.max(500), height),
                format!("--user-data-dir={}", profile.display()),
                format!("--blink-settings=preferredColorScheme={}", u8::from(!dark)),
            ],
            // a window of a desktop is not as narrow as a phone
            "mobileEmulation": { "deviceMetrics": { "width": width, "height": height, "pixelRatio": 1.0, "touch": width < 600 } },
        });
        let mut wanted = serde_json::Map::new();
        wanted.insert("goog:chromeOptions".to_owned(), options);
        wanted.insert("goog:loggingPrefs".to_owned(), json!({ "browser": "ALL", "performance": "ALL" }));
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(wanted)
            .connect(&format!("http://127.0.0.1:{}", self.port))
            .await
            .expect("chromium starts: tests/run installs it");
        let session = client.session_id().await.ok().flatten().expect("a session");
        Page { client, session, driver: SocketAddr::from(([127, 0, 0, 1], self.port)) }
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        // a polite end takes the browsers along
        let _ =
            std::panic::catch_unwind(|| ask(([127, 0, 0, 1], self.port).into(), "GET /shutdown", &[], ""));
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A window of a browser.
#[derive(Debug)]
pub struct Page {
    /// What drives it.
    pub client: Client,
    session: String,
    driver: SocketAddr,
}

impl Page {
    /// What a script gives.
    ///
    /// # Panics
    /// When it fails.
    pub async fn run(&self, script: &str) -> Value {
        self.client.execute(script, Vec::new()).await.expect("a script runs")
    }

    /// Entries of one of the browser's logs since they were asked for last.
    fn log(&self, kind: &str) -> Vec<Value> {
        let body = json!({ "type": kind }).to_string();
        let line = format!("POST /session/{}/se/log", self.session);
        let answer = ask(self.driver, &line, &[], &body);
        let answer: Value = serde_json::from_str(&answer.body).expect("JSON");
        answer["value"].as_array().cloned().unwrap_or_default()
    }

    /// Gives the browser an order of its own protocol.
    fn tell(&self, order: &str, with: &Value) {
        let line = format!("POST /session/{}/goog/cdp/execute", self.session);
        let answer = ask(self.driver, &line, &[], &json!({ "cmd": order, "params": with }).to_string());
        assert_eq!(answer.status, 200, "{order}: {}", answer.body);
    }

    /// Errors of scripts and what the content policy forbade.
    pub fn complaints(&self) -> Vec<String> {
        let grave = |entry: &Value| entry["level"] == "SEVERE" || entry["source"] == "security";
        self.log("browser")
            .iter()
            .filter(|entry| grave(entry))
            .map(|entry| entry["message"].to_string())
            .collect()
    }

    /// Every address that the window asked for.
    pub fn requests(&self) -> Vec<String> {
        let entries = self.log("performance");
        let messages =
            entries.iter().filter_map(|entry| serde_json::from_str::<Value>(entry["message"].as_str()?).ok());
        messages
            .filter(|entry| entry["message"]["method"] == "Network.requestWillBeSent")
            .filter_map(|entry| entry["message"]["params"]["request"]["url"].as_str().map(str::to_owned))
            .collect()
    }

    /// Writes what is to be seen into a file, the whole page.
    ///
    /// # Panics
    /// When it cannot.
    pub async fn picture(&self, path: &Path) {
        let height = self.run("return document.documentElement.scrollHeight").await.as_u64().unwrap_or(0);
        let width = self.run("return document.documentElement.clientWidth").await.as_u64().unwrap_or(0);
        let metrics =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600 });
        self.tell("Emulation.setDeviceMetricsOverride", &metrics);
        std::fs::write(path, self.client.screenshot().await.expect("a picture"))
            .expect("a file can be written");
    }
}
