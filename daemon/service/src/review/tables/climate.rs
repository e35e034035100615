//! Tables of the house's air and the plant in it, step by step and over parts of the day.

use bloom_model::quantity::measure::Measure;
use bloom_model::quantity::{Role, Variable};
use bloom_model::spec::Band;
use bloom_model::time::Time;
use bloom_text::{figure, number};
use chrono::NaiveDate;

use super::{Cell, Column, Name, Row, Table};
use crate::review::Review;
use crate::review::calendar::{Pace, Part, night_words};
use crate::review::climate::{ClimateFigures, Figures, NEAR_DEW_POINT_K, sum};
use crate::review::plant::PlantFigures;

/// Hours of the opening night before the first crack, and after it.
const OPENING_NIGHT_H: (f64, f64) = (-3.0, 24.0);

impl Review {
    pub(super) fn limit_table(&self) -> Table {
        let units = self.site.units;
        let mut rows = Vec::new();
        for (part, figures) in self.parts() {
            for (variable, bands) in self.limits.iter() {
                let (words, measure) = (variable.short(), variable.measure());
                let kinds = [(bands.warning, ""), (bands.alarm, " (alarm)")];
                for (place, (band, kind)) in kinds.into_iter().enumerate() {
                    let Some(band) = band else { continue };
                    let of = &figures[variable];
                    let beyond = of.beyond[place];
                    let within = of.measured_h - beyond.below_h - beyond.above_h;
                    let limit = band_words(&band, |value| number(measure, units, value, 0));
                    let name = format!("{part}: {words} {limit} {}{kind}", measure.unit(units));
                    let hours = [within, beyond.below_h, beyond.above_h, of.measured_h];
                    rows.push(Row {
                        name: Name::Text(name),
                        cells: hours.map(|hours| Cell::Number(hours, Measure::Hours)).to_vec(),
                    });
                }
            }
        }
        let hours = Some(Measure::Hours);
        let in_brief = match self.pace {
            Pace::Hours => "",
            Pace::DaysAndNights => {
                " In a span this long, the share of an hour beyond a limit that it crossed is reckoned from its lowest, mean and highest."
            }
        };
        Table {
            key: "limits",
            title: "Hours in, below and above each limit".to_owned(),
            rows_are: "limit",
            note: format!(
                "A reading counts until the next, for {} minutes at most; time without readings counts to nothing.{in_brief} {} \
                 Air within {} of its dew point is counted as at risk of condensation.",
                self.site.silent_after.num_minutes(),
                night_words(),
                figure(Measure::Difference, units, NEAR_DEW_POINT_K)
            ),
            columns: vec![
                Column::new("within", hours),
                Column::new("below", hours),
                Column::new("above", hours),
                Column::new("measured", hours),
            ],
            rows,
            behind_pictures: false,
        }
    }

    pub(super) fn extreme_table(&self) -> Table {
        let mut rows = Vec::new();
        for (part, figures) in self.parts() {
            for variable in Variable::pictured() {
                let of = &figures[variable];
                let (words, measure) = (variable.short(), variable.measure());
                if of.lowest.is_none() {
                    continue;
                }
                rows.push(Row {
                    name: Name::Text(format!("{part}: {words}")),
                    cells: vec![
                        Cell::number(of.lowest.map(|lowest| lowest.value), measure),
                        Cell::time(of.lowest.map(|lowest| lowest.time)),
                        Cell::number(of.mean(), measure),
                        Cell::number(of.highest.map(|highest| highest.value), measure),
                        Cell::time(of.highest.map(|highest| highest.time)),
                    ],
                });
            }
        }
        Table {
            key: "extremes",
            title: "Lowest, mean and highest".to_owned(),
            rows_are: "of",
            note: "Means are over time; the mean deficit is the mean of the deficits of all instants."
                .to_owned(),
            columns: vec![
                Column::new("lowest", None),
                Column::new("at", None),
                Column::new("mean", None),
                Column::new("highest", None),
                Column::new("highest at", None),
            ],
            rows,
            behind_pictures: false,
        }
    }

    /// What is drawn beyond the air, and was measured in the span.
    fn further(&self) -> Vec<Variable> {
        let measured = |of: &Variable| self.climate.iter().any(|figures| figures[*of].lowest.is_some());
        Variable::pictured().filter(|of| of.role() != Role::Air).filter(measured).collect()
    }

    /// The cells of the climate over some time, and their columns.
    fn climate_columns(&self) -> Vec<Column> {
        let mut columns = vec![
            Column::new("temperature", Some(Measure::Temperature)),
            Column::new("temperature, lowest", Some(Measure::Temperature)),
            Column::new("temperature, highest", Some(Measure::Temperature)),
            Column::new("humidity", Some(Measure::Humidity)),
            Column::new("humidity, lowest", Some(Measure::Humidity)),
            Column::new("humidity, highest", Some(Measure::Humidity)),
            Column::new("deficit", Some(Measure::Deficit)),
            Column::new("spread, lowest", Some(Measure::Difference)),
            Column::new("near dew point", Some(Measure::Hours)),
        ];
        for of in self.further() {
            for what in ["", ", lowest", ", highest"] {
                columns.push(Column(format!("{}{what}", of.short()).into(), Some(of.measure())));
            }
        }
        columns
    }

    /// Of a row; `further` is what [`Self::further`] finds, looked for once in a table and not once a row.
    fn climate_cells(figures: &ClimateFigures, further: &[Variable]) -> Vec<Cell> {
        let mean_and_extremes = |of: Variable| {
            let Figures { lowest, highest, .. } = figures[of];
            let extremes = [lowest, highest].map(|extreme| extreme.map(|extreme| extreme.value));
            [figures[of].mean(), extremes[0], extremes[1]].map(|value| Cell::number(value, of.measure()))
        };
        let mut cells = Vec::new();
        cells.extend([Variable::TEMPERATURE, Variable::HUMIDITY].into_iter().flat_map(mean_and_extremes));
        let spread = &figures[Variable::SPREAD];
        cells.push(Cell::number(figures[Variable::DEFICIT].mean(), Measure::Deficit));
        cells.push(Cell::number(spread.lowest.map(|lowest| lowest.value), Measure::Difference));
        let near = (spread.measured_h > 0.0).then_some(spread.beyond[0].below_h);
        cells.push(Cell::number(near, Measure::Hours));
        cells.extend(further.iter().copied().flat_map(mean_and_extremes));
        cells
    }

    pub(super) fn part_table(&self, part: Part) -> Table {
        let mut rows: Vec<(NaiveDate, ClimateFigures, PlantFigures)> = Vec::new();
        for ((step, figures), plant) in self.steps.iter().zip(&self.climate).zip(&self.plant) {
            if step.part != part {
                continue;
            }
            match rows.last_mut() {
                Some((date, whole, last)) if *date == step.date => {
                    *whole = sum([&*whole, figures]);
                    *last = *plant;
                }
                _ => rows.push((step.date, *figures, *plant)),
            }
        }
        let further = self.further();
        let mut columns = self.climate_columns();
        columns.push(Column::new("height at its end", Some(Measure::Length)));
        columns.push(Column::new("growth over 24 h", Some(Measure::PerDay)));
        columns.push(Column::new("growth sd", Some(Measure::PerDay)));
        let rows = rows
            .into_iter()
            // the record may begin later than what is looked at
            .skip_while(|(_, figures, plant)| {
                figures.iter().all(|(_, of)| of.measured_h <= 0.0) && plant.height_m.is_none()
            })
            .map(|(date, figures, plant)| {
                let mut cells = Self::climate_cells(&figures, &further);
                cells.push(Cell::number(plant.height_m, Measure::Length));
                cells.push(Cell::number(plant.day.map(|rate| rate.m_h), Measure::PerDay));
                cells.push(Cell::number(plant.day.map(|rate| rate.sd_m_h), Measure::PerDay));
                Row { name: Name::Date(date), cells }
            })
            .collect();
        let in_brief = match self.pace {
            Pace::Hours => "",
            Pace::DaysAndNights => " In a span this long, heights outside blooms are means of an hour.",
        };
        let (key, title, note) = match part {
            Part::Night => ("nights", "Night by night", "A night has the date of its evening."),
            Part::Day => ("days", "Day by day", "A day is what lies between two nights."),
        };
        Table {
            key,
            title: title.to_owned(),
            rows_are: "date",
            note: format!(
                "{note} Temperature, humidity and deficit are means over time; growth is that of the day up to its end, with its \
                 standard deviation (sd).{in_brief}"
            ),
            columns,
            rows,
            behind_pictures: false,
        }
    }

    pub(super) fn opening_night_table(&self) -> Option<Table> {
        let began = self.opening().filter(|_| self.pace == Pace::Hours)?.began;
        let (from, until) = (began.plus_hours(OPENING_NIGHT_H.0), began.plus_hours(OPENING_NIGHT_H.1));
        let within = |time: Time| time > from && time <= until;
        let mut columns = vec![
            Column::new("temperature", Some(Measure::Temperature)),
            Column::new("humidity", Some(Measure::Humidity)),
            Column::new("deficit", Some(Measure::Deficit)),
            Column::new("spread", Some(Measure::Difference)),
        ];
        let further = self.further();
        columns.extend(further.iter().map(|of| Column(of.short().into(), Some(of.measure()))));
        columns.extend(plant_columns());
        let rows = self
            .steps
            .iter()
            .zip(&self.climate)
            .zip(&self.plant)
            .filter(|((step, _), _)| within(step.until))
            .map(|((step, figures), plant)| {
                let air = Variable::pictured().filter(|of| of.role() == Role::Air);
                let mut cells: Vec<Cell> = air
                    .chain(further.iter().copied())
                    .map(|of| Cell::number(figures[of].mean(), of.measure()))
                    .collect();
                cells.extend(self.plant_cells(plant));
                Row { name: Name::Time(step.from), cells }
            })
            .collect();
        Some(Table {
            key: "opening night",
            title: "The opening night, hour by hour".to_owned(),
            rows_are: "hour from",
            note: "The air is the mean of the hour; rim and height are those of its last ten minutes, rates and \
                   growth are over the hour, each with its standard deviation (sd)."
                .to_owned(),
            columns,
            rows,
            behind_pictures: false,
        })
    }

    fn plant_cells(&self, plant: &PlantFigures) -> Vec<Cell> {
        let advance = plant.rim_m.zip(self.rim.rest_m).map(|(rim, rest)| rim - rest);
        vec![
            Cell::number(advance, Measure::Advance),
            Cell::number(plant.rim_hour.map(|rate| rate.m_h), Measure::PerHour),
            Cell::number(plant.rim_hour.map(|rate| rate.sd_m_h), Measure::PerHour),
            Cell::number(plant.height_m, Measure::Length),
            Cell::number(plant.hour.map(|rate| rate.m_h), Measure::PerHour),
            Cell::number(plant.hour.map(|rate| rate.sd_m_h), Measure::PerHour),
        ]
    }

    pub(super) fn step_table(&self) -> Table {
        let further = self.further();
        let mut columns = self.climate_columns();
        columns.push(Column::new("deficit, lowest", Some(Measure::Deficit)));
        columns.push(Column::new("deficit, highest", Some(Measure::Deficit)));
        columns.extend(plant_columns());
        columns.push(Column::new("growth over 24 h", Some(Measure::PerDay)));
        columns.push(Column::new("degree-days", Some(Measure::DegreeDays)));
        let rows = self
            .steps
            .iter()
            .zip(&self.climate)
            .zip(&self.plant)
            .map(|((step, figures), plant)| {
                let mut cells = Self::climate_cells(figures, &further);
                let deficit = &figures[Variable::DEFICIT];
                for extreme in [deficit.lowest, deficit.highest] {
                    cells.push(Cell::number(extreme.map(|extreme| extreme.value), Measure::Deficit));
                }
                cells.extend(self.plant_cells(plant));
                cells.push(Cell::number(plant.day.map(|rate| rate.m_h), Measure::PerDay));
                cells.push(Cell::number(plant.degree_days, Measure::DegreeDays));
                Row { name: Name::Time(step.from), cells }
            })
            .collect();
        Table {
            key: match self.pace {
                Pace::Hours => "hours",
                Pace::DaysAndNights => "days and nights",
            },
            title: "What the pictures show".to_owned(),
            rows_are: "from",
            note: String::new(),
            columns,
            rows,
            behind_pictures: true,
        }
    }
}

fn plant_columns() -> Vec<Column> {
    vec![
        Column::new("rim advance", Some(Measure::Advance)),
        Column::new("rim rate", Some(Measure::PerHour)),
        Column::new("rim rate sd", Some(Measure::PerHour)),
        Column::new("height", Some(Measure::Length)),
        Column::new("growth", Some(Measure::PerHour)),
        Column::new("growth sd", Some(Measure::PerHour)),
    ]
}

/// `18.0 to 35.0`, or `from 2.0`.
fn band_words(band: &Band, number: impl Fn(f64) -> String) -> String {
    if band.to.is_finite() {
        format!("{} to {}", number(band.from), number(band.to))
    } else {
        format!("from {}", number(band.from))
    }
}
