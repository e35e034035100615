//! A glass-house in a temporary folder, and the real binary run on it.

use std::fmt::{Debug, Write as _};
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use rusqlite::{Connection, OpenFlags, OptionalExtension};
use serde_json::Value;
use tempfile::TempDir;

use crate::keyed_server::{ORGANIZATION, TOKEN};
use crate::mosquitto::PATIENCE;

/// The `anthesisd` that was built beside the tests.
///
/// # Panics
/// When it was not built: `tests/run` does, and `cargo build --workspace` does.
pub fn anthesisd() -> Command {
    Command::new(built("anthesisd"))
}

/// A binary of the workspace, built in the same profile as the tests.
///
/// # Panics
/// When it was not built.
pub fn built(name: &str) -> PathBuf {
    let own = std::env::current_exe().expect("a test has a file");
    let folder = own.parent().and_then(Path::parent).expect("tests lie in target/PROFILE/deps");
    let binary = folder.join(name);
    assert!(binary.exists(), "{} is not built: run `cargo build --workspace` first", binary.display());
    binary
}

/// The configuration of the site `saltmarsh` in a folder of its own.
#[derive(Debug)]
pub struct House {
    /// The folder; it goes with the value.
    pub folder: TempDir,
    timezone: String,
    sections: String,
    benches: String,
}

impl Default for House {
    fn default() -> Self {
        Self::new()
    }
}

impl House {
    /// A house with nothing on its benches and no bench.
    ///
    /// # Panics
    /// When no temporary folder can be made.
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a temporary folder"),
            timezone: "America/Halifax".to_owned(),
            sections: String::new(),
            benches: String::new(),
        }
    }

    /// Adds a titan arum with both rangers.
    #[must_use]
    pub fn with_bench(self, id: &str) -> Self {
        self.with_bench_of(id, "tip = { mount_height_m = 3.1 }\nrim = { mount_distance_m = 0.95 }")
    }

    /// Adds a titan arum with the given further keys.
    #[must_use]
    pub fn with_bench_of(mut self, id: &str, keys: &str) -> Self {
        let _ = writeln!(
            self.benches,
            "[[bench]]\nid = \"{id}\"\nplant = \"AT-0412\"\nprofile = \"titan-arum\"\n{keys}\n"
        );
        self
    }

    /// Puts it where it is noon now, give or take half an hour, so that what waits for the day need not wait.
    #[must_use]
    pub fn where_it_is_noon(mut self) -> Self {
        let ahead = 12 - i64::from(chrono::Timelike::hour(&chrono::Utc::now()));
        // the signs of these zones are those of POSIX: GMT-3 is three hours ahead of Greenwich
        self.timezone = match ahead {
            0 => "Etc/GMT".to_owned(),
            1.. => format!("Etc/GMT-{ahead}"),
            _ => format!("Etc/GMT+{}", -ahead),
        };
        self
    }

    /// Adds sections such as `[mqtt]` or `[[intake]]`.
    #[must_use]
    pub fn with(mut self, sections: &str) -> Self {
        self.sections.push_str(sections);
        self.sections.push('\n');
        self
    }

    /// Adds an intake that reads that file or pipe of the house as if live.
    #[must_use]
    pub fn with_recording(self, name: &str) -> Self {
        let section = format!("[[intake]]\nkind = \"recording\"\npath = \"{}\"\n", self.path(name).display());
        self.with(&section)
    }

    /// Adds a serial line under that name in the house's folder.
    #[must_use]
    pub fn with_serial(self, name: &str) -> Self {
        let section = format!(
            "[[intake]]\nkind = \"serial\"\nport = \"{}\"\nbaud = 115200\n",
            self.path(name).display()
        );
        self.with(&section)
    }

    /// Adds a broker on this machine that lets everybody in.
    #[must_use]
    pub fn with_broker(self, port: u16) -> Self {
        self.with(&format!("[mqtt]\nbroker = \"mqtt://127.0.0.1:{port}\"\n"))
    }

    /// Copies readings to the database at that address, with the token and the names that [`keyed_server`](crate::keyed_server) knows.
    ///
    /// # Panics
    /// When the token cannot be written.
    #[must_use]
    pub fn with_readings_to(self, url: &str, bucket: &str) -> Self {
        let token = self.path("token");
        fs::write(&token, TOKEN).expect("the token can be written");
        fs::set_permissions(&token, fs::Permissions::from_mode(0o600)).expect("its mode can be set");
        self.with(&format!(
            "[readings_to]\ndatabase = \"{url}\"\norganization = \"{ORGANIZATION}\"\nbucket = \"{bucket}\"\ntoken_file = \"token\"\n"
        ))
    }

    /// The path of a file in the house.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The configuration, written.
    ///
    /// # Panics
    /// When it cannot be written.
    pub fn config(&self) -> PathBuf {
        let path = self.path("anthesisd.toml");
        let text = format!(
            "[site]\nname = \"saltmarsh\"\ntimezone = \"{}\"\n\n[store]\npath = \"{}\"\n\n{}\n{}",
            self.timezone,
            self.path("anthesisd.db").display(),
            self.sections,
            self.benches
        );
        // a service that is just starting may be reading it
        if fs::read_to_string(&path).ok().as_ref() != Some(&text) {
            fs::write(&path, text).expect("the configuration can be written");
        }
        path
    }

    /// A command of `anthesisd` on this house's configuration.
    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = anthesisd();
        command.arg("--config").arg(self.config()).args(arguments);
        command
    }

    /// Runs a command to its end.
    ///
    /// # Panics
    /// When it cannot be started.
    pub fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().expect("the binary starts")
    }

    /// The same house, folder, store and benches, with these sections in place of those it had.
    #[must_use]
    pub fn with_instead(mut self, sections: &str) -> Self {
        self.sections.clear();
        self.with(sections)
    }

    /// The store, opened to be read, whoever keeps it.
    ///
    /// # Panics
    /// When there is none.
    pub fn store(&self) -> Connection {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let store =
            Connection::open_with_flags(self.path("anthesisd.db"), flags).expect("the store can be opened");
        store.busy_timeout(PATIENCE).expect("a timeout can be set");
        store
    }

    /// Another program that writes to the store and does not come to an end: nobody else can write until the value goes.
    ///
    /// # Panics
    /// When the store cannot be opened or is held by others for long.
    pub fn hold_store(&self) -> Connection {
        let store = Connection::open(self.path("anthesisd.db")).expect("the store can be opened");
        store.busy_timeout(PATIENCE).expect("a timeout can be set");
        store.execute_batch("BEGIN IMMEDIATE").expect("the store can be held");
        store
    }

    /// A figure that the store answers with; 0 where it answers nothing.
    ///
    /// # Panics
    /// When the question is wrong.
    pub fn figure(&self, sql: &str) -> i64 {
        let answer = self.store().query_row(sql, [], |row| row.get::<_, Option<i64>>(0)).optional();
        answer.expect("a right question").flatten().unwrap_or(0)
    }

    /// The events in the store, byte for byte, in the order in which they were raised.
    ///
    /// # Panics
    /// When they cannot be read.
    pub fn stored_events(&self) -> Vec<String> {
        let store = self.store();
        let mut statement =
            store.prepare("SELECT payload FROM event ORDER BY number").expect("a right question");
        let rows = statement.query_map([], |row| row.get(0)).expect("rows");
        rows.collect::<Result<_, _>>().expect("texts")
    }

    /// The events that `replay` writes for a recording.
    ///
    /// # Panics
    /// When it fails, with all it said.
    pub fn replay(&self, recording: &str) -> Vec<Value> {
        events_of(&self.replay_lines(recording).join("\n"))
    }

    /// The same as lines, byte for byte.
    ///
    /// # Panics
    /// When it fails, with all it said.
    pub fn replay_lines(&self, recording: &str) -> Vec<String> {
        let path = self.path("recording.jsonl");
        fs::write(&path, recording).expect("the recording can be written");
        let output = self.run(&["replay", &path.display().to_string()]);
        assert!(output.status.success(), "{}", said(&output));
        String::from_utf8_lossy(&output.stdout).lines().map(str::to_owned).collect()
    }
}

/// All that a command said, for a failure that needs no second run.
pub fn said(output: &Output) -> String {
    format!(
        "status {}\n--- stdout\n{}\n--- stderr\n{}",
        output.status,
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    )
}

/// Two long rows are the same; where they are not, the first difference is shown instead of both.
///
/// # Panics
/// When they differ.
pub fn assert_alike<T: PartialEq + Debug>(found: &[T], wanted: &[T]) {
    if let Some(place) = found.iter().zip(wanted).position(|(found, wanted)| found != wanted) {
        assert_eq!(found[place], wanted[place], "number {place}");
    }
    assert_eq!(found.len(), wanted.len(), "as many");
}

/// Events from lines of JSON.
///
/// # Panics
/// On a line that is none.
pub fn events_of(lines: &str) -> Vec<Value> {
    lines.lines().map(|line| serde_json::from_str(line).expect("an event a line")).collect()
}

/// The events of one kind.
pub fn of_kind<'a>(events: &'a [Value], kind: &str) -> Vec<&'a Value> {
    events.iter().filter(|event| event["event"] == kind).collect()
}
