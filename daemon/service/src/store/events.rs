//! Events, each kept once, in the order in which they were raised.

use std::sync::Arc;

use bloom_model::event::Severity;
use bloom_model::time::Time;
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::error::{StoreError, UnknownName, unreadable};
use super::{Reader, Store, from_sql, to_sql};

/// An event as the record holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredEvent {
    /// Its id, kept once.
    pub id: String,
    /// The bench; absent for an event of the site itself.
    pub bench: Option<Arc<str>>,
    /// The instant it speaks of.
    pub time: Time,
    /// Its name, such as `morning`.
    pub kind: String,
    /// What it asks of a person.
    pub severity: Severity,
    /// The event as JSON, byte for byte as it is published.
    pub payload: String,
    /// The running number of the newest reading that the model had taken when it was raised.
    pub after_fed: u64,
}

/// Of whom events are read.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Whose<'a> {
    /// Of all benches and of none.
    #[default]
    Everything,
    /// Of one bench.
    Bench(&'a str),
    /// Of no bench: of the house, of its intakes, of the service.
    NoBench,
}

/// Which events to read.
#[derive(Debug, Clone, Copy, Default)]
pub struct EventFilter<'a> {
    /// Of whom.
    pub whose: Whose<'a>,
    /// Raised after the event of this number; forwarders remember how far they came.
    pub after: i64,
    /// Of this instant or later.
    pub from: Option<Time>,
    /// Of this instant or earlier.
    pub until: Option<Time>,
}

impl Store {
    /// Whether an event of that id is in the record.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn knows_event(&self, id: &str) -> Result<bool, StoreError> {
        let find = || self.conn.prepare_cached("SELECT 1 FROM event WHERE id = ?1")?.exists([id]);
        find().map_err(|error| self.error(error))
    }
}

impl Store {
    /// The instant of the newest event of that kind.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn newest_of_kind(&self, kind: &str) -> Result<Option<Time>, StoreError> {
        self.conn
            .query_row("SELECT max(time_ms) FROM event WHERE kind = ?1", [kind], |row| row.get(0))
            .map(|newest: Option<i64>| newest.map(Time::from_unix_ms))
            .map_err(|error| self.error(error))
    }
}

impl Reader {
    /// Tells each event with its number, in the order in which they were raised.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn events(
        &self,
        filter: EventFilter<'_>,
        mut tell: impl FnMut(i64, StoredEvent),
    ) -> Result<(), StoreError> {
        let mut read = || -> rusqlite::Result<()> {
            // of one bench they are found by its index: those of all the others, of ten years, are left untouched
            let (bench, of) = match filter.whose {
                Whose::Everything => (None, "?2 IS NULL"),
                Whose::Bench(bench) => (Some(bench), "bench IS ?2"),
                Whose::NoBench => (None, "bench IS ?2"),
            };
            let mut statement = self.conn.prepare_cached(&format!(
                "SELECT number, id, bench, time_ms, kind, severity, payload, after_fed FROM event
                 WHERE number > ?1 AND {of} AND time_ms BETWEEN ?3 AND ?4 ORDER BY number"
            ))?;
            let (from, until) =
                (filter.from.map_or(i64::MIN, Time::unix_ms), filter.until.map_or(i64::MAX, Time::unix_ms));
            let mut rows = statement.query(params![filter.after, bench, from, until])?;
            while let Some(row) = rows.next()? {
                tell(row.get(0)?, read_row(row)?);
            }
            Ok(())
        };
        read().map_err(|error| self.error(error))
    }

    /// The number of the newest event; 0 if there is none.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn newest_event(&self) -> Result<i64, StoreError> {
        self.conn
            .query_row("SELECT number FROM event ORDER BY number DESC LIMIT 1", [], |row| row.get(0))
            .optional()
            .map(Option::unwrap_or_default)
            .map_err(|error| self.error(error))
    }
}

/// The event of a row that begins with its number.
fn read_row(row: &Row<'_>) -> rusqlite::Result<StoredEvent> {
    Ok(StoredEvent {
        id: row.get(1)?,
        bench: row.get(2)?,
        time: Time::from_unix_ms(row.get(3)?),
        kind: row.get(4)?,
        severity: severity_from_name(5, &row.get::<_, String>(5)?)?,
        payload: row.get(6)?,
        after_fed: from_sql(row.get(7)?),
    })
}

/// Writes the events that are not there yet; gives the places of those that were.
pub(super) fn write(conn: &Connection, events: &[StoredEvent]) -> rusqlite::Result<Vec<usize>> {
    let mut put = conn.prepare_cached(
        "INSERT INTO event (id, bench, time_ms, kind, severity, payload, after_fed)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (id) DO NOTHING",
    )?;
    let mut known = Vec::new();
    for (place, event) in events.iter().enumerate() {
        let written = put.execute(params![
            event.id,
            event.bench,
            event.time.unix_ms(),
            event.kind,
            event.severity.name(),
            event.payload,
            to_sql(event.after_fed),
        ])?;
        if written == 0 {
            known.push(place);
        }
    }
    Ok(known)
}

pub(super) fn severity_from_name(column: usize, name: &str) -> rusqlite::Result<Severity> {
    [Severity::Notice, Severity::Warning, Severity::Alarm]
        .into_iter()
        .find(|severity| severity.name() == name)
        .ok_or_else(|| unreadable(column, UnknownName(name.to_owned())))
}
