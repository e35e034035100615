//! One quantity of one bench over a span of time, as charts and reviews read it.

use bloom_model::quantity::Quantity;
use bloom_model::time::Time;
use rusqlite::params;

use super::Reader;
use super::error::StoreError;

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
        mut tell: impl FnMut(Time, f64),
    ) -> Result<(), StoreError> {
        let mut read = || -> rusqlite::Result<()> {
            let sql = if quantity.by_hand() {
                "SELECT time_ms, value FROM booked WHERE time_ms BETWEEN ?3 AND ?4 AND bench = ?1 AND what = ?2
                 ORDER BY time_ms"
            } else {
                "SELECT time_ms, value FROM reading WHERE time_ms BETWEEN ?3 AND ?4
                    AND series = (SELECT id FROM series WHERE bench = ?1 AND quantity = ?2)
                 ORDER BY time_ms"
            };
            let mut statement = self.conn.prepare_cached(sql)?;
            let mut rows =
                statement.query(params![bench, quantity.name(), from.unix_ms(), until.unix_ms()])?;
            while let Some(row) = rows.next()? {
                tell(Time::from_unix_ms(row.get(0)?), row.get(1)?);
            }
            Ok(())
        };
        read().map_err(|error| self.error(error))
    }
}
