//! One season of one bench, drawn from a seed.

use bloom_model::event::Window;
use bloom_model::time::Time;

use crate::bookings;
use crate::bookings::Observation;
use crate::calendar::Calendar;
use crate::calendar::ZONE;
use crate::dice::{Concern, Dice};
use crate::disturbance::{Disturbances, Place};
use crate::edge::EdgeHearing;
use crate::growth::Growth;
use crate::house::{Air, House, spadix_heat_k};
use crate::options::{RangerOptions, SeasonOptions};
use crate::plant::PlantDraw;
use crate::ranger::Ranger;
use crate::rim::Rim;
use crate::schedule::Schedule;
use crate::side_loss::LostSide;
use crate::trouble::{Trouble, Troubles};
use crate::truth::{Knock, SideLost, Truth};

/// A plant keeps this far from the overhead ranger, m.
const CLEAR_OF_RANGER_M: f64 = 0.35;
/// One season of one bench: the plant, the house, the sensors and what happens to them.
#[derive(Debug, Clone)]
pub struct Season {
    pub(crate) seed: u64,
    pub(crate) options: SeasonOptions,
    pub(crate) calendar: Calendar,
    pub(crate) hours: usize,
    pub(crate) house: House,
    pub(crate) tip: Option<Ranger>,
    pub(crate) rim: Option<Ranger>,
    pub(crate) thermometer: Thermometer,
    pub(crate) power_cuts: Schedule<()>,
    pub(crate) bookings: Vec<Observation>,
    pub(crate) hearing: EdgeHearing,
    /// Before this hour no ranger hangs.
    pub(crate) hung_h: f64,
    growth: Growth,
    pub(crate) spathe: Rim,
    spadix_heat_k: f64,
    truth: Truth,
}

/// How far the thermometer can be believed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Thermometer {
    pub(crate) bias_c: f64,
    pub(crate) lag_h: f64,
    pub(crate) stuck: Schedule<()>,
}

impl Season {
    /// What people taped and booked, in order of time.
    pub fn bookings(&self) -> &[Observation] {
        &self.bookings
    }

    /// The zone whose clocks the plant keeps.
    pub const fn zone(&self) -> chrono_tz::Tz {
        ZONE
    }

    /// Draws a season. The same seed and options give the same season, and each option changes only what it names.
    pub fn draw(seed: u64, options: &SeasonOptions) -> Self {
        let tallest_m = options.tip.map_or(2.75, |tip| (tip.mount_m - CLEAR_OF_RANGER_M).min(2.75)).max(0.85);
        let mut plant = PlantDraw::draw(&mut Dice::new(seed, Concern::Plant), &options.plant, tallest_m);
        let hours = plant.last_h;
        let house = House::draw(
            seed,
            &plant.calendar,
            hours,
            &plant.hot_days,
            options.troubles,
            options.pressure_kpa,
        );
        plant.hang_slack(&house);
        let hearing = EdgeHearing::draw(seed, options.edge, &mut plant);
        let hung_h = options.hung_d_before.map_or(0.0, |[least_d, most_d]| {
            plant.ends_h - 24.0 * Dice::new(seed, Concern::Hanging).between(least_d, most_d)
        });
        let growth = Growth::new(plant.growth.clone(), hours + 24);
        let bookings = bookings::draw(seed, options, &plant, &growth);

        let until_h = hours as f64;
        let crack_h = plant.spathe.opening.map(|opening| opening.crack_h);
        let ranger = |asked: Option<RangerOptions>, place| {
            asked.map(|asked| {
                let disturbances =
                    Disturbances::draw(seed, place, options.troubles, until_h, crack_h, &house);
                Ranger::draw(seed, asked, place, disturbances)
            })
        };
        let lost = options.side_loss.map(|what| LostSide::draw(seed, what, crack_h.unwrap_or(until_h)));
        let tip = ranger(options.tip, Place::Tip);
        let mut rim = ranger(options.rim, Place::Rim);
        if let Some(rim) = &mut rim {
            rim.lost = lost;
        }
        let power_cuts = dice_for(seed, options.troubles, Trouble::PowerCuts).map(|mut dice| {
            Schedule::scattered(&mut dice, until_h, 600.0, |dice| (dice.log_between(0.3, 14.0), ()))
        });
        let mut season = Self {
            seed,
            options: options.clone(),
            calendar: plant.calendar,
            hours,
            house,
            tip,
            rim,
            thermometer: Thermometer::draw(seed, options.troubles, until_h),
            power_cuts: power_cuts.unwrap_or_default(),
            bookings,
            truth: plant.truth(seed, options, &growth),
            hearing,
            hung_h,
            growth,
            spathe: plant.spathe,
            spadix_heat_k: plant.spadix_heat_k,
        };
        season.own_up_to_troubles();
        season
    }

    /// What really happens.
    pub const fn truth(&self) -> &Truth {
        &self.truth
    }

    /// What was asked for.
    pub const fn options(&self) -> &SeasonOptions {
        &self.options
    }

    /// True height of the tip above the datum, m.
    pub fn height_m(&self, time: Time) -> f64 {
        self.height_at_m(self.calendar.hour(time))
    }

    /// True advance of the nearest edge towards the side ranger since the first day, m: swelling, gaps and opening.
    pub fn rim_advance_m(&self, time: Time) -> f64 {
        self.advance_at_m(self.calendar.hour(time))
    }

    /// True distance from the overhead ranger, where it hangs now, to the tip, m.
    pub fn tip_distance_m(&self, time: Time) -> Option<f64> {
        let hour = self.calendar.hour(time);
        self.tip.as_ref().map(|ranger| ranger.distance_m(hour, self.height_at_m(hour)))
    }

    /// True distance from the side ranger, where it stands now, to the rim, m.
    pub fn rim_distance_m(&self, time: Time) -> Option<f64> {
        let hour = self.calendar.hour(time);
        self.rim.as_ref().map(|ranger| ranger.distance_m(hour, self.advance_at_m(hour)))
    }

    /// Standard deviation of the white noise of the overhead and the side ranger, m.
    pub fn noise_sd_m(&self) -> (Option<f64>, Option<f64>) {
        (self.tip.as_ref().map(Ranger::noise_sd_m), self.rim.as_ref().map(Ranger::noise_sd_m))
    }

    /// The true air around the bench.
    pub fn air(&self, time: Time) -> Air {
        self.house.air(self.calendar.hour(time))
    }

    pub(crate) fn height_at_m(&self, hour: f64) -> f64 {
        self.growth.height_m(hour)
    }

    pub(crate) fn advance_at_m(&self, hour: f64) -> f64 {
        self.spathe.advance_m(hour)
    }

    pub(crate) fn spadix_above_air_k(&self, hour: f64) -> f64 {
        self.spathe.opening.map_or(0.0, |opening| spadix_heat_k(hour - opening.crack_h, self.spadix_heat_k))
    }

    fn own_up_to_troubles(&mut self) {
        let window = |from_h, until_h| self.calendar.window(from_h, until_h);
        let mut knocks = Vec::new();
        let mut people: Vec<Window> = Vec::new();
        for ranger in [&self.tip, &self.rim].into_iter().flatten() {
            let quantity = match ranger.place {
                Place::Tip => "tip-range",
                Place::Rim => "rim-range",
            };
            knocks.extend(ranger.disturbances.knocks.iter().map(|(hour, step_m)| Knock {
                time: self.calendar.time(*hour),
                quantity,
                step_m: *step_m,
            }));
            let visits = ranger.disturbances.people.spans();
            people.extend(visits.iter().map(|span| window(span.from_h, span.until_h)));
        }
        people.sort_by_key(|visit| visit.from);
        let lost = self.rim.as_ref().and_then(|ranger| ranger.lost);
        self.truth.side_lost =
            lost.map(|lost| SideLost { time: self.calendar.time(lost.from_h), apart_m: lost.apart_m });
        let cuts = self.power_cuts.spans().iter().map(|span| window(span.from_h, span.until_h));
        self.truth.power_cuts = cuts.collect();
        self.truth.knocks = knocks;
        self.truth.people = people;
    }
}

fn dice_for(seed: u64, troubles: Troubles, trouble: Trouble) -> Option<Dice> {
    troubles.has(trouble).then(|| Dice::new(seed, Concern::Trouble(trouble, 0)))
}

impl Thermometer {
    fn draw(seed: u64, troubles: Troubles, until_h: f64) -> Self {
        let dice = |trouble| dice_for(seed, troubles, trouble);
        let stuck = dice(Trouble::ThermometerStuck).map(|mut dice| {
            Schedule::scattered(&mut dice, until_h, 350.0, |dice| (dice.log_between(1.0, 30.0), ()))
        });
        Self {
            bias_c: dice(Trouble::ThermometerBias)
                .map_or(0.0, |mut dice| dice.sign() * dice.between(0.5, 1.0)),
            lag_h: dice(Trouble::ThermometerLag).map_or(0.0, |mut dice| dice.between(10.0, 30.0) / 60.0),
            stuck: stuck.unwrap_or_default(),
        }
    }
}
