//! What is drawn of a review.

use bloom_model::event::EventKind;
use bloom_model::quantity::Variable;
use bloom_model::quantity::measure::Measure;
use bloom_model::spec::Band as Limit;
use bloom_model::time::Time;
use bloom_text::{capital, figure};
use chrono::TimeDelta;

use super::calendar::{Pace, night_words, nights};
use super::chart::{Band, Chart, Ink, Level, Line, Mark, Stroke};
use super::climate::{Figures, NEAR_DEW_POINT_K};
use super::daily_light::DayOfLight;
use super::plant::{DAILY_GROWTH, PlantFigures};
use super::{Earlier, Review};
use crate::drawing::Drawing;

/// Events with a drawing in the pictures at most; the table has them all.
const MOST_MARKS: usize = 12;
/// Nights are shaded in spans of up to so many days; beyond, they would be a haze.
const NIGHTS_UP_TO_D: f64 = 100.0;
/// The opening night is drawn from so long before the first crack, h, to so long after it.
const OPENING_NIGHT_H: (f64, f64) = (-6.0, 30.0);

/// A picture with its heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The heading.
    pub title: String,
    /// What a reader must know.
    pub note: String,
    /// What is to be seen.
    pub chart: Chart,
}

impl Review {
    /// The events that are marked in the pictures.
    pub fn marks(&self) -> Vec<Mark> {
        let events = self.events.iter().filter(|told| !told.undone).filter_map(|told| {
            let kind = EventKind::of(&told.kind)?;
            Some(Mark { drawing: Drawing::of_event(kind)?, words: kind.words(), time: told.time })
        });
        let crack = self.opening().map(|opening| Mark {
            drawing: Drawing::Opening,
            words: "first crack".to_owned(),
            time: opening.began,
        });
        let mut marks: Vec<Mark> = events.chain(crack).collect();
        marks.sort_by(|a, b| a.time.cmp(&b.time).then_with(|| a.words.cmp(&b.words)));
        marks.truncate(MOST_MARKS);
        marks
    }

    fn chart(&self, label: &str, measure: Measure) -> Chart {
        let (from, until, zone) = (self.scope.from, self.scope.until, self.site.timezone);
        let shaded = until.days_since(from) <= NIGHTS_UP_TO_D;
        Chart {
            label: label.to_owned(),
            unit: measure.unit(self.site.units),
            from,
            until,
            zone,
            nights: if shaded { nights(from, until, zone) } else { Vec::new() },
            holds: Vec::new(),
            bands: Vec::new(),
            lines: Vec::new(),
            levels: Vec::new(),
            marks: self.marks(),
        }
    }

    const fn step_words(&self) -> &'static str {
        match self.pace {
            Pace::Hours => "hour",
            Pace::DaysAndNights => "day and night",
        }
    }

    /// Of each step, at its middle.
    fn of_climate<T>(
        &self,
        variable: Variable,
        value: impl Fn(&Figures) -> Option<T>,
    ) -> impl Iterator<Item = (Time, Option<T>)> {
        self.steps.iter().zip(&self.climate).map(move |(step, figures)| {
            let middle = step.from.plus_hours(0.5 * step.until.hours_since(step.from));
            (middle, value(&figures[variable]))
        })
    }

    /// Of each step, at its end.
    fn of_plant<T>(
        &self,
        value: impl Fn(&PlantFigures) -> Option<T>,
    ) -> impl Iterator<Item = (Time, Option<T>)> {
        self.steps.iter().zip(&self.plant).map(move |(step, plant)| (step.until, value(plant)))
    }

    /// Of each step, at its end, until the bloom was over: what comes then is no growth, and would dwarf it.
    fn of_growth<T>(
        &self,
        value: impl Fn(&PlantFigures) -> Option<T>,
    ) -> impl Iterator<Item = (Time, Option<T>)> {
        let over = self.scope.story.as_ref().and_then(|story| story.over.as_ref()).map(|(over, _)| *over);
        self.of_plant(value)
            .map(move |(time, value)| (time, value.filter(|_| over.is_none_or(|over| time <= over))))
    }

    fn shown(&self, measure: Measure, value: f64) -> f64 {
        measure.shown(self.site.units, value)
    }

    /// Lays the same line of the earlier bloom over a chart, moved so that both open at one instant.
    fn lay_over<'a, I>(
        &self,
        chart: &mut Chart,
        earlier: Option<&Earlier<'a>>,
        values: impl Fn(&'a Review) -> I,
    ) where
        I: Iterator<Item = (Time, Option<f64>)>,
    {
        let Some(earlier) = earlier else { return };
        let moved = values(earlier.review)
            .map(|(time, value)| (time + earlier.later_by, value))
            .filter(|(time, _)| *time >= chart.from && *time <= chart.until);
        chart.lines.push(Line {
            words: format!("{} laid over", earlier.name),
            ink: Ink::Black,
            stroke: Stroke::Dashed,
            values: moved.collect(),
        });
    }

    /// The band of each step, its mean, and the limits.
    fn climate_chart(&self, variable: Variable, earlier: Option<&Earlier<'_>>) -> Chart {
        let (words, measure) = (variable.short(), variable.measure());
        let inks = inks(measure);
        let step = self.step_words();
        let mut chart = self.chart(&format!("{words}, lowest, mean and highest of each {step}"), measure);
        let edges = |figures: &Figures| {
            let (lowest, highest) = figures.lowest.zip(figures.highest)?;
            Some((self.shown(measure, lowest.value), self.shown(measure, highest.value)))
        };
        chart.bands.push(Band {
            words: format!("lowest to highest of each {step}"),
            ink: inks.1,
            edges: self.of_climate(variable, edges).collect(),
        });
        chart.lines.push(Line {
            words: "mean".to_owned(),
            ink: inks.0,
            stroke: Stroke::Solid,
            values: self
                .of_climate(variable, |figures| figures.mean().map(|mean| self.shown(measure, mean)))
                .collect(),
        });
        self.lay_over(&mut chart, earlier, |review| {
            review.of_climate(variable, move |figures| figures.mean().map(|mean| review.shown(measure, mean)))
        });
        let bands = self.limits[variable];
        let read =
            self.climate.iter().flat_map(|figures| [figures[variable].lowest, figures[variable].highest]);
        let read = read.flatten().map(|extreme| extreme.value);
        let (low, high) = read
            .chain(ends(bands.warning).filter(|value| value.is_finite()))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        for (band, kind) in [(bands.warning, "limit"), (bands.alarm, "alarm limit")] {
            // the end of what is possible is no limit worth a line, as nought of a deficit; one far off would flatten the picture
            let is_shown = |value: &f64| {
                *value > variable.lowest() && (2.0 * low - high..=2.0 * high - low).contains(value)
            };
            for value in ends(band).filter(is_shown) {
                let words = format!("{kind} {}", figure(measure, self.site.units, value));
                chart.levels.push(Level { words, value: self.shown(measure, value) });
            }
        }
        chart
    }

    pub(super) fn climate_picture(&self, variable: Variable, earlier: Option<&Earlier<'_>>) -> Picture {
        let chart = self.climate_chart(variable, earlier);
        let note = match variable.picture().unwrap_or_default() {
            // the first of all says what is shaded in all of them
            "" if variable == Variable::TEMPERATURE => night_words(),
            note => note.to_owned(),
        };
        Picture { title: capital(variable.short()), note, chart }
    }

    pub(super) fn spread(&self, earlier: Option<&Earlier<'_>>) -> Picture {
        let units = self.site.units;
        let near = figure(Measure::Difference, units, NEAR_DEW_POINT_K);
        let mut picture = self.climate_picture(Variable::SPREAD, earlier);
        picture.chart.holds.push(0.0);
        picture.chart.levels = vec![Level {
            words: format!("at risk below {near}"),
            value: self.shown(Measure::Difference, NEAR_DEW_POINT_K),
        }];
        Picture {
            note: format!(
                "{} Below {near} water may condense on what is a little colder than the \
                 air: glass, a spathe under a clear sky.",
                picture.note
            ),
            ..picture
        }
    }

    pub(super) fn daily_light(&self) -> Picture {
        let measure = Measure::DailyLight;
        let mut chart = self.chart("light of each day", measure);
        chart.holds.push(0.0);
        let middle = |day: &DayOfLight| day.from.plus_hours(0.5 * day.until.hours_since(day.from));
        chart.lines.push(Line {
            words: "light of each day".to_owned(),
            ink: Ink::Orange,
            stroke: Stroke::Squares,
            values: self
                .light
                .iter()
                .map(|day| (middle(day), Some(self.shown(measure, day.mol_m2))))
                .collect(),
        });
        Picture { title: "Daily light integral".to_owned(), note: self.light_note(), chart }
    }

    pub(super) fn height(&self, earlier: Option<&Earlier<'_>>) -> Picture {
        let measure = Measure::Length;
        let mut chart = self.chart("height of the plant", measure);
        let height = |review: &Review, plant: &PlantFigures| plant.height_m.map(|m| review.shown(measure, m));
        chart.lines.push(Line {
            words: "overhead ranger".to_owned(),
            ink: Ink::Blue,
            stroke: Stroke::Solid,
            values: self.of_plant(|plant| height(self, plant)).collect(),
        });
        if !self.taped.is_empty() {
            chart.lines.push(Line {
                words: "taped by hand".to_owned(),
                ink: Ink::Vermillion,
                stroke: Stroke::Squares,
                values: self.taped.iter().map(|(time, m)| (*time, Some(self.shown(measure, *m)))).collect(),
            });
        }
        self.lay_over(&mut chart, earlier, |review| review.of_plant(move |plant| height(review, plant)));
        Picture { title: "Height".to_owned(), note: format!("From {}.", self.height_datum), chart }
    }

    pub(super) fn growth(&self, earlier: Option<&Earlier<'_>>) -> Picture {
        let hourly = self.pace == Pace::Hours;
        let measure = if hourly { Measure::PerHour } else { Measure::PerDay };
        let rate = move |plant: &PlantFigures| if hourly { plant.hour } else { plant.day };
        let mut chart = self.chart("growth with its uncertainty", measure);
        let edges = |plant: &PlantFigures| {
            let rate = rate(plant)?;
            let edge = |sds: f64| self.shown(measure, rate.m_h + sds * rate.sd_m_h);
            Some((edge(-2.0), edge(2.0)))
        };
        chart.bands.push(Band {
            words: "two standard deviations about it".to_owned(),
            ink: Ink::Orange,
            edges: self.of_growth(edges).collect(),
        });
        let value = move |review: &Review, plant: &PlantFigures| {
            rate(plant).map(|rate| review.shown(measure, rate.m_h))
        };
        chart.lines.push(Line {
            words: if hourly { "growth over the hour" } else { "growth over the day" }.to_owned(),
            ink: Ink::Vermillion,
            stroke: Stroke::Solid,
            values: self.of_growth(|plant| value(self, plant)).collect(),
        });
        self.lay_over(&mut chart, earlier, |review| review.of_growth(move |plant| value(review, plant)));
        Picture {
            title: if hourly { "Growth, hour by hour" } else { "Growth" }.to_owned(),
            note: if hourly {
                "The slope of a line through an hour of the overhead ranger's positions. The band holds the true growth 19 times in \
                 20: a single hour tells little, a night much."
            } else {
                DAILY_GROWTH
            }
            .to_owned(),
            chart,
        }
    }

    pub(super) fn opening_night(&self, earlier: Option<&Earlier<'_>>) -> Option<Picture> {
        let (began, rest_m) = (self.opening()?.began, self.rim.rest_m?);
        let measure = Measure::Advance;
        let mut chart = self.chart("advance of the edge over the opening night", measure);
        chart.from = began.plus_hours(OPENING_NIGHT_H.0);
        chart.until = began.plus_hours(OPENING_NIGHT_H.1);
        chart.nights = nights(chart.from, chart.until, chart.zone);
        let (from, until) = (chart.from, chart.until);
        // a rim that was not seen for so long is not known in between
        let longest = self.site.silent_after;
        let course = move |review: &Review, rest_m: f64, later_by: TimeDelta| {
            let mut values: Vec<(Time, Option<f64>)> = Vec::new();
            for sample in &review.rim.samples {
                let time = sample.time + later_by;
                if time < from || time > until {
                    continue;
                }
                if let Some((before, _)) = values.last()
                    && time - *before > longest
                {
                    values.push((time, None));
                }
                values.push((time, Some(review.shown(measure, sample.position_m - rest_m))));
            }
            values
        };
        chart.lines.push(Line {
            words: "side ranger".to_owned(),
            ink: Ink::Blue,
            stroke: Stroke::Solid,
            values: course(self, rest_m, TimeDelta::zero()),
        });
        if let Some(earlier) = earlier
            && let Some(rest_m) = earlier.review.rim.rest_m
        {
            chart.lines.push(Line {
                words: format!("{} laid over", earlier.name),
                ink: Ink::Black,
                stroke: Stroke::Dashed,
                values: course(earlier.review, rest_m, earlier.later_by),
            });
        }
        Some(Picture {
            title: "The rim over the opening night".to_owned(),
            note: "How far the edge of the spathe came from where it rested in the six hours before the first crack."
                .to_owned(),
            chart,
        })
    }

    /// Degree-days from when the bud was seen, as everywhere; not in a span that begins later, for its sum would be another.
    pub(super) fn degree_days(&self, earlier: Option<&Earlier<'_>>) -> Option<Picture> {
        if self.scope.story.as_ref().is_some_and(|story| story.seen < self.heat_from) {
            return None;
        }
        let measure = Measure::DegreeDays;
        let value = |review: &Review, plant: &PlantFigures| {
            plant.degree_days.map(|total| review.shown(measure, total))
        };
        let mut chart = self.chart("degree-days", measure);
        chart.lines.push(Line {
            words: "degree-days".to_owned(),
            ink: Ink::Orange,
            stroke: Stroke::Solid,
            values: self.of_plant(|plant| value(self, plant)).collect(),
        });
        self.lay_over(&mut chart, earlier, |review| review.of_plant(move |plant| value(review, plant)));
        Some(Picture {
            title: "Degree-days".to_owned(),
            note: format!("Counted from {}: {}.", self.local(self.heat_from), self.heat_words()),
            chart,
        })
    }
}

fn ends(band: Option<Limit>) -> impl Iterator<Item = f64> {
    band.into_iter().flat_map(|band| [band.from, band.to])
}

/// The colours of a line and of the band about it, by what the axis measures.
const fn inks(measure: Measure) -> (Ink, Ink) {
    match measure {
        Measure::Temperature => (Ink::Vermillion, Ink::Vermillion),
        Measure::Difference => (Ink::Green, Ink::Green),
        Measure::Deficit => (Ink::Purple, Ink::Purple),
        Measure::PhotonFlux => (Ink::Orange, Ink::Orange),
        _ => (Ink::Blue, Ink::SkyBlue),
    }
}
