//! One watched place: readings in, events out.
//!
//! A reading takes one path: air and sensors → track → opening night; the hour and the morning are looked at when they are due.

mod after_opening;
mod air;
mod bud;
mod climate;
mod course;
mod doubt;
mod full_opening;
mod grows_on;
mod growth;
mod heat_stress;
mod opening_alarm;
mod opening_night;
mod outlook;
mod raise;
mod seeing;
mod sensors;
mod signs;
mod state;
mod test_alarm;
mod view;

use std::sync::Arc;

use chrono::Datelike;

use crate::bloom::Bloom;
use crate::event::Event;
use crate::growth::figures::TapedHeights;
use crate::quantity::Quantity;
use crate::ranging::{Held, true_distance_m};
use crate::reading::{Observed, Taken};
use crate::spec::{BenchSpec, Mount, SiteSpec};
use crate::stage::{Stage, Turn};
use crate::time::Time;
use crate::track::{Motion, Track};

pub use state::{BenchState, STATE_VERSION, degree_day_counter};
pub use test_alarm::TEST_STANDS_FOR;
pub use view::BenchView;

/// One watched place.
#[derive(Debug)]
pub struct Bench {
    site: Arc<SiteSpec>,
    spec: BenchSpec,
    state: BenchState,
}

impl Bench {
    /// A bench that has seen nothing yet.
    pub fn new(site: &Arc<SiteSpec>, spec: BenchSpec) -> Self {
        let state = BenchState::new(&spec);
        Self { site: Arc::clone(site), spec, state }
    }

    /// The bench as configured.
    pub fn spec(&self) -> &BenchSpec {
        &self.spec
    }

    /// The overhead ranger's target, cleaned: positions are heights over the datum.
    pub fn tip(&self) -> &Track {
        &self.state.tip
    }

    /// The side ranger's target, cleaned: positions are how far the rim stands out from the closed one.
    pub fn rim(&self) -> &Track {
        &self.state.rim
    }

    /// The newest instant of any reading.
    pub fn newest(&self) -> Option<Time> {
        self.state.newest
    }

    /// Tells a reading. Values of sensors that are no newer than the newest of their quantity change nothing.
    pub fn take(&mut self, time: Time, observed: &Observed, events: &mut Vec<Event>) -> Taken {
        let taken = match *observed {
            Observed::Value(quantity, value) if quantity.by_hand() => self.take_taped(time, quantity, value),
            Observed::Value(quantity, value) => {
                if !self.state.sensors.take(quantity, time, value, self.site.silent_after) {
                    return Taken::ByTheRecord;
                }
                self.take_measured(time, quantity, value, events);
                Taken::ByTheModel
            }
            Observed::Sign(sign) => self.take_sign(time, sign, events),
        };
        if self.state.newest.is_none_or(|newest| newest < time) {
            self.state.newest = Some(time);
        }
        self.watch_from(time);
        taken
    }

    /// The bench is watched from this instant on, if it has not been before.
    pub fn watch_from(&mut self, time: Time) {
        if self.state.next_hour.is_none() {
            self.state.sensors.begin(time, self.site.silent_after);
            self.state.next_hour = Some(next_hour(time));
        }
    }

    fn take_taped(&mut self, time: Time, quantity: Quantity, value: f64) -> Taken {
        match quantity {
            Quantity::Height => {
                let over_m = self.ranger_height_m(time).map(|level_m| value - level_m);
                if !self.state.taped.add(time, value, over_m) {
                    return Taken::ByTheRecord;
                }
                self.hold_ranger_against_tape(over_m);
                Taken::ByTheModel
            }
            _ => Taken::ByTheModel,
        }
    }

    fn take_measured(&mut self, time: Time, quantity: Quantity, value: f64, events: &mut Vec<Event>) {
        match quantity {
            Quantity::Temperature => {
                Held::take_into(&mut self.state.air.temperature_c, value, time);
                self.state.heat.take(time, value);
                self.state.spadix.take_air(time, value);
                self.take_air(time);
            }
            Quantity::Humidity => {
                Held::take_into(&mut self.state.air.humidity_pct, value, time);
                self.take_air(time);
            }
            Quantity::SpadixTemperature => {
                Held::take_into(&mut self.state.spadix_c, value, time);
                self.look_at_spadix(time, value, events);
            }
            Quantity::TipRange => {
                if self.state.tip.is_stale(self.repeats(quantity)) {
                    return;
                }
                if let Some(mount) = moved(self.spec.tip, self.state.moved_tip_m) {
                    let position = self.position_m(time, value, &mount);
                    let motion = self.tip_motion(&mount);
                    if self.state.tip.take(time, position, &motion).iter().any(Option::is_some) {
                        self.look_at_tip(time, events);
                    }
                }
            }
            Quantity::RimRange => self.take_side_range(time, value, events),
            other => self.state.climate.take(other.into(), value, time, &self.spec.limits),
        }
        if self.state.sensors.any_out() {
            self.look_for_recovery(time, events);
        }
    }

    fn take_side_range(&mut self, time: Time, value: f64, events: &mut Vec<Event>) {
        let Some(mount) = moved(self.spec.rim, self.state.moved_rim_m) else { return };
        let speed = self.speed_of_sound_m_s(time);
        self.state.figures.take(time, value, mount.assumed_speed_m_s.map(|_| speed));
        let (position, motion) = (self.position_m(time, value, &mount), self.rim_motion(&mount));
        self.state.edge.take(time, motion.is_plausible(position));
        if self.state.rim.is_stale(self.repeats(Quantity::RimRange)) {
            return;
        }
        let before_m = self.state.rim.raw_m();
        for finding in self.state.rim.take(time, position, &motion).into_iter().flatten() {
            self.state.edge.found(finding, before_m, &self.state.rim, time);
            self.look_at_rim(time, finding, events);
        }
    }

    /// How often a quantity has repeated its newest figure.
    fn repeats(&self, quantity: Quantity) -> u32 {
        self.state.sensors.newest(quantity).map_or(0, |held| held.run)
    }

    fn position_m(&self, time: Time, reported_m: f64, mount: &Mount) -> f64 {
        mount.distance_m - true_distance_m(reported_m, mount, self.speed_of_sound_m_s(time))
    }

    fn tip_motion(&self, mount: &Mount) -> Motion {
        let growth_m_h = self.spec.profile.bud_growth_max_cm_day / 100.0 / 24.0;
        Motion {
            // one and a half times what has been seen over a day, for the hours that are faster than the day
            towards_m_h: 1.5 * growth_m_h,
            away_m_h: 0.5 * growth_m_h,
            rate_change_m_h: growth_m_h,
            found_moved_m: 0.0,
            on_its_way: false,
            jumps_back_tell: false,
            plausible_m: (-0.3, mount.distance_m - 0.02),
        }
    }

    fn rim_motion(&self, mount: &Mount) -> Motion {
        let profile = &self.spec.profile;
        let fastest_m_h = profile.rim_speed_max_cm_hour / 100.0;
        Motion {
            towards_m_h: fastest_m_h,
            away_m_h: fastest_m_h,
            rate_change_m_h: 0.2 * fastest_m_h,
            found_moved_m: profile.found_open_advance_cm / 100.0,
            on_its_way: self.stage().is_some_and(Stage::is_open),
            jumps_back_tell: true,
            plausible_m: (-0.3, mount.distance_m - 0.02),
        }
    }

    /// The next instant at which something is due.
    pub fn next_due(&self) -> Option<Time> {
        let state = &self.state;
        let dues = [
            state.next_hour,
            state.next_morning,
            state.test_due,
            state.climate.due(),
            state.sensors.next_look(),
            self.opening_due(),
        ];
        dues.into_iter().flatten().min()
    }

    /// Passes one due instant.
    pub fn pass(&mut self, due: Time, events: &mut Vec<Event>) {
        if self.state.sensors.next_look() == Some(due) {
            self.look_for_silence(due, events);
        }
        if self.opening_due() == Some(due) {
            self.pass_opening_due(due, events);
        }
        if self.state.climate.due() == Some(due) {
            self.look_at_limits(due, events);
        }
        if self.state.next_hour == Some(due) {
            self.state.next_hour = Some(next_hour(due));
            self.look_at_the_hour(due, events);
        }
        if self.state.next_morning == Some(due) {
            self.state.next_morning = self
                .state
                .bloom
                .as_ref()
                .is_some_and(|bloom| bloom.stage.in_bud())
                .then(|| due.next_local_hour(self.site.morning_hour, self.site.timezone));
            self.tell_the_morning(due, events);
        }
        if self.state.test_due == Some(due) {
            self.tell_test(due, events);
        }
    }

    /// Starts a bloom: its id is the bench, the local year and a letter.
    fn start_bloom(&mut self, time: Time) {
        let year = time.local_date(self.site.timezone).year();
        let number = if self.state.blooms.0 == year { self.state.blooms.1.saturating_add(1) } else { 1 };
        self.state.blooms = (year, number);
        let letter = char::from(b'a' + (number - 1).min(25));
        let id = format!("{}-{year}{letter}", self.spec.id);
        let heat = (self.state.heat.degree_days(), self.state.heat.covered_days());
        self.state.bloom = Some(Bloom::new(id.into(), (time, self.height_m(time)), heat));
        self.state.resting_until = None;
        self.state.next_morning = Some(time.next_local_hour(self.site.morning_hour, self.site.timezone));
        self.state.sensors.tell_anew(time);
    }

    /// Ends the bloom that is; the bench rests before the next bud can be seen.
    fn end_bloom(&mut self, time: Time) {
        self.learn_from_the_bloom();
        self.state.bloom = None;
        self.state.next_morning = None;
        self.state.test_due = None;
        self.state.resting_until = Some(time.plus_hours(24.0 * self.spec.profile.resting_d));
        self.state.opening_watch.rest_at(time);
        self.state.signs.clear();
        self.state.taped = TapedHeights::default();
        self.state.tape_over_ranger_m = None;
    }

    /// Takes a turn in the life of the bloom; `false` where there is none or its stage does not allow that turn.
    fn turn(&mut self, turn: Turn) -> bool {
        self.state.bloom.as_mut().is_some_and(|bloom| bloom.turn(turn))
    }

    /// Whether what moves is left alone: the remains of a bloom, or a leaf.
    fn is_resting(&self, now: Time) -> bool {
        self.state.resting_until.is_some_and(|until| until > now)
    }

    fn stage(&self) -> Option<Stage> {
        self.state.bloom.as_ref().map(|bloom| bloom.stage)
    }
}

fn moved(mount: Option<Mount>, moved_m: Option<f64>) -> Option<Mount> {
    mount.map(|mount| Mount { distance_m: moved_m.unwrap_or(mount.distance_m), ..mount })
}

/// The next full hour after an instant.
fn next_hour(time: Time) -> Time {
    const HOUR_MS: i64 = 3_600_000;
    Time::from_unix_ms((time.unix_ms().div_euclid(HOUR_MS) + 1) * HOUR_MS)
}
