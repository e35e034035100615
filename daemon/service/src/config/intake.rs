//! `[[intake]]`: the lines and recordings by which readings come in.

use std::path::PathBuf;

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

#[derive(Clone, Copy)]
enum Kind {
    Serial,
    Recording,
}

const KINDS: [(&str, Kind); 2] = [("serial", Kind::Serial), ("recording", Kind::Recording)];

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
            for key in ["port", "path", "baud"] {
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
    match value.as_str() {
        Some(planned @ ("modbus" | "mqtt")) => Err(format!(
            "this version has no {planned} intakes; it reads kind = \"serial\" and \"recording\""
        )),
        _ => one_of(&KINDS)(value),
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
