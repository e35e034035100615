//! The kernel's clocks.

use std::path::Path;
use std::time::Duration;

use bloom_model::time::Time;
use rustix::time::{ClockId, clock_gettime};

use super::Source;

/// systemd-timesyncd, Debian's own keeper of the time, makes this file when it has first had the time from a server, and has
/// this folder while it runs (systemd-timesyncd.service(8)). Of other keepers of time nothing is known without asking the
/// kernel by a call that no maintained crate offers safely: with them a clock that was never set counts as set.
const TIMESYNC_FOLDER: &str = "/run/systemd/timesync";
/// The file in it that is there once the clock has been set.
const SYNCHRONISED_FILE: &str = "/run/systemd/timesync/synchronized";

/// The time of day that the machine claims, as it is: for commands, which a person types now.
pub fn wall_now() -> Time {
    Time::from(chrono::Utc::now())
}

#[derive(Debug)]
pub(super) struct Kernel;

impl Source for Kernel {
    fn wall(&self) -> Time {
        wall_now()
    }

    fn monotonic(&self) -> Duration {
        let since_start = clock_gettime(ClockId::Boottime);
        let seconds = u64::try_from(since_start.tv_sec).unwrap_or(0);
        Duration::new(seconds, u32::try_from(since_start.tv_nsec).unwrap_or(0))
    }

    fn synchronised(&self) -> Option<bool> {
        Path::new(TIMESYNC_FOLDER).is_dir().then(|| Path::new(SYNCHRONISED_FILE).exists())
    }
}
