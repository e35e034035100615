//! Mistakes of a configuration: each with file, line, key, what is wrong and what would be right.

use std::fmt;
use std::path::PathBuf;

/// One mistake.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConfigFault {
    /// The file in which it stands.
    pub file: PathBuf,
    /// Its line there, counted from 1; absent where the whole file is meant.
    pub line: Option<usize>,
    /// The section and key, and the value where one was given; empty where the whole file or line is meant.
    pub place: String,
    /// What is wrong, and what would be right.
    pub what: String,
}

impl ConfigFault {
    /// A mistake of a whole file.
    pub(super) fn of_file(file: impl Into<PathBuf>, what: impl Into<String>) -> Self {
        Self { file: file.into(), line: None, place: String::new(), what: what.into() }
    }
}

impl fmt::Display for ConfigFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:", self.file.display())?;
        if let Some(line) = self.line {
            write!(f, "{line}:")?;
        }
        if !self.place.is_empty() {
            write!(f, " {}:", self.place)?;
        }
        write!(f, " {}", self.what)
    }
}

/// All mistakes found in one pass, in the order of their files and lines; displayed one a line. Never empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConfigFaults(Vec<ConfigFault>);

impl ConfigFaults {
    /// Puts mistakes in the order in which a person works through a file.
    pub(super) fn new(mut faults: Vec<ConfigFault>) -> Self {
        faults.sort_by(|a, b| (&a.file, a.line).cmp(&(&b.file, b.line)));
        Self(faults)
    }

    /// Each mistake.
    pub fn iter(&self) -> std::slice::Iter<'_, ConfigFault> {
        self.0.iter()
    }
}

impl From<ConfigFault> for ConfigFaults {
    fn from(fault: ConfigFault) -> Self {
        Self(vec![fault])
    }
}

impl IntoIterator for ConfigFaults {
    type Item = ConfigFault;
    type IntoIter = std::vec::IntoIter<ConfigFault>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl fmt::Display for ConfigFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, fault) in self.0.iter().enumerate() {
            if place > 0 {
                writeln!(f)?;
            }
            fault.fmt(f)?;
        }
        Ok(())
    }
}

impl std::error::Error for ConfigFaults {}
