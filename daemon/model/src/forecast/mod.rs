//! Days ahead: when it will open, as chances over the coming days.
//!
//! Two kinds of evidence are multiplied for each day on which it might open. How long such blooms have taken from what was seen
//! (`lasting`: emergence, the spadix tip, bracts, colour, a loose edge, scent, flies), corrected by what this plant and this
//! house did before; and how well the growth so far fits a bud that opens on that day (`curve`). A small flat share is left to
//! every day, for growth that stops is no proof of opening. Beside it stands the chance that it never opens (`never`).

mod curve;
mod height;
mod lasting;
mod never;
mod outlook;

use chrono::Days;
use chrono_tz::Tz;

pub use curve::Grown;
pub use height::HeightAtOpening;
pub use lasting::{EarlierBloom, Spans};
pub(crate) use outlook::remembered;
pub use outlook::{OpeningDates, Outlook, Tidings, ToldOutlook};

use crate::profile::Profile;
use crate::sign::PlainSign;
use crate::time::Time;
use curve::Fit;
use lasting::Lasting;

/// The dates of so many days ahead are weighed one by one: further ahead nothing is known to the day.
const DAY_BY_DAY: usize = 21;
/// Up to so many days ahead dates are weighed two by two, and after that four by four.
const BY_TWO: usize = 41;
/// Days ahead that are weighed.
const HORIZON_D: usize = 140;
/// Share of the chances that no evidence can take away.
const FLAT_SHARE: f64 = 0.02;
/// That share is spread over so many days.
const FLAT_D: usize = 30;
/// The window holds this share of the chances.
const WINDOW: f64 = 0.8;
/// Signs go together: each further one tells less than it would alone (judgement).
const SHARED_BY_SIGNS: f64 = 0.3;
/// A bud first seen no taller than this had not been above the soil for long, m (judgement).
const NEW_BUD_M: f64 = 0.25;

/// What the forecast goes by.
#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    /// When the bud was seen, and how tall it was.
    pub seen: (Time, Option<f64>),
    /// Signs booked for this bloom.
    pub signs: &'a [(Time, PlainSign)],
    /// Growth day by day, oldest first.
    pub growth: &'a [Grown],
    /// Height now, m.
    pub height_m: Option<f64>,
    /// Degree-days a day since the bud was seen, where the record covers most of it.
    pub degree_days_a_day: Option<f64>,
    /// Growth is next to nothing.
    pub stopped: bool,
    /// Chances passed over while growth was next to nothing or not known: the sum of `-ln(1 - chance_today)` over those mornings.
    pub waited: f64,
    /// Earlier blooms of this plant and this house.
    pub earlier: &'a [EarlierBloom],
}

/// The forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// The shortest run of dates that holds the opening with a chance of about 80 %, if it opens at all.
    pub opens: OpeningDates,
    /// Chance that it opens today or tonight if it opens at all, 0 to 1.
    pub chance_today: f64,
    /// Chance that it never opens, 0 to 1.
    pub probability_never: f64,
    /// How tall it will stand, if it opens at all; `None` while height or growth is not known.
    pub height_at_opening: Option<HeightAtOpening>,
}

/// Weighs the evidence at an instant.
pub fn forecast(evidence: &Evidence<'_>, now: Time, profile: &Profile, zone: Tz) -> Forecast {
    let (chances, fits) = chances(evidence, now, profile, zone);
    let height_at_opening = fits
        .zip(evidence.height_m)
        .map(|(fits, height_m)| HeightAtOpening::of(height_m, still_to_grow(&chances, &fits)));
    let (earliest, likely, latest) = window(&chances);
    let today = now.local_date(zone);
    let date = |day: usize| today + Days::new(day as u64);
    let chance_today = chances.first().copied().unwrap_or_default();
    let probability_never = never::probability(
        evidence.waited,
        evidence.stopped,
        never::share(evidence.signs, profile.leaf_share, profile.never_opens_share),
        profile.plateau_share,
    );
    Forecast {
        opens: OpeningDates { earliest: date(earliest), likely: date(likely), latest: date(latest) },
        chance_today,
        probability_never,
        height_at_opening,
    }
}

/// The chance of each coming local date, today first, that it opens on it, given that it opens; and how growth fits the days of the grid.
fn chances(evidence: &Evidence<'_>, now: Time, profile: &Profile, zone: Tz) -> (Vec<f64>, Option<Vec<Fit>>) {
    let hour = now.local_hour(zone);
    let usual_hour = (profile.crack_from_hour + profile.crack_until_hour) / 2.0;
    let grid = grid();
    let days: Vec<f64> =
        grid.iter().map(|day| (*day as f64 + (usual_hour - hour) / 24.0).max(0.05)).collect();

    let lasting = Lasting::new(profile, evidence.earlier, evidence.degree_days_a_day);
    let known = lasting.known(evidence.seen, NEW_BUD_M, evidence.signs, now);
    let signs = known.signs.len() as f64;
    let shared = if signs > 1.0 { 1.0 / (1.0 + SHARED_BY_SIGNS * (signs - 1.0)) } else { 1.0 };
    let fits = curve::fits(&days, evidence.growth, evidence.height_m, now, profile, lasting.slowing());
    let logs: Vec<f64> = days
        .iter()
        .enumerate()
        .map(|(place, ahead)| {
            let fit = fits.as_ref().map_or(0.0, |fits| fits[place].log);
            let by_signs: f64 = known.signs.iter().map(|(gone, span)| span.log_density(gone + ahead)).sum();
            known.start.1.log_density(known.start.0 + ahead) + shared * by_signs + fit
        })
        .collect();

    let mut chances = spread(&grid, &logs);
    chances[0] *= left_of_today(hour, profile);
    let total: f64 = chances.iter().sum();
    for (day, chance) in chances.iter_mut().enumerate() {
        let flat = if day < FLAT_D { FLAT_SHARE / FLAT_D as f64 } else { 0.0 };
        *chance = (1.0 - FLAT_SHARE) * *chance / total + flat;
    }
    (chances, fits)
}

/// Mean and standard deviation of what is still to grow, cm, over the dates by their chances. A date between two of the grid counts to the
/// earlier one.
fn still_to_grow(chances: &[f64], fits: &[Fit]) -> (f64, f64) {
    let grid = grid();
    let ends = grid.iter().skip(1).copied().chain([chances.len()]);
    let (mut mean, mut squared) = (0.0, 0.0);
    for ((from, until), fit) in grid.iter().zip(ends).zip(fits) {
        let chance: f64 = chances[*from..until].iter().sum();
        mean += chance * fit.still_cm;
        squared += chance * fit.still_squared_cm2;
    }
    (mean, (squared - mean * mean).max(0.0).sqrt())
}

/// Days ahead at which the evidence is weighed.
fn grid() -> Vec<usize> {
    (0..DAY_BY_DAY).chain((DAY_BY_DAY..BY_TWO).step_by(2)).chain((BY_TWO..HORIZON_D).step_by(4)).collect()
}

/// From logarithms at the days of the grid to weights of every day, straight between.
fn spread(grid: &[usize], logs: &[f64]) -> Vec<f64> {
    let highest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut weights = vec![0.0; HORIZON_D];
    for (days, pair) in grid.windows(2).zip(logs.windows(2)) {
        let width = (days[1] - days[0]) as f64;
        for (day, weight) in weights.iter_mut().enumerate().take(days[1] + 1).skip(days[0]) {
            let share = (day - days[0]) as f64 / width;
            *weight = (pair[0] + (pair[1] - pair[0]) * share - highest).exp();
        }
    }
    weights
}

/// The share of today's openings that are still to come at this hour: most begin within the profile's hours, some after.
fn left_of_today(hour: f64, profile: &Profile) -> f64 {
    let (from, until) = (profile.crack_from_hour, profile.crack_until_hour);
    let past = ((hour - from).rem_euclid(24.0) / (until - from).rem_euclid(24.0).max(0.5)).min(1.0);
    // before the hours of opening the remainder is the greater one: the hours behind are those of yesterday
    let before = (from - hour).rem_euclid(24.0) <= 12.0;
    if before { 1.0 } else { 1.0 - 0.85 * past }
}

/// The shortest run of days that holds the window's share, with the median in it. Whole days hold more than that; a day at an end is left
/// out where what is left comes nearer to the share.
fn window(chances: &[f64]) -> (usize, usize, usize) {
    let mut best = (0, chances.len().saturating_sub(1));
    let mut over = 0.0;
    let (mut first, mut held) = (0, 0.0);
    for (last, chance) in chances.iter().enumerate() {
        held += chance;
        while held - chances[first] >= WINDOW && first < last {
            held -= chances[first];
            first += 1;
        }
        if held >= WINDOW && last - first < best.1 - best.0 {
            best = (first, last);
            over = held - WINDOW;
        }
    }
    let (first, last) = best;
    if first < last {
        let (without, less) = if chances[first] < chances[last] {
            ((first + 1, last), chances[first])
        } else {
            ((first, last - 1), chances[last])
        };
        if less - over < over {
            best = without;
        }
    }
    let mut sum = 0.0;
    let median = chances.iter().position(|chance| {
        sum += chance;
        sum >= 0.5
    });
    (best.0, median.unwrap_or(best.0).clamp(best.0, best.1), best.1)
}

#[cfg(test)]
mod tests;
