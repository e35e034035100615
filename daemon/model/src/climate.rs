//! The climate of the bench against its limits: what is told, and what is held back.
//!
//! One cause is one message. Temperature governs: while it is outside, moisture follows it and is not told beside it. A bench
//! that is too hot and one that is too dry have one noon, and one remedy. A warning is told once a day for each cause; what comes
//! back on the same day is held, and told in the morning if it still stands. An alarm is never held.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::air;
use crate::event::{Event, EventKind, Severity};
use crate::spec::{Band, Limits};
use crate::time::Time;

/// Outside a limit for this long before it is said, h: a door, a hose, a passing cloud are over sooner. Judgement.
const ON_DELAY_H: f64 = 10.0 / 60.0;
/// Inside again for this long before it is over, h. Judgement.
const OFF_DELAY_H: f64 = 10.0 / 60.0;
/// How far inside a limit the value must be to count as inside again, as a share of the band: it keeps a value at the limit quiet.
/// Judgement.
const DEADBAND: f64 = 0.02;

/// What is watched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClimateOf {
    /// Air temperature.
    Temperature,
    /// Relative humidity.
    Humidity,
    /// Vapour-pressure deficit.
    VapourPressureDeficit,
}

impl ClimateOf {
    /// In the order in which they govern: what is said of the first holds for the others.
    const ALL: [Self; 3] = [Self::Temperature, Self::Humidity, Self::VapourPressureDeficit];

    /// The word in events.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Temperature => "temperature",
            Self::Humidity => "humidity",
            Self::VapourPressureDeficit => "vapour-pressure-deficit",
        }
    }

    /// The words in messages.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Temperature => "temperature",
            Self::Humidity => "humidity",
            Self::VapourPressureDeficit => "vapour-pressure deficit",
        }
    }

    /// The unit in events.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Temperature => "Cel",
            Self::Humidity => "%RH",
            Self::VapourPressureDeficit => "kPa",
        }
    }
}

/// What is wrong with the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClimateCase {
    /// Below the temperature limits.
    TooCold,
    /// Above them.
    TooHot,
    /// Too little humidity, or too great a deficit.
    TooDry,
    /// Too much humidity, or too small a deficit.
    TooDamp,
}

/// What brings it about; its place among what was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cause {
    Cold = 0,
    /// The sun, or shade and mist that fail.
    HotOrDry = 1,
    Damp = 2,
}

impl Cause {
    const ALL: [Self; 3] = [Self::Cold, Self::HotOrDry, Self::Damp];
}

impl ClimateCase {
    const fn cause(self) -> Cause {
        match self {
            Self::TooCold => Cause::Cold,
            Self::TooHot | Self::TooDry => Cause::HotOrDry,
            Self::TooDamp => Cause::Damp,
        }
    }
}

/// A quantity beyond a limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Beyond {
    /// Of what.
    pub of: ClimateOf,
    /// Below the lower limit; otherwise above the upper one.
    pub below: bool,
    /// The value now.
    pub value: f64,
    /// The limit that was crossed.
    pub limit: f64,
    /// Since when it has been (or had been) outside.
    pub since: Time,
}

impl Beyond {
    /// What is wrong with the air.
    pub const fn case(&self) -> ClimateCase {
        match (self.of, self.below) {
            (ClimateOf::Temperature, true) => ClimateCase::TooCold,
            (ClimateOf::Temperature, false) => ClimateCase::TooHot,
            (ClimateOf::Humidity, true) | (ClimateOf::VapourPressureDeficit, false) => ClimateCase::TooDry,
            (ClimateOf::Humidity, false) | (ClimateOf::VapourPressureDeficit, true) => ClimateCase::TooDamp,
        }
    }

    /// Whether this goes before another when one message tells of both.
    fn governs(&self, other: &Self) -> bool {
        self.of == ClimateOf::Temperature && other.of != ClimateOf::Temperature
    }
}

/// What is to be told.
#[derive(Debug, Clone, PartialEq)]
pub enum ClimateNews {
    /// The air is outside its limits.
    Outside {
        /// The quantity that governs.
        beyond: Beyond,
        /// Beyond the `alarm_…` limits.
        alarm: bool,
        /// The id of an alarm whose place this one takes.
        ends: Option<String>,
    },
    /// What was told is over.
    Over {
        /// What had been told, with its value now.
        beyond: Beyond,
        /// What is still outside, short of an alarm.
        still: Option<Beyond>,
        /// The id of the alarm that ends.
        ends: Option<String>,
    },
}

/// One pair of limits.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
struct LimitWatch {
    outside_since: Option<Time>,
    inside_since: Option<Time>,
    /// It has been outside for long enough.
    out: bool,
    below: bool,
    limit: f64,
}

/// The alarm that stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct StandingAlarm {
    /// The id of the event that told it; empty for the moment in which it is told.
    id: String,
    beyond: Beyond,
}

/// The six watches of a bench, three quantities with a warning and an alarm each, and what was told of them.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ClimateWatch {
    /// The newest temperature, humidity and deficit.
    values: [Option<f64>; 3],
    warnings: [LimitWatch; 3],
    alarms: [LimitWatch; 3],
    /// When what changed is looked at: all that changed within a minute is one message.
    due: Option<Time>,
    /// The local date on which each cause was last told.
    told_on: [Option<NaiveDate>; 3],
    /// Whether heat itself was told on that date, and not only dryness.
    told_hot: bool,
    /// The warnings that stand, by their causes.
    standing: [Option<Beyond>; 3],
    alarm: Option<StandingAlarm>,
}

impl ClimateWatch {
    /// Takes the newest air.
    pub fn take(&mut self, temperature_c: f64, humidity_pct: Option<f64>, now: Time, limits: &Limits) {
        let deficit = humidity_pct.map(|humidity| air::vapour_pressure_deficit_kpa(temperature_c, humidity));
        let values = [Some(temperature_c), humidity_pct, deficit];
        let bands = [limits.temperature_c, limits.humidity_pct, limits.vpd_kpa];
        let alarm_bands = [limits.alarm_temperature_c, limits.alarm_humidity_pct, limits.alarm_vpd_kpa];
        for (kept, value) in self.values.iter_mut().zip(values) {
            *kept = value.or(*kept);
        }
        let mut changed = false;
        for (watches, bands) in [(&mut self.warnings, bands), (&mut self.alarms, alarm_bands)] {
            for ((watch, band), value) in watches.iter_mut().zip(bands).zip(values) {
                if let Some(value) = value {
                    changed |= watch.take(value, band, now);
                }
            }
        }
        if changed {
            let soon = now.next_minute();
            self.due = Some(self.due.map_or(soon, |due| due.min(soon)));
        }
    }

    /// When what changed is to be looked at.
    pub const fn due(&self) -> Option<Time> {
        self.due
    }

    /// Looks at what has changed; gives what is to be told. What is held is looked at again at the next `morning`.
    pub fn look(&mut self, today: NaiveDate, morning: Time, limits: &Limits) -> Vec<ClimateNews> {
        self.due = None;
        let mut news = Vec::new();
        let ended = self.look_at_alarms(today, &mut news);
        let mut over: Option<Beyond> = None;
        for cause in Cause::ALL {
            let place = cause as usize;
            match (self.outside(&self.warnings, cause), self.standing[place]) {
                (None, Some(told)) => {
                    self.standing[place] = None;
                    over = over.or(Some(self.now_of(told)));
                }
                (Some(beyond), None) => {
                    // an alarm has said it, graver
                    let said = self.alarm.as_ref().is_some_and(|alarm| alarm.beyond.case().cause() == cause);
                    if said {
                        self.standing[place] = Some(beyond);
                    } else if self.is_held(&beyond, today, limits) {
                        self.due = Some(morning);
                    } else {
                        self.standing[place] = Some(beyond);
                        self.note_told(&beyond, today);
                        news.push(ClimateNews::Outside { beyond, alarm: false, ends: None });
                    }
                }
                (Some(beyond), Some(_)) if self.is_unsaid_heat(&beyond, limits) => {
                    self.standing[place] = Some(beyond);
                    self.note_told(&beyond, today);
                    news.push(ClimateNews::Outside { beyond, alarm: false, ends: None });
                }
                _ => {}
            }
        }
        match (ended, over) {
            (Some(alarm), _) => {
                let still = self.outside(&self.warnings, alarm.beyond.case().cause());
                let beyond = self.now_of(alarm.beyond);
                news.push(ClimateNews::Over { beyond, still, ends: Some(alarm.id) });
            }
            (None, Some(beyond)) => news.push(ClimateNews::Over { beyond, still: None, ends: None }),
            (None, None) => {}
        }
        news
    }

    /// Keeps the id of an alarm that was told.
    pub fn told(&mut self, event: &Event) {
        if (event.kind, event.severity) == (EventKind::Climate, Severity::Alarm)
            && let Some(alarm) = &mut self.alarm
        {
            alarm.id.clone_from(&event.id);
        }
    }

    /// Raises the alarm if there is one to be raised; gives the one that ended.
    fn look_at_alarms(&mut self, today: NaiveDate, news: &mut Vec<ClimateNews>) -> Option<StandingAlarm> {
        let outside = Cause::ALL.into_iter().filter_map(|cause| self.outside(&self.alarms, cause));
        let gravest = outside.reduce(|first, other| if other.governs(&first) { other } else { first });
        let Some(beyond) = gravest else { return self.alarm.take() };
        let is_said = self.alarm.as_ref().is_some_and(|alarm| {
            alarm.beyond.case().cause() == beyond.case().cause() && !beyond.governs(&alarm.beyond)
        });
        if !is_said {
            let ends = self.alarm.replace(StandingAlarm { id: String::new(), beyond }).map(|alarm| alarm.id);
            self.note_told(&beyond, today);
            news.push(ClimateNews::Outside { beyond, alarm: true, ends });
        }
        None
    }

    /// Whether a warning waits: it was told today, or temperature tells it.
    fn is_held(&self, beyond: &Beyond, today: NaiveDate, limits: &Limits) -> bool {
        let cause = beyond.case().cause();
        let of_moisture = beyond.of != ClimateOf::Temperature;
        let follows = of_moisture && self.warnings[0].out.max(self.alarms[0].out);
        let told_today = self.told_on[cause as usize] == Some(today);
        follows || (told_today && !self.is_unsaid_heat(beyond, limits))
    }

    /// The heat of a noon that was told as dry waits only where an alarm stands behind it.
    fn is_unsaid_heat(&self, beyond: &Beyond, limits: &Limits) -> bool {
        beyond.case() == ClimateCase::TooHot && !self.told_hot && limits.alarm_temperature_c.is_none()
    }

    fn note_told(&mut self, beyond: &Beyond, today: NaiveDate) {
        let cause = beyond.case().cause();
        if cause == Cause::HotOrDry {
            let told_today = self.told_on[cause as usize] == Some(today);
            self.told_hot = beyond.case() == ClimateCase::TooHot || (told_today && self.told_hot);
        }
        self.told_on[cause as usize] = Some(today);
    }

    /// The quantity that governs, of those that are outside by that cause.
    fn outside(&self, watches: &[LimitWatch; 3], cause: Cause) -> Option<Beyond> {
        let watches = ClimateOf::ALL.into_iter().zip(watches).zip(self.values);
        let mut beyond = watches.filter(|((_, watch), _)| watch.out).filter_map(|((of, watch), value)| {
            let LimitWatch { below, limit, .. } = *watch;
            Some(Beyond { of, below, value: value?, limit, since: watch.outside_since? })
        });
        beyond.find(|beyond| beyond.case().cause() == cause)
    }

    /// The same with the value as it is now.
    fn now_of(&self, beyond: Beyond) -> Beyond {
        Beyond { value: self.values[beyond.of as usize].unwrap_or(beyond.value), ..beyond }
    }
}

impl LimitWatch {
    /// Takes a value; says whether it has now been outside, or inside again, for long enough.
    fn take(&mut self, value: f64, band: Option<Band>, now: Time) -> bool {
        // a limit that is configured no more is kept
        let Some(band) = band else { return std::mem::take(self).out };
        let at_the_other_side = if self.below { value > band.to } else { value < band.from };
        if self.out && at_the_other_side {
            *self = Self { outside_since: Some(now), ..Self::default() };
            return true;
        }
        if !self.out {
            if band.holds(value) {
                self.outside_since = None;
                return false;
            }
            let since = *self.outside_since.get_or_insert(now);
            self.below = value < band.from;
            self.limit = if self.below { band.from } else { band.to };
            self.inside_since = None;
            self.out = now.hours_since(since) >= ON_DELAY_H;
            return self.out;
        }
        let margin = DEADBAND * (band.to - band.from);
        if !(Band { from: band.from + margin, to: band.to - margin }).holds(value) {
            self.inside_since = None;
            return false;
        }
        let since = *self.inside_since.get_or_insert(now);
        self.out = now.hours_since(since) < OFF_DELAY_H;
        !self.out
    }
}
