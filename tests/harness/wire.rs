//! What a client said to the broker and asked of it, read from the log of Debian's mosquitto.

use std::collections::BTreeSet;

/// A topic as a client uses it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Used {
    /// The topic, or the filter that was subscribed to.
    pub topic: String,
    /// Whether the client publishes to it; otherwise it subscribes.
    pub out: bool,
    /// Whether the broker is to keep what is published.
    pub retained: bool,
    /// Quality of service, 0 to 2.
    pub qos: u8,
}

/// The topics that clients whose names begin like that published to and subscribed to.
pub fn used_by(log: &str, client: &str) -> BTreeSet<Used> {
    let mut subscribes = false;
    let mut all = BTreeSet::new();
    for line in log.lines() {
        let (_, said) = line.split_once(": ").unwrap_or_default();
        if let Some(name) = said.strip_prefix("Received SUBSCRIBE from ") {
            subscribes = name.starts_with(client);
        } else if let Some(name) = said.strip_prefix("Received PUBLISH from ") {
            all.extend(published(name).filter(|_| name.starts_with(client)));
        } else if let Some(filter) = said.strip_prefix('\t') {
            all.extend(subscribed(filter).filter(|_| subscribes));
        }
    }
    all
}

/// From `NAME (d0, q1, r0, m7, 'TOPIC', ... (95 bytes))`.
fn published(said: &str) -> Option<Used> {
    let (flags, rest) = said.split_once(" '")?;
    let (topic, _) = rest.split_once('\'')?;
    let qos = flags.split_once(", q")?.1.get(..1)?.parse().ok()?;
    Some(Used { topic: topic.to_owned(), out: true, retained: flags.contains(", r1"), qos })
}

/// From `TOPIC (QoS 1)`.
fn subscribed(said: &str) -> Option<Used> {
    let (topic, rest) = said.split_once(" (QoS ")?;
    Some(Used { topic: topic.to_owned(), out: false, retained: false, qos: rest.get(..1)?.parse().ok()? })
}
