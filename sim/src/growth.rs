//! The height of the spadix tip over a season.
//!
//! Near-exponential at first (4.5 to 8.2 % a day: WIU 3; Cornell 2018), rounded at the peak, then slowing to a rate that
//! need not be zero when the spathe opens (OSU 2013, UConn 2008, Fairchild 2001, Disney 2004 and 2005, daily series).

use crate::dice::Dice;
use crate::schedule::smooth_step;
use crate::truth::Outcome;

/// Days over which the growth rate rounds its peak.
const ROUNDING_D: f64 = 2.0;
/// A bud comes through the soil no taller than this, m.
const TALLEST_AT_EMERGENCE_M: f64 = 0.12;
/// The shortest plant drawn, m (the least of the openings on record are of 0.5 to 1 m).
const SHORTEST_M: f64 = 0.8;
/// Final height in days of growth at the peak rate: the peak was 0.082 to 0.046 of the final height a day in ten series.
const DAYS_AT_PEAK: (f64, f64) = (12.2, 21.7);

/// What was drawn of a plant's growth. Times in hours since the season's start.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct GrowthDraw {
    pub(crate) emerged_h: f64,
    /// Crack, or end of growth of a bud that does not open.
    pub(crate) ends_h: f64,
    /// Days from the peak to the end of slowing.
    lead_d: f64,
    pub(crate) peak_m_day: f64,
    early_per_day: f64,
    /// Rate at the end of slowing as a share of the peak.
    last_share: f64,
    /// Bends the slowing so that the rate passes half of its peak when drawn.
    bend: f64,
    pub(crate) plateau_d: f64,
    false_stop: Option<FalseStop>,
    day_night: f64,
    after_m_day: f64,
    collapse: Option<Collapse>,
}

/// Growth that nearly stops days before it really slows, as at Fairchild in 2001.
#[derive(Debug, Clone, Copy, PartialEq)]
struct FalseStop {
    before_peak_d: f64,
    depth: f64,
}

/// The spadix falls over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Collapse {
    pub(crate) from_h: f64,
    pub(crate) hours: f64,
    pub(crate) share: f64,
}

/// How a growth is to be drawn.
pub(crate) struct GrowthAsked {
    pub(crate) outcome: Outcome,
    pub(crate) emerged_h: f64,
    pub(crate) ends_h: f64,
    pub(crate) plateau: Option<bool>,
    pub(crate) tallest_m: f64,
}

impl GrowthDraw {
    /// Draws until the plant fits under its ranger.
    pub(crate) fn draw(dice: &mut Dice, asked: &GrowthAsked) -> Self {
        // 5 (Disney 2005) to about 20 cm a day (Milwaukee 2008), most often 9 to 15
        let peak_m_day = dice.around(0.05, 0.105, 0.20);
        let shortest_m = (DAYS_AT_PEAK.0 * peak_m_day).clamp(SHORTEST_M, asked.tallest_m);
        let tallest_m = (DAYS_AT_PEAK.1 * peak_m_day).clamp(shortest_m, asked.tallest_m);
        let mut candidate = Self::candidate(dice, asked, peak_m_day);
        for _ in 0..100 {
            let height_m = candidate.rough_height_m();
            if (shortest_m..=tallest_m).contains(&height_m) {
                return candidate;
            }
            candidate = Self::candidate(dice, asked, peak_m_day);
        }
        // nothing of the spread fits this peak: keep the plant under its ranger rather than its rate
        let height_m = candidate.rough_height_m();
        candidate.peak_m_day *= height_m.clamp(shortest_m, tallest_m) / height_m;
        candidate
    }

    fn candidate(dice: &mut Dice, asked: &GrowthAsked, peak_m_day: f64) -> Self {
        let early_per_day = dice.between(0.045, 0.085);
        let plateau_drawn = dice.chance(0.12);
        let plateau_d = dice.between(2.0, 9.5);
        let share = dice.around(0.0, 0.3, 0.5);
        let still = dice.between(0.0, 0.03);
        let slow_d = dice.around(0.8, 3.0, 9.0);
        let lead_drawn = dice.between(1.3, 2.5);
        let false_stop =
            dice.chance(0.1).then_some(FalseStop { before_peak_d: 0.0, depth: dice.between(0.4, 0.8) });
        let false_stop_d = dice.between(-1.0, 6.0);
        let day_night = dice.between(0.0, 0.15);
        let after_m_day = dice.between(-0.013, 0.02);

        let opens = asked.outcome == Outcome::Opens;
        let plateau_d = if opens && asked.plateau.unwrap_or(plateau_drawn) { plateau_d } else { 0.0 };
        let (last_share, slow_d) = match asked.outcome {
            Outcome::Opens if plateau_d > 0.0 => (still, slow_d.min(11.5 - plateau_d)),
            Outcome::Opens => (share, slow_d),
            // a stop is a slow-down that goes on to nothing, abrupt or over some days
            Outcome::Stops | Outcome::Leaf => (0.0, slow_d),
        };
        let lead_d = (slow_d * lead_drawn).clamp(1.0, 14.0);
        Self {
            emerged_h: asked.emerged_h,
            ends_h: asked.ends_h,
            lead_d,
            peak_m_day,
            early_per_day,
            last_share,
            bend: bend_for(slow_d / lead_d, last_share),
            plateau_d,
            false_stop: false_stop.map(|stop| FalseStop { before_peak_d: false_stop_d, ..stop }),
            day_night,
            after_m_day: if opens { after_m_day } else { 0.0 },
            collapse: None,
        }
    }

    pub(crate) fn peak_h(&self) -> f64 {
        self.ends_h - 24.0 * (self.plateau_d + self.lead_d)
    }

    pub(crate) const fn collapse(&mut self, collapse: Collapse) {
        self.collapse = Some(collapse);
    }

    /// Height at emergence: where the exponential would have been, but never a tall bud out of nothing.
    fn first_m(&self) -> f64 {
        let days = (self.peak_h() - self.emerged_h) / 24.0;
        (self.peak_m_day / self.early_per_day * (-self.early_per_day * days).exp())
            .min(TALLEST_AT_EMERGENCE_M)
    }

    fn rough_height_m(&self) -> f64 {
        let days = (self.ends_h - self.emerged_h) / 24.0;
        let steps = (days * 4.0).ceil().max(1.0);
        let step_d = days / steps;
        let sum: f64 = (0..steps as u32)
            .map(|step| self.rate_m_day(self.emerged_h + 24.0 * step_d * (f64::from(step) + 0.5)))
            .sum();
        self.first_m() + sum * step_d
    }

    /// Growth rate without the collapse, m a day.
    fn rate_m_day(&self, hour: f64) -> f64 {
        let past_peak_d = (hour - self.peak_h()) / 24.0;
        let share = if past_peak_d <= 0.0 {
            let rounded = (past_peak_d * past_peak_d + ROUNDING_D * ROUNDING_D).sqrt() - ROUNDING_D;
            (-self.early_per_day * rounded).exp()
        } else {
            let through = smooth_step((past_peak_d / self.lead_d).min(1.0).powf(self.bend));
            1.0 - (1.0 - self.last_share) * through
        };
        let since_end_d = (hour - self.ends_h) / 24.0;
        let share = if since_end_d > 0.0 { share * (-2.0 * since_end_d).exp() } else { share };
        let stop = self.false_stop.map_or(1.0, |stop| {
            let off_d = (past_peak_d + stop.before_peak_d) / 0.5;
            1.0 - stop.depth * (-0.5 * off_d * off_d).exp()
        });
        let day = 1.0 + self.day_night * (std::f64::consts::TAU * (hour - 2.0) / 24.0).cos();
        let after = if (0.0..2.0).contains(&since_end_d) {
            smooth_bump(since_end_d / 2.0) * self.after_m_day
        } else {
            0.0
        };
        self.peak_m_day * share * stop * day + after
    }
}

/// The exponent that lets the rate pass half of its peak a share `half` of the lead before the end.
fn bend_for(half: f64, last_share: f64) -> f64 {
    let wanted = 0.5 / (1.0 - last_share);
    // inverse of 3z² − 2z³ in closed form
    let z = 0.5 - ((1.0 - 2.0 * wanted.min(1.0)).asin() / 3.0).sin();
    (z.max(1e-3).ln() / (1.0 - half).clamp(0.05, 0.95).ln()).clamp(0.6, 8.0)
}

/// Rises from 0 to 1 and back between 0 and 1, with a mean of one half.
fn smooth_bump(z: f64) -> f64 {
    (std::f64::consts::PI * z).sin().powi(2)
}

/// The height as a smooth function of time: a table of hourly heights and rates with a cubic between.
#[derive(Debug, Clone)]
pub(crate) struct Growth {
    draw: GrowthDraw,
    heights_m: Vec<f64>,
    rates_m_h: Vec<f64>,
}

impl Growth {
    pub(crate) fn new(draw: GrowthDraw, hours: usize) -> Self {
        let rates_m_h: Vec<f64> = (0..=hours).map(|hour| draw.rate_m_day(hour as f64) / 24.0).collect();
        let mut heights_m = vec![0.0];
        let mut height = 0.0;
        for (hour, pair) in rates_m_h.windows(2).enumerate() {
            // Simpson's rule with the rate at the half hour
            let middle = draw.rate_m_day(hour as f64 + 0.5) / 24.0;
            height += (pair[0] + 4.0 * middle + pair[1]) / 6.0;
            heights_m.push(height);
        }
        let mut growth = Self { draw, heights_m, rates_m_h };
        let lift = growth.draw.first_m() - growth.standing_m(growth.draw.emerged_h);
        for height in &mut growth.heights_m {
            *height += lift;
        }
        growth
    }

    /// Height of the tip above the datum, m.
    pub(crate) fn height_m(&self, hour: f64) -> f64 {
        let standing = self.standing_m(hour);
        self.draw.collapse.map_or(standing, |collapse| {
            standing * (1.0 - collapse.share * smooth_step((hour - collapse.from_h) / collapse.hours))
        })
    }

    fn standing_m(&self, hour: f64) -> f64 {
        let last = self.heights_m.len() - 1;
        let hour = hour.clamp(0.0, last as f64);
        let node = (hour as usize).min(last.saturating_sub(1));
        let next = (node + 1).min(last);
        let t = hour - node as f64;
        let (from, to) = (self.heights_m[node], self.heights_m[next]);
        let (rate, next_rate) = (self.rates_m_h[node], self.rates_m_h[next]);
        let (t2, t3) = (t * t, t * t * t);
        from * (2.0 * t3 - 3.0 * t2 + 1.0)
            + rate * (t3 - 2.0 * t2 + t)
            + to * (3.0 * t2 - 2.0 * t3)
            + next_rate * (t3 - t2)
    }

    /// Growth over the day around this hour, m.
    pub(crate) fn daily_m(&self, hour: f64) -> f64 {
        self.standing_m(hour + 12.0) - self.standing_m(hour - 12.0)
    }

    /// The middle of the day on which growth is fastest.
    pub(crate) fn fastest_h(&self) -> f64 {
        let hours = (self.draw.emerged_h.ceil() as u32)..=(self.draw.ends_h as u32);
        let by_growth = |a: &f64, b: &f64| self.daily_m(*a).total_cmp(&self.daily_m(*b));
        hours.map(f64::from).max_by(by_growth).unwrap_or(self.draw.ends_h)
    }

    /// The hour from which growth over a day stays below half of its peak until growth ends.
    pub(crate) fn slowing_h(&self) -> Option<f64> {
        let half_m = self.daily_m(self.fastest_h()) / 2.0;
        let last = self.draw.ends_h.floor() - 12.0;
        let hours = (0..last as u32).rev().map(f64::from);
        hours.take_while(|hour| self.daily_m(*hour) < half_m).last()
    }
}
