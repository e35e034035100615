//! Messages that have yet to leave the house, written in the same transaction as what they speak of.

use rusqlite::{Connection, OptionalExtension, params};

use super::error::StoreError;
use super::{Reader, Store, from_sql, to_sql};

/// Messages that wait at most, alarms apart.
pub const MAX_OUTBOX_ROWS: u64 = 20_000;
/// Their topics and payloads together at most, bytes, alarms apart.
pub const MAX_OUTBOX_BYTES: u64 = 64 << 20;

/// Which message gives way when the outbox is full: the least important, and of those the oldest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Importance {
    /// What a bench is like now: stale once there is a newer one.
    State = 0,
    /// An event that is no alarm; it stays readable in the record.
    Event = 1,
    /// An alarm. It never gives way; a newer repeat takes the place of an older one, so that there is one per alarm.
    Alarm = 2,
}

/// A message to be sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// The topic, complete.
    pub topic: String,
    /// The payload.
    pub payload: String,
    /// Whether the broker is to keep it for those who come later.
    pub retain: bool,
    /// Who gives way at the bound.
    pub importance: Importance,
    /// Messages of the same name here that have not been sent yet give way to this one: the topic for a state, the
    /// event's id for the repeats of an alarm.
    pub displaces: Option<String>,
}

/// A message with its number in the outbox.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outgoing {
    /// Ascending, never used again; handed back in [`super::Batch::sent`].
    pub id: i64,
    /// The topic.
    pub topic: String,
    /// The payload.
    pub payload: String,
    /// Whether the broker is to keep it.
    pub retain: bool,
}

/// How full the outbox is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Outbox {
    /// Messages that wait.
    pub rows: u64,
    /// Their topics and payloads together, bytes.
    pub bytes: u64,
    /// Messages that ever gave way because it was full.
    pub dropped: u64,
}

impl Reader {
    /// The message with the least number above `after`, if any waits.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn oldest_outgoing(&self, after: i64) -> Result<Option<Outgoing>, StoreError> {
        let find = || {
            self.conn
                .prepare_cached(
                    "SELECT id, topic, payload, retain FROM outgoing WHERE id > ?1 ORDER BY id LIMIT 1",
                )?
                .query_row([after], |row| {
                    Ok(Outgoing {
                        id: row.get(0)?,
                        topic: row.get(1)?,
                        payload: row.get(2)?,
                        retain: row.get(3)?,
                    })
                })
                .optional()
        };
        find().map_err(|error| self.error(error))
    }

    /// How full the outbox is.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn outbox(&self) -> Result<Outbox, StoreError> {
        outbox(&self.conn).map_err(|error| self.error(error))
    }
}

impl Store {
    /// Numbers what waits anew, above every number in it and above `row`: another record's outbox goes on from here, and its
    /// numbers are not to be taken for those of this one.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn number_outbox_above(&mut self, row: i64) -> Result<(), StoreError> {
        let number = || -> rusqlite::Result<()> {
            let newest = "SELECT max(coalesce(max(id), 0), coalesce((SELECT seq FROM sqlite_sequence WHERE name = 'outgoing'), 0))
                          FROM outgoing";
            let newest: i64 = self.conn.query_row(newest, [], |row| row.get(0))?;
            let by = newest.max(row) + 1;
            let tx = self.conn.unchecked_transaction()?;
            // a row of its own, taken out again, carries the count on where nothing waits
            tx.execute("UPDATE outgoing SET id = id + ?1", [by])?;
            tx.execute(
                "INSERT INTO outgoing (id, importance, size, displaces, retain, topic, payload)
                 VALUES (?1, 0, 0, NULL, 0, '', '')",
                [by + newest + 1],
            )?;
            tx.execute("DELETE FROM outgoing WHERE id = ?1", [by + newest + 1])?;
            tx.commit()
        };
        number().map_err(|error| self.error(error))
    }

    /// How full the outbox is.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn outbox(&self) -> Result<Outbox, StoreError> {
        outbox(&self.conn).map_err(|error| self.error(error))
    }

    /// The messages of alarms that wait: the number of each, and its name among those that give way to each other.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn alarms_waiting(&self) -> Result<Vec<(i64, String)>, StoreError> {
        let find = || -> rusqlite::Result<Vec<_>> {
            self.conn
                .prepare(
                    "SELECT id, displaces FROM outgoing WHERE importance = ?1 AND displaces IS NOT NULL",
                )?
                .query_map([Importance::Alarm as i64], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect()
        };
        find().map_err(|error| self.error(error))
    }
}

fn outbox(conn: &Connection) -> rusqlite::Result<Outbox> {
    let (rows, bytes) = fill(conn, Importance::Alarm)?;
    let dropped = conn
        .query_row("SELECT value FROM count WHERE name = 'dropped-messages'", [], |row| row.get(0))
        .optional()?;
    Ok(Outbox { rows, bytes, dropped: from_sql(dropped.unwrap_or_default()) })
}

/// Rows and bytes of messages up to an importance, from the index alone.
fn fill(conn: &Connection, up_to: Importance) -> rusqlite::Result<(u64, u64)> {
    conn.prepare_cached(
        "SELECT count(*), coalesce(sum(size), 0) FROM outgoing INDEXED BY outgoing_importance WHERE importance <= ?1",
    )?
    .query_row([up_to as i64], |row| Ok((from_sql(row.get(0)?), from_sql(row.get(1)?))))
}

/// Takes out what was sent.
pub(super) fn remove(conn: &Connection, sent: &[i64]) -> rusqlite::Result<()> {
    let mut remove = conn.prepare_cached("DELETE FROM outgoing WHERE id = ?1")?;
    for id in sent {
        remove.execute([id])?;
    }
    Ok(())
}

/// What became of messages.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Written {
    /// The number of each, in their order.
    pub(super) ids: Vec<i64>,
    /// How many had to give way to the bound.
    pub(super) dropped: u64,
}

/// Puts messages in, then makes room.
pub(super) fn write(
    conn: &Connection,
    messages: &[Message],
    max_rows: u64,
    max_bytes: u64,
) -> rusqlite::Result<Written> {
    if messages.is_empty() {
        return Ok(Written::default());
    }
    let mut ids = Vec::with_capacity(messages.len());
    let mut displace = conn.prepare_cached("DELETE FROM outgoing WHERE displaces = ?1")?;
    let mut put = conn.prepare_cached(
        "INSERT INTO outgoing (importance, size, displaces, retain, topic, payload) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?;
    for message in messages {
        if let Some(name) = &message.displaces {
            displace.execute([name])?;
        }
        put.execute(params![
            message.importance as i64,
            to_sql((message.topic.len() + message.payload.len()) as u64),
            message.displaces,
            message.retain,
            message.topic,
            message.payload
        ])?;
        ids.push(conn.last_insert_rowid());
    }
    Ok(Written { ids, dropped: make_room(conn, max_rows, max_bytes)? })
}

/// Gives the number of messages that had to give way.
fn make_room(conn: &Connection, max_rows: u64, max_bytes: u64) -> rusqlite::Result<u64> {
    let (mut rows, mut bytes) = fill(conn, Importance::Event)?;
    let mut victims = Vec::new();
    let mut least = conn.prepare_cached(
        "SELECT id, size FROM outgoing INDEXED BY outgoing_importance WHERE importance <= ?1 ORDER BY importance, id",
    )?;
    let mut candidates = least.query([Importance::Event as i64])?;
    while rows > max_rows || bytes > max_bytes {
        let Some(row) = candidates.next()? else { break };
        victims.push(row.get(0)?);
        rows -= 1;
        bytes = bytes.saturating_sub(from_sql(row.get(1)?));
    }
    drop(candidates);
    let dropped = victims.len() as u64;
    if dropped > 0 {
        remove(conn, &victims)?;
        conn.prepare_cached(
            "INSERT INTO count (name, value) VALUES ('dropped-messages', ?1)
             ON CONFLICT DO UPDATE SET value = value + excluded.value",
        )?
        .execute([to_sql(dropped)])?;
    }
    Ok(dropped)
}
