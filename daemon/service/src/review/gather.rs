//! Everything that is gathered in one pass over the record of a span: readings one after the other, days in brief by their hours.

use bloom_model::quantity::Quantity;
use bloom_model::time::Time;

use super::calendar::Step;
use super::climate::Gatherer;
use super::daily_light::LightGatherer;
use super::outage::OutageFinder;
use super::plant::{Follower, PlantFigures};
use super::record::Value;
use crate::store::DayInHours;

/// Gathers in the order of time.
#[derive(Debug)]
pub(super) struct Pass<'a> {
    pub(super) steps: &'a [Step],
    pub(super) until: Time,
    /// First crack, if it is to be seen.
    pub(super) began: Option<Time>,
    pub(super) climate: Gatherer<'a>,
    pub(super) light: LightGatherer,
    pub(super) outages: OutageFinder,
    pub(super) follower: Follower,
    /// At the end of each step so far.
    pub(super) plant: Vec<PlantFigures>,
    pub(super) heat_at_crack: Option<f64>,
    /// The newest reading of the span.
    pub(super) newest: Time,
    /// What was read at one instant, and when.
    pub(super) instant: (Time, Vec<(Quantity, f64)>),
}

impl Pass<'_> {
    /// Takes a reading, later than all before or at the instant of the last.
    pub(super) fn take(&mut self, value: Value) {
        if self.instant.0 != value.time {
            self.end_instant();
            self.instant.0 = value.time;
        }
        self.instant.1.push((value.quantity, value.value));
        if value.quantity == Quantity::Light {
            self.light.take(value.time, value.value);
        }
        self.outages.take(value.quantity, value.time);
        self.look_until(value.time);
        if value.time < self.until {
            self.newest = self.newest.max(value.time);
            self.follower.take(value);
        }
    }

    /// Takes a day in brief, later than all before.
    pub(super) fn take_day(&mut self, midnight: Time, day: &DayInHours) {
        self.end_instant();
        for place in 0..24 {
            let begins = midnight.plus_hours(place as f64);
            let last = Time::from_unix_ms(begins.plus_hours(1.0).unix_ms() - 1);
            self.look_until(begins);
            self.climate.take_hour(begins, place, day);
            if let Some(light) = day[Quantity::Light][place] {
                self.light.take_hour(begins, light.mean);
            }
            for quantity in Quantity::ALL.into_iter().filter(|quantity| day[*quantity][place].is_some()) {
                self.outages.take_all(quantity, begins, last);
                self.newest = self.newest.max(last);
            }
            self.follower.take_hour(begins, place, day);
        }
    }

    /// Looks at the plant at the end of each step that ends by then, all that was read before it taken.
    fn look_until(&mut self, time: Time) {
        while let Some(step) = self.steps.get(self.plant.len()).filter(|step| step.until <= time) {
            self.plant.push(self.follower.look(step.until));
        }
        if self.heat_at_crack.is_none() && self.began.is_some_and(|began| time > began) {
            self.heat_at_crack = self.follower.look(time).degree_days;
        }
    }

    fn end_instant(&mut self) {
        self.climate.take(self.instant.0, &self.instant.1);
        self.instant.1.clear();
    }

    /// Nothing more is to come.
    pub(super) fn end(&mut self) {
        self.end_instant();
        while let Some(step) = self.steps.get(self.plant.len()) {
            self.plant.push(self.follower.look(step.until));
        }
    }
}
