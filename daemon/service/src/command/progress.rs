//! How far a long command has come: one line on standard error, on a terminal only, from the second second on.

use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

use crate::words::shown;

/// Nothing is said of what takes no longer.
const QUIET_FOR: Duration = Duration::from_secs(1);
/// Between two tellings.
const EVERY: Duration = Duration::from_millis(200);

/// Tells how far something has come; the line goes when this does.
#[derive(Debug)]
pub(super) struct Progress {
    what: String,
    /// When to tell next; `None` where nobody looks.
    next: Option<Instant>,
    told: bool,
}

impl Progress {
    /// Something begins.
    pub(super) fn new(what: String) -> Self {
        let next = io::stderr().is_terminal().then(|| Instant::now() + QUIET_FOR);
        Self { what, next, told: false }
    }

    /// It has come so far, as a share of the whole.
    pub(super) fn tell(&mut self, share: f64) {
        self.say(|| format!("{:.0} %", 100.0 * share.clamp(0.0, 1.0)));
    }

    /// As [`Self::tell`], where the whole is not known.
    pub(super) fn say(&mut self, far: impl FnOnce() -> String) {
        let Some(next) = self.next.filter(|next| Instant::now() >= *next) else { return };
        self.next = Some(next.max(Instant::now()) + EVERY);
        self.told = true;
        // a terminal that has gone is no reason to stop
        let _ = write!(io::stderr(), "\r\x1b[K{}: {}", shown(&self.what), far());
        let _ = io::stderr().flush();
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.told {
            let _ = write!(io::stderr(), "\r\x1b[K");
        }
    }
}
