//! The courses that an edge may take: each a share of its amplitude by the share of its time that has passed.

use serde::{Deserialize, Serialize};

/// Share of the time of a two-speed opening after which it slows down: 5 of some 15 h (published: Ohio State 2011).
const SLOWS_AT: f64 = 5.0 / 15.0;
/// Share of the way that it has made by then: 84 of 112 cm (published: Ohio State 2011).
const SLOWS_WITH: f64 = 84.0 / 112.0;
/// Steepness of the logistic course (judged: its middle half of the way takes a quarter of the time).
const STEEPNESS: f64 = 8.0;
/// Delay of the slow start, a Gompertz curve (judged: a fiftieth of the way after a quarter of the time, half after a half).
const GOMPERTZ_DELAY: f64 = 20.0;
/// Rate of the slow start (judged by the same two points).
const GOMPERTZ_RATE: f64 = 6.0;

/// The course of an opening from first crack to full opening.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) enum Shape {
    /// Slow, fast, slow (Bonn 1996).
    RaisedCosine,
    /// A sharper middle.
    Logistic,
    /// Hardly anything at first.
    SlowStart,
    /// Fast, then slow for hours (Ohio State 2011).
    TwoSpeed,
    /// At one rate all the way (Houston 2010: 10 cm in 8 h).
    Steady,
}

impl Shape {
    pub(super) const ALL: [Self; 5] =
        [Self::RaisedCosine, Self::Logistic, Self::SlowStart, Self::TwoSpeed, Self::Steady];

    fn share(self, through: f64) -> f64 {
        match self {
            Self::RaisedCosine => raised_cosine(through),
            Self::Logistic => {
                let half = 0.5 * (0.25 * STEEPNESS).tanh();
                0.5 + 0.25 * (0.5 * STEEPNESS * (through - 0.5)).tanh() / half
            }
            Self::SlowStart => {
                let course = |u: f64| (-GOMPERTZ_DELAY * (-GOMPERTZ_RATE * u).exp()).exp();
                (course(through) - course(0.0)) / (course(1.0) - course(0.0))
            }
            Self::TwoSpeed => {
                let steady = (1.0 - SLOWS_WITH) / (1.0 - SLOWS_AT);
                steady * through + (1.0 - steady) * raised_cosine((through / SLOWS_AT).min(1.0))
            }
            Self::Steady => through,
        }
    }
}

fn raised_cosine(through: f64) -> f64 {
    0.5 - 0.5 * (std::f64::consts::PI * through).cos()
}

/// What the edge does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(super) enum Course {
    /// It stays where it is, but for the swelling of the bud.
    Closed,
    /// It opens.
    Opening(Shape),
    /// It comes out and goes back, and is furthest out after this share of its time: a gap, a slack spathe, a bract.
    Passing(f64),
}

impl Course {
    /// The share of its amplitude that it has come out after this share of its time.
    pub(super) fn share(self, through: f64) -> f64 {
        let through = through.clamp(0.0, 1.0);
        match self {
            Self::Closed => 0.0,
            Self::Opening(shape) => shape.share(through),
            Self::Passing(turns) if through <= turns => raised_cosine(through / turns),
            Self::Passing(turns) => raised_cosine((1.0 - through) / (1.0 - turns)),
        }
    }

    pub(super) const fn is_opening(self) -> bool {
        matches!(self, Self::Opening(_))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_opening_goes_from_closed_to_open_and_never_back() {
        for shape in Shape::ALL {
            let way: Vec<f64> =
                (0..=200).map(|step| Course::Opening(shape).share(f64::from(step) / 200.0)).collect();
            assert!(way[0].abs() < 1e-12 && (way[200] - 1.0).abs() < 1e-12, "{shape:?}");
            assert!(way.windows(2).all(|pair| pair[1] >= pair[0]), "{shape:?}");
        }
        let rest = |through| Course::Opening(Shape::RaisedCosine).share(through);
        assert!(rest(-1.0).abs() < 1e-12 && (rest(2.0) - 1.0).abs() < 1e-12, "before and after it rests");
    }

    /// 84 of 112 cm at 5 h of about 15 h, full the next morning: Ohio State 2011.
    #[test]
    fn two_speeds_are_those_of_ohio() {
        let share = Course::Opening(Shape::TwoSpeed).share(5.0 / 15.0);
        assert!((share - 0.75).abs() < 1e-12, "{share}");
    }

    #[test]
    fn what_passes_comes_back() {
        for turns in [0.5, 0.75] {
            let hill = Course::Passing(turns);
            assert!(hill.share(0.0).abs() < 1e-12 && hill.share(1.0).abs() < 1e-12);
            assert!((hill.share(turns) - 1.0).abs() < 1e-12);
        }
        assert!(Course::Closed.share(0.7).abs() < 1e-12);
    }
}
