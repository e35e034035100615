//! Heat for the people in the house: the heat index, and when it is said.
//!
//! The index is the algorithm of the US National Weather Service (Weather Prediction Center, "The Heat Index Equation",
//! www.wpc.ncep.noaa.gov/html/heatindex_equation.shtml): L. P. Rothfusz's regression of 1990 (NWS Technical Attachment SR 90-23) on
//! R. G. Steadman's tables of 1979, its two adjustments, and the simple formula where that gives less than 80 °F. It is made for the
//! shade and light wind; sun through glass adds to it. It is no medical statement.

use serde::{Deserialize, Serialize};

use crate::time::Time;

/// The end of the printed chart, 137 °F, in °C. Beyond it the regression explodes (45 °C and 100 % give 153 °C) and says nothing.
pub const SCALE_ENDS_C: f64 = (137.0 - 32.0) / 1.8;
/// At or above a limit for this long before it is said, h: work on a hot bench begins with opening its vents. Judgement.
const ON_DELAY_H: f64 = 10.0 / 60.0;
/// Below it for this long before it is over, h. Judgement.
const OFF_DELAY_H: f64 = 0.5;
/// Below means by this much, K, so that an index at the limit does not chatter. Judgement.
const DEADBAND_K: f64 = 1.0;
/// A bench whose air was last known longer ago than this says nothing of the house, h. Judgement.
const STALE_H: f64 = 1.0;

/// Heat index at which people are cautioned.
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

/// How hot it is at one bench, and what was said of it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct HeatWatch {
    level: u8,
    hotter_since: Option<Time>,
    cooler_since: Option<Time>,
    seen: Option<Time>,
    /// The gravest level that this bench has said for the house and not taken back.
    pub told: u8,
}

impl HeatWatch {
    /// Looks at the newest index.
    pub fn look(&mut self, index_c: f64, now: Time, limits: &HeatLimits) {
        self.seen = Some(now);
        let level_of =
            |index_c: f64| u8::from(index_c >= limits.heat_c) + u8::from(index_c >= limits.great_heat_c);
        let (level, least) = (level_of(index_c), level_of(index_c + DEADBAND_K));
        if level > self.level {
            let since = *self.hotter_since.get_or_insert(now);
            if now.hours_since(since) >= ON_DELAY_H {
                self.level = level;
                self.hotter_since = None;
            }
        } else {
            self.hotter_since = None;
        }
        if least < self.level {
            let since = *self.cooler_since.get_or_insert(now);
            if now.hours_since(since) >= OFF_DELAY_H {
                self.level = least;
                self.cooler_since = None;
            }
        } else {
            self.cooler_since = None;
        }
    }

    /// 0 for none, 1 for heat, 2 for great heat; of a bench that is still heard of.
    pub fn level(&self, now: Time) -> u8 {
        let fresh = self.seen.is_some_and(|seen| now.hours_since(seen) < STALE_H);
        if fresh { self.level } else { 0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: HeatLimits = HeatLimits { heat_c: 39.4, great_heat_c: 51.7 };

    /// Levels after looking every minute at an index that `at` gives for each minute.
    fn levels(minutes: i64, at: impl Fn(i64) -> f64) -> Vec<u8> {
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
        let hot: Vec<usize> =
            levels.iter().enumerate().filter(|(_, level)| **level > 0).map(|(at, _)| at).collect();
        assert_eq!((hot.first(), hot.last()), (Some(&30), Some(&89)));
    }

    #[test]
    fn an_index_at_the_limit_does_not_chatter() {
        let swings = levels(600, |minute| 39.4 + if minute % 20 < 12 { 0.3 } else { -0.5 });
        let changes = swings.windows(2).filter(|pair| pair[0] != pair[1]).count();
        assert_eq!(changes, 1);
        assert_eq!(levels(600, |minute| if minute % 10 < 9 { 45.0 } else { 30.0 }).iter().max(), Some(&0));
    }

    #[test]
    fn great_heat_goes_up_and_comes_down_by_steps() {
        let levels = levels(300, |minute| match minute {
            0..60 => 45.0,
            60..120 => 55.0,
            120..200 => 45.0,
            _ => 20.0,
        });
        assert_eq!((levels[59], levels[119], levels[199], levels[299]), (1, 2, 1, 0));
    }
}
