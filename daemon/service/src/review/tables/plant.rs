//! Tables of the plant: its bloom, and an earlier one beside it.

use bloom_model::quantity::Variable;
use bloom_model::quantity::measure::Measure;
use bloom_model::time::Time;

use super::{Cell, Column, Name, Row, Table};
use crate::review::plant::{DAILY_GROWTH, PlantFigures};
use crate::review::{Earlier, Review};

impl Review {
    /// The greatest of a figure over the steps, and when.
    pub(in crate::review) fn greatest(
        &self,
        figure: impl Fn(&PlantFigures) -> Option<f64>,
    ) -> Option<(f64, Time)> {
        let known = self.steps.iter().zip(&self.plant);
        known
            .filter_map(|(step, plant)| Some((figure(plant)?, step.until)))
            .max_by(|(a, a_at), (b, b_at)| a.total_cmp(b).then(b_at.cmp(a_at)))
    }

    /// The tallest, by the ranger or, where there is none, by the tape.
    pub(in crate::review) fn tallest(&self) -> Option<(f64, Time)> {
        let by_tape = || {
            self.taped.iter().map(|(time, height)| (*height, *time)).max_by(|(a, _), (b, _)| a.total_cmp(b))
        };
        self.greatest(|plant| plant.height_m).or_else(by_tape)
    }

    pub(super) fn bloom_table(&self) -> Table {
        let mut rows: Vec<Row> = Vec::new();
        let mut fact = |name: &str, value: Cell, when: Option<Time>| {
            if value != Cell::Nothing || when.is_some() {
                rows.push(Row { name: Name::Text(name.to_owned()), cells: vec![value, Cell::time(when)] });
            }
        };
        let opening = self.opening();
        if let Some(story) = &self.scope.story {
            fact("bud seen", Cell::Nothing, story.bud_seen);
            if let Some(opening) = opening {
                fact("first crack", Cell::Nothing, Some(opening.began));
                fact("opening alarm", Cell::Nothing, Some(opening.alarm));
                fact("fully open", Cell::Nothing, opening.full);
            }
            if let Some((over, how)) = &story.over {
                fact(how.name(), Cell::Nothing, Some(*over));
            }
        }
        let mut greatest = |name: &str, found: Option<(f64, Time)>, measure| {
            if let Some((value, when)) = found {
                fact(name, Cell::Number(value, measure), Some(when));
            }
        };
        greatest("tallest", self.tallest(), Measure::Length);
        greatest(
            "fastest growth over a day",
            self.greatest(|plant| plant.day.map(|rate| rate.m_h)),
            Measure::PerDay,
        );
        greatest("furthest rim advance", self.furthest_rim(), Measure::Advance);
        if opening.is_some() {
            greatest("fastest rim hour", self.fastest_rim_hour(), Measure::PerHour);
        }
        fact(
            "degree-days to first crack",
            Cell::number(self.heat_at_crack, Measure::DegreeDays),
            opening.map(|opening| opening.began),
        );
        let last = self.steps.iter().zip(&self.plant).next_back();
        if let Some((step, plant)) = last {
            fact(
                "degree-days to the end",
                Cell::number(plant.degree_days, Measure::DegreeDays),
                Some(step.until),
            );
            fact("days of temperature behind them", Cell::Number(plant.covered_days, Measure::Days), None);
        }
        Table {
            key: "bloom",
            title: if self.scope.story.is_some() { "The bloom" } else { "The plant" }.to_owned(),
            rows_are: "figure",
            note: format!(
                "Heights from {}. {DAILY_GROWTH} The rim's advance counts from where it rested in the six hours before the \
                 first crack. Degree-days: {}, counted from {}.",
                self.height_datum,
                self.heat_words(),
                self.local(self.heat_from)
            ),
            columns: vec![Column::new("value", None), Column::new("when", None)],
            rows,
            behind_pictures: false,
        }
    }

    /// How far the rim came from its rest, and when.
    pub(in crate::review) fn furthest_rim(&self) -> Option<(f64, Time)> {
        let rest_m = self.rim.rest_m?;
        let advances = self.rim.samples.iter().map(|sample| (sample.position_m - rest_m, sample.time));
        advances.max_by(|(a, a_at), (b, b_at)| a.total_cmp(b).then(b_at.cmp(a_at)))
    }

    /// The fastest hour of the rim between first crack and a day later.
    pub(in crate::review) fn fastest_rim_hour(&self) -> Option<(f64, Time)> {
        let began = self.opening()?.began;
        let hours = self.steps.iter().zip(&self.plant);
        hours
            .filter(|(step, _)| step.until > began && step.until <= began.plus_hours(24.0))
            .filter_map(|(step, plant)| Some((plant.rim_hour?.m_h, step.until)))
            .max_by(|(a, a_at), (b, b_at)| a.total_cmp(b).then(b_at.cmp(a_at)))
    }

    /// This bloom beside an earlier one, over spans of the same length about their openings.
    pub(super) fn comparison_table(&self, earlier: &Earlier<'_>) -> Table {
        let reviews = [self, earlier.review];
        let mut rows = Vec::new();
        let mut put = |name: String, cells: [Cell; 2]| {
            if cells.iter().any(|cell| *cell != Cell::Nothing) {
                rows.push(Row { name: Name::Text(name), cells: cells.to_vec() });
            }
        };
        let parts = reviews.map(Review::parts);
        for place in [1, 2] {
            for variable in Variable::pictured() {
                let mean = |of: usize| Cell::number(parts[of][place].1[variable].mean(), variable.measure());
                put(format!("{}: mean {}", parts[0][place].0, variable.short()), [mean(0), mean(1)]);
            }
        }
        let near = |of: usize| {
            let spread = &parts[of][0].1[Variable::SPREAD];
            Cell::number((spread.measured_h > 0.0).then_some(spread.beyond[0].below_h), Measure::Hours)
        };
        put("near the dew point".to_owned(), [near(0), near(1)]);
        let measured =
            |of: usize| Cell::Number(parts[of][0].1[Variable::TEMPERATURE].measured_h, Measure::Hours);
        put("temperature measured".to_owned(), [measured(0), measured(1)]);
        let value = |found: Option<(f64, Time)>| found.map(|(value, _)| value);
        put("tallest".to_owned(), reviews.map(|r| Cell::number(value(r.tallest()), Measure::Length)));
        let fastest = |review: &Review| value(review.greatest(|plant| plant.day.map(|rate| rate.m_h)));
        put(
            "fastest growth over a day".to_owned(),
            reviews.map(|r| Cell::number(fastest(r), Measure::PerDay)),
        );
        put(
            "furthest rim advance".to_owned(),
            reviews.map(|r| Cell::number(value(r.furthest_rim()), Measure::Advance)),
        );
        put(
            "degree-days to first crack".to_owned(),
            reviews.map(|r| Cell::number(r.heat_at_crack, Measure::DegreeDays)),
        );
        Table {
            key: "comparison",
            title: format!("Beside {}", earlier.name),
            rows_are: "figure",
            note: "Both over a span of the same length about their openings.".to_owned(),
            columns: vec![Column::new("this bloom", None), Column::new("the earlier one", None)],
            rows,
            behind_pictures: false,
        }
    }
}
