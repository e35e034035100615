//! The tables in which readings lie row by row.

use rusqlite::Connection;

use super::from_sql;

/// Readings that are never sealed, for their time cannot be right.
pub(super) const UNDATED: &str = "reading_undated";

/// The tables in the order in which rows came to them: of two of the same instant, one that lies in an earlier table was
/// there first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Tables {
    /// New rows go there.
    pub(super) filled: &'static str,
    /// These are being sealed.
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
