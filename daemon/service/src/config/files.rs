//! The files that a configuration names: whether each is there and fit for its use.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use super::fault::ConfigFault;
use crate::password::Password;
use crate::whole_file::{read_bounded, unreadable};

/// What a named file is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Need {
    /// A password or token: one line that nobody else may read.
    Secret,
    /// The hash of a password, which nobody else may read either.
    PasswordHash,
    /// Certificates of an authority, in PEM.
    Certificates,
    /// A program to be run.
    Program,
    /// A device or recording that readings come from; it may be absent now and come later.
    Source,
}

/// A file that the configuration names, and where it does.
#[derive(Debug, Clone)]
pub(super) struct NamedFile {
    pub(super) path: PathBuf,
    pub(super) need: Need,
    pub(super) file: PathBuf,
    pub(super) line: usize,
    pub(super) place: String,
}

impl NamedFile {
    /// The mistake, if the file is not there or not fit for its use.
    pub(super) fn fault(&self) -> Option<ConfigFault> {
        let what = match self.need {
            Need::Secret => secret_fault(&self.path),
            Need::PasswordHash => secret_fault(&self.path).or_else(|| Password::read(&self.path).err()),
            Need::Certificates => certificates_fault(&self.path),
            Need::Program => program_fault(&self.path),
            Need::Source => None,
        }?;
        Some(self.fault_of(what))
    }

    fn fault_of(&self, what: String) -> ConfigFault {
        ConfigFault {
            file: self.file.clone(),
            line: Some(self.line),
            place: self.place.clone(),
            what: format!("{}: {what}", self.path.display()),
        }
    }
}

/// Mistakes where two names of sources lead to the same device or file, as links in `/dev/serial` may.
pub(super) fn shared_sources(named: &[NamedFile]) -> Vec<ConfigFault> {
    let mut seen = BTreeMap::new();
    let mut faults = Vec::new();
    for source in named.iter().filter(|file| file.need == Need::Source) {
        let Ok(device) = fs::canonicalize(&source.path) else { continue };
        match seen.get(&device) {
            Some(line) => faults.push(source.fault_of(format!(
                "leads to {}, as does line {line}; two intakes cannot share it: take one of them out",
                device.display()
            ))),
            None => {
                seen.insert(device, source.line);
            }
        }
    }
    faults
}

fn secret_fault(path: &Path) -> Option<String> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) => return Some(unreadable(&error)),
    };
    match file.metadata() {
        Err(error) => Some(unreadable(&error)),
        Ok(meta) if !meta.is_file() => {
            Some("is no ordinary file; name a file that holds the secret".to_owned())
        }
        Ok(meta) if meta.permissions().mode() & 0o077 != 0 => Some(format!(
            "others may read or change this secret (mode {:04o}); run: chmod 600 {}",
            meta.permissions().mode() & 0o7777,
            path.display()
        )),
        Ok(meta) if meta.len() == 0 => Some("is empty; write the secret into it, as one line".to_owned()),
        Ok(_) => None,
    }
}

fn certificates_fault(path: &Path) -> Option<String> {
    match read_bounded(path) {
        Err(error) => Some(unreadable(&error)),
        Ok(bytes) if !bytes.windows(PEM.len()).any(|window| window == PEM) => {
            Some("holds no certificate in PEM; name the file with the authority's certificate".to_owned())
        }
        Ok(_) => None,
    }
}

/// The line that opens a certificate (RFC 7468, section 5.1).
const PEM: &[u8] = b"-----BEGIN CERTIFICATE-----";

fn program_fault(path: &Path) -> Option<String> {
    // A bare name is looked for as the operating system does when it starts a program.
    let places: Vec<PathBuf> = match std::env::var_os("PATH") {
        Some(folders) if path.components().count() == 1 && !path.is_absolute() => {
            std::env::split_paths(&folders).map(|folder| folder.join(path)).collect()
        }
        _ => vec![path.to_owned()],
    };
    let found = places.iter().find_map(|place| fs::metadata(place).ok().filter(fs::Metadata::is_file));
    match found {
        None => Some("there is no such program; give its whole path".to_owned()),
        Some(meta) if meta.permissions().mode() & 0o111 == 0 => {
            Some(format!("is not executable; run: chmod +x {}", path.display()))
        }
        Some(_) => None,
    }
}
