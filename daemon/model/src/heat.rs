//! Heat for the people in the house: the heat index, and when it is said.
//!
//! The index is the algorithm of the US National Weather Service (Weather Prediction Center, "The Heat Index Equation",
//! www.wpc.ncep.noaa.gov/html/heatindex_equation.shtml): L. P. Rothfusz's regression of 1990 (NWS Technical Attachment SR 90-23) on
//! R. G. Steadman's tables of 1979, its two adjustments, and the simple formula where that gives less than 80 °F. It is made for the
//! shade and light wind; sun through glass adds to it. It is no medical statement.

use std::sync::Arc;
use std::time::Duration;

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::condition::{Condition, Delays};
use crate::time::Time;

/// The end of the printed chart, 137 °F, in °C. Beyond it the regression explodes (45 °C and 100 % give 153 °C) and says nothing.
pub const SCALE_ENDS_C: f64 = (137.0 - 32.0) / 1.8;
/// At or above a limit for this long before it is said: work on a hot bench begins with opening its vents. Judgement.
const BEGINS_AFTER: Duration = Duration::from_mins(10);
/// Below the lower limit for this long before the heat is over. Judgement.
const COOL_AFTER: Duration = Duration::from_mins(30);
/// Below the upper limit for this long before the alarm ends while it is still hot: mist and clouds come and go within an
/// afternoon, and who was told to stay out must not be called in and out. Judgement.
const COOLER_AFTER: Duration = Duration::from_hours(2);
/// Below means by this much, K, so that an index at the limit does not chatter. Judgement.
const DEADBAND_K: f64 = 1.0;
/// A bench whose air was last known longer ago than this says nothing of the house, h. Judgement.
const STALE_H: f64 = 1.0;
/// In a spell of hot days without a break the warning comes again after so many days. Judged: what is said daily is not read.
const REMINDED_AFTER_D: i64 = 7;

/// Heat index at which people are warned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatLimits {
    /// Heat, °C; 39.4 unless set: 103 °F, where the NWS chart's class "danger" begins (heat cramps and exhaustion likely).
    pub heat_c: f64,
    /// Great heat, °C; 51.7 unless set: 125 °F, where "extreme danger" begins (heat stroke likely).
    pub great_heat_c: f64,
}

impl Default for HeatLimits {
    fn default() -> Self {
        Self { heat_c: 39.4, great_heat_c: 51.7 }
    }
}

/// The heat index of air in the shade, °C, no more than [`SCALE_ENDS_C`]; that value means "above the scale".
///
/// Below about 25 °C it is near the temperature itself.
pub fn heat_index_c(temperature_c: f64, humidity_pct: f64) -> f64 {
    let index_f = heat_index_f(temperature_c * 1.8 + 32.0, humidity_pct);
    ((index_f - 32.0) / 1.8).min(SCALE_ENDS_C)
}

/// The algorithm as published, in °F and percent, without a cap.
fn heat_index_f(t: f64, r: f64) -> f64 {
    let simple = 0.5 * (t + 61.0 + (t - 68.0) * 1.2 + r * 0.094);
    if f64::midpoint(simple, t) < 80.0 {
        return simple;
    }
    let regression = -42.379 + 2.049_015_23 * t + 10.143_331_27 * r
        - 0.224_755_41 * t * r
        - 6.837_83e-3 * t * t
        - 5.481_717e-2 * r * r
        + 1.228_74e-3 * t * t * r
        + 8.528_2e-4 * t * r * r
        - 1.99e-6 * t * t * r * r;
    if r < 13.0 && (80.0..=112.0).contains(&t) {
        regression - (13.0 - r) / 4.0 * ((17.0 - (t - 95.0).abs()) / 17.0).sqrt()
    } else if r > 85.0 && (80.0..=87.0).contains(&t) {
        regression + (r - 85.0) / 10.0 * ((87.0 - t) / 5.0)
    } else {
        regression
    }
}

/// A class of the NWS chart, as far as people are told of it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum HeatLevel {
    /// Below "danger".
    #[default]
    Bearable,
    /// "Danger": heat cramps and exhaustion likely.
    Danger,
    /// "Extreme danger": heat stroke likely.
    ExtremeDanger,
}

impl HeatLevel {
    /// The chart's word; `None` below "danger".
    pub const fn name(self) -> Option<&'static str> {
        match self {
            Self::Bearable => None,
            Self::Danger => Some("danger"),
            Self::ExtremeDanger => Some("extreme-danger"),
        }
    }
}

/// How hot it is at one bench.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct HeatWatch {
    hot: Condition<Time>,
    extreme: Condition<Time>,
    seen: Option<Time>,
}

impl HeatWatch {
    /// Looks at the newest index.
    pub fn look(&mut self, index_c: f64, now: Time, limits: &HeatLimits) {
        self.seen = Some(now);
        let look = |condition: &mut Condition<Time>, limit_c: f64, end: Duration| {
            let margin_k = if condition.stands() { DEADBAND_K } else { 0.0 };
            condition.look(index_c + margin_k >= limit_c, now, Delays { begin: BEGINS_AFTER, end });
        };
        look(&mut self.hot, limits.heat_c, COOL_AFTER);
        look(&mut self.extreme, limits.great_heat_c, COOLER_AFTER);
        if !self.hot.stands() && self.extreme.stands() {
            self.extreme = Condition::default();
        }
    }

    /// The class of a bench that is still heard of.
    pub fn level(&self, now: Time) -> HeatLevel {
        let fresh = self.seen.is_some_and(|seen| now.hours_since(seen) < STALE_H);
        match (fresh && self.hot.stands(), self.extreme.stands()) {
            (true, true) => HeatLevel::ExtremeDanger,
            (true, false) => HeatLevel::Danger,
            (false, _) => HeatLevel::Bearable,
        }
    }
}

/// The air where it is hottest for people.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HottestAir {
    /// The class in which the house has been for long enough to say so.
    pub level: HeatLevel,
    /// The heat index, °C, no more than the end of its scale.
    pub heat_index_c: f64,
    /// Whether it lies above the scale.
    pub above_scale: bool,
    /// The bench.
    pub bench: Arc<str>,
    /// Air temperature there, °C.
    #[serde(skip)]
    pub temperature_c: f64,
    /// Relative humidity there, %.
    #[serde(skip)]
    pub humidity_pct: f64,
}

/// What is to be told to the house.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeatNews {
    /// It is hot.
    Hot(HeatLevel),
    /// The alarm that was raised at `alarm` ends.
    Over {
        /// Its instant.
        alarm: Time,
    },
}

/// What the house was told of heat. Each bench's state holds the same copy, so that a restart needs no state of the site.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct HouseHeat {
    /// The gravest class of any bench at the newest look.
    level: HeatLevel,
    /// When the alarm was raised that stands.
    alarm: Option<Time>,
    /// The local date of the newest warning or alarm.
    told_on: Option<NaiveDate>,
    /// The newest local date on which it was hot, told or not.
    hot_on: Option<NaiveDate>,
    /// When the house is looked at next.
    due: Option<Time>,
    /// When any of this changed: of several copies the newest holds.
    changed: Option<Time>,
}

impl HouseHeat {
    /// A bench has become hotter or cooler at `now`: the house is looked at on the minute after, so that benches that change together
    /// are told together.
    pub fn look_soon(&mut self, now: Time) {
        let soon = now.next_minute();
        self.due = Some(self.due.map_or(soon, |due| due.min(soon)));
        self.changed = Some(now);
    }

    /// When the house is looked at next.
    pub const fn due(&self) -> Option<Time> {
        self.due
    }

    /// Whether this copy is newer than another.
    pub fn is_newer_than(&self, other: &Self) -> bool {
        self.changed > other.changed
    }

    /// Looks at the gravest class of any bench. `morning` is the next one: while it is hot the house is looked at daily.
    ///
    /// "Extreme danger" is told at once, each time. "Danger" is told on the first day of a hot spell, and in a spell without a cooler
    /// day between again after a week: at most once a day.
    pub fn look(&mut self, level: HeatLevel, now: Time, today: NaiveDate, morning: Time) -> Option<HeatNews> {
        let days_since = |date: Option<NaiveDate>| date.map_or(i64::MAX, |date| (today - date).num_days());
        let was = std::mem::replace(&mut self.level, level);
        let news = match self.alarm {
            None if level == HeatLevel::ExtremeDanger => Some(HeatNews::Hot(level)),
            Some(alarm) if level < HeatLevel::ExtremeDanger => Some(HeatNews::Over { alarm }),
            None if level == HeatLevel::Danger => {
                let a_new_spell = was == HeatLevel::Bearable && days_since(self.hot_on) > 1;
                let is_news = a_new_spell || days_since(self.told_on) >= REMINDED_AFTER_D;
                is_news.then_some(HeatNews::Hot(level))
            }
            _ => None,
        };
        if let Some(HeatNews::Hot(_)) = news {
            self.told_on = Some(today);
        }
        self.alarm = match news {
            Some(HeatNews::Hot(HeatLevel::ExtremeDanger)) => Some(now),
            Some(HeatNews::Over { .. }) => None,
            _ => self.alarm,
        };
        if was.max(level) > HeatLevel::Bearable {
            self.hot_on = Some(today);
        }
        self.wait(level > HeatLevel::Bearable || self.alarm.is_some(), now, morning);
        news
    }

    /// No bench's air is known: nothing is said of it, and what stands goes on standing.
    pub fn pass_over(&mut self, now: Time, morning: Time) {
        self.wait(self.level > HeatLevel::Bearable || self.alarm.is_some(), now, morning);
    }

    fn wait(&mut self, on: bool, now: Time, morning: Time) {
        self.due = on.then_some(morning);
        self.changed = Some(now);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: HeatLimits = HeatLimits { heat_c: 39.4, great_heat_c: 51.7 };

    /// Levels after looking every minute at an index that `at` gives for each minute.
    fn levels(minutes: i64, at: impl Fn(i64) -> f64) -> Vec<HeatLevel> {
        let mut watch = HeatWatch::default();
        (0..minutes)
            .map(|minute| {
                let now = Time::from_unix_ms(minute * 60_000);
                watch.look(at(minute), now, &LIMITS);
                watch.level(now)
            })
            .collect()
    }

    #[test]
    fn heat_is_said_after_ten_minutes_and_is_over_after_half_an_hour() {
        let levels = levels(120, |minute| if (20..60).contains(&minute) { 42.0 } else { 30.0 });
        let hot: Vec<usize> = (0..120).filter(|at| levels[*at] > HeatLevel::Bearable).collect();
        assert_eq!((hot.first(), hot.last()), (Some(&30), Some(&89)));
    }

    #[test]
    fn an_index_at_the_limit_does_not_chatter() {
        let swings = levels(600, |minute| 39.4 + if minute % 20 < 12 { 0.3 } else { -0.5 });
        let changes = swings.windows(2).filter(|pair| pair[0] != pair[1]).count();
        assert_eq!(changes, 1);
        assert_eq!(
            levels(600, |minute| if minute % 10 < 9 { 45.0 } else { 30.0 }).iter().max(),
            Some(&HeatLevel::Bearable)
        );
    }

    #[test]
    fn extreme_heat_ends_after_two_cooler_hours_or_half_an_hour_of_none() {
        use HeatLevel::{Bearable, Danger, ExtremeDanger};
        let levels = levels(400, |minute| match minute {
            0..60 => 45.0,
            60..120 => 55.0,
            120..150 => 45.0,
            150..160 => 53.0,
            160..300 => 45.0,
            _ => 20.0,
        });
        let at = |minute: usize| levels[minute];
        assert_eq!(
            (at(59), at(119), at(155), at(279), at(280), at(329), at(330)),
            (Danger, ExtremeDanger, ExtremeDanger, ExtremeDanger, Danger, Danger, Bearable)
        );
    }

    /// What the house is told when it is looked at on so many days of June 2027 at noon, each with the gravest class of that day and
    /// cool in between.
    fn told(days: &[HeatLevel]) -> Vec<Option<HeatLevel>> {
        let mut house = HouseHeat::default();
        let look = |house: &mut HouseHeat, level, day: u32, hour: u32| {
            let date = NaiveDate::from_ymd_opt(2027, 6, day).unwrap();
            let now = Time::from(date.and_hms_opt(hour, 0, 0).unwrap().and_utc());
            house.look(level, now, date, now.plus_hours(12.0))
        };
        let noons = days.iter().zip(1..).map(|(level, day)| {
            let news = look(&mut house, *level, day, 12);
            look(&mut house, HeatLevel::Bearable, day, 20);
            match news {
                Some(HeatNews::Hot(level)) => Some(level),
                _ => None,
            }
        });
        noons.collect()
    }

    #[test]
    fn of_a_spell_the_first_day_is_told_and_each_alarm() {
        use HeatLevel::{Bearable, Danger, ExtremeDanger};
        let (hot, alarm) = (Some(Danger), Some(ExtremeDanger));
        assert_eq!(told(&[Danger, Danger, Danger]), [hot, None, None]);
        assert_eq!(told(&[Danger, Bearable, Danger]), [hot, None, hot], "a cooler day between");
        assert_eq!(told(&[Danger, ExtremeDanger, ExtremeDanger]), [hot, alarm, alarm]);
        assert_eq!(told(&[Danger; 9]), [hot, None, None, None, None, None, None, hot, None], "a week on");
    }

    #[test]
    fn an_alarm_stands_until_it_is_cooler_and_a_day_has_one_warning() {
        let mut house = HouseHeat::default();
        let date = NaiveDate::from_ymd_opt(2027, 6, 1).unwrap();
        let at = |hour: u32| Time::from(date.and_hms_opt(hour, 0, 0).unwrap().and_utc());
        let mut look = |level, hour| house.look(level, at(hour), date, at(23));
        assert_eq!(look(HeatLevel::Danger, 10), Some(HeatNews::Hot(HeatLevel::Danger)));
        assert_eq!(look(HeatLevel::Bearable, 11), None, "a warning does not stand");
        assert_eq!(look(HeatLevel::Danger, 12), None, "once a day");
        assert_eq!(look(HeatLevel::ExtremeDanger, 13), Some(HeatNews::Hot(HeatLevel::ExtremeDanger)));
        assert_eq!(look(HeatLevel::ExtremeDanger, 14), None);
        assert_eq!(look(HeatLevel::Danger, 15), Some(HeatNews::Over { alarm: at(13) }));
        assert_eq!(look(HeatLevel::ExtremeDanger, 16), Some(HeatNews::Hot(HeatLevel::ExtremeDanger)));
        assert_eq!(look(HeatLevel::Bearable, 18), Some(HeatNews::Over { alarm: at(16) }));
        assert_eq!(house.due(), None);
    }
}
