//! Alarms that stand until a person acknowledges them or they end.

use std::sync::Arc;

use bloom_model::event::Severity;
use bloom_model::time::Time;
use rusqlite::{Connection, Row, params};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::error::StoreError;
use super::events::severity_from_name;
use super::{Reader, Store};

/// An alarm with what has become of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Alarm {
    /// The id of the event that raised it.
    pub event_id: String,
    /// The bench; absent for an alarm of the site itself.
    pub bench: Option<Arc<str>>,
    /// How grave it is.
    pub severity: Severity,
    /// The event's name, such as `opening-tonight`.
    pub kind: String,
    /// The instant that the event speaks of.
    pub raised: Time,
    /// When it ends by itself.
    pub stands_until: Option<Time>,
    /// When the broker first said that it has it; `None` while that is not known.
    pub delivered: Option<Time>,
    /// When a person took note of it.
    pub acknowledged: Option<Time>,
    /// Who did, as they gave it.
    pub acknowledged_by: Option<String>,
    /// Somebody comes because of it.
    pub coming: Option<Coming>,
    /// When it ended; such an alarm is of the past and stands no more.
    pub ended: Option<Time>,
    /// How often it has been repeated.
    pub repeats: u32,
    /// How many of these came before it last came back, unanswered after all.
    pub repeats_before: u32,
    /// When it is to be repeated next: of one that is acknowledged, when it comes back. `None` once acknowledged for good, ended, or
    /// repeated to the bound.
    pub next_repeat: Option<Time>,
    /// The event as JSON, without a count of repeats.
    pub payload: Value,
}

/// Somebody said to be there by a time: until then the alarm is not repeated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Coming {
    /// When it was said, and nobody had said it before.
    pub since: Time,
    /// By when.
    pub until: Time,
    /// Who, as they gave it.
    pub by: Option<String>,
}

impl Store {
    /// The alarms that have not ended, oldest first.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn standing(&self) -> Result<Vec<Alarm>, StoreError> {
        standing(&self.conn).map_err(|error| self.error(error))
    }
}

impl Reader {
    /// The alarms that have not ended, oldest first.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn standing(&self) -> Result<Vec<Alarm>, StoreError> {
        standing(&self.conn).map_err(|error| self.error(error))
    }
}

fn standing(conn: &Connection) -> rusqlite::Result<Vec<Alarm>> {
    conn.prepare(
        "SELECT event_id, bench, severity, kind, raised_ms, stands_until_ms, acknowledged_ms, acknowledged_by,
                ended_ms, repeats, next_repeat_ms, payload, delivered_ms, coming_since_ms, coming_until_ms, coming_by,
                repeats_before
         FROM alarm WHERE ended_ms IS NULL ORDER BY raised_ms, event_id",
    )?
    .query_map([], read_row)?
    .collect()
}

fn read_row(row: &Row<'_>) -> rusqlite::Result<Alarm> {
    let time = |column| -> rusqlite::Result<Option<Time>> {
        Ok(row.get::<_, Option<i64>>(column)?.map(Time::from_unix_ms))
    };
    let payload: String = row.get(11)?;
    let coming = match time(13)?.zip(time(14)?) {
        Some((since, until)) => Some(Coming { since, until, by: row.get(15)? }),
        None => None,
    };
    Ok(Alarm {
        event_id: row.get(0)?,
        bench: row.get(1)?,
        severity: severity_from_name(2, &row.get::<_, String>(2)?)?,
        kind: row.get(3)?,
        raised: Time::from_unix_ms(row.get(4)?),
        stands_until: time(5)?,
        delivered: time(12)?,
        acknowledged: time(6)?,
        acknowledged_by: row.get(7)?,
        coming,
        ended: time(8)?,
        repeats: row.get(9)?,
        repeats_before: row.get(16)?,
        next_repeat: time(10)?,
        // an alarm whose payload cannot be read still stands, and can be acknowledged
        payload: serde_json::from_str(&payload).unwrap_or(Value::String(payload)),
    })
}

pub(super) fn write(conn: &Connection, alarms: &[Alarm]) -> rusqlite::Result<()> {
    let mut put = conn.prepare_cached(
        "REPLACE INTO alarm (event_id, bench, severity, kind, raised_ms, stands_until_ms, acknowledged_ms,
                             acknowledged_by, ended_ms, repeats, next_repeat_ms, payload, delivered_ms,
                             coming_since_ms, coming_until_ms, coming_by, repeats_before)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)",
    )?;
    for alarm in alarms {
        let coming = alarm.coming.as_ref();
        put.execute(params![
            alarm.event_id,
            alarm.bench,
            alarm.severity.name(),
            alarm.kind,
            alarm.raised.unix_ms(),
            alarm.stands_until.map(Time::unix_ms),
            alarm.acknowledged.map(Time::unix_ms),
            alarm.acknowledged_by,
            alarm.ended.map(Time::unix_ms),
            alarm.repeats,
            alarm.next_repeat.map(Time::unix_ms),
            alarm.payload.to_string(),
            alarm.delivered.map(Time::unix_ms),
            coming.map(|coming| coming.since.unix_ms()),
            coming.map(|coming| coming.until.unix_ms()),
            coming.and_then(|coming| coming.by.as_ref()),
            alarm.repeats_before,
        ])?;
    }
    Ok(())
}
