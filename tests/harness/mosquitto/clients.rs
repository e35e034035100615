//! Who talks to the broker besides the service: a listener, a flood of messages.

use std::process::{Child, Command};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError};

use super::PATIENCE;

/// Messages that come and come.
#[derive(Debug)]
pub struct Flood {
    pub(super) process: Child,
    pub(super) said: Arc<AtomicUsize>,
    pub(super) all: usize,
}

impl Flood {
    /// Whether there are more to be said.
    pub fn goes_on(&self) -> bool {
        self.said() < self.all
    }

    /// How many were said.
    pub fn said(&self) -> usize {
        self.said.load(Ordering::Relaxed)
    }

    /// Waits until all are said, and taken by the broker.
    ///
    /// # Panics
    /// When the program cannot be waited for.
    pub fn to_the_end(mut self) {
        let _ = self.process.wait().expect("mosquitto_pub ends");
    }
}

impl Drop for Flood {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A name and its password.
pub type Login = (&'static str, &'static str);

pub(super) fn logged_in(command: &mut Command, login: Option<Login>) {
    if let Some((user, password)) = login {
        command.args(["-u", user, "-P", password]);
    }
}

/// A message as mosquitto_sub saw it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// Whether the broker had kept it from before the subscription.
    pub retained: bool,
    /// The topic.
    pub topic: String,
    /// The payload; it must be one line of text.
    pub payload: String,
}

/// A running mosquitto_sub.
#[derive(Debug)]
pub struct Listener {
    pub(super) process: Child,
    pub(super) heard: Receiver<String>,
}

impl Listener {
    /// The next message.
    ///
    /// # Panics
    /// When none comes for long.
    pub fn next(&self) -> Heard {
        match self.heard.recv_timeout(PATIENCE) {
            Ok(line) => {
                let mut parts = line.splitn(3, ' ').map(str::to_owned);
                let retained = parts.next().as_deref() == Some("1");
                let (topic, payload) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
                Heard { retained, topic, payload }
            }
            Err(RecvTimeoutError::Timeout) => {
                panic!("mosquitto_sub heard nothing for {} s", PATIENCE.as_secs())
            }
            Err(RecvTimeoutError::Disconnected) => panic!("mosquitto_sub has ended"),
        }
    }

    /// The messages up to and with the first that `wanted` takes.
    pub fn until(&self, mut wanted: impl FnMut(&Heard) -> bool) -> Vec<Heard> {
        let mut all = vec![self.next()];
        while !all.last().is_some_and(&mut wanted) {
            all.push(self.next());
        }
        all
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
