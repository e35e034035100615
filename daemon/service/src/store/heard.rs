//! What was heard of people by the broker: until when, and which messages were the last, to know them again when they come twice.

use bloom_model::time::Time;
use rusqlite::{Connection, params};

use super::Store;
use super::error::StoreError;

/// Messages that are known again. A broker hands over no more than so many that we have not acknowledged: 20 in mosquitto.
pub const KNOWN_AGAIN: u64 = 256;

const LISTENED: &str = "listened-until-ms";
const HEARD: &str = "heard-";

/// A message of the broker: the number of its packet, and a check sum of topic and payload.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeardMessage {
    /// The packet's number.
    pub packet: u16,
    /// CRC-32 of topic and payload.
    pub sum: u32,
}

/// What is to be written down of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Listened {
    /// Until when everything that was published has been heard.
    pub until: Option<Time>,
    /// The newest messages, each with a number that counts up.
    pub messages: Vec<(u64, HeardMessage)>,
    /// Whether those of before are no more: the broker knows nothing of them.
    pub forget: bool,
}

impl Store {
    /// What was written down of it: until when everything was heard, and the newest messages in no order.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn listened(&self) -> Result<(Option<Time>, Vec<HeardMessage>), StoreError> {
        let read = || -> rusqlite::Result<_> {
            let mut counts =
                self.conn.prepare("SELECT name, value FROM count WHERE name = ?1 OR name GLOB ?2")?;
            let rows = counts.query_map(params![LISTENED, format!("{HEARD}*")], |row| {
                Ok((row.get::<_, String>(0)?, row.get::<_, i64>(1)?))
            })?;
            let (mut until, mut messages) = (None, Vec::new());
            for row in rows {
                let (name, value) = row?;
                if name == LISTENED {
                    until = Some(Time::from_unix_ms(value));
                } else {
                    let packet = u16::try_from(value >> 32).unwrap_or(0);
                    messages.push(HeardMessage { packet, sum: value as u32 });
                }
            }
            Ok((until, messages))
        };
        read().map_err(|error| self.error(error))
    }
}

pub(super) fn write(conn: &Connection, listened: &Listened) -> rusqlite::Result<()> {
    if listened.forget {
        conn.execute("DELETE FROM count WHERE name GLOB ?1", [format!("{HEARD}*")])?;
    }
    let mut put = conn.prepare_cached(
        "INSERT INTO count (name, value) VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
    )?;
    if let Some(until) = listened.until {
        put.execute(params![LISTENED, until.unix_ms()])?;
    }
    for (number, message) in &listened.messages {
        let value = (i64::from(message.packet) << 32) | i64::from(message.sum);
        put.execute(params![format!("{HEARD}{}", number % KNOWN_AGAIN), value])?;
    }
    Ok(())
}
