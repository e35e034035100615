//! The terminal: lines, and below them one that says how far the season is.

use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

/// Where nobody redraws a line, progress is said this often.
const SAY_EVERY: Duration = Duration::from_secs(5);
/// Carriage return, then erase to the end of the line (ECMA-48, EL).
const ERASE: &str = "\r\x1b[K";

/// Standard output. Nothing else writes to it.
#[derive(Debug)]
pub(super) struct Screen {
    is_terminal: bool,
    progress: String,
    said: Instant,
}

impl Screen {
    /// A screen with nothing on it.
    pub(super) fn new() -> Self {
        Self { is_terminal: io::stdout().is_terminal(), progress: String::new(), said: Instant::now() }
    }

    /// Writes a line.
    ///
    /// # Errors
    /// When standard output is closed.
    pub(super) fn line(&self, text: &str) -> Result<(), String> {
        if self.is_terminal {
            Self::write(&format!("{ERASE}{text}\n{}", self.progress))
        } else {
            Self::write(&format!("{text}\n"))
        }
    }

    /// Says how far it is: in place on a terminal, as a line now and then elsewhere.
    ///
    /// # Errors
    /// When standard output is closed.
    pub(super) fn progress(&mut self, text: &str) -> Result<(), String> {
        if self.is_terminal {
            if text != self.progress {
                text.clone_into(&mut self.progress);
                Self::write(&format!("{ERASE}{text}"))?;
            }
        } else if self.said.elapsed() >= SAY_EVERY {
            self.said = Instant::now();
            Self::write(&format!("{text}\n"))?;
        }
        Ok(())
    }

    /// Takes the progress away.
    ///
    /// # Errors
    /// When standard output is closed.
    pub(super) fn end_progress(&mut self) -> Result<(), String> {
        self.progress.clear();
        if self.is_terminal { Self::write(ERASE) } else { Ok(()) }
    }

    fn write(text: &str) -> Result<(), String> {
        let mut output = io::stdout().lock();
        output
            .write_all(text.as_bytes())
            .and_then(|()| output.flush())
            .map_err(|error| format!("standard output: {error}"))
    }
}
