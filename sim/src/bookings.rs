//! What people tape and book by hand in the days of a bud.

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;

use crate::dice::{Concern, Dice};
use crate::growth::Growth;
use crate::options::SeasonOptions;
use crate::plant::PlantDraw;
use crate::truth::Outcome;

/// One thing said at one instant. Values lie within their quantity's range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// When.
    pub time: Time,
    /// What.
    pub observed: Observed,
}

/// Hours of the day at which staff go round.
const ROUND: (f64, f64) = (8.0, 16.5);

/// Tape measurements and signs of one season, in time order.
pub(crate) fn draw(
    seed: u64,
    options: &SeasonOptions,
    plant: &PlantDraw,
    growth: &Growth,
) -> Vec<Observation> {
    let dice = &mut Dice::new(seed, Concern::Bookings);
    let tape = draw_tape(dice, plant, growth);
    let signs = draw_signs(dice, plant);
    let mut kept: Vec<Observation> = Vec::new();
    kept.extend(tape.into_iter().filter(|_| options.tape));
    kept.extend(signs.into_iter().filter(|_| options.signs));
    kept.sort_by_key(|booked| booked.time);
    kept
}

fn booked(plant: &PlantDraw, hour: f64, observed: Observed) -> Observation {
    // people write down minutes
    let minute_h = (hour * 60.0).round() / 60.0;
    Observation { time: plant.calendar.time(minute_h), observed }
}

/// Two to four heights a week, to the half centimetre and a centimetre or so wrong.
fn draw_tape(dice: &mut Dice, plant: &PlantDraw, growth: &Growth) -> Vec<Observation> {
    let share = dice.between(2.0, 4.0) / 7.0;
    let mut taped = Vec::new();
    for day in 0..=(plant.ends_h / 24.0) as u32 {
        let hour = 24.0 * f64::from(day) + dice.between(ROUND.0, ROUND.1);
        let error_m = 0.008 * dice.normal();
        if dice.chance(share) && hour > plant.emerged_h && hour < plant.ends_h {
            let metres = ((growth.height_m(hour) + error_m) * 200.0).round() / 200.0;
            taped.push(booked(plant, hour, Observed::Value(Quantity::Height, metres.max(0.0))));
        }
    }
    taped
}

/// Signs of a bud, as they precede an opening in the record.
fn draw_signs(dice: &mut Dice, plant: &PlantDraw) -> Vec<Observation> {
    let mut days_before = |from: f64, mode: f64, to: f64| dice.around(from, mode, to);
    let before_d = [
        // 10 (USBG 2021) to 15 and more (Fairchild 2001)
        (PlainSign::SpadixVisible, days_before(10.0, 12.5, 16.0)),
        // 6 (Como 2008) to 15 days (Houston 2010)
        (PlainSign::EdgeColoured, days_before(6.0, 8.0, 15.0)),
        (PlainSign::BractDropped, days_before(3.0, 5.0, 10.0)),
        // the same day (EIU 2018) to 4 days (Cambridge 2015), once 10 (Houston 2010)
        (PlainSign::LastBractDropped, days_before(0.6, 2.0, 6.0)),
    ];
    let mut signs = vec![(plant.emerged_h, PlainSign::Emerged)];
    if plant.outcome != Outcome::Leaf {
        // a bud that stops gets as far as its bracts or its colour, not to the last bract
        let reached = if plant.outcome == Outcome::Opens { before_d.len() } else { 2 };
        signs.extend(before_d[..reached].iter().map(|(sign, days)| (plant.ends_h - 24.0 * days, *sign)));
    }
    signs
        .into_iter()
        .map(|(happens_h, sign)| (next_round_h(dice, happens_h), sign))
        .filter(|(seen_h, _)| *seen_h < plant.ends_h)
        .map(|(seen_h, sign)| booked(plant, seen_h, Observed::Sign(Sign::Plain(sign))))
        .collect()
}

/// When staff first pass after something happened.
fn next_round_h(dice: &mut Dice, happens_h: f64) -> f64 {
    let within_h = dice.between(0.1, 2.0);
    let of_day = happens_h.rem_euclid(24.0);
    let midnight_h = happens_h - of_day;
    if of_day < ROUND.0 {
        midnight_h + ROUND.0 + within_h
    } else if of_day + within_h < ROUND.1 {
        happens_h + within_h
    } else {
        midnight_h + 24.0 + ROUND.0 + within_h
    }
}
