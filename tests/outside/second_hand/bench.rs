//! A bench as the documents tell of it: hourly looks, mornings, and what it remembers between them.

use std::collections::BTreeMap;

use super::degree_days::DegreeDays;
use super::numbers::Numbers;
use super::rates::{self, Rate, Sample};
use super::slowing::{Slowing, Turn};
use super::window::{self, Day, Evidence, Window};

/// Hours here are counted from the start of a season, which is no whole hour: a span of so many hours may come out so much shorter.
const ROUNDED_H: f64 = 1e-6;

/// A bench in bud. Hours count from the start of the season.
pub(super) struct Bench<'a> {
    numbers: &'a Numbers,
    seen: Option<(f64, Option<f64>)>,
    signs: BTreeMap<&'static str, f64>,
    heat: DegreeDays,
    slowing: Slowing,
    days: Vec<Day>,
    day: Option<Rate>,
    waited: f64,
}

/// What a morning says.
pub(super) struct Morning {
    pub(super) degree_days: f64,
    pub(super) day: Option<Rate>,
    pub(super) hour: Option<Rate>,
    pub(super) window: Window,
}

impl<'a> Bench<'a> {
    pub(super) fn new(numbers: &'a Numbers) -> Self {
        Self {
            numbers,
            seen: None,
            signs: BTreeMap::new(),
            heat: DegreeDays::new(numbers.get("base_temperature_c"), numbers.get("upper_temperature_c")),
            slowing: Slowing::new(numbers),
            days: Vec::new(),
            day: None,
            waited: 0.0,
        }
    }

    /// The bud is established; its height in cm.
    pub(super) fn bud_seen(&mut self, hour: f64, height_cm: Option<f64>) {
        self.seen = Some((hour, height_cm));
    }

    /// Of a sign that is booked again the first counts.
    pub(super) fn sign(&mut self, hour: f64, name: &'static str) {
        self.signs.entry(name).or_insert(hour);
    }

    /// Degree-days count from the bud on.
    pub(super) fn temperature(&mut self, hour: f64, celsius: f64) {
        if self.seen.is_some() {
            self.heat.take(hour, celsius);
        }
    }

    /// The hourly look. That which sees the bud notes nothing yet. `cracks_h` as in the morning.
    pub(super) fn look(
        &mut self,
        now_h: f64,
        cracks_h: f64,
        quarters: &[Sample],
        height_cm: Option<f64>,
    ) -> Option<Turn> {
        self.day = rates::daily(quarters, now_h);
        let ((seen_h, _), day) = (self.seen?, self.day?);
        if now_h <= seen_h {
            return None;
        }
        if self.days.last().is_none_or(|noted| now_h - noted.until_h >= 24.0 - ROUNDED_H) {
            self.days.push(Day { from_h: now_h - 24.0, until_h: now_h, cm: day.cm, sd_cm: day.sd_cm });
        }
        let two_days = rates::by_same_hours(quarters, now_h, 2.0);
        let (stopped, days) = (self.slowing.stopped, std::mem::take(&mut self.days));
        let turn = self.slowing.look(now_h, day, two_days, &days, || {
            let Some(height_cm) = height_cm else { return false };
            let known = Known {
                numbers: self.numbers,
                seen: self.seen,
                signs: &self.signs,
                heat: &self.heat,
                days: &days,
                day: self.day,
                waited: self.waited,
            };
            let opens = known.window(now_h, cracks_h, height_cm, stopped);
            height_cm >= 100.0 * self.numbers.get("slowing_height_m")
                && opens.is_some_and(|window| {
                    window.earliest as f64 <= self.numbers.get("slowing_to_opening_latest_d")
                })
        });
        self.days = days;
        if !self.slowing.stopped {
            self.waited = 0.0;
        }
        turn
    }

    /// The morning bulletin; `cracks_h` is the middle of the hours at which buds crack, on this day.
    pub(super) fn morning(
        &mut self,
        now_h: f64,
        cracks_h: f64,
        minutes: &[Sample],
        height_cm: f64,
    ) -> Option<Morning> {
        let known = Known {
            numbers: self.numbers,
            seen: self.seen,
            signs: &self.signs,
            heat: &self.heat,
            days: &self.days,
            day: self.day,
            waited: self.waited,
        };
        let window = known.window(now_h, cracks_h, height_cm, self.slowing.stopped)?;
        // chances passed over tell against it once growth has run out, or where nobody knows of growth
        if self.slowing.stopped || self.day.is_none() {
            self.waited -= (1.0 - window.today).ln();
        }
        Some(Morning { degree_days: self.heat.total, day: self.day, hour: rates::hourly(minutes), window })
    }
}

/// What a forecast goes by.
struct Known<'a> {
    numbers: &'a Numbers,
    seen: Option<(f64, Option<f64>)>,
    signs: &'a BTreeMap<&'static str, f64>,
    heat: &'a DegreeDays,
    days: &'a [Day],
    day: Option<Rate>,
    waited: f64,
}

impl Known<'_> {
    /// The forecast; `cracks_h` is the middle of the hours at which buds crack, on this day.
    fn window(&self, now_h: f64, cracks_h: f64, height_cm: f64, stopped: bool) -> Option<Window> {
        let (seen_h, seen_cm) = self.seen?;
        let mut days = self.days.to_vec();
        if let Some(day) = self.day {
            let from_h = days.last().map_or(now_h - 24.0, |noted| noted.until_h.max(now_h - 24.0));
            if now_h - from_h >= 6.0 - ROUNDED_H {
                days.push(Day { from_h, until_h: now_h, cm: day.cm, sd_cm: day.sd_cm });
            }
        }
        let evidence = Evidence {
            now_h,
            cracks_h,
            seen_h,
            seen_cm,
            signs: self.signs,
            days: &days,
            height_cm,
            degree_days: self.heat.total,
            covered_d: self.heat.covered_d,
            stopped,
            waited: self.waited,
        };
        Some(window::window(&evidence, self.numbers))
    }
}
