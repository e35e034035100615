//! A rim under the watch, minute by minute, for the rules of the opening.

use crate::opening::*;

pub(super) const START: Time = Time::from_unix_ms(1_811_905_200_000);

pub(super) fn at(hours: f64) -> Time {
    START.plus_hours(hours)
}

/// The figures that the service brings along.
pub(crate) fn titan_arum() -> Profile {
    let text = include_str!("../../../../../config/profiles/titan-arum.toml");
    let document: toml::Table = text.parse().unwrap();
    let numbers =
        document.iter().filter_map(|(key, entry)| Some((key.as_str(), entry.get("value")?.as_float()?)));
    let known = numbers.filter(|(key, _)| Profile::KEYS.contains(key));
    Profile::from_numbers("titan-arum", "Amorphophallus titanum", known).unwrap()
}

/// A bud that may open any afternoon.
pub(super) fn ripe() -> Circumstances {
    Circumstances {
        local_hour: 15.0,
        growth_share: Some(0.3),
        bud_age_d: Some(40.0),
        ripe_by_sign: false,
        air_known: true,
        temperature_c: Some(27.0),
        spadix_above_air_k: None,
    }
}

/// A bud in the first half of the shortest time that any has taken, and no more known of it.
pub(super) fn young() -> Circumstances {
    Circumstances { growth_share: None, bud_age_d: Some(10.0), ..ripe() }
}

/// A bud that grows as fast as ever.
pub(super) fn growing() -> Circumstances {
    Circumstances { growth_share: Some(0.95), ..ripe() }
}

/// Where the closed rim is: no rule is to depend on it.
pub(super) const CLOSED_M: f64 = 0.3;

/// A rim under the watch, told every minute, with a millimetre of noise either way.
pub(super) struct Night {
    pub(super) rings: Rings,
    pub(super) watch: OpeningWatch,
    pub(super) profile: Profile,
    pub(super) around: Circumstances,
    pub(super) noise_m: fn(i32) -> f64,
    pub(super) minute: i32,
}

impl Night {
    /// One that has stood where it is for half a day.
    pub(super) fn after_rest(around: Circumstances) -> Self {
        let mut night = Self::beginning(around);
        night.stands(0.0, 12.5);
        night
    }

    pub(super) fn beginning(around: Circumstances) -> Self {
        let (rings, watch) = (Rings::default(), OpeningWatch::default());
        let noise_m = |minute: i32| (f64::from(minute * 7919 % 1009) / 1009.0 - 0.5) * 0.002;
        Self { rings, watch, profile: titan_arum(), around, noise_m, minute: 0 }
    }

    pub(super) fn now(&self) -> Time {
        at(f64::from(self.minute) / 60.0)
    }

    /// A minute on, with the rim so far from where it is closed.
    pub(super) fn is_at(&mut self, metres: f64) {
        self.minute += 1;
        let position_m = CLOSED_M + metres + (self.noise_m)(self.minute);
        self.rings.push(Sample { time: self.now(), position_m });
    }

    /// Moves so for up to so many hours; gives after how many it was told, and on what evidence.
    pub(super) fn moves(&mut self, hours: f64, metres: impl Fn(f64) -> f64) -> Option<(f64, Evidence)> {
        for minute in 1..=(hours * 60.0).round() as i32 {
            let gone_h = f64::from(minute) / 60.0;
            self.is_at(metres(gone_h));
            let told = self.watch.look(&self.rings, self.now(), &self.around, &self.profile, true);
            if let Some(evidence) = told {
                return Some((gone_h, evidence));
            }
        }
        None
    }

    pub(super) fn stands(&mut self, metres: f64, hours: f64) {
        assert!(self.moves(hours, |_| metres).is_none(), "a rim that stands still is no opening");
    }

    /// Nothing is read for so long; afterwards the rim is found there.
    pub(super) fn blind(&mut self, hours: f64, found_m: f64) {
        let before = self.rings.newest().unwrap();
        self.minute += (hours * 60.0).round() as i32;
        self.is_at(found_m);
        self.watch.returned(before, self.rings.newest().unwrap());
    }

    pub(super) fn turned_back(&self, highest_m: f64, advance_m: f64) -> bool {
        self.watch.turned_back(&self.rings, self.now(), CLOSED_M + highest_m, advance_m, &self.profile)
    }

    /// The plant's own level, from where it is closed, and rate.
    pub(super) fn baseline(&self) -> (f64, f64) {
        let (lowest_m, rate_m_h) = self.watch.baseline(&self.rings, self.now()).unwrap();
        (lowest_m - CLOSED_M, rate_m_h)
    }
}

/// A rim that sways by a centimetre, so that the median of every three readings is where it really is.
pub(super) const fn sways(minute: i32) -> f64 {
    (minute % 3 - 1) as f64 * 0.01
}

/// A rim that opens as half a cosine.
pub(super) fn opens(full_m: f64, lasts_h: f64) -> impl Fn(f64) -> f64 {
    move |hours| full_m * (1.0 - (std::f64::consts::PI * hours / lasts_h).cos()) / 2.0
}

pub(super) fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found}, and not {expected}");
}
