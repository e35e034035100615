//! The belief on courses whose truth is known.

use super::*;
use crate::opening::titan_arum;

const START: Time = Time::from_unix_ms(1_800_000_000_000);

/// Noise of a deterministic generator (Numerical Recipes, from memory): nearly normal, with unit variance.
struct Dice(u32);

impl Dice {
    fn normal(&mut self) -> f64 {
        let mut sum = -6.0;
        for _ in 0..12 {
            self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            sum += f64::from(self.0) / f64::from(u32::MAX);
        }
        sum
    }
}

/// An afternoon: the edge rests, and does something from hour 0 on; the belief begins at `alarm_h`.
struct Afternoon {
    profile: Profile,
    dice: Dice,
    /// Slow noise: what is kept of it from minute to minute, and its standard deviation, m.
    slow: (f64, f64),
    slow_m: f64,
    belief: Option<Belief>,
    until_h: f64,
}

fn at(hours: f64) -> Time {
    START.plus_hours(hours)
}

impl Afternoon {
    fn new(slow: (f64, f64)) -> Self {
        Self { profile: titan_arum(), dice: Dice(7), slow, slow_m: 0.0, belief: None, until_h: 0.0 }
    }

    fn around(profile: &Profile) -> Around<'_> {
        Around { profile, timezone: chrono_tz::UTC, chance_today: Some(0.3) }
    }

    fn sample(&mut self, hour: f64, way_m: &dyn Fn(f64) -> f64) -> Sample {
        let (keeps, sd_m) = self.slow;
        self.slow_m = keeps * self.slow_m + sd_m * (1.0 - keeps * keeps).sqrt() * self.dice.normal();
        let position_m = 0.1 + way_m(hour) + self.slow_m + 0.002 * self.dice.normal();
        Sample { time: at(hour), position_m }
    }

    /// By the minute up to an hour, but for a gap; the belief begins at the alarm.
    fn follow(&mut self, alarm_h: f64, until_h: f64, gap: std::ops::Range<f64>, way_m: &dyn Fn(f64) -> f64) {
        let mut before = Vec::new();
        for minute in -360..=(until_h * 60.0) as i32 {
            let hour = f64::from(minute) / 60.0;
            let sample = self.sample(hour, way_m);
            if gap.contains(&hour) {
                continue;
            }
            let around = Self::around(&self.profile);
            match &mut self.belief {
                Some(belief) => belief.take(sample, &around),
                None => before.push((sample, 1)),
            }
            if self.belief.is_none() && hour >= alarm_h {
                self.belief = Belief::begin(&before, at(alarm_h - 5.0), &around);
            }
        }
        self.until_h = until_h;
    }

    fn belief(&self) -> &Belief {
        self.belief.as_ref().unwrap()
    }

    fn opens(&self) -> f64 {
        self.belief().opens(&self.profile)
    }

    /// Earliest, likely and latest, h.
    fn full(&self) -> [f64; 3] {
        let FullOpenTimes { earliest, likely, latest } = self.belief().full_open().unwrap();
        [earliest, likely, latest].map(|time| time.hours_since(START))
    }
}

const NO_GAP: std::ops::Range<f64> = 99.0..99.0;
const WHITE: (f64, f64) = (0.0, 0.0);

fn opening(shape: course::Shape, reach_m: f64, takes_h: f64) -> impl Fn(f64) -> f64 {
    move |hour| reach_m * Course::Opening(shape).share(hour / takes_h)
}

fn steady(hour: f64) -> f64 {
    0.4 * (hour / 8.0).clamp(0.0, 1.0)
}

/// Windows of 80 %: of fifteen, twelve hold on average. One of two speeds is like the others until it slows down, and a steady one has
/// nothing but its reach to tell its end.
#[test]
fn full_opening_is_foretold_ever_nearer() {
    let mut held = 0;
    for (shape, reach_m, takes_h) in [
        (course::Shape::RaisedCosine, 0.40, 8.0),
        (course::Shape::Logistic, 0.30, 6.0),
        (course::Shape::SlowStart, 0.50, 9.0),
        (course::Shape::TwoSpeed, 0.40, 15.0),
        (course::Shape::Steady, 0.40, 9.0),
    ] {
        let mut full = [0.0; 3];
        for until_h in [2.5, 4.0, 5.5] {
            let mut afternoon = Afternoon::new(WHITE);
            afternoon.follow(2.5, until_h, NO_GAP, &opening(shape, reach_m, takes_h));
            full = afternoon.full();
            held += u32::from(full[0] <= takes_h && takes_h <= full[2]);
        }
        let nearer = matches!(shape, course::Shape::TwoSpeed | course::Shape::Steady)
            || (full[1] - takes_h).abs() < 0.15 * takes_h;
        assert!(nearer, "{shape:?}, {takes_h} h: {full:?}");
    }
    assert!(held >= 10, "{held} of 15 windows hold");
}

#[test]
fn what_has_not_been_is_not_foretold_of_the_past() {
    let mut afternoon = Afternoon::new(WHITE);
    afternoon.follow(2.5, 12.0, NO_GAP, &opening(course::Shape::RaisedCosine, 0.4, 8.0));
    // as of the newest round
    assert!(afternoon.full().iter().all(|hour| *hour >= 12.0 - 0.2), "{:?}", afternoon.full());
}

#[test]
fn an_edge_that_rests_or_comes_back_does_not_open() {
    let mut rests = Afternoon::new(WHITE);
    rests.follow(0.0, 4.0, NO_GAP, &|_| 0.0);
    assert!(rests.opens() < 0.02, "{}", rests.opens());
    let mut gap = Afternoon::new(WHITE);
    let hill = |hour: f64| 0.04 * Course::Passing(0.5).share(hour / 5.0);
    gap.follow(1.5, 5.0, NO_GAP, &hill);
    assert!(gap.opens() < 0.02, "{}", gap.opens());
}

/// Such an opening errs from sample to sample as it did before. Counted for next to nothing, its samples would all be taken for
/// strays about an edge at rest.
#[test]
fn an_opening_that_no_course_fits_is_not_swallowed_as_strays() {
    let leaps = |hour: f64| if hour < 0.0 { 0.0 } else { 0.2 + steady(hour - 2.0) };
    for slow in [WHITE, (0.97, 0.003)] {
        let mut afternoon = Afternoon::new(slow);
        afternoon.follow(-3.0, 8.0, NO_GAP, &leaps);
        assert!(afternoon.opens() > 0.99, "slow noise {slow:?}: {}", afternoon.opens());
    }
}

#[test]
fn an_opening_behind_something_that_passed_is_one() {
    let way = |hour: f64| 0.04 * Course::Passing(0.5).share(hour / 3.0) + steady(hour - 6.0);
    let mut passed = Afternoon::new(WHITE);
    passed.follow(1.0, 5.5, NO_GAP, &way);
    assert!(passed.opens() < 0.1, "{}", passed.opens());
    let mut opens = Afternoon::new(WHITE);
    opens.follow(1.0, 9.0, NO_GAP, &way);
    assert!(opens.opens() > 0.99, "{}", opens.opens());
}

#[test]
fn samples_that_err_alike_count_less_but_never_for_nothing() {
    let mut alone = Tempering::new();
    let mut dice = Dice(1);
    (0..600).for_each(|_| alone.take(dice.normal()));
    assert!(alone.exponent() > 0.6, "{}", alone.exponent());
    let mut alike = Tempering::new();
    (0..600).for_each(|_| alike.take(2.0));
    assert!((alike.exponent() - noise::LEAST_EXPONENT).abs() < 1e-12);
}

#[test]
fn a_gap_is_prediction_only_and_full_opening_is_foretold_behind_it() {
    let mut afternoon = Afternoon::new(WHITE);
    afternoon.follow(2.5, 5.5, 3.0..5.0, &opening(course::Shape::RaisedCosine, 0.4, 8.0));
    let [earliest, _, latest] = afternoon.full();
    assert!(earliest <= 8.0 && 8.0 <= latest && afternoon.opens() > 0.99, "{earliest} to {latest}");
}

#[test]
fn one_sample_a_minute_is_taken_and_none_that_is_older() {
    let mut afternoon = Afternoon::new(WHITE);
    afternoon.follow(2.5, 3.0, NO_GAP, &steady);
    let before = afternoon.belief().clone();
    let profile = titan_arum();
    let around = Afternoon::around(&profile);
    let mut after = before.clone();
    for hour in [3.0 + 30.0 / 3600.0, 3.0, 2.0] {
        after.take(Sample { time: at(hour), position_m: 0.4 }, &around);
    }
    assert_eq!(after, before);
    after.take(Sample { time: at(3.0 + 1.0 / 60.0), position_m: 0.25 }, &around);
    assert_ne!(after, before);
}

#[test]
fn hypotheses_are_bounded_and_pruned_ones_leave_their_weight() {
    let mut afternoon = Afternoon::new((0.97, 0.003));
    afternoon.follow(2.5, 20.0, NO_GAP, &steady);
    let belief = afternoon.belief();
    assert!(belief.hypotheses.len() <= MOST && MOST * size_of::<Hypothesis>() <= 32_768);
    assert!(belief.hypotheses.iter().filter(|h| h.course == Course::Closed).count() == 1);
    assert!(belief.hypotheses.iter().all(|h| h.log_weight.is_finite() && h.state.level_m.is_finite()));
}

#[test]
fn a_rangers_own_noise_is_told_by_the_differences_of_its_samples() {
    let mut dice = Dice(3);
    let mut samples: Vec<(Sample, u32)> = (0..180)
        .map(|minute| {
            let hour = f64::from(minute) / 60.0;
            (Sample { time: at(hour), position_m: 0.08 * hour + 0.003 * dice.normal() }, 1)
        })
        .collect();
    // strays
    samples[20].0.position_m += 0.3;
    samples[90].0.position_m -= 0.2;
    let noise_m = noise::of_differences(&samples);
    assert!((noise_m - 0.003).abs() < 0.0006, "{noise_m}");
    assert!((noise::of_differences(&[]) - 0.0007).abs() < 1e-12, "of nothing the least");
}
