//! What a bench's microcontroller says on its serial line.

use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use bench_sim::pty::{Port, Sent};
use chrono::Utc;

use crate::mosquitto::PATIENCE;

/// A person's sign as a pack, with the time of this moment.
pub fn sign(bench: &str, sign: &str) -> String {
    let now_ms = Utc::now().timestamp_millis();
    format!(
        "[{{\"bn\":\"{bench}/\",\"bt\":{}.{:03},\"n\":\"sign\",\"vs\":\"{sign}\"}}]\n",
        now_ms / 1000,
        now_ms % 1000
    )
}

/// Says every line once, waiting for the service to read.
///
/// # Panics
/// When nobody reads for long.
pub fn say(port: &mut Port, lines: &str) {
    for line in lines.split_inclusive('\n') {
        assert_eq!(port.send(line.as_bytes(), PATIENCE).expect("the line works"), Sent::Whole);
    }
}

/// Says one line again and again while waiting for what comes of it: whoever opens a port drops what came before. A line
/// that carries its time counts once.
pub fn saying<T>(port: &mut Port, line: &str, wait: impl FnOnce() -> T) -> T {
    /// Ends the saying, even where waiting fails.
    struct Done<'a>(&'a AtomicBool);
    impl Drop for Done<'_> {
        fn drop(&mut self) {
            self.0.store(true, Ordering::Relaxed);
        }
    }
    let done = AtomicBool::new(false);
    thread::scope(|scope| {
        scope.spawn(|| {
            while !done.load(Ordering::Relaxed) {
                let _ = port.send(line.as_bytes(), Duration::from_millis(50));
                thread::sleep(Duration::from_millis(50));
            }
        });
        let _done = Done(&done);
        wait()
    })
}
