//! How far the record has been forwarded, whatever became of its rows since.
//!
//! The cursor is a time, not a running number: a reading that came late or was imported has no number, and a sealed block
//! keeps none, but the time of a reading is part of its key and never changes. What comes in behind the newest instant of the
//! record is noted in the transaction that writes it, by the hour of its bench and the span within; so nothing is passed over,
//! however late, and what is read again for one late reading is at most what came between the late ones of that hour. A span
//! that is sent twice says the same twice: a receiver keys by series and time.

use std::collections::BTreeMap;
use std::sync::Arc;

use bloom_model::time::Time;
use rusqlite::{Connection, OptionalExtension, params};

use super::error::StoreError;
use super::rows::Tables;
use super::sealed::{day_of, instant};
use super::{Reader, Store};

/// Milliseconds in an hour.
const HOUR_MS: i64 = 3_600_000;

/// How far forwarding has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Forwarding {
    /// The newest instant in the record.
    pub newest: Time,
    /// Everything up to this instant was sent, but for what is noted as late.
    pub sent_until: Time,
}

/// What came late: a span within one hour of one bench.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Late {
    hour: i64,
    /// The bench's id.
    pub bench: Arc<str>,
    /// The first late instant.
    pub from: Time,
    /// The last.
    pub until: Time,
    /// Counted up whenever something came to it: a span that grew while it was sent is sent again.
    changes: i64,
}

/// What was sent since the last commit.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Forwarded {
    /// Everything up to this instant.
    pub until: Option<Time>,
    /// Late spans.
    pub late: Vec<Late>,
}

impl Forwarded {
    /// Whether there is nothing to write down.
    pub const fn is_empty(&self) -> bool {
        self.until.is_none() && self.late.is_empty()
    }

    /// Adds what was sent after it.
    pub fn add(&mut self, later: Self) {
        self.until = self.until.max(later.until);
        self.late.extend(later.late);
    }
}

impl Store {
    /// Begins or goes on with forwarding to `destination`. Another one than before gets the whole record.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn forward_to(&mut self, destination: &str) -> Result<(), StoreError> {
        let begin = || -> rusqlite::Result<()> {
            let before: Option<String> =
                self.conn.query_row("SELECT destination FROM forwarding", [], |row| row.get(0)).optional()?;
            if before.as_deref() == Some(destination) {
                return Ok(());
            }
            // what comes after this statement is noted; where there is nothing yet, everything is newer than the beginning
            let newest = newest(&self.conn)?.unwrap_or(i64::MIN);
            self.conn.execute(
                "REPLACE INTO forwarding (only, destination, newest_ms, sent_until_ms) VALUES (1, ?1, ?2, ?3)",
                params![destination, newest, i64::MIN],
            )?;
            self.conn.execute("DELETE FROM forwarding_late", [])?;
            Ok(())
        };
        begin().map_err(|error| self.error(error))
    }
}

/// An instant that nothing dated in the record is newer than: of what is sealed, its day is enough.
fn newest(conn: &Connection) -> rusqlite::Result<Option<i64>> {
    let read = |sql: &str| conn.query_row(sql, [], |row| row.get::<_, Option<i64>>(0));
    let mut rows = None;
    for table in Tables::of(conn)?.dated() {
        rows = rows.max(read(&format!("SELECT max(time_ms) FROM {table}"))?);
    }
    let booked = read("SELECT max(time_ms) FROM booked")?;
    let sealed = read("SELECT max(day) FROM sealed")?.map(|day| instant(day + 1, 0) - 1);
    Ok(rows.max(booked).max(sealed))
}

impl Reader {
    /// How far forwarding has come; `None` where it was never configured.
    ///
    /// What is committed after this answer with a time up to its `newest` is noted as late, so that it may be asked first
    /// and the readings after it.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn forwarding(&self) -> Result<Option<Forwarding>, StoreError> {
        let find = || {
            self.conn
                .prepare_cached("SELECT newest_ms, sent_until_ms FROM forwarding")?
                .query_row([], |row| {
                    Ok(Forwarding {
                        newest: Time::from_unix_ms(row.get(0)?),
                        sent_until: Time::from_unix_ms(row.get(1)?),
                    })
                })
                .optional()
        };
        find().map_err(|error| self.error(error))
    }

    /// What came late and is not written down as sent, oldest hour first, at most so many.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn late(&self, at_most: u32) -> Result<Vec<Late>, StoreError> {
        let read = || -> rusqlite::Result<Vec<Late>> {
            self.conn
                .prepare_cached(
                    "SELECT hour, bench, from_ms, until_ms, changes FROM forwarding_late ORDER BY hour, bench LIMIT ?1",
                )?
                .query_map([at_most], |row| {
                    Ok(Late {
                        hour: row.get(0)?,
                        bench: row.get(1)?,
                        from: Time::from_unix_ms(row.get(2)?),
                        until: Time::from_unix_ms(row.get(3)?),
                        changes: row.get(4)?,
                    })
                })?
                .collect()
        };
        read().map_err(|error| self.error(error))
    }

    /// The first instant after `time` of which the record may hold anything, and before which it holds nothing; `None` if
    /// there is nothing after it.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn first_after(&self, time: Time) -> Result<Option<Time>, StoreError> {
        let after = time.unix_ms();
        let read = |sql: &str, from: i64| {
            self.conn.prepare_cached(sql)?.query_row([from], |row| row.get::<_, Option<i64>>(0))
        };
        let find = || -> rusqlite::Result<Option<i64>> {
            let [closed, filled] = Tables::of(&self.conn)?
                .dated()
                .map(|table| read(&format!("SELECT min(time_ms) FROM {table} WHERE time_ms > ?1"), after));
            let booked = read("SELECT min(time_ms) FROM booked WHERE time_ms > ?1", after)?;
            let sealed = read(
                "SELECT min(first) FROM (SELECT (SELECT min(day) FROM sealed WHERE bench = known.bench AND day >= ?1) AS first
                 FROM (SELECT DISTINCT bench FROM series) AS known)",
                day_of(after + 1).0,
            )?;
            let sealed = sealed.map(|day| instant(day, 0).max(after + 1));
            Ok([closed?, filled?, booked, sealed].into_iter().flatten().min())
        };
        find().map(|first| first.map(Time::from_unix_ms)).map_err(|error| self.error(error))
    }
}

/// Notes, while a batch of new readings is written, which of them come behind the newest instant of the record.
#[derive(Debug)]
pub(super) struct Noting {
    /// As it was before the batch; the whole batch becomes visible at once.
    newest: i64,
    newest_now: i64,
    late: BTreeMap<(i64, Arc<str>), (i64, i64)>,
}

impl Noting {
    /// `None` where forwarding was never configured.
    pub(super) fn begin(conn: &Connection) -> rusqlite::Result<Option<Self>> {
        let newest: Option<i64> = conn
            .prepare_cached("SELECT newest_ms FROM forwarding")?
            .query_row([], |row| row.get(0))
            .optional()?;
        Ok(newest.map(|newest| Self { newest, newest_now: newest, late: BTreeMap::new() }))
    }

    /// A reading that the record did not have, or has in place of another.
    pub(super) fn note(&mut self, bench: &Arc<str>, time: Time) {
        let time = time.unix_ms();
        self.newest_now = self.newest_now.max(time);
        if time <= self.newest {
            let span = self.late.entry((time.div_euclid(HOUR_MS), Arc::clone(bench))).or_insert((time, time));
            *span = (span.0.min(time), span.1.max(time));
        }
    }

    pub(super) fn end(self, conn: &Connection) -> rusqlite::Result<()> {
        if self.newest_now > self.newest {
            conn.prepare_cached("UPDATE forwarding SET newest_ms = ?1")?.execute([self.newest_now])?;
        }
        let mut put = conn.prepare_cached(
            "INSERT INTO forwarding_late (hour, bench, from_ms, until_ms, changes) VALUES (?1, ?2, ?3, ?4, 1)
             ON CONFLICT DO UPDATE SET from_ms = min(from_ms, excluded.from_ms),
                until_ms = max(until_ms, excluded.until_ms), changes = changes + 1",
        )?;
        for ((hour, bench), (from, until)) in self.late {
            put.execute(params![hour, bench, from, until])?;
        }
        Ok(())
    }
}

/// Writes down what was sent.
pub(super) fn write(conn: &Connection, forwarded: &Forwarded) -> rusqlite::Result<()> {
    if let Some(until) = forwarded.until {
        conn.prepare_cached("UPDATE forwarding SET sent_until_ms = max(sent_until_ms, ?1)")?
            .execute([until.unix_ms()])?;
    }
    let mut remove =
        conn.prepare_cached("DELETE FROM forwarding_late WHERE hour = ?1 AND bench = ?2 AND changes = ?3")?;
    for late in &forwarded.late {
        remove.execute(params![late.hour, late.bench, late.changes])?;
    }
    Ok(())
}
