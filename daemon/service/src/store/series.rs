//! One quantity of one bench over a span of time, as charts and reviews read it.

use bloom_model::quantity::by::ByVariable;
use bloom_model::quantity::{Derived, Quantity};
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use rusqlite::{Connection, OptionalExtension, params};

use super::chart::{Chart, ChartPoint};
use super::cursor::{CursorItem, CursorQuestion, Grain, Sink, snapshot};
use super::error::StoreError;
use super::hour::{self, Hour, Hours};
use super::readings::series_of;
use super::rows::Tables;
use super::sealed::day_of;
use super::sheet::DAY_MS;
use super::{Reader, Which, summaries};

impl Reader {
    /// Tells each value of one quantity of one bench between two instants, both included, in the order of time. A bench or
    /// quantity that the record does not know has none.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn series(
        &self,
        bench: &str,
        quantity: Quantity,
        from: Time,
        until: Time,
        tell: impl FnMut(Time, f64),
    ) -> Result<(), StoreError> {
        self.tell(&asked(bench, quantity, from, until), &mut OneByOne(tell))
    }

    /// The same as a chart of so many points at most: least, mean and greatest value of each, those without a reading left
    /// out. Where its points are hours or days, sealed ones are told by their summaries.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn chart(
        &self,
        bench: &str,
        quantity: Quantity,
        from: Time,
        until: Time,
        points: usize,
    ) -> Result<Vec<ChartPoint>, StoreError> {
        let mut chart = Chart::new(from, until, points);
        self.tell(&asked(bench, quantity, from, until), &mut chart)?;
        Ok(chart.points())
    }
}

const fn asked(bench: &str, quantity: Quantity, from: Time, until: Time) -> CursorQuestion<'_> {
    CursorQuestion { bench, which: Which::Quantity(quantity), span: from.unix_ms()..=until.unix_ms() }
}

/// One after the other.
struct OneByOne<F>(F);

impl<F: FnMut(Time, f64)> Sink for OneByOne<F> {
    fn take(&mut self, told: CursorItem) {
        if let Observed::Value(_, value) = told.observed {
            (self.0)(Time::from_unix_ms(told.time_ms), value);
        }
    }
}

impl Sink for Chart {
    fn take(&mut self, told: CursorItem) {
        if let Observed::Value(_, value) = told.observed {
            self.add(Time::from_unix_ms(told.time_ms), value);
        }
    }

    fn take_day(&mut self, _quantity: Quantity, midnight_ms: i64, times: &[u32], values: &[f64]) {
        self.add_day(midnight_ms, times, values);
    }

    fn grain(&self) -> Grain {
        Self::grain(self)
    }

    fn take_brief(&mut self, begins_ms: i64, brief: &Hour) {
        self.add_brief(begins_ms, brief);
    }
}

/// The hours of a day (UTC), by what was measured and derived.
pub type DayInHours = Box<ByVariable<Hours>>;

impl Reader {
    /// The hours of a bench's day (UTC) by the summary of it; `None` where there is none that is sound, or where readings of that day
    /// have yet to be sealed.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn day_in_hours(&self, bench: &str, midnight: Time) -> Result<Option<DayInHours>, StoreError> {
        day_in_hours(&self.conn, bench, midnight.unix_ms()).map_err(|error| self.error(error))
    }
}

fn day_in_hours(conn: &Connection, bench: &str, midnight_ms: i64) -> rusqlite::Result<Option<DayInHours>> {
    let _snapshot = snapshot(conn)?;
    let id = conn
        .prepare_cached("SELECT id FROM sealed WHERE bench = ?1 AND day = ?2")?
        .query_row(params![bench, day_of(midnight_ms).0], |row| row.get(0))
        .optional()?;
    let Some(id) = id else { return Ok(None) };
    let waiting = Tables::of(conn)?.union(|table, _| {
        format!(
            "SELECT 1 FROM {table} WHERE time_ms >= ?1 AND time_ms < ?2
             AND series IN (SELECT id FROM series WHERE bench = ?3)"
        )
    });
    if conn.prepare_cached(&waiting)?.exists(params![midnight_ms, midnight_ms + DAY_MS, bench])? {
        return Ok(None);
    }
    let Some(Ok(found)) = summaries::with_sound(conn, id, hour::unpack_all)? else { return Ok(None) };
    let series = series_of(conn, bench)?;
    let mut day = DayInHours::default();
    for (key, hours) in found {
        if let Some((quantity, _)) = series.iter().find(|(_, id)| *id == key) {
            day[*quantity] = hours;
        }
        if let Some(derived) = Derived::ALL.into_iter().find(|derived| hour::key_of(*derived) == key) {
            day[derived] = hours;
        }
    }
    Ok(Some(day))
}
