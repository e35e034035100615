//! The mirror: what the watch needs to go on by when the record cannot be had, in a small file beside it.
//!
//! It holds the benches' states, the alarms that stand and the ids of what was raised lately. A start that finds the record
//! damaged, locked or gone takes them from here. The file is written whole, synced and renamed, after the commit that it
//! belongs to: so it is ahead of the record only where the record has lost something. Each line has a check sum of its own, and
//! one that rotted costs no other.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use base64ct::{Base64, Encoding};
use bloom_model::event::Severity;
use bloom_model::time::Time;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use tracing::warn;

use super::alarms::{Alarm, Coming};
use super::checkpoint::Checkpoint;
use super::place::{beside, real};

/// Longer than this it is not ours: states of a hundred benches are some megabytes.
const LONGEST: u64 = 64 << 20;

/// What the watch was like when it was last written down.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mirror {
    /// When it was written.
    pub written: Option<Time>,
    /// The number of the run that wrote it.
    pub run: u64,
    /// The running number of the newest reading that the states count.
    pub fed: u64,
    /// Whether the record could not be had then: it lacks what the states count.
    pub away: bool,
    /// When a test alarm was last raised.
    pub tested: Option<Time>,
    /// Ids of what was raised lately, oldest first.
    pub told: Vec<String>,
    /// The benches' states.
    pub benches: Vec<Checkpoint>,
    /// The alarms that stand.
    pub alarms: Vec<Alarm>,
}

/// One line of the file.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Line {
    Watch { written: Option<Time>, run: u64, fed: u64, away: bool, tested: Option<Time>, told: Vec<String> },
    Bench { bench: Arc<str>, version: u32, fed: u64, state: String },
    Alarm(Box<AlarmLine>),
}

#[derive(Debug, Serialize, Deserialize)]
struct AlarmLine {
    event_id: String,
    bench: Option<Arc<str>>,
    kind: String,
    raised: Time,
    stands_until: Option<Time>,
    delivered: Option<Time>,
    acknowledged: Option<Time>,
    acknowledged_by: Option<String>,
    coming: Option<Coming>,
    repeats: u32,
    #[serde(default)]
    repeats_before: u32,
    next_repeat: Option<Time>,
    payload: Value,
}

/// The name of the mirror of the record at `path`.
pub fn mirror_path(path: &Path) -> PathBuf {
    beside(&real(path), "-mirror")
}

impl Mirror {
    /// Reads the mirror of the record at `path`; `None` where there is none. A line that is not what was written is left out, and
    /// said.
    pub fn read(path: &Path) -> Option<Self> {
        let path = mirror_path(path);
        let mut bytes = Vec::new();
        let read = File::open(&path).and_then(|file| file.take(LONGEST).read_to_end(&mut bytes));
        match read {
            Ok(_) => {}
            Err(error) if error.kind() == io::ErrorKind::NotFound => return None,
            Err(error) => {
                warn!("the mirror {} cannot be read: {error}", path.display());
                return None;
            }
        }
        let mut mirror = None;
        for (number, line) in bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()).enumerate() {
            match whole(line) {
                Some(line) => take(mirror.get_or_insert_default(), line),
                None => warn!(
                    line = number + 1,
                    "a line of the mirror {} is not what was written, and is left out",
                    path.display()
                ),
            }
        }
        if let Some(mirror) = &mut mirror {
            // also where the head is among what was left out
            mirror.fed = mirror.benches.iter().map(|bench| bench.fed).fold(mirror.fed, u64::max);
        }
        mirror
    }

    /// Puts it in the place of the mirror of the record at `path`, synced.
    ///
    /// # Errors
    /// The disk's troubles; then the mirror before stays as it was.
    pub fn write(&self, path: &Path) -> io::Result<()> {
        let path = mirror_path(path);
        let new = beside(&path, ".new");
        let mut text = String::new();
        let Self { written, run, fed, away, tested, told, benches, alarms } = self.clone();
        let head = Line::Watch { written, run, fed, away, tested, told };
        add(&mut text, &head)?;
        for Checkpoint { bench, state, version, fed } in benches {
            let state = Base64::encode_string(&state);
            add(&mut text, &Line::Bench { bench, version, fed, state })?;
        }
        for alarm in alarms {
            add(&mut text, &Line::Alarm(Box::new(AlarmLine::of(alarm))))?;
        }
        let put = || -> io::Result<()> {
            let mut file =
                OpenOptions::new().write(true).create(true).truncate(true).mode(0o600).open(&new)?;
            file.write_all(text.as_bytes())?;
            file.sync_all()?;
            fs::rename(&new, &path)?;
            File::open(path.parent().unwrap_or(Path::new(".")))?.sync_all()
        };
        put().inspect_err(|_| {
            let _ = fs::remove_file(&new);
        })
    }
}

/// Adds a line, behind the CRC-32 (ISO-HDLC) of its text.
fn add(text: &mut String, line: &Line) -> io::Result<()> {
    let line = serde_json::to_string(line)?;
    text.push_str(&format!("{:08x} {line}\n", crc32fast::hash(line.as_bytes())));
    Ok(())
}

/// A line as it was written.
fn whole(line: &[u8]) -> Option<Line> {
    let (sum, line) = line.split_at_checked(9)?;
    let sum = u32::from_str_radix(str::from_utf8(sum).ok()?.strip_suffix(' ')?, 16).ok()?;
    (crc32fast::hash(line) == sum).then(|| serde_json::from_slice(line).ok())?
}

fn take(mirror: &mut Mirror, line: Line) {
    match line {
        Line::Watch { written, run, fed, away, tested, told } => {
            *mirror = Mirror { written, run, fed, away, tested, told, ..std::mem::take(mirror) };
        }
        Line::Bench { bench, version, fed, state } => {
            if let Ok(state) = Base64::decode_vec(&state) {
                mirror.benches.push(Checkpoint { bench, state, version, fed });
            }
        }
        Line::Alarm(alarm) => mirror.alarms.push(alarm.alarm()),
    }
}

impl AlarmLine {
    fn of(alarm: Alarm) -> Self {
        Self {
            event_id: alarm.event_id,
            bench: alarm.bench,
            kind: alarm.kind,
            raised: alarm.raised,
            stands_until: alarm.stands_until,
            delivered: alarm.delivered,
            acknowledged: alarm.acknowledged,
            acknowledged_by: alarm.acknowledged_by,
            coming: alarm.coming,
            repeats: alarm.repeats,
            repeats_before: alarm.repeats_before,
            next_repeat: alarm.next_repeat,
            payload: alarm.payload,
        }
    }

    fn alarm(self) -> Alarm {
        Alarm {
            event_id: self.event_id,
            bench: self.bench,
            severity: Severity::Alarm,
            kind: self.kind,
            raised: self.raised,
            stands_until: self.stands_until,
            delivered: self.delivered,
            acknowledged: self.acknowledged,
            acknowledged_by: self.acknowledged_by,
            coming: self.coming,
            ended: None,
            repeats: self.repeats,
            repeats_before: self.repeats_before,
            next_repeat: self.next_repeat,
            payload: self.payload,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mirror() -> Mirror {
        let bench = |bench: &str, state: &[u8]| Checkpoint {
            bench: bench.into(),
            state: state.to_vec(),
            version: 7,
            fed: 41,
        };
        let alarm = Alarm {
            event_id: "east-3-2027a/opening-tonight/1".to_owned(),
            bench: Some("east-3".into()),
            severity: Severity::Alarm,
            kind: "opening-tonight".to_owned(),
            raised: Time::from_unix_ms(1_811_937_600_000),
            stands_until: None,
            delivered: Some(Time::from_unix_ms(1_811_937_601_000)),
            acknowledged: None,
            acknowledged_by: None,
            coming: Some(Coming {
                since: Time::from_unix_ms(1_811_937_700_000),
                until: Time::from_unix_ms(1_811_938_800_000),
                by: Some("Robin".to_owned()),
            }),
            ended: None,
            repeats: 3,
            repeats_before: 2,
            next_repeat: Some(Time::from_unix_ms(1_811_938_800_000)),
            payload: serde_json::json!({ "message": "Go and look.", "rate_cm_hour": 2.25 }),
        };
        Mirror {
            written: Some(Time::from_unix_ms(1_811_937_600_000)),
            run: 5,
            fed: 42,
            away: false,
            tested: None,
            told: vec![alarm.event_id.clone()],
            benches: vec![bench("east-3", &[0, 255, 10, 13]), bench("east-4", b"state")],
            alarms: vec![alarm],
        }
    }

    #[test]
    fn what_is_written_is_read_again_and_a_line_that_rotted_costs_no_other() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("anthesisd.db");
        assert_eq!(Mirror::read(&path), None);
        let mirror = mirror();
        mirror.write(&path).unwrap();
        assert_eq!(Mirror::read(&path), Some(mirror.clone()));
        let whole = fs::read(mirror_path(&path)).unwrap();
        let mut place = 0;
        for (number, length) in whole.split_inclusive(|byte| *byte == b'\n').map(<[u8]>::len).enumerate() {
            for byte in [0, 4, 8, 9, length / 2, length - 2] {
                let mut bytes = whole.clone();
                bytes[place + byte] ^= 1;
                fs::write(mirror_path(&path), bytes).unwrap();
                let found = Mirror::read(&path).unwrap();
                assert_eq!(found.fed, if number == 0 { 41 } else { 42 }, "line {number}, byte {byte}");
                assert_eq!(found.benches.len() + found.alarms.len(), if number == 0 { 3 } else { 2 });
            }
            place += length;
        }
    }

    #[test]
    fn one_that_cannot_be_written_leaves_the_one_before() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("anthesisd.db");
        mirror().write(&path).unwrap();
        // its place is taken: a folder that is not empty cannot be written to
        fs::create_dir_all(beside(&mirror_path(&path), ".new").join("full")).unwrap();
        Mirror { fed: 99, ..mirror() }.write(&path).unwrap_err();
        assert_eq!(Mirror::read(&path), Some(mirror()));
    }
}
