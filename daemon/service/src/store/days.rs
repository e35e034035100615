//! Days in brief: of each quantity of a bench, over a stretch of 32 days (UTC), what the summaries of their hours come to.
//!
//! Pictures of many years are drawn from these. A stretch gets its summary when it is over. Whoever writes the hours of one of its days
//! takes it away in the same transaction ([`forget`]), and it is made anew later ([`DaysMending`]): so none is ever of other days than those
//! that lie beside it.

use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};
use tracing::{info, warn};

use super::hour::{self, CALIBRATION, Hour, Hours, sum_of};
use super::sealed::{date_of, unpackable};
use super::sheet::SheetError;
use super::summaries::{self, State};

/// Days in a stretch.
pub(super) const STRETCH_DAYS: usize = 32;
/// Stretches that are looked at in one piece of work.
const LOOKED_AT_ONCE: usize = 16;
/// Stretches that are made at most in one piece of work: each is made of 32 summaries of hours.
const MADE_AT_ONCE: usize = 4;
/// Stretches that are looked at after each sealing, which is every hour: ten years of forty benches have theirs within three days.
const LOOKED_AN_HOUR: usize = 512;
/// Stretches that are made at most after each sealing.
const MADE_AN_HOUR: usize = 64;

/// The days of a stretch; `None` for one without a reading.
pub(super) type StretchDays = [Option<Hour>; STRETCH_DAYS];

/// The stretch that a day lies in.
pub(super) const fn stretch_of(day: i64) -> i64 {
    day.div_euclid(STRETCH_DAYS as i64)
}

/// The first day of a stretch.
const fn first_of(stretch: i64) -> i64 {
    stretch * STRETCH_DAYS as i64
}

/// What a summary is of: one of another bench or stretch has another sum.
fn place_of(bench: &str, stretch: i64) -> u32 {
    let mut sum = crc32fast::Hasher::new();
    sum.update(&stretch.to_le_bytes());
    sum.update(bench.as_bytes());
    sum.finalize()
}

/// The days of one series in a stretch; `None` where there is no sound summary.
pub(super) fn of(
    conn: &Connection,
    bench: &str,
    stretch: i64,
    series: i64,
) -> rusqlite::Result<Option<StretchDays>> {
    let found = conn
        .prepare_cached("SELECT calibration, place, sum, body FROM days WHERE bench = ?1 AND stretch = ?2")?
        .query_row(params![bench, stretch], |row| match State::beside(row, 0, place_of(bench, stretch))? {
            State::Sound => Ok(hour::unpack(row.get_ref(3)?.as_blob()?, series).ok()),
            State::Absent | State::Other => Ok(None),
            State::Damaged => {
                warn!(%bench, from = %date_of(first_of(stretch)), "a summary of days is damaged: its hours are read; the service makes it anew");
                Ok(None)
            }
        })
        .optional()?;
    Ok(found.flatten().map(|days| days.unwrap_or([None; STRETCH_DAYS])))
}

/// Takes the summary of the stretch of a day away, for what it was made from has changed.
pub(super) fn forget(conn: &Connection, bench: &str, day: i64) -> rusqlite::Result<()> {
    conn.prepare_cached("DELETE FROM days WHERE bench = ?1 AND stretch = ?2")?
        .execute(params![bench, stretch_of(day)])?;
    Ok(())
}

/// Names the summaries that are damaged or made by other rules.
pub(super) fn damaged(conn: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement = conn.prepare("SELECT bench, stretch, calibration, place, sum, body FROM days")?;
    let mut rows = statement.query([])?;
    let mut named = Vec::new();
    while let Some(row) = rows.next()? {
        let (bench, stretch): (String, i64) = (row.get(0)?, row.get(1)?);
        if let Some(why) = State::beside(row, 2, place_of(&bench, stretch))?.fault() {
            let from = date_of(first_of(stretch));
            named.push(format!("the summary of the days of {bench} from {from} on: {why}"));
        }
    }
    Ok(named)
}

/// Looks at one stretch after the other, round and round, and makes the summaries that are needed.
#[derive(Debug, Default)]
pub(super) struct DaysMending {
    /// The bench and the first day that are looked at next.
    next: (String, i64),
    /// Since the last sealing.
    looked: usize,
    made: usize,
}

impl DaysMending {
    /// A bounded piece of it; says whether there is more to do now.
    pub(super) fn step(&mut self, conn: &mut Connection) -> rusqlite::Result<bool> {
        let looked = self.look(conn)?;
        let more = looked && self.looked < LOOKED_AN_HOUR && self.made < MADE_AN_HOUR;
        if !more {
            (self.looked, self.made) = (0, 0);
        }
        Ok(more)
    }

    /// Says whether it has not come to the end.
    fn look(&mut self, conn: &mut Connection) -> rusqlite::Result<bool> {
        let mut wanted = Vec::new();
        for _ in 0..LOOKED_AT_ONCE {
            if wanted.len() == MADE_AT_ONCE {
                break;
            }
            let Some((bench, day)) = next_sealed(conn, &self.next)? else {
                self.next = Default::default();
                make_all(conn, &wanted)?;
                return Ok(false);
            };
            let stretch = stretch_of(day);
            self.looked += 1;
            if is_wanted(conn, &bench, stretch)? {
                wanted.push((bench.clone(), stretch));
            }
            self.next = (bench, first_of(stretch + 1));
        }
        self.made += wanted.len();
        make_all(conn, &wanted)?;
        Ok(true)
    }
}

/// The first sealed day from there on, in the order of benches and days.
fn next_sealed(conn: &Connection, (bench, day): &(String, i64)) -> rusqlite::Result<Option<(String, i64)>> {
    conn.prepare_cached(
        "SELECT bench, day FROM sealed WHERE (bench, day) >= (?1, ?2) ORDER BY bench, day LIMIT 1",
    )?
    .query_row(params![bench, day], |row| Ok((row.get(0)?, row.get(1)?)))
    .optional()
}

/// Whether a stretch is over and has no sound summary.
fn is_wanted(conn: &Connection, bench: &str, stretch: i64) -> rusqlite::Result<bool> {
    let over = conn
        .prepare_cached("SELECT 1 FROM sealed WHERE bench = ?1 AND day >= ?2 LIMIT 1")?
        .exists(params![bench, first_of(stretch + 1)])?;
    if !over {
        return Ok(false);
    }
    let found = conn
        .prepare_cached("SELECT calibration, place, sum, body FROM days WHERE bench = ?1 AND stretch = ?2")?
        .query_row(params![bench, stretch], |row| State::beside(row, 0, place_of(bench, stretch)))
        .optional()?;
    match found {
        Some(State::Sound) => return Ok(false),
        Some(State::Other) => {
            info!(%bench, from = %date_of(first_of(stretch)), "a summary of days was made by other rules")
        }
        Some(State::Damaged) => {
            warn!(%bench, from = %date_of(first_of(stretch)), "a summary of days is damaged: it is made anew")
        }
        Some(State::Absent) | None => {}
    }
    Ok(true)
}

fn make_all(conn: &mut Connection, wanted: &[(String, i64)]) -> rusqlite::Result<()> {
    if wanted.is_empty() {
        return Ok(());
    }
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    for (bench, stretch) in wanted {
        make(&tx, bench, *stretch)?;
    }
    tx.commit()
}

/// Makes the summary of a stretch, if all of its days have a sound one of their hours.
fn make(conn: &Connection, bench: &str, stretch: i64) -> rusqlite::Result<()> {
    let first = first_of(stretch);
    let mut statement = conn.prepare_cached(
        "SELECT day, id, calibration, sheet, hours.sum, hours.body FROM sealed LEFT JOIN hours USING (id)
         WHERE bench = ?1 AND day >= ?2 AND day < ?3 ORDER BY day",
    )?;
    let mut rows = statement.query(params![bench, first, first_of(stretch + 1)])?;
    let mut series: Vec<(i64, StretchDays)> = Vec::new();
    while let Some(row) = rows.next()? {
        let place = (row.get::<_, i64>(0)? - first) as usize;
        let Some(Ok(found)) = summaries::sound_in(row, 2, row.get(1)?, hour::unpack_all)? else {
            return Ok(());
        };
        // pictures of years are drawn of what was measured
        for (key, hours) in found.into_iter().filter(|(key, _)| *key >= 0) {
            let known = match series.iter().position(|(known, _)| *known == key) {
                Some(known) => known,
                None => {
                    series.push((key, [None; STRETCH_DAYS]));
                    series.len() - 1
                }
            };
            if let Some(day) = series[known].1.get_mut(place) {
                *day = brief_of(&hours);
            }
        }
    }
    let (calibration, place) = (*CALIBRATION, place_of(bench, stretch));
    let body = body_of(&series).map_err(unpackable)?;
    conn.prepare_cached(
        "REPLACE INTO days (bench, stretch, calibration, place, sum, body) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?
    .execute(params![bench, stretch, calibration, place, sum_of(&body, calibration, place), body])?;
    Ok(())
}

fn body_of(series: &[(i64, StretchDays)]) -> Result<Vec<u8>, SheetError> {
    let columns = series.iter().map(|(key, days)| Ok((*key, hour::column(days, None)?)));
    hour::body_of(&columns.collect::<Result<Vec<_>, SheetError>>()?)
}

/// What a day comes to.
fn brief_of(hours: &Hours) -> Option<Hour> {
    let read = || hours.iter().flatten();
    let readings: u32 = read().map(|hour| hour.readings).sum();
    let sum: f64 = read().map(|hour| hour.mean * f64::from(hour.readings)).sum();
    let all = read().copied().reduce(|day, hour| Hour {
        least: day.least.min(hour.least),
        greatest: day.greatest.max(hour.greatest),
        silent_min: day.silent_min.max(hour.silent_min),
        ..day
    })?;
    let mean = (sum / f64::from(readings)).max(all.least).min(all.greatest);
    Some(Hour { readings, mean, ..all })
}
