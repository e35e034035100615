//! Every number of a review, laid out once: the page, the spreadsheet and the terminal show these.

mod climate;
mod happened;
mod plant;

use std::borrow::Cow;

use bloom_model::degree_days::Thresholds;
use bloom_model::quantity::measure::Measure;
use bloom_model::time::Time;
use bloom_text::{figure, when};
use chrono::NaiveDate;

use super::calendar::Part;
use super::climate::{ClimateFigures, sum};
use super::{Earlier, Review};

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Not known, or not measured.
    Nothing,
    /// Words.
    Text(String),
    /// A figure, metric.
    Number(f64, Measure),
    /// An instant.
    Time(Time),
}

impl Cell {
    fn number(value: Option<f64>, measure: Measure) -> Self {
        value.map_or(Self::Nothing, |value| Self::Number(value, measure))
    }

    fn time(time: Option<Time>) -> Self {
        time.map_or(Self::Nothing, Self::Time)
    }
}

/// What a row is about.
#[derive(Debug, Clone, PartialEq)]
pub enum Name {
    /// Words.
    Text(String),
    /// A local date.
    Date(NaiveDate),
    /// An instant.
    Time(Time),
}

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// What it is about.
    pub name: Name,
    /// Its cells, one for each column.
    pub cells: Vec<Cell>,
}

/// A column: its words, and its unit where all its figures have the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column(pub Cow<'static, str>, pub Option<Measure>);

impl Column {
    const fn new(words: &'static str, measure: Option<Measure>) -> Self {
        Self(Cow::Borrowed(words), measure)
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Its name in the spreadsheet.
    pub key: &'static str,
    /// Its heading.
    pub title: String,
    /// What the rows are about.
    pub rows_are: &'static str,
    /// What a reader must know to read it.
    pub note: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Row>,
    /// It stands behind the pictures: too long to be printed.
    pub behind_pictures: bool,
}

impl Review {
    /// All tables, in the order of the page.
    pub fn tables(&self, earlier: Option<&Earlier<'_>>) -> Vec<Table> {
        let mut tables = vec![self.bloom_table()];
        tables.extend(earlier.map(|earlier| self.comparison_table(earlier)));
        tables.extend([self.limit_table(), self.extreme_table()]);
        tables.extend(self.opening_night_table());
        tables.push(self.part_table(Part::Night));
        tables.push(self.part_table(Part::Day));
        tables.push(self.light_table());
        tables.push(self.event_table());
        tables.push(self.outage_table());
        tables.push(self.step_table());
        tables.retain(|table| !table.rows.is_empty() || table.key == "outages");
        tables
    }

    /// The figures of all steps, of the nights and of the days.
    pub fn parts(&self) -> [(&'static str, ClimateFigures); 3] {
        let of = |part: Part| {
            sum(self
                .steps
                .iter()
                .zip(&self.climate)
                .filter(move |(step, _)| step.part == part)
                .map(|(_, f)| f))
        };
        [("whole", sum(&self.climate)), ("nights", of(Part::Night)), ("days", of(Part::Day))]
    }

    /// How degree-days are counted, in words and in the site's degrees.
    pub(super) fn heat_words(&self) -> String {
        let Thresholds { lower_c, upper_c } = self.heat_rule.thresholds;
        let degrees = |celsius| figure(Measure::Temperature, self.site.units, celsius);
        format!("warmth above {}, what is above {} counted as that", degrees(lower_c), degrees(upper_c))
    }

    /// An instant by local clocks.
    pub(super) fn local(&self, time: Time) -> String {
        when::date_clock(time, self.site.timezone, self.is_of_years())
    }

    /// A date as [`Self::local`] writes it.
    pub(super) fn date(&self, date: NaiveDate) -> String {
        when::short_date(date, self.is_of_years())
    }

    /// Whether a date may come twice in it, or nearly so.
    fn is_of_years(&self) -> bool {
        self.scope.until.days_since(self.scope.from) > 300.0
    }
}
