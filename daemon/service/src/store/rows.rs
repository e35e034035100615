//! The tables in which readings lie row by row.

use rusqlite::Connection;
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};

use super::from_sql;
use super::sheet::{MOST_DECIMALS, of_whole, whole_from};

/// Readings that are never sealed, for their time cannot be right.
pub(super) const UNDATED: &str = "reading_undated";

/// The tables in the order in which rows came to them: of two of the same instant, one that lies in an earlier table was
/// there first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Tables {
    /// New rows go there.
    pub(super) filled: &'static str,
    /// Rows of this one are being sealed.
    pub(super) closed: &'static str,
    /// The highest running number when the tables last took turns: those in `closed` have none above it.
    pub(super) closed_fed: u64,
}

impl Tables {
    pub(super) fn of(conn: &Connection) -> rusqlite::Result<Self> {
        conn.prepare_cached("SELECT other, fed FROM turn")?.query_row([], |row| {
            let (filled, closed) =
                if row.get(0)? { ("reading_other", "reading") } else { ("reading", "reading_other") };
            Ok(Self { filled, closed, closed_fed: from_sql(row.get(1)?) })
        })
    }

    /// The tables of readings whose time can be right.
    pub(super) const fn dated(self) -> [&'static str; 2] {
        [self.closed, self.filled]
    }

    /// A question put to all of them; `select` is given a table and its place in the order.
    pub(super) fn union(self, select: impl Fn(&str, usize) -> String) -> String {
        let all = [UNDATED, self.closed, self.filled];
        let parts: Vec<_> = all.iter().enumerate().map(|(place, table)| select(table, place)).collect();
        parts.join(" UNION ALL ")
    }
}

/// The value of a row of readings. A decimal fraction of few digits, as sensors print them, is kept as one whole number, which takes two
/// bytes or three in place of eight; any other as the real that it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RowValue(pub(super) f64);

impl RowValue {
    /// Decimals are counted below this.
    const PLACES: i64 = 8;
}

impl ToSql for RowValue {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(match whole_from(0, self.0) {
            Some((places, whole)) => ToSqlOutput::from(i64::from(whole) * Self::PLACES + i64::from(places)),
            None => ToSqlOutput::from(self.0),
        })
    }
}

impl FromSql for RowValue {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let ValueRef::Integer(number) = value else { return value.as_f64().map(Self) };
        let places = number.rem_euclid(Self::PLACES) as u8;
        let whole = i32::try_from(number.div_euclid(Self::PLACES));
        match whole {
            Ok(whole) if places <= MOST_DECIMALS => Ok(Self(of_whole(whole, places))),
            _ => Err(FromSqlError::OutOfRange(number)),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[track_caller]
    fn kept(value: f64) -> f64 {
        let conn = Connection::open_in_memory().unwrap();
        conn.execute_batch("CREATE TABLE one (value ANY NOT NULL) STRICT").unwrap();
        conn.execute("INSERT INTO one VALUES (?1)", [RowValue(value)]).unwrap();
        conn.query_row("SELECT value FROM one", [], |row| row.get::<_, RowValue>(0)).unwrap().0
    }

    #[test]
    fn a_sensor_s_value_is_an_integer_of_two_bytes_and_comes_back() {
        for (value, number) in
            [(24.31, 19_450), (76.3, 6_105), (1.6, 129), (-3.25, -2_598), (0.0, 0), (1.607, 12_859)]
        {
            let ToSqlOutput::Owned(rusqlite::types::Value::Integer(kept_as)) =
                RowValue(value).to_sql().unwrap()
            else {
                panic!("{value}")
            };
            assert_eq!(kept_as, number, "{value}");
            assert_eq!(kept(value).to_bits(), value.to_bits());
        }
        for other in [1.0 / 3.0, 1e12, f64::INFINITY, f64::MIN_POSITIVE, 0.123_456_7] {
            assert!(matches!(
                RowValue(other).to_sql().unwrap(),
                ToSqlOutput::Owned(rusqlite::types::Value::Real(_))
            ));
            assert_eq!(kept(other).to_bits(), other.to_bits());
        }
    }

    #[test]
    fn a_number_that_no_value_has_is_told() {
        for number in [7, -1, i64::MAX, (i64::from(i32::MAX) + 1) * 8] {
            assert!(RowValue::column_result(ValueRef::Integer(number)).is_err(), "{number}");
        }
    }

    proptest! {
        #[test]
        fn any_value_comes_back(any in any::<f64>().prop_filter("no number", |v| !v.is_nan()), whole in any::<i32>(), places in 0..7_u8) {
            // of the zeros SQLite keeps one
            prop_assert_eq!((kept(any) + 0.0).to_bits(), (any + 0.0).to_bits());
            let decimal = of_whole(whole, places);
            prop_assert_eq!(kept(decimal).to_bits(), decimal.to_bits());
        }
    }
}
