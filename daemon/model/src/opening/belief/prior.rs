//! What is believed of an opening before its edge has moved: durations, reach and hours as published, passings as reported.

use super::course::{Course, Shape};
use super::state::LevelAmplitude;
use crate::profile::Profile;

/// Durations that are tried for each shape, evenly spaced in their logarithm.
const DURATIONS: u8 = 11;
/// The shortest of them as a share of the duration that one opening in ten is faster than: of a titan arum's 4 h, 3.2 h (published: 4 h at
/// Bonn 1996 and others).
const FASTEST: f64 = 0.8;
/// The longest as a multiple of the duration that one opening in ten is slower than: of a titan arum's 16 h, 28 h (published: 24 h and
/// more at Fairchild 1998).
const SLOWEST: f64 = 1.75;
/// How much longer a two-speed opening takes in the middle than others (published: some 15 h at Ohio State 2011, of 8.5 h in all).
const TWO_SPEED_LONGER: f64 = 1.6;
/// Spread of a two-speed opening as a share of the spread of others (judged).
const TWO_SPEED_SPREAD: f64 = 0.6;
/// Share of the openings that are of two speeds (published: Ohio State 2011, of fifteen with known hours); the other shapes share the
/// rest evenly.
const TWO_SPEED_SHARE: f64 = 1.0 / 15.0;
/// Share of the openings that begin in the usual hours (published: 21 of 25 with a known clock time).
const IN_USUAL_HOURS: f64 = 21.0 / 25.0;
/// Passings in a day (judged: a gap, a slack spathe or a bract in some four days of the last week).
const PASSINGS_A_DAY: f64 = 0.25;
/// How long they take, h (published: gaps, slack afternoons and bracts of hours).
const PASSING_HOURS: [f64; 5] = [2.5, 3.8, 5.7, 8.6, 13.0];
/// They turn back after these shares of their time (judged).
const PASSING_TURNS: [f64; 2] = [0.5, 0.75];
/// Standard deviation of the level that the first sample tells, m: nothing is known of it beforehand.
const LEVEL_SD_M: f64 = 0.02;

/// One course with its duration and the share of its kind that it stands for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    pub(super) course: Course,
    pub(super) duration_h: f64,
    /// Half the distance to the next duration, in the logarithm.
    pub(super) half_step: f64,
    /// Chance of it, given its kind.
    pub(super) share: f64,
}

/// The openings of a kind of plant, by shape and duration.
pub(super) fn openings(profile: &Profile) -> Vec<Candidate> {
    let from = (FASTEST * profile.crack_to_full_earliest_h).ln();
    let until = (SLOWEST * profile.crack_to_full_latest_h).ln();
    let step = (until - from) / f64::from(DURATIONS - 1);
    let likely = profile.crack_to_full_likely_h.ln();
    let sd = (profile.crack_to_full_latest_h / profile.crack_to_full_earliest_h).ln() / 2.563;
    let mut all = Vec::new();
    for shape in Shape::ALL {
        let (middle, spread, share) = if shape == Shape::TwoSpeed {
            (likely + TWO_SPEED_LONGER.ln(), sd * TWO_SPEED_SPREAD, TWO_SPEED_SHARE)
        } else {
            (likely, sd, (1.0 - TWO_SPEED_SHARE) / (Shape::ALL.len() - 1) as f64)
        };
        let weighed = (0..DURATIONS).map(|number| {
            let logarithm = from + step * f64::from(number);
            (logarithm, (-0.5 * ((logarithm - middle) / spread).powi(2)).exp())
        });
        let sum: f64 = weighed.clone().map(|(_, weight)| weight).sum();
        all.extend(weighed.map(|(logarithm, weight)| Candidate {
            course: Course::Opening(shape),
            duration_h: logarithm.exp(),
            half_step: 0.5 * step,
            share: weight / sum * share,
        }));
    }
    all
}

/// What comes out and goes back.
pub(super) fn passings() -> Vec<Candidate> {
    let share = 1.0 / (PASSING_HOURS.len() * PASSING_TURNS.len()) as f64;
    PASSING_HOURS
        .into_iter()
        .flat_map(|duration_h| PASSING_TURNS.map(|turns| (duration_h, turns)))
        .map(|(duration_h, turns)| Candidate {
            course: Course::Passing(turns),
            duration_h,
            half_step: 0.0,
            share,
        })
        .collect()
}

/// Level and amplitude before anything has moved.
pub(super) fn at_rest(course: Course, level_m: f64, profile: &Profile) -> LevelAmplitude {
    let (amplitude_m, sd_m) = match course {
        Course::Closed => (0.0, 0.0),
        Course::Opening(_) => (profile.full_advance_cm / 100.0, profile.full_advance_sd_cm / 100.0),
        Course::Passing(_) => {
            // evenly between nothing and the gap that has been seen to close: mean and standard deviation of that
            let widest_m = profile.gap_that_closes_cm / 100.0;
            (0.5 * widest_m, widest_m / 12.0_f64.sqrt())
        }
    };
    LevelAmplitude {
        level_m,
        amplitude_m,
        level_variance: LEVEL_SD_M * LEVEL_SD_M,
        covariance: 0.0,
        amplitude_variance: sd_m * sd_m,
    }
}

/// The chance an hour that an opening begins at this local hour, where today's chance is known.
pub(super) fn opening_an_hour(chance_today: f64, local_hour: f64, profile: &Profile) -> f64 {
    let (from, until) = (profile.crack_from_hour, profile.crack_until_hour);
    let usual_h = (until - from).rem_euclid(24.0).max(0.5);
    let density = if (local_hour - from).rem_euclid(24.0) <= usual_h {
        IN_USUAL_HOURS / usual_h
    } else {
        (1.0 - IN_USUAL_HOURS) / (24.0 - usual_h)
    };
    chance_today * density
}

/// The chance an hour that something begins to pass.
pub(super) fn passing_an_hour() -> f64 {
    PASSINGS_A_DAY / 24.0
}
