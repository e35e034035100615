//! `review`: what the house and the plant did in a bloom or a span of days, in words, pictures and tables.
//!
//! [`scope`] says which span; [`Review::read`] reads the record once, from beginning to end (days of a long span by their hours where
//! [`brief`] finds them fine enough), and keeps figures only:
//! [`climate`] of the house, [`plant`] by the model, [`outage`] of the sensors, [`story`] by the events. [`tables`] lays all
//! numbers out once; [`page`], [`csv`] and [`summary`] show the same ones. [`charts`] says what is drawn, [`chart`] draws.

mod brief;
#[cfg(test)]
mod brief_tests;
pub mod calendar;
pub mod chapters;
pub mod chart;
pub mod charts;
pub mod climate;
pub mod csv;
pub mod daily_light;
mod gather;
pub mod outage;
pub mod page;
pub mod plant;
mod record;
pub mod scope;
pub mod story;
pub mod summary;
pub mod tables;
mod words;

use std::sync::Arc;

use bloom_model::degree_days::Rule;
use bloom_model::quantity::{Quantity, Role};
use bloom_model::spec::{BenchSpec, Limits, SiteSpec};
use bloom_model::time::Time;
use chrono::TimeDelta;

use crate::store::{Reader, StoreError};
use brief::{Briefs, date_extremes};
use calendar::{Pace, Step, steps};
use climate::{ClimateFigures, Gatherer, limits_of};
use daily_light::{DayOfLight, LightGatherer};
use gather::Pass;
use outage::{OutageFinder, Outages};
use plant::{Follower, PlantFigures, RimCourse, SETTLING_H};
use record::{BookedSign, Record, days};
use scope::Scope;
use story::{Blooms, OpeningStory, Told};

/// An earlier bloom that is laid over, and by how much it is moved.
#[derive(Debug, Clone, Copy)]
pub struct Earlier<'a> {
    /// Its review.
    pub review: &'a Review,
    /// Its name.
    pub name: &'a str,
    /// From its opening to the present one.
    pub later_by: TimeDelta,
}

/// All figures of one bench over one span.
#[derive(Debug, Clone)]
pub struct Review {
    /// The site: its zone and its units.
    pub site: Arc<SiteSpec>,
    /// The bench as configured.
    pub spec: BenchSpec,
    /// Where heights are measured from, in words.
    pub height_datum: &'static str,
    /// What is looked at.
    pub scope: Scope,
    /// Hours, or days and nights.
    pub pace: Pace,
    /// The steps of the span.
    pub steps: Vec<Step>,
    /// The climate of each step.
    pub climate: Vec<ClimateFigures>,
    /// The limits it is held against.
    pub limits: Limits,
    /// The light of each local day on which it was measured.
    pub light: Vec<DayOfLight>,
    /// The plant at the end of each step.
    pub plant: Vec<PlantFigures>,
    /// The rim about the first crack.
    pub rim: RimCourse,
    /// How degree-days are counted.
    pub heat_rule: Rule,
    /// Degree-days count from here.
    pub heat_from: Time,
    /// Degree-days at the first crack.
    pub heat_at_crack: Option<f64>,
    /// Heights taped by hand.
    pub taped: Vec<(Time, f64)>,
    /// Signs that were booked.
    pub signs: Vec<BookedSign>,
    /// Events of the bench.
    pub events: Vec<Told>,
    /// Spans without readings.
    pub outages: Outages,
}

/// Where a review comes from.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    /// The record.
    pub reader: &'a Reader,
    /// The site.
    pub site: &'a Arc<SiteSpec>,
    /// The bench.
    pub spec: &'a BenchSpec,
    /// Where its heights are measured from, in words.
    pub height_datum: &'static str,
    /// Now: a span that ends later ends with the newest reading or now.
    pub now: Time,
}

impl Review {
    /// Reads the record of a span. `passed` is told how far it has come, as a share of the whole.
    ///
    /// # Errors
    /// The record's troubles.
    pub fn read(source: &Source<'_>, scope: Scope, mut passed: impl FnMut(f64)) -> Result<Self, StoreError> {
        let Source { reader, site, spec, .. } = *source;
        let record = Record { reader, bench: &scope.bench };
        let (from, until, longest) = (scope.from, scope.until, site.silent_after);
        let (pace, mut steps) = steps(from, until, site.timezone);
        let limits = limits_of(&spec.limits);
        let seen = scope.story.as_ref().map_or(from, |story| story.seen);
        let opening = scope.opening();
        let signs = record.signs(Time::from_unix_ms(0), until)?;

        let heat_from = seen.max(from);
        let began = opening.map(|opening| opening.began);
        let begin = from.plus_hours(-SETTLING_H);
        let end = until + longest;
        let mut pass = Pass {
            steps: &steps,
            until,
            began,
            climate: Gatherer::new(&steps, limits, longest),
            light: LightGatherer::new((from, until), site.timezone, longest),
            outages: OutageFinder::new(from, until, longest),
            follower: Follower::new(site, spec, signs.clone(), heat_from, began),
            plant: Vec::with_capacity(steps.len()),
            heat_at_crack: None,
            newest: from,
            instant: (begin, Vec::new()),
        };
        let blooms = Blooms::read(reader, Some(&scope.bench))?;
        let mut briefs = match pace {
            Pace::Hours => None,
            Pace::DaysAndNights => {
                Some(Briefs::new(source, &scope.bench, limits, (from, until), &blooms.stories()))
            }
        };
        let whole_h = end.hours_since(begin);
        for (day, day_ends) in days(begin, end) {
            let brief = match &mut briefs {
                Some(briefs) => briefs.of(day)?,
                None => None,
            };
            match brief {
                Some(brief) => pass.take_day(day, &brief),
                None => record.values(day, day_ends, |value| pass.take(value))?,
            }
            passed(day_ends.hours_since(begin) / whole_h);
        }
        pass.end();
        let Pass { climate, light, outages, follower, mut plant, heat_at_crack, newest, .. } = pass;

        // what has not come yet is no outage
        let known_until = until.min(source.now.max(newest));
        let expected = |quantity: Quantity| match quantity {
            Quantity::TipRange => spec.tip.is_some(),
            Quantity::RimRange => spec.rim.is_some(),
            other => other.role() == Role::Air || spec.limits_need(other),
        };
        let outages = outages.finish(known_until, expected);
        let mut climate = climate.finish();
        let known = steps.partition_point(|step| step.from < known_until);
        steps.truncate(known);
        climate.truncate(known);
        plant.truncate(known);
        let shown_until = steps.last().map_or(until, |step| step.until);
        let mut review = Self {
            site: Arc::clone(site),
            spec: spec.clone(),
            height_datum: source.height_datum,
            pace,
            steps,
            climate,
            limits,
            light: light.finish(),
            plant,
            heat_rule: follower.heat_rule(),
            heat_from,
            heat_at_crack,
            rim: follower.rim(),
            taped: record.taped(from, until)?,
            signs: signs.into_iter().filter(|booked| booked.time >= from).collect(),
            events: blooms.events(reader, &scope.bench, from, until)?,
            outages,
            scope: Scope { until: shown_until, ..scope },
        };
        date_extremes(&mut review, reader)?;
        Ok(review)
    }

    /// The opening, if it lies in the span.
    pub fn opening(&self) -> Option<OpeningStory> {
        self.scope.opening()
    }
}
