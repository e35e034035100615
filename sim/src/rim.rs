//! The advance of the spathe rim towards the side ranger.

use serde::{Deserialize, Serialize};

use crate::dice::Dice;
use crate::schedule::smooth_step;

/// The course of an opening between crack and full opening.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OpeningShape {
    /// Slow, fast, slow; even on both sides.
    RaisedCosine,
    /// A sharper middle.
    Logistic,
    /// Hardly anything at first, then a rush that tails off (a Gompertz curve).
    SlowStart,
    /// Fast, then slow for hours: OSU 2011 stood at three quarters after 5 h and was full the next morning.
    TwoSpeed,
    /// At one rate all the way (Houston 2010). Not drawn, only wished for.
    Steady,
    /// Half of the way, a rest, and the other half: no part of the model knows it. Not drawn, only wished for.
    TwoRushes,
}

impl OpeningShape {
    /// Every shape that is drawn.
    pub const ALL: [Self; 4] = [Self::RaisedCosine, Self::Logistic, Self::SlowStart, Self::TwoSpeed];

    /// Share of the full advance at share `through` of the time from crack to full opening.
    pub fn share(self, through: f64) -> f64 {
        let through = through.clamp(0.0, 1.0);
        let course = |u: f64| match self {
            Self::RaisedCosine => 0.5 - 0.5 * (std::f64::consts::PI * u).cos(),
            Self::Logistic => 1.0 / (1.0 + (-9.0 * (u - 0.5)).exp()),
            Self::SlowStart => (-25.0 * (-6.5 * u).exp()).exp(),
            Self::TwoSpeed => {
                let eased = u * u / (u + 0.03);
                let fast = eased - 0.05 * ((eased - 0.28) / 0.05).exp().ln_1p();
                0.25 * eased + 1.9 * fast
            }
            Self::Steady => u,
            Self::TwoRushes => 0.5 * smooth_step(u / 0.4) + 0.5 * smooth_step((u - 0.6) / 0.4),
        };
        (course(through) - course(0.0)) / (course(1.0) - course(0.0))
    }
}

/// An advance that comes back: rises, stays, falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Passage {
    pub(crate) from_h: f64,
    pub(crate) rise_h: f64,
    pub(crate) stay_h: f64,
    pub(crate) fall_h: f64,
    pub(crate) advance_m: f64,
}

impl Passage {
    pub(crate) fn until_h(&self) -> f64 {
        self.from_h + self.rise_h + self.stay_h + self.fall_h
    }

    fn advance_m(&self, hour: f64) -> f64 {
        let since = hour - self.from_h;
        if since <= 0.0 || hour >= self.until_h() {
            return 0.0;
        }
        let falling = (since - self.rise_h - self.stay_h) / self.fall_h;
        self.advance_m * smooth_step(since / self.rise_h) * (1.0 - smooth_step(falling))
    }
}

/// Girth swelling of the bud, from its beginning until the crack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Swelling {
    pub(crate) from_h: f64,
    pub(crate) until_h: f64,
    pub(crate) m_day: f64,
}

impl Swelling {
    pub(crate) fn advance_m(&self, hour: f64) -> f64 {
        let days = (hour.min(self.until_h) - self.from_h) / 24.0;
        // a day of easing in
        let eased = if days <= 0.0 {
            0.0
        } else if days < 1.0 {
            days * days / 2.0
        } else {
            days - 0.5
        };
        self.m_day * eased
    }
}

/// The opening itself and its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Opening {
    pub(crate) crack_h: f64,
    pub(crate) full_h: f64,
    pub(crate) full_m: f64,
    pub(crate) shape: OpeningShape,
    pub(crate) closing_h: f64,
    pub(crate) closed_h: f64,
    /// Share of the advance that comes back.
    pub(crate) comes_back: f64,
}

/// The near edge where the far side leads: late, not so far, and rocking with the head meanwhile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct NearEdge {
    /// Share of the time from crack to full opening by which it comes later.
    late: f64,
    /// Share of the full advance that it makes.
    reaches: f64,
    /// How far the head rocks towards the ranger, m; negative is away from it.
    rocks_m: f64,
    rocks_out_h: f64,
    rocks_back_h: f64,
}

impl Opening {
    pub(crate) fn advance_m(&self, hour: f64) -> f64 {
        if hour <= self.crack_h {
            return 0.0;
        }
        let out = self.shape.share((hour - self.crack_h) / (self.full_h - self.crack_h));
        self.full_m * out * self.still_out(hour)
    }

    /// The share of the advance that has not come back.
    fn still_out(&self, hour: f64) -> f64 {
        1.0 - self.comes_back * smooth_step((hour - self.closing_h) / (self.closed_h - self.closing_h))
    }

    /// The same of a near edge that follows the far side.
    fn near_advance_m(&self, near: &NearEdge, hour: f64) -> f64 {
        if hour <= self.crack_h {
            return 0.0;
        }
        let takes_h = self.full_h - self.crack_h;
        let since_h = hour - self.crack_h;
        let out = self.shape.share((since_h - near.late * takes_h) / (takes_h * (1.0 - near.late)));
        let rocked = smooth_step(since_h / near.rocks_out_h)
            * (1.0 - smooth_step((since_h - near.rocks_out_h) / near.rocks_back_h));
        self.full_m * near.reaches * out * self.still_out(hour) + near.rocks_m * rocked
    }
}

/// A leaf that spreads over some days, its leaflets nearer to the side ranger than the stalk.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Unfolding {
    pub(crate) from_h: f64,
    pub(crate) hours: f64,
    pub(crate) advance_m: f64,
}

/// Everything that moves the nearest edge towards the side ranger.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Rim {
    pub(crate) swelling: Swelling,
    pub(crate) opening: Option<Opening>,
    pub(crate) gap: Option<Passage>,
    pub(crate) slack: Vec<Passage>,
    pub(crate) bracts: Vec<Passage>,
    pub(crate) near: Option<NearEdge>,
    pub(crate) unfolding: Option<Unfolding>,
}

impl Rim {
    /// Advance from where the closed rim stood on the first day, m.
    pub(crate) fn advance_m(&self, hour: f64) -> f64 {
        self.swelling.advance_m(hour)
            + self.opening.map_or(0.0, |opening| match &self.near {
                Some(near) => opening.near_advance_m(near, hour),
                None => opening.advance_m(hour),
            })
            + self.gap.map_or(0.0, |gap| gap.advance_m(hour))
            + self.slack.iter().chain(&self.bracts).map(|slack| slack.advance_m(hour)).sum::<f64>()
            + self
                .unfolding
                .map_or(0.0, |leaf| leaf.advance_m * smooth_step((hour - leaf.from_h) / leaf.hours))
    }

    /// Lets the far side open first (judgement: nobody has published the two sides apart).
    pub(crate) fn lead_from_afar(&mut self, dice: &mut Dice) {
        self.near = Some(NearEdge {
            late: dice.between(0.05, 0.4),
            reaches: dice.between(0.4, 1.0),
            rocks_m: dice.between(-0.015, 0.03),
            rocks_out_h: dice.between(0.5, 2.0),
            rocks_back_h: dice.between(1.0, 3.0),
        });
    }

    /// Lets one or two bracts peel towards the ranger in the last days and fall within a minute: some 8 cm in 6 h (judgement).
    pub(crate) fn peel_bracts(&mut self, dice: &mut Dice, ends_h: f64) {
        let one = |dice: &mut Dice| Passage {
            from_h: ends_h - 24.0 * dice.between(1.5, 9.0),
            rise_h: dice.between(4.0, 8.0),
            stay_h: dice.between(0.0, 3.0),
            fall_h: 1.0 / 60.0,
            advance_m: dice.between(0.06, 0.10),
        };
        let (first, second, both) = (one(dice), one(dice), dice.chance(0.4));
        let apart = (first.from_h - second.from_h).abs() > 24.0;
        self.bracts = std::iter::once(first).chain((both && apart).then_some(second)).collect();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_course_goes_from_closed_to_open_without_turning_back() {
        for shape in OpeningShape::ALL.into_iter().chain([OpeningShape::Steady, OpeningShape::TwoRushes]) {
            let course: Vec<f64> = (0..=200).map(|step| shape.share(f64::from(step) / 200.0)).collect();
            assert!(course[0].abs() < 1e-12 && (course[200] - 1.0).abs() < 1e-12, "{shape:?}");
            assert!(course.windows(2).all(|pair| pair[1] >= pair[0]), "{shape:?}");
        }
    }

    #[test]
    fn two_speed_is_what_ohio_saw() {
        // OSU 2011: 84 of 112 cm at 5 h of about 15 h (crack 16:00, "next morning"); bioscigreenhouse.osu.edu/titan-arum-woody
        let share = OpeningShape::TwoSpeed.share(5.0 / 15.0);
        assert!((share - 84.0 / 112.0).abs() < 0.04, "{share}");
    }
}
