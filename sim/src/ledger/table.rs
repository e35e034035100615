//! What was measured, as a table.

use std::fmt;

/// Rows of figure, goal and what was measured.
#[derive(Debug, Default)]
pub struct Table(Vec<[String; 5]>);

impl Table {
    pub(super) fn new() -> Self {
        let mut table = Self::default();
        table.row(
            "figure",
            "goal",
            "anthesisd".to_owned(),
            "plain SQLite rows".to_owned(),
            Some("victoria-metrics".to_owned()),
        );
        table
    }

    pub(super) fn row(
        &mut self,
        figure: &str,
        goal: &str,
        own: String,
        plain: String,
        server: Option<String>,
    ) {
        self.0.push([figure.to_owned(), goal.to_owned(), own, plain, server.unwrap_or_default()]);
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let width = |column: usize| self.0.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
        let widths = [0, 1, 2, 3, 4].map(width);
        for row in &self.0 {
            for (cell, width) in row.iter().zip(widths) {
                write!(f, "{cell:width$}  ")?;
            }
            writeln!(f)?;
        }
        Ok(())
    }
}
