//! What troubles do to one ranger, drawn ahead for the whole season, each from its own stream.

use crate::dice::{Concern, Dice};
use crate::house::House;
use crate::schedule::{Schedule, Span};
use crate::trouble::{Trouble, Troubles};

/// Which ranger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// Overhead, looking at the spadix tip.
    Tip,
    /// At the side, looking at the spathe rim.
    Rim,
}

/// A person in the beam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Person {
    /// Where the person stands: nearer than the plant (at the side), or at this distance (under the roof), m.
    pub(crate) at_m: f64,
    /// How far the person moves to and fro, m.
    pub(crate) moves_m: f64,
    /// How long one such move takes, h.
    pub(crate) period_h: f64,
    /// Share of the time for which the person hides the plant.
    pub(crate) hides: f64,
}

/// False echoes of a neighbour whose pulses happen to come in step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Neighbour {
    /// Offset from the true distance, m.
    pub(crate) offset_m: f64,
    /// How it drifts as the two clocks part, m/h.
    pub(crate) drift_m_h: f64,
    /// Share of the readings taken over.
    pub(crate) share: f64,
}

/// What a ranger does when no echo came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum NoEcho {
    Silent,
    SaysItsMaximum,
    RepeatsItself,
}

/// Everything that can happen to one ranger.
#[derive(Debug, Clone)]
pub(crate) struct Disturbances {
    pub(crate) people: Schedule<Person>,
    pub(crate) neighbours: Schedule<Neighbour>,
    /// Carrier periods late.
    pub(crate) slips: Schedule<f64>,
    /// Amplitude of sway while fans run, m.
    pub(crate) sway: Schedule<f64>,
    /// Share of echoes lost while fog or drops on the face last.
    pub(crate) fog: Schedule<f64>,
    /// Spans in which the output repeats itself.
    pub(crate) stuck: Schedule<()>,
    /// Hour and change of distance, m.
    pub(crate) knocks: Vec<(f64, f64)>,
    /// Standard deviation, m, and time constant, h, of slow noise.
    pub(crate) slow_noise: Option<(f64, f64)>,
    pub(crate) dropout_share: f64,
    pub(crate) no_echo: NoEcho,
    pub(crate) stray_share: f64,
}

impl Disturbances {
    /// Draws what the switches allow. `busy_h` is the middle of the days on which crowds come.
    pub(crate) fn draw(
        seed: u64,
        place: Place,
        troubles: Troubles,
        until_h: f64,
        busy_h: Option<f64>,
        house: &House,
    ) -> Self {
        let dice =
            |trouble| troubles.has(trouble).then(|| Dice::new(seed, Concern::Trouble(trouble, place as u8)));
        let people = dice(Trouble::People).map(|mut dice| draw_people(&mut dice, place, until_h, busy_h));
        let neighbours = dice(Trouble::Crosstalk).map(|mut dice| {
            Schedule::scattered(&mut dice, until_h, 9.0, |dice| {
                // Escolà et al. 2011, Sensors 11:2459 (abstract): mean errors of 9 to 17 cm with a neighbour 60 to 30 cm away
                let offset_m = dice.sign() * dice.between(0.05, 0.3);
                let drift_m_h = dice.sign() * dice.log_between(0.01, 0.5);
                (
                    dice.log_between(0.03, 0.7),
                    Neighbour { offset_m, drift_m_h, share: dice.between(0.2, 0.9) },
                )
            })
        });
        let slips = dice(Trouble::CycleSlips).map(|mut dice| {
            Schedule::scattered(&mut dice, until_h, 7.0, |dice| {
                let periods = if dice.chance(0.7) { 1.0 } else { -1.0 };
                (dice.log_between(0.01, 5.0), if dice.chance(0.1) { 2.0 * periods } else { periods })
            })
        });
        let sway = dice(Trouble::Sway).map(|mut dice| {
            let most_m = if place == Place::Tip { 0.03 } else { 0.015 };
            Schedule::scattered(&mut dice, until_h, 5.0, |dice| {
                (dice.log_between(0.1, 4.0), dice.between(0.002, most_m))
            })
        });
        let stuck = dice(Trouble::StuckOutput).map(|mut dice| {
            Schedule::scattered(&mut dice, until_h, 500.0, |dice| (dice.log_between(0.5, 14.0), ()))
        });
        let fog = dice(Trouble::Misting).map(|mut dice| draw_fog(&mut dice, house));
        let knocks = dice(Trouble::Knocks).map(|mut dice| {
            let count = 1 + u32::from(dice.chance(0.5)) + u32::from(dice.chance(0.25));
            let mut knocks: Vec<(f64, f64)> = (0..count)
                .map(|_| (dice.between(0.0, until_h), dice.sign() * dice.log_between(0.005, 0.08)))
                .collect();
            knocks.sort_by(|a, b| a.0.total_cmp(&b.0));
            knocks
        });
        let slow_noise = dice(Trouble::CorrelatedNoise)
            .map(|mut dice| (dice.between(0.001, 0.003), dice.log_between(0.05, 1.0)));
        let (dropout_share, no_echo) = dice(Trouble::Dropouts).map_or((0.0, NoEcho::Silent), |mut dice| {
            let said = [NoEcho::Silent, NoEcho::SaysItsMaximum, NoEcho::RepeatsItself];
            (dice.log_between(0.005, 0.15), said[dice.between(0.0, 3.0) as usize % 3])
        });
        let stray_share = dice(Trouble::StrayEchoes).map_or(0.0, |mut dice| dice.log_between(0.001, 0.02));
        Self {
            people: people.unwrap_or_default(),
            neighbours: neighbours.unwrap_or_default(),
            slips: slips.unwrap_or_default(),
            sway: sway.unwrap_or_default(),
            fog: fog.unwrap_or_default(),
            stuck: stuck.unwrap_or_default(),
            knocks: knocks.unwrap_or_default(),
            slow_noise,
            dropout_share,
            no_echo,
            stray_share,
        }
    }

    /// How much further away everything looks since the mount was knocked, m.
    pub(crate) fn knocked_m(&self, hour: f64) -> f64 {
        self.knocks.iter().filter(|(at_h, _)| *at_h <= hour).map(|(_, step_m)| step_m).sum()
    }
}

fn draw_people(dice: &mut Dice, place: Place, until_h: f64, busy_h: Option<f64>) -> Schedule<Person> {
    let visits_a_day = dice.between(2.0, 7.0);
    let mut spans = Vec::new();
    for day in 0..(until_h / 24.0).ceil() as u32 {
        let midnight_h = 24.0 * f64::from(day);
        // the last three days before an opening and the two after bring visitors until late
        let busy = busy_h.is_some_and(|middle_h| (midnight_h + 12.0 - middle_h).abs() < 72.0);
        let (opens, closes, gap_h) = if busy { (9.0, 22.5, 0.35) } else { (8.0, 17.0, 9.0 / visits_a_day) };
        let mut hour = midnight_h + opens + dice.waiting(gap_h);
        while hour < midnight_h + closes {
            let stays_h = dice.log_between(5.0 / 3600.0, if busy { 0.5 } else { 1.0 });
            let person = Person {
                at_m: if place == Place::Tip { dice.between(1.0, 1.6) } else { dice.between(0.1, 0.6) },
                moves_m: dice.between(0.01, 0.15),
                period_h: dice.log_between(2.0 / 3600.0, 0.1),
                hides: dice.between(0.5, 1.0),
            };
            spans.push(Span { from_h: hour, until_h: hour + stays_h, what: person });
            hour += stays_h + dice.waiting(gap_h);
        }
    }
    Schedule::new(spans)
}

fn draw_fog(dice: &mut Dice, house: &House) -> Schedule<f64> {
    let spans = house
        .mist()
        .map(|(starts_h, stops_h)| {
            // the run itself, then drops on the face until they dry: minutes to an hour in all
            let until_h = (stops_h + dice.log_between(0.01, 0.8)).min(starts_h + 1.0);
            Span { from_h: starts_h, until_h, what: dice.between(0.7, 1.0) }
        })
        .collect();
    Schedule::new(spans)
}
