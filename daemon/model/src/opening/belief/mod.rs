//! What is believed of an opening under way: a posterior over courses of the edge, taken on from sample to sample.
//!
//! Several models at once with jumps at unknown times and of unknown size, the size marginalised (Willsky & Jones 1976). Each
//! hypothesis is a course with its beginning and duration; for each, level and amplitude are Gaussian. Hypotheses are spawned from
//! the closed one, merged and pruned. A span without samples is prediction only.

mod course;
mod noise;
mod prior;
mod quantiles;
mod state;
#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};

use crate::event::FullOpenTimes;
use crate::profile::Profile;
use crate::time::Time;
use crate::track::ring::Sample;
use course::Course;
pub use noise::Noise;
use noise::Tempering;
use prior::Candidate;
pub use state::LevelAmplitude;

/// Hypotheses kept.
pub const MOST: usize = 256;
/// Time between beginnings that are tried, and from one pruning to the next, h.
const STEP_H: f64 = 1.0 / 6.0;
/// Beginnings of passings that are tried lie so many steps apart.
const PASSING_STEPS: u32 = 3;
/// Beginnings that are tried at first are no more than this.
const MOST_BEGINNINGS: f64 = 54.0;
/// A weight below this share of the whole is let go.
const LEAST_WEIGHT: f64 = 1e-7;
/// Hypotheses of one course whose beginnings differ by no more than this are merged where one must go, h.
const MERGED_WITHIN_H: f64 = 1.0;
/// Samples nearer to each other than this are not taken, h: one a minute.
const SPACING_H: f64 = 50.0 / 3600.0;
/// Wandering of the level, m²/h: the bud's swelling by 1 to 6 mm a day (published girths) and the part of the path that is not in the
/// thermometer's air, 3 K over two hours at 1.75 mm/K over a metre (physics; a third of the path, judged).
const WANDER_M2_H: f64 = 2.2e-6;
/// How far an edge departs from its formula: variance of its way per squared rate and hour, as a standard deviation, √h (judged).
const DEPARTURE: f64 = 0.12;
/// The chance of an opening today where no forecast tells it: one day of the 47 from emergence (published), and the bounds of what is
/// taken from a forecast, for no hypothesis has zero (judged).
const CHANCE_TODAY: std::ops::RangeInclusive<f64> = 0.02..=0.9;

/// One course.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Hypothesis {
    course: Course,
    /// When it began, h since the belief's first sample.
    began_h: f64,
    duration_h: f64,
    half_step: f64,
    log_weight: f64,
    /// Share of its course at the newest sample.
    share: f64,
    state: LevelAmplitude,
}

impl Hypothesis {
    fn share_at(&self, hour: f64) -> f64 {
        self.course.share((hour - self.began_h) / self.duration_h)
    }

    fn predict(&mut self, from_h: f64, until_h: f64) {
        let share = self.share_at(until_h);
        let hours = until_h - from_h;
        let rate_m_h = self.state.amplitude_m * (share - self.share) / hours;
        self.state.predict((WANDER_M2_H + DEPARTURE * DEPARTURE * rate_m_h * rate_m_h) * hours);
        self.share = share;
    }
}

/// What is known beside the samples.
#[derive(Debug, Clone, Copy)]
pub struct Around<'a> {
    /// The kind of plant.
    pub profile: &'a Profile,
    /// The house's time.
    pub timezone: chrono_tz::Tz,
    /// The chance of an opening today, where a forecast tells it.
    pub chance_today: Option<f64>,
}

impl Around<'_> {
    fn opening_an_hour(&self, time: Time) -> f64 {
        let chance = self.chance_today.unwrap_or(0.0).clamp(*CHANCE_TODAY.start(), *CHANCE_TODAY.end());
        prior::opening_an_hour(chance, time.local_hour(self.timezone), self.profile)
    }
}

/// The posterior over what the edge does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Belief {
    first: Time,
    newest: Time,
    tidied: Time,
    rounds: u32,
    /// The ranger's own noise, m.
    noise_m: f64,
    tempering: Tempering,
    hypotheses: Vec<Hypothesis>,
    /// As of the newest pruning.
    full_open: Option<FullOpenTimes>,
}

impl Belief {
    /// What samples so far tell, oldest first, of courses that began no earlier than `from`; each comes with the number of samples
    /// that it is the mean of. `None` without a sample.
    pub fn begin(samples: &[(Sample, u32)], from: Time, around: &Around<'_>) -> Option<Self> {
        let (first, (newest, _)) = (samples.first()?.0, *samples.last()?);
        let mut belief = Self {
            first: first.time,
            newest: first.time,
            tidied: newest.time,
            rounds: 0,
            noise_m: noise::of_differences(samples),
            tempering: Tempering::new(),
            hypotheses: vec![Hypothesis {
                course: Course::Closed,
                began_h: 0.0,
                duration_h: 1.0,
                half_step: 0.0,
                log_weight: 0.0,
                share: 0.0,
                state: prior::at_rest(Course::Closed, first.position_m, around.profile),
            }],
            full_open: None,
        };
        let from = from.max(first.time);
        let span_h = newest.time.hours_since(from);
        let step_h = STEP_H.max(span_h / MOST_BEGINNINGS);
        let steps = (span_h / step_h).floor().max(0.0) as u32;
        for step in 0..=steps {
            belief.spawn(from.plus_hours(step_h * f64::from(step)), step_h, step, around);
        }
        for (sample, count) in samples {
            belief.weigh(*sample, *count);
        }
        belief.tidy(newest.time, around);
        Some(belief)
    }

    /// Takes the newest sample of the edge: one a minute, and none that is older than the newest.
    pub fn take(&mut self, sample: Sample, around: &Around<'_>) {
        if sample.time.hours_since(self.newest) < SPACING_H {
            return;
        }
        self.weigh(sample, 1);
        let since_h = sample.time.hours_since(self.tidied);
        if since_h >= STEP_H {
            self.rounds = self.rounds.wrapping_add(1);
            self.spawn(sample.time, since_h, self.rounds, around);
            self.tidy(sample.time, around);
        }
    }

    /// When it will be fully open, given that it opens.
    pub const fn full_open(&self) -> Option<FullOpenTimes> {
        self.full_open
    }

    /// The chance that it is an opening, and not something that passes or nothing.
    pub fn opens(&self, profile: &Profile) -> f64 {
        let (mut opening, mut all) = (0.0, 0.0);
        for (hypothesis, weight) in self.weighed(profile) {
            all += weight;
            if hypothesis.course.is_opening() {
                opening += weight;
            }
        }
        if all > 0.0 { opening / all } else { 0.0 }
    }

    /// Each hypothesis with its weight; of openings the part whose reach is beyond a gap that closes.
    fn weighed<'a>(&'a self, profile: &Profile) -> impl Iterator<Item = (&'a Hypothesis, f64)> {
        let least_m = profile.gap_that_closes_cm / 100.0;
        let heaviest = self.heaviest();
        self.hypotheses.iter().map(move |hypothesis| {
            let reaches =
                if hypothesis.course.is_opening() { hypothesis.state.exceeds(least_m) } else { 1.0 };
            (hypothesis, (hypothesis.log_weight - heaviest).exp() * reaches)
        })
    }

    fn heaviest(&self) -> f64 {
        self.hypotheses.iter().map(|h| h.log_weight).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Predicts every hypothesis up to a sample, weighs it by what it says of that, and updates it.
    fn weigh(&mut self, sample: Sample, count: u32) {
        let (from_h, until_h) = (self.newest.hours_since(self.first), sample.time.hours_since(self.first));
        let noise_m = self.noise_m;
        let noise = Noise::of_ranger(noise_m / f64::from(count).sqrt());
        let exponent = self.tempering.exponent();
        let mut best: Option<(f64, f64)> = None;
        for hypothesis in &mut self.hypotheses {
            if until_h > from_h {
                hypothesis.predict(from_h, until_h);
            }
            let (expected_m, variance) = hypothesis.state.expected(hypothesis.share);
            if best.is_none_or(|(weight, _)| hypothesis.log_weight > weight) {
                let sd_m = (variance + noise_m * noise_m).sqrt();
                best = Some((hypothesis.log_weight, (sample.position_m - expected_m) / sd_m));
            }
            let density = hypothesis.state.update(sample.position_m, hypothesis.share, &noise);
            hypothesis.log_weight += exponent * density;
        }
        if let Some((_, standardised)) = best {
            self.tempering.take(standardised);
        }
        self.newest = sample.time;
    }

    /// Lets openings begin at an instant, and now and then something that passes, out of the closed hypothesis.
    fn spawn(&mut self, began: Time, step_h: f64, round: u32, around: &Around<'_>) {
        let Some(closed) = self.hypotheses.iter().find(|h| h.course == Course::Closed).copied() else {
            return;
        };
        let began_h = began.hours_since(self.first);
        let child = |candidate: &Candidate, chance: f64| {
            let rest = prior::at_rest(candidate.course, closed.state.level_m, around.profile);
            Hypothesis {
                course: candidate.course,
                began_h,
                duration_h: candidate.duration_h,
                half_step: candidate.half_step,
                log_weight: closed.log_weight + (candidate.share * chance).ln(),
                share: 0.0,
                state: LevelAmplitude { level_variance: closed.state.level_variance, ..rest },
            }
        };
        let opens = around.opening_an_hour(began) * step_h;
        self.hypotheses.extend(prior::openings(around.profile).iter().map(|c| child(c, opens)));
        if round.is_multiple_of(PASSING_STEPS) {
            let passes = prior::passing_an_hour() * step_h * f64::from(PASSING_STEPS);
            self.hypotheses.extend(prior::passings().iter().map(|c| child(c, passes)));
        }
    }

    /// What has passed is closed again, where it stands now: the closed hypothesis takes over the weight, and the level of the heaviest.
    fn close_what_has_passed(&mut self, now: Time) {
        let hour = now.hours_since(self.first);
        let passed =
            |h: &Hypothesis| matches!(h.course, Course::Passing(_)) && h.began_h + h.duration_h <= hour;
        let over: Vec<Hypothesis> = self.hypotheses.extract_if(.., |h| passed(h)).collect();
        let Some(closed) = self.hypotheses.iter_mut().find(|h| h.course == Course::Closed) else { return };
        let mut heaviest = closed.log_weight;
        for hypothesis in over {
            if hypothesis.log_weight > heaviest {
                heaviest = hypothesis.log_weight;
                let LevelAmplitude { level_m, level_variance, .. } = hypothesis.state;
                closed.state = LevelAmplitude { level_m, level_variance, ..closed.state };
            }
            closed.log_weight = log_sum(closed.log_weight, hypothesis.log_weight);
        }
    }

    /// Lets go of what has next to no weight, and of the lightest where there are too many; another of its course nearby takes the
    /// weight over. The closed one stays, for everything else is spawned from it.
    fn tidy(&mut self, now: Time, around: &Around<'_>) {
        self.tidied = now;
        self.close_what_has_passed(now);
        let heaviest = self.heaviest();
        for hypothesis in &mut self.hypotheses {
            hypothesis.log_weight -= heaviest;
        }
        let closed = |h: &Hypothesis| h.course == Course::Closed;
        self.hypotheses.sort_by(|a, b| closed(b).cmp(&closed(a)).then(b.log_weight.total_cmp(&a.log_weight)));
        let enough = self.hypotheses.iter().skip(1).take_while(|h| h.log_weight.exp() >= LEAST_WEIGHT);
        let kept = (1 + enough.count()).min(MOST);
        let gone = self.hypotheses.split_off(kept);
        for hypothesis in gone {
            let near = self
                .hypotheses
                .iter_mut()
                .filter(|kept| {
                    kept.course == hypothesis.course
                        && kept.duration_h.to_bits() == hypothesis.duration_h.to_bits()
                        && (kept.began_h - hypothesis.began_h).abs() <= MERGED_WITHIN_H
                })
                .min_by(|a, b| {
                    let apart = |kept: &Hypothesis| (kept.began_h - hypothesis.began_h).abs();
                    apart(a).total_cmp(&apart(b))
                });
            if let Some(near) = near {
                near.log_weight = log_sum(near.log_weight, hypothesis.log_weight);
            }
        }
        self.full_open = self.full_open_times(now, around.profile);
    }
}

/// The logarithm of the sum of two weights.
fn log_sum(one: f64, other: f64) -> f64 {
    let (less, more) = if one < other { (one, other) } else { (other, one) };
    if more.is_finite() { more + (less - more).exp().ln_1p() } else { more }
}
