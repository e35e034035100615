//! Reference tables: comma-separated values under comment lines that say what, in which units and from where.

// A table that cannot be read, or a cell that does not agree, is a failed check: the tests that call this want the panic.
#![allow(clippy::panic)]

use std::fmt;
use std::path::Path;
use std::sync::Arc;

use csv::StringRecord;

/// One row of a table. Its `Display` names file and line and gives every cell.
#[derive(Debug, Clone)]
pub struct Row {
    file: &'static str,
    headers: Arc<StringRecord>,
    cells: StringRecord,
}

/// The rows of `tests/reference/FILE`, which must be as many as expected: a table cut short would check nothing.
pub fn rows(file: &'static str, expected: usize) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join(file);
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let headers = Arc::new(reader.headers().unwrap_or_else(|error| panic!("{file}: {error}")).clone());
    let rows: Vec<Row> = reader
        .records()
        .map(|record| record.unwrap_or_else(|error| panic!("{file}: {error}")))
        .map(|cells| Row { file, headers: Arc::clone(&headers), cells })
        .collect();
    assert_eq!(rows.len(), expected, "rows of {file}");
    rows
}

impl Row {
    /// The text of a cell.
    pub fn text(&self, column: &str) -> &str {
        self.headers
            .iter()
            .position(|name| name == column)
            .and_then(|place| self.cells.get(place))
            .unwrap_or_else(|| panic!("{} has no column {column:?}", self.file))
    }

    /// The number in a cell; `None` where it is empty, which means "not defined".
    pub fn known(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        let number = || text.parse().unwrap_or_else(|_| panic!("{column} is no number in {self}"));
        (!text.is_empty()).then(number)
    }

    /// The number in a cell that must not be empty.
    pub fn number(&self, column: &str) -> f64 {
        self.known(column).unwrap_or_else(|| panic!("{column} is empty in {self}"))
    }

    /// Checks a value against a cell, the difference within `absolute`.
    pub fn agrees(&self, column: &str, ours: f64, absolute: f64) {
        self.compare(column, ours, absolute, "");
    }

    /// Checks a value against a cell, the difference within `relative` of the cell's value.
    pub fn agrees_relatively(&self, column: &str, ours: f64, relative: f64) {
        self.compare(column, ours, relative * self.number(column).abs(), " (relative)");
    }

    fn compare(&self, column: &str, ours: f64, within: f64, kind: &str) {
        let table = self.number(column);
        let off = (ours - table).abs();
        // a NaN agrees with nothing
        assert!(
            off <= within,
            "{column}: {ours} here, {table} there: {off:e} apart, {within:e} allowed{kind}\n{self}"
        );
    }
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let line = self.cells.position().map_or(0, csv::Position::line);
        write!(f, "{} line {line}:", self.file)?;
        self.headers.iter().zip(&self.cells).try_for_each(|(name, cell)| write!(f, " {name}={cell}"))
    }
}
