//! A ranger: true distance to echo time through the real air, echo time to what it reports.
//!
//! Figures without a source beside them are from memory: what 40 kHz pulse-echo rangers usually do, not
//! measured here.

use crate::dice::{Concern, Dice};
use crate::disturbance::{Disturbances, NoEcho, Place};
use crate::edge::Heard;
use crate::options::RangerOptions;
use crate::side_loss::{LostSide, SideLoss};
use crate::trouble::Trouble;

/// One period of a 40 kHz carrier, s: half a wavelength of range, 4.34 mm at 25 °C.
const CARRIER_PERIOD_S: f64 = 1.0 / 40_000.0;

/// One ranger of one season.
#[derive(Debug, Clone)]
pub(crate) struct Ranger {
    pub(crate) options: RangerOptions,
    pub(crate) place: Place,
    pub(crate) disturbances: Disturbances,
    /// When it stops seeing the plant for good, and why.
    pub(crate) lost: Option<LostSide>,
    noise_sd_m: f64,
}

impl Ranger {
    pub(crate) fn draw(seed: u64, options: RangerOptions, place: Place, disturbances: Disturbances) -> Self {
        let drawn_m = Dice::new(seed, Concern::RangerNoise(place as u8)).between(0.0005, 0.003);
        Self { options, place, disturbances, lost: None, noise_sd_m: options.noise_sd_m.unwrap_or(drawn_m) }
    }

    /// True distance to the plant at this hour when the plant reaches `reach_m` towards the ranger, m.
    pub(crate) fn distance_m(&self, hour: f64, reach_m: f64) -> f64 {
        self.options.mount_m + self.disturbances.knocked_m(hour) - reach_m
    }

    /// What befell it for good before this hour.
    fn lost_at(&self, hour: f64) -> Option<&LostSide> {
        self.lost.as_ref().filter(|lost| hour >= lost.from_h)
    }

    /// Standard deviation of its white noise, m.
    pub(crate) const fn noise_sd_m(&self) -> f64 {
        self.noise_sd_m
    }
}

/// A ranger at work: its streams of draws and what it said last.
#[derive(Debug)]
pub(crate) struct RangerRun<'a> {
    ranger: &'a Ranger,
    noise: Dice,
    people: Dice,
    neighbours: Dice,
    fog: Dice,
    slow: Dice,
    dropouts: Dice,
    strays: Dice,
    sway: Dice,
    slow_m: f64,
    slow_hour: f64,
    said_m: Option<f64>,
    frozen_m: Option<f64>,
}

impl<'a> RangerRun<'a> {
    pub(crate) fn new(ranger: &'a Ranger, seed: u64) -> Self {
        let place = ranger.place as u8;
        let dice = |trouble| Dice::new(seed ^ RUN_SALT, Concern::Trouble(trouble, place));
        Self {
            ranger,
            noise: Dice::new(seed ^ RUN_SALT, Concern::RangerNoise(place)),
            people: dice(Trouble::People),
            neighbours: dice(Trouble::Crosstalk),
            fog: dice(Trouble::Misting),
            slow: dice(Trouble::CorrelatedNoise),
            dropouts: dice(Trouble::Dropouts),
            strays: dice(Trouble::StrayEchoes),
            sway: dice(Trouble::Sway),
            slow_m: 0.0,
            slow_hour: f64::NEG_INFINITY,
            said_m: None,
            frozen_m: None,
        }
    }

    /// What the ranger reports, m; `None` if it says nothing.
    ///
    /// `speed_m_s` is the true mean speed of sound in the beam. Every stream is drawn from before anything is decided, so
    /// that one trouble never shifts the draws of another.
    pub(crate) fn report(&mut self, hour: f64, hears: Heard, speed_m_s: f64) -> Option<f64> {
        let Ranger { options, disturbances, .. } = self.ranger;
        let slow_m = self.slow_noise_m(hour);
        let mut heard_m: Vec<f64> = (0..options.burst.max(1))
            .filter_map(|_| self.echo_m(hour, hears, speed_m_s))
            .map(|measured_m| measured_m + slow_m)
            .collect();
        let fresh_m = if let Some(measured_m) = median(&mut heard_m) {
            let held_m = measured_m.max(options.blind_zone_m);
            Some((held_m * options.steps_per_m).round() / options.steps_per_m)
        } else {
            match disturbances.no_echo {
                NoEcho::Silent => None,
                NoEcho::SaysItsMaximum => Some(options.furthest_m),
                NoEcho::RepeatsItself => self.said_m,
            }
        };
        self.said_m = fresh_m.or(self.said_m);
        if self.ranger.lost_at(hour).is_some_and(|lost| lost.what == SideLoss::Dead) {
            return None;
        }
        self.unless_frozen(hour, fresh_m)
    }

    /// What one echo measures, m; `None` if none was heard.
    fn echo_m(&mut self, hour: f64, hears: Heard, speed_m_s: f64) -> Option<f64> {
        let Ranger { options, disturbances, noise_sd_m, .. } = self.ranger;
        let reach_m = if let Heard::Plant(reach_m) = hears { reach_m } else { 0.0 };
        let white_m = noise_sd_m * self.noise.normal();
        let plant_m = self.ranger.distance_m(hour, reach_m) + self.sway_m(hour);
        let person_m = self.person_m(hour, plant_m);
        let stray_m = self.stray_m(plant_m);
        let neighbour_m = self.neighbour_m(hour, plant_m);
        let missed = self.missed(hour) || hears == Heard::Nothing;

        let met_m = self
            .ranger
            .lost_at(hour)
            .map_or(plant_m, |lost| lost.met_m(options.mount_m + disturbances.knocked_m(hour), plant_m));
        // the nearest reflector in the cone is the one that is timed
        let nearest_m = [person_m, stray_m].into_iter().flatten().fold(met_m, f64::min);
        // what sits on the face is nearer than it can time
        let timed_m = if hears == Heard::Face { 0.0 } else { neighbour_m.unwrap_or(nearest_m) };
        let slip_s = disturbances.slips.at(hour).map_or(0.0, |span| span.what * CARRIER_PERIOD_S);
        let echo_s = 2.0 * timed_m / speed_m_s + slip_s;
        let heard = !missed && timed_m <= options.furthest_m;
        heard.then(|| echo_s * options.assumed_speed_m_s.unwrap_or(speed_m_s) / 2.0 + white_m)
    }

    /// A hung ranger repeats the value with which it hung.
    fn unless_frozen(&mut self, hour: f64, fresh_m: Option<f64>) -> Option<f64> {
        let hangs = self.ranger.lost_at(hour).is_some_and(|lost| lost.what == SideLoss::Frozen);
        if !hangs && self.ranger.disturbances.stuck.at(hour).is_none() {
            self.frozen_m = None;
            return fresh_m;
        }
        self.frozen_m = self.frozen_m.or(self.said_m);
        self.frozen_m
    }

    fn slow_noise_m(&mut self, hour: f64) -> f64 {
        let Some((sd_m, constant_h)) = self.ranger.disturbances.slow_noise else {
            return 0.0;
        };
        let kept = (-(hour - self.slow_hour) / constant_h).exp();
        self.slow_m = kept * self.slow_m + sd_m * (1.0 - kept * kept).sqrt() * self.slow.normal();
        self.slow_hour = hour;
        self.slow_m
    }

    /// A swing is over within seconds and keeps no time: a reading finds the plant anywhere in it.
    fn sway_m(&mut self, hour: f64) -> f64 {
        let Some(span) = self.ranger.disturbances.sway.at(hour) else { return 0.0 };
        span.what * (std::f64::consts::TAU * self.sway.between(0.0, 1.0)).sin()
    }

    fn person_m(&mut self, hour: f64, plant_m: f64) -> Option<f64> {
        let span = self.ranger.disturbances.people.at(hour)?;
        let person = span.what;
        let wander = 0.3 * self.people.normal()
            + (std::f64::consts::TAU * (hour - span.from_h) / person.period_h).sin();
        let stands_m = match self.ranger.place {
            Place::Tip => person.at_m,
            Place::Rim => plant_m - person.at_m,
        };
        self.people.chance(person.hides).then_some((stands_m + person.moves_m * wander).max(0.05))
    }

    fn stray_m(&mut self, plant_m: f64) -> Option<f64> {
        let share = self.ranger.disturbances.stray_share;
        if share <= 0.0 || !self.strays.chance(share) {
            return None;
        }
        Some(plant_m - self.strays.between(0.05, 0.5).min(0.8 * plant_m))
    }

    fn neighbour_m(&mut self, hour: f64, plant_m: f64) -> Option<f64> {
        let span = self.ranger.disturbances.neighbours.at(hour)?;
        let heard = span.what;
        let offset_m =
            heard.offset_m + heard.drift_m_h * (hour - span.from_h) + 0.01 * self.neighbours.normal();
        self.neighbours.chance(heard.share).then_some((plant_m + offset_m).max(0.05))
    }

    fn missed(&mut self, hour: f64) -> bool {
        let disturbances = &self.ranger.disturbances;
        let in_fog = disturbances.fog.at(hour).is_some_and(|span| self.fog.chance(span.what));
        let dropped = disturbances.dropout_share > 0.0 && self.dropouts.chance(disturbances.dropout_share);
        in_fog || dropped
    }
}

/// The middle one of what was heard; of an even number the lower of the two in the middle, as a small board takes it.
fn median(heard_m: &mut [f64]) -> Option<f64> {
    let middle = heard_m.len().checked_sub(1)? / 2;
    Some(*heard_m.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Sets the draws of a run apart from those that planned it.
pub(crate) const RUN_SALT: u64 = 0x9d7c_52e1_b37c_4a11;
