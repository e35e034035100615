//! The same numbers on a terminal.

use bloom_text::{figure, number};
use std::fmt::Write as _;

use super::tables::{Cell, Name, Table};
use super::{Earlier, Review};

/// Columns of a terminal.
const WIDTH: usize = 100;

/// The paragraph, and every table that is short enough to be read.
pub fn text(review: &Review, earlier: Option<&Earlier<'_>>) -> String {
    let mut out = wrapped(&review.paragraph());
    for table in review.tables(earlier).iter().filter(|table| !table.behind_pictures) {
        let _ = write!(out, "\n{}\n", table.title);
        if !table.note.is_empty() {
            out.push_str(&wrapped(&table.note));
        }
        if !table.rows.is_empty() {
            out.push_str(&grid(review, table));
        }
    }
    out
}

fn wrapped(text: &str) -> String {
    let mut out = String::new();
    let mut column = 0;
    // a space that does not break is none to break at
    for word in text.split(' ') {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > WIDTH {
            out.push('\n');
            column = 0;
        }
        if column > 0 {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += length;
    }
    out.push('\n');
    out
}

fn grid(review: &Review, table: &Table) -> String {
    let units = review.site.units;
    let mut rows = vec![vec![table.rows_are.to_owned()]];
    rows[0].extend(table.columns.iter().map(|column| match column.1 {
        Some(measure) => format!("{} {}", column.0, measure.unit(units)),
        None => column.0.to_string(),
    }));
    for row in &table.rows {
        let mut cells = vec![review.name_text(&row.name)];
        cells.extend(
            row.cells
                .iter()
                .zip(&table.columns)
                .map(|(cell, column)| review.cell_text(cell, column.1.is_none())),
        );
        rows.push(cells);
    }
    let widths: Vec<usize> = (0..rows[0].len())
        .map(|place| rows.iter().map(|row| row[place].chars().count()).max().unwrap_or(0))
        .collect();
    let mut out = String::new();
    for row in rows {
        let cells: Vec<String> =
            row.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}")).collect();
        let _ = writeln!(out, "  {}", cells.join("  ").trim_end());
    }
    out
}

impl Review {
    /// What a row is about, for people.
    pub(super) fn name_text(&self, name: &Name) -> String {
        match name {
            Name::Text(text) => text.clone(),
            Name::Date(date) => self.date(*date),
            Name::Time(time) => self.local(*time),
        }
    }

    /// A cell for people, with its unit where its column has none.
    pub(super) fn cell_text(&self, cell: &Cell, with_unit: bool) -> String {
        let units = self.site.units;
        match cell {
            Cell::Nothing => "–".to_owned(),
            Cell::Text(text) => text.clone(),
            Cell::Number(value, measure) if with_unit => figure(*measure, units, *value),
            Cell::Number(value, measure) => number(*measure, units, *value, 0),
            Cell::Time(time) => self.local(*time),
        }
    }
}
