//! The peak of growth, and growth that falls well below it (daemon/model/EQUATIONS.md, "Slowing").

use super::numbers::Numbers;
use super::rates::Rate;
use super::window::Day;

/// What an hourly look found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Turn {
    Slowing,
    SlowingOver,
}

/// Growth of a bud, looked at hour by hour.
pub(super) struct Slowing {
    fraction: f64,
    recovered: f64,
    least_peak_cm: f64,
    holds_h: f64,
    stopped_share: f64,
    peak_cm: f64,
    below_since_h: Option<f64>,
    told: bool,
    /// Growth is next to nothing; otherwise chances passed over mean nothing.
    pub(super) stopped: bool,
}

impl Slowing {
    pub(super) fn new(numbers: &Numbers) -> Self {
        Self {
            fraction: numbers.get("slowing_fraction"),
            recovered: numbers.get("recovered_share"),
            least_peak_cm: numbers.get("slowing_peak_cm_day"),
            holds_h: numbers.get("slowing_holds_h"),
            stopped_share: numbers.get("stopped_share"),
            peak_cm: 0.0,
            below_since_h: None,
            told: false,
            stopped: false,
        }
    }

    /// A look at growth over a day and over two; `noted` are the days of before. Whether the plant is tall enough to open and the
    /// forecast has it open soon is asked only where growth has fallen.
    pub(super) fn look(
        &mut self,
        now_h: f64,
        day: Rate,
        two_days: Option<Rate>,
        noted: &[Day],
        opens_soon: impl FnOnce() -> bool,
    ) -> Option<Turn> {
        // the peak: the greatest sure day that is no leap over a noted day which ended 16 h before, or what growth over two days
        // was if that is less
        let before = noted.iter().rev().find(|noted| noted.until_h <= now_h - 16.0);
        let no_leap = before.is_none_or(|before| day.cm <= 1.5 * before.cm + day.sd_cm);
        if let Some(two_days) = two_days
            && day.sd_cm <= day.cm / 5.0
            && no_leap
        {
            self.peak_cm = self.peak_cm.max(day.cm.min(two_days.cm));
        }
        if self.peak_cm < self.least_peak_cm {
            return None;
        }

        let share = day.cm / self.peak_cm;
        if share < self.stopped_share {
            self.stopped = true;
        } else if share > 2.0 * self.stopped_share {
            self.stopped = false;
        }
        if share > self.recovered {
            self.below_since_h = None;
            return std::mem::take(&mut self.told).then_some(Turn::SlowingOver);
        }
        let over_two = two_days?.cm / self.peak_cm;
        if share >= self.fraction || over_two >= self.fraction {
            return None;
        }
        let since_h = *self.below_since_h.get_or_insert(now_h);
        let slows = now_h - since_h >= self.holds_h && !self.told && opens_soon();
        self.told |= slows;
        slows.then_some(Turn::Slowing)
    }
}
