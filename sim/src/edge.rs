//! What of the spathe's edge the side ranger hears: an edge that tilts out of the beam or turns to it late, a bract in front of
//! it, insects on the ranger's face.
//!
//! No publication gives figures for any of these. What is drawn is judgement by the geometry: a 40 kHz ranger hears what faces it
//! within some 15 degrees (general knowledge of such rangers, not measured here), and a limb that rolls out leaves that cone.

use crate::dice::{Concern, Dice};
use crate::plant::PlantDraw;
use crate::rim::Rim;
use crate::schedule::smooth_step;
use crate::schedule::{Schedule, Span};
use crate::trouble::EdgeTrouble;

/// What is heard at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Heard {
    /// Something of the plant that reaches so far towards the ranger, m.
    Plant(f64),
    /// Nothing.
    Nothing,
    /// What sits on the ranger itself.
    Face,
}

/// The limb as it tilts.
#[derive(Debug, Clone, Copy)]
struct Tilt {
    from_h: f64,
    takes_h: f64,
    /// Share of the edge's echoes that are lost in the end.
    loses: f64,
    /// Share of its advance by which the echo slides back in the end.
    slides: f64,
    /// Share of the lost echoes in whose place the body is heard.
    body: f64,
    /// How far the body stands out over the closed edge, m; negative is behind it.
    body_m: f64,
}

/// An insect on the face.
#[derive(Debug, Clone, Copy)]
struct Insect {
    /// Share of the readings that it takes.
    hides: f64,
    /// It is heard itself; else nothing is.
    is_heard: bool,
}

/// What the side ranger hears of the edge through a season.
#[derive(Debug, Clone, Default)]
pub(crate) struct EdgeHearing {
    tilt: Option<Tilt>,
    insects: Schedule<Insect>,
}

impl EdgeHearing {
    /// Draws what was asked for; changes the spathe where it is the spathe that moves otherwise.
    pub(crate) fn draw(seed: u64, asked: Option<EdgeTrouble>, plant: &mut PlantDraw) -> Self {
        let Some(asked) = asked else { return Self::default() };
        let dice = &mut Dice::new(seed, Concern::Edge);
        match asked {
            EdgeTrouble::LimbTilts => Self { tilt: draw_tilt(dice, &plant.spathe), ..Self::default() },
            EdgeTrouble::InsectsOnFace => {
                let crack_h = plant.spathe.opening.map(|opening| opening.crack_h);
                Self { insects: draw_insects(dice, plant.last_h as f64, crack_h), ..Self::default() }
            }
            EdgeTrouble::FarSideLeads => {
                plant.spathe.lead_from_afar(dice);
                Self::default()
            }
            EdgeTrouble::BractPeels => {
                plant.spathe.peel_bracts(dice, plant.ends_h);
                Self::default()
            }
        }
    }

    /// What is heard at this hour where the edge reaches so far.
    pub(crate) fn at(&self, hour: f64, spathe: &Rim, dice: &mut Dice) -> Heard {
        let reach_m = spathe.advance_m(hour);
        if self.tilt.is_none() && self.insects.spans().is_empty() {
            return Heard::Plant(reach_m);
        }
        let (lot, place, jitter_m) = (dice.between(0.0, 1.0), dice.between(0.0, 1.0), 0.005 * dice.normal());
        if let Some(span) = self.insects.at(hour)
            && lot < span.what.hides
        {
            return if span.what.is_heard { Heard::Face } else { Heard::Nothing };
        }
        let Some(tilt) = self.tilt.filter(|tilt| hour > tilt.from_h) else { return Heard::Plant(reach_m) };
        let tilted = smooth_step((hour - tilt.from_h) / tilt.takes_h);
        let closed_m = spathe.swelling.advance_m(hour);
        if lot < tilt.loses * tilted {
            return if place < tilt.body {
                Heard::Plant(closed_m + tilt.body_m + jitter_m)
            } else {
                Heard::Nothing
            };
        }
        Heard::Plant(closed_m + (reach_m - closed_m) * (1.0 - tilt.slides * tilted))
    }
}

fn draw_tilt(dice: &mut Dice, spathe: &Rim) -> Option<Tilt> {
    let begins_at_m = dice.between(0.03, 0.12);
    let tilt = Tilt {
        from_h: 0.0,
        takes_h: dice.between(0.5, 2.5),
        loses: dice.between(0.3, 0.97),
        slides: dice.between(0.0, 0.7),
        body: dice.between(0.0, 0.8),
        body_m: dice.between(-0.03, 0.01),
    };
    let opening = spathe.opening?;
    let out = |minute: &u32| opening.advance_m(opening.crack_h + f64::from(*minute) / 60.0) >= begins_at_m;
    let minute = (0..24 * 60).find(out)?;
    Some(Tilt { from_h: opening.crack_h + f64::from(minute) / 60.0, ..tilt })
}

/// Flies come to the scent: rarely before, every hour or two on the nights of the bloom.
fn draw_insects(dice: &mut Dice, until_h: f64, crack_h: Option<f64>) -> Schedule<Insect> {
    let mut spans = Vec::new();
    let mut hour = dice.waiting(12.0);
    while hour < until_h {
        let stays_h = dice.log_between(2.0 / 60.0, 1.5);
        let what = Insect { hides: dice.between(0.5, 1.0), is_heard: dice.chance(0.5) };
        spans.push(Span { from_h: hour, until_h: hour + stays_h, what });
        let in_bloom = crack_h.is_some_and(|crack_h| (crack_h - 6.0..crack_h + 40.0).contains(&hour));
        hour += stays_h + dice.waiting(if in_bloom { 1.5 } else { 12.0 });
    }
    Schedule::new(spans)
}
