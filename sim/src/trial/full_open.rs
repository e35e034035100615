//! When it will be fully open, as said at the alarm and in the hours after it, held against the truth: by the course as followed, and
//! by the curve at the alarm alone.

use std::fmt;

use bloom_model::event::FullOpenTimes;
use bloom_model::opening::full_open_times;
use bloom_model::site::Site;
use bloom_model::time::Time;
use serde::Serialize;

use super::opening::AlarmVerdict;
use super::{Verdict, quantile};
use crate::truth::Truth;

/// Hours after the alarm at which it is looked at.
const HOURS: [f64; 4] = [0.0, 1.0, 2.0, 3.0];

/// An estimate held against the truth.
#[derive(Debug, Clone, Copy)]
struct Held {
    error_h: f64,
    holds: bool,
}

impl Held {
    fn against(full: Time, times: &FullOpenTimes) -> Self {
        Self {
            error_h: times.likely.hours_since(full).abs(),
            holds: times.earliest <= full && full <= times.latest,
        }
    }
}

/// What was said of one opening: at each hour by the alarm's own curve, and as the course was followed.
#[derive(Debug, Clone, Default)]
pub struct FullOpenErrors {
    alarm: Option<Time>,
    said: [Option<(Held, Held)>; 4],
    looked: usize,
}

impl FullOpenErrors {
    /// Looks at the bench after a reading: once the alarm of the opening stands, at each hour.
    pub(super) fn look(&mut self, site: &Site, now: Time, alarm: Option<&AlarmVerdict>, truth: &Truth) {
        let (Some(alarm), Some(full)) = (alarm, truth.full_open) else { return };
        let raised = *self.alarm.get_or_insert_with(|| full.plus_hours(-alarm.lead_h));
        let Some(after_h) = HOURS.get(self.looked) else { return };
        if now.hours_since(raised) < *after_h {
            return;
        }
        let looked = self.looked;
        self.looked += 1;
        let Some(bench) = site.benches().next().filter(|_| now < full) else { return };
        let times = bench.view().and_then(|view| view.full_open);
        if let (Some(times), Some(evidence), Some(place)) =
            (times, bench.opening_evidence(), self.said.get_mut(looked))
        {
            let by_curve = full_open_times(evidence, now, &bench.spec().profile);
            *place = Some((Held::against(full, &by_curve), Held::against(full, &times)));
        }
    }
}

/// One hour of many openings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FullOpenRow {
    /// Hours after the alarm.
    pub after_h: f64,
    /// Openings that were not yet full then.
    pub openings: usize,
    /// Median absolute error of `likely`, h: by the curve at the alarm, and by the course as followed.
    pub error_median_h: [f64; 2],
    /// Share of the openings whose full opening lay in the 80 % interval, %: of both.
    pub covers_pct: [f64; 2],
}

impl FullOpenRow {
    /// A row for each hour.
    pub fn of(verdicts: &[Verdict]) -> Vec<Self> {
        let row = |number: usize| {
            let said: Vec<(Held, Held)> =
                verdicts.iter().filter_map(|verdict| *verdict.full_open.said.get(number)?).collect();
            let error = |which: fn(&(Held, Held)) -> Held| {
                quantile(said.iter().map(|both| which(both).error_h).collect(), 0.5)
            };
            let covers = |which: fn(&(Held, Held)) -> Held| {
                100.0 * said.iter().filter(|both| which(both).holds).count() as f64 / said.len() as f64
            };
            Some(Self {
                after_h: *HOURS.get(number)?,
                openings: said.len(),
                error_median_h: [error(|both| both.0)?, error(|both| both.1)?],
                covers_pct: [covers(|both| both.0), covers(|both| both.1)],
            })
        };
        (0..HOURS.len()).filter_map(row).collect()
    }
}

impl fmt::Display for FullOpenRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ([before_h, error_h], [before_pct, covers_pct]) = (self.error_median_h, self.covers_pct);
        write!(
            f,
            "full_open {:.0} h after the alarm, {} openings: likely {error_h:.2} h off, window holds {covers_pct:.0} %; by the curve at the alarm {before_h:.2} h, {before_pct:.0} %",
            self.after_h, self.openings
        )
    }
}
