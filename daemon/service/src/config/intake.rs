//! `[[intake]]`: the lines and recordings by which readings come in.

use std::path::{Path, PathBuf};

use toml::de::DeValue;

use super::files::Need;
use super::section::{Once, Section};
use super::value::{Read, one_of, text, whole};

/// Something that readings come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum IntakeConfig {
    /// A serial line that brings SenML packs, one a line.
    Serial {
        /// The device, best by its `/dev/serial/by-id` name, which stays when devices are plugged in another order.
        port: PathBuf,
        /// Symbols a second; 9600 unless set.
        baud: u32,
    },
    /// A recording or a pipe, read as if live.
    Recording {
        /// The file.
        path: PathBuf,
    },
}

impl IntakeConfig {
    /// Where it reads from, as it is configured: by this it is called in messages.
    pub fn source(&self) -> &Path {
        match self {
            Self::Serial { port, .. } => port,
            Self::Recording { path } => path,
        }
    }

    /// Its kind, as it is configured.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Serial { .. } => Kind::Serial.name(),
            Self::Recording { .. } => Kind::Recording.name(),
        }
    }

    /// Whether its readings are made as they come, and not long before.
    pub const fn is_live(&self) -> bool {
        !matches!(self, Self::Recording { .. })
    }
}

#[derive(Clone, Copy)]
enum Kind {
    Serial,
    Recording,
}

impl Kind {
    const ALL: [Self; 2] = [Self::Serial, Self::Recording];

    const fn name(self) -> &'static str {
        match self {
            Self::Serial => "serial",
            Self::Recording => "recording",
        }
    }

    /// The keys that stand beside it.
    const fn keys(self) -> &'static [&'static str] {
        match self {
            Self::Serial => &["port", "baud"],
            Self::Recording => &["path"],
        }
    }
}

/// The speed of a line where none is given.
const BAUD: u32 = 9600;

/// Speeds that serial adapters commonly serve.
const BAUDS: [u32; 13] =
    [300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115_200, 230_400, 460_800, 921_600];

/// Reads one `[[intake]]`; `seen` holds the ports and paths of those before it.
pub(super) fn intake(section: &mut Section<'_>, seen: &mut Once<PathBuf>) -> Option<IntakeConfig> {
    let kind = section.required("kind", "\"serial\"", intake_kind);
    match kind {
        Some(Kind::Serial) => {
            let port = source(section, "port", "\"/dev/serial/by-id/usb-example\"", seen);
            let baud = section.optional("baud", baud).unwrap_or(BAUD);
            Some(IntakeConfig::Serial { port: port?, baud })
        }
        Some(Kind::Recording) => {
            let key = if section.has("port") { "port" } else { "path" };
            if key == "port" && section.optional("path", text).is_some() {
                section.fault("path", "says the same as port; keep one of the two");
            }
            Some(IntakeConfig::Recording { path: source(section, key, "\"/srv/east-3.jsonl\"", seen)? })
        }
        None => {
            // What else stands here cannot be judged without the kind: only what no kind knows is a mistake.
            for key in Kind::ALL.iter().flat_map(|kind| kind.keys()) {
                section.optional(key, |_| Ok(()));
            }
            None
        }
    }
}

fn source(
    section: &mut Section<'_>,
    key: &'static str,
    example: &str,
    seen: &mut Once<PathBuf>,
) -> Option<PathBuf> {
    let name = section.required(key, example, text)?;
    let path = section.path_of(&name);
    seen.take(section, key, path.clone(), "two intakes cannot share it: take one of them out, or correct it");
    section.names_file(key, &path, Need::Source);
    Some(path)
}

fn intake_kind(value: &DeValue<'_>) -> Read<Kind> {
    let kinds = Kind::ALL.map(|kind| (kind.name(), kind));
    match value.as_str() {
        Some(planned @ ("modbus" | "mqtt")) => {
            let known = Kind::ALL.map(|kind| format!("\"{}\"", kind.name())).join(" and ");
            Err(format!("this version has no {planned} intakes; it reads kind = {known}"))
        }
        _ => one_of(&kinds)(value),
    }
}

fn baud(value: &DeValue<'_>) -> Read<u32> {
    let given = whole(1, u32::MAX, "baud")(value)?;
    if BAUDS.contains(&given) {
        return Ok(given);
    }
    let near = BAUDS.into_iter().min_by_key(|known| known.abs_diff(given)).unwrap_or(BAUD);
    Err(format!("is no speed of a serial line; did you mean {near}?"))
}
