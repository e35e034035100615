//! Every number of a review, laid out once: the page, the spreadsheet and the terminal show these.

use std::borrow::Cow;

use bloom_model::degree_days::Thresholds;
use bloom_model::event::{EventClass, EventKind};
use bloom_model::quantity::measure::Measure;
use bloom_model::quantity::{Role, Variable};
use bloom_model::sign::Sign;
use bloom_model::spec::Band;
use bloom_model::time::Time;
use chrono::NaiveDate;

use super::calendar::{Pace, Part, day_and_clock, night_words, short_date};
use super::climate::{ClimateFigures, Figures, NEAR_DEW_POINT_K, sum};
use super::daily_light::DayOfLight;
use super::plant::{DAILY_GROWTH, PlantFigures};
use super::{Earlier, Review};

/// Hours of the opening night before the first crack, and after it.
const OPENING_NIGHT_H: (f64, f64) = (-3.0, 24.0);

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

    /// The greatest of a figure over the steps, and when.
    pub(super) fn greatest(&self, figure: impl Fn(&PlantFigures) -> Option<f64>) -> Option<(f64, Time)> {
        let known = self.steps.iter().zip(&self.plant);
        known
            .filter_map(|(step, plant)| Some((figure(plant)?, step.until)))
            .max_by(|(a, a_at), (b, b_at)| a.total_cmp(b).then(b_at.cmp(a_at)))
    }

    /// The tallest, by the ranger or, where there is none, by the tape.
    pub(super) fn tallest(&self) -> Option<(f64, Time)> {
        let by_tape = || {
            self.taped.iter().map(|(time, height)| (*height, *time)).max_by(|(a, _), (b, _)| a.total_cmp(b))
        };
        self.greatest(|plant| plant.height_m).or_else(by_tape)
    }

    fn bloom_table(&self) -> Table {
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
    pub(super) fn furthest_rim(&self) -> Option<(f64, Time)> {
        let rest_m = self.rim.rest_m?;
        let advances = self.rim.samples.iter().map(|sample| (sample.position_m - rest_m, sample.time));
        advances.max_by(|(a, a_at), (b, b_at)| a.total_cmp(b).then(b_at.cmp(a_at)))
    }

    /// The fastest hour of the rim between first crack and a day later.
    pub(super) fn fastest_rim_hour(&self) -> Option<(f64, Time)> {
        let began = self.opening()?.began;
        let hours = self.steps.iter().zip(&self.plant);
        hours
            .filter(|(step, _)| step.until > began && step.until <= began.plus_hours(24.0))
            .filter_map(|(step, plant)| Some((plant.rim_hour?.m_h, step.until)))
            .max_by(|(a, a_at), (b, b_at)| a.total_cmp(b).then(b_at.cmp(a_at)))
    }

    /// This bloom beside an earlier one, over spans of the same length about their openings.
    fn comparison_table(&self, earlier: &Earlier<'_>) -> Table {
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

    fn limit_table(&self) -> Table {
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
                    let limit = band_words(&band, |value| measure.number(units, value, 0));
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
                Measure::Difference.text(units, NEAR_DEW_POINT_K)
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

    fn extreme_table(&self) -> Table {
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

    fn part_table(&self, part: Part) -> Table {
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

    fn opening_night_table(&self) -> Option<Table> {
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

    fn light_table(&self) -> Table {
        let row = |day: &DayOfLight| Row {
            name: Name::Date(day.date),
            cells: vec![
                Cell::Number(day.mol_m2, Measure::DailyLight),
                Cell::Number(day.measured_h, Measure::Hours),
            ],
        };
        Table {
            key: "light",
            title: "Light, day by day".to_owned(),
            rows_are: "date",
            note: self.light_note(),
            columns: vec![
                Column::new("daily light integral", Some(Measure::DailyLight)),
                Column::new("measured", Some(Measure::Hours)),
            ],
            rows: self.light.iter().map(row).collect(),
            behind_pictures: false,
        }
    }

    /// How the light of a day is summed.
    pub(super) fn light_note(&self) -> String {
        format!(
            "The photon flux density (400 to 700 nm) summed over each local day. A reading counts until the next, for {} minutes at \
             most: a day with less than 24 hours measured had more light than is shown.",
            self.site.silent_after.num_minutes()
        )
    }

    fn event_table(&self) -> Table {
        let mut rows: Vec<(Time, Row)> = Vec::new();
        let mut put = |time: Time, what: String, words: String| {
            rows.push((
                time,
                Row { name: Name::Time(time), cells: vec![Cell::Text(what), Cell::Text(words)] },
            ));
        };
        // a bulletin is told every day, and a booked sign stands below as it was booked
        for told in &self.events {
            if EventKind::of(&told.kind).is_none_or(|kind| kind.row().class != EventClass::Echo) {
                put(told.time, told.kind.clone(), told.message.clone());
            }
        }
        for booked in &self.signs {
            let mut words = match booked.sign {
                Sign::Withdrawn(_) | Sign::HeightWithdrawn => "withdrawn".to_owned(),
                _ => "recorded".to_owned(),
            };
            if let Some(by) = &booked.by {
                words.push_str(&format!(" by {by}"));
            }
            if let Some(note) = &booked.note {
                words.push_str(&format!(": {note}"));
            }
            put(booked.time, booked.sign.to_string(), words);
        }
        for (time, height_m) in &self.taped {
            put(*time, "taped".to_owned(), Measure::Length.text(self.site.units, *height_m));
        }
        rows.sort_by_key(|(time, _)| *time);
        Table {
            key: "events",
            title: "What happened".to_owned(),
            rows_are: "time",
            note: "Events as they were told, signs and tape measurements as they were recorded.".to_owned(),
            columns: vec![Column::new("what", None), Column::new("words", None)],
            rows: rows.into_iter().map(|(_, row)| row).collect(),
            behind_pictures: false,
        }
    }

    fn outage_table(&self) -> Table {
        let outages = &self.outages;
        let rows = outages
            .listed
            .iter()
            .zip(1..)
            .map(|(outage, number)| Row {
                name: Name::Text(format!("{number}")),
                cells: vec![
                    Cell::Text(outage.quantity.words().to_owned()),
                    Cell::Time(outage.from),
                    Cell::Time(outage.until),
                    Cell::Number(outage.until.hours_since(outage.from), Measure::Hours),
                ],
            })
            .collect();
        let mut note = self.outage_note();
        if outages.further > 0 {
            note.push_str(&format!(" {} further ones are not listed.", outages.further));
        }
        Table {
            key: "outages",
            title: "When sensors said nothing".to_owned(),
            rows_are: "number",
            note,
            columns: vec![
                Column::new("sensor", None),
                Column::new("from", None),
                Column::new("to", None),
                Column::new("lasted", Some(Measure::Hours)),
            ],
            rows,
            behind_pictures: false,
        }
    }

    /// What the list of outages is of: an empty one says something only of what was heard.
    fn outage_note(&self) -> String {
        let outages = &self.outages;
        let minutes = self.site.silent_after.num_minutes();
        if outages.first.is_none() {
            return "No sensor said anything in this span.".to_owned();
        }
        let begun = outages.begun.iter();
        let begun: Vec<String> = begun
            .map(|(quantity, time)| format!("{} from {}", quantity.words(), self.local(*time)))
            .collect();
        match (outages.listed.is_empty(), begun.is_empty()) {
            (true, true) => format!("None of more than {minutes} minutes."),
            (true, false) => {
                format!("None of more than {minutes} minutes once they were heard: {}.", begun.join(", "))
            }
            (false, true) => format!("Spans of more than {minutes} minutes without a reading."),
            (false, false) => format!(
                "Spans of more than {minutes} minutes without a reading. Heard for the first time: {}.",
                begun.join(", ")
            ),
        }
    }

    fn step_table(&self) -> Table {
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

    /// How degree-days are counted, in words and in the site's degrees.
    pub(super) fn heat_words(&self) -> String {
        let Thresholds { lower_c, upper_c } = self.heat_rule.thresholds;
        let degrees = |celsius| Measure::Temperature.text(self.site.units, celsius);
        format!("warmth above {}, what is above {} counted as that", degrees(lower_c), degrees(upper_c))
    }

    /// An instant by local clocks.
    pub(super) fn local(&self, time: Time) -> String {
        day_and_clock(time, self.site.timezone, self.is_of_years())
    }

    /// A date as [`Self::local`] writes it.
    pub(super) fn date(&self, date: NaiveDate) -> String {
        short_date(date, self.is_of_years())
    }

    /// Whether a date may come twice in it, or nearly so.
    fn is_of_years(&self) -> bool {
        self.scope.until.days_since(self.scope.from) > 300.0
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
