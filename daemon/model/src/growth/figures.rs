//! Height and growth as figures for people: over the last hour, over the last day, by ranger or by tape alone.

use serde::{Deserialize, Serialize};

use crate::forecast::Grown;
use crate::growth::line::{self, Line};
use crate::time::Time;
use crate::track::ring::Rings;

/// Least residual standard deviation believed for a ranger, m.
const RANGER_FLOOR_M: f64 = 0.0005;
/// So many hours are held against the same hours of the day before.
const SAME_HOURS_H: f64 = 8.0;
/// So many quarters of these hours must have a partner.
const LEAST_PAIRS: usize = 12;
/// Half of a quarter of an hour: its mean lies in its middle, h.
const HALF_QUARTER_H: f64 = 0.125;
/// What layers of warm air do to an overhead range in the course of a day, m (judged: 8 °C over 3 m, half of it lost in the mean, are
/// 2 cm).
const DAILY_SWING_M: f64 = 0.01;
/// What they do to it from one day to the next at the same hour, m (judged).
const DAY_TO_DAY_M: f64 = 0.002;
/// Standard deviation of a height taped by hand, m (common practice, no source).
const TAPE_SD_M: f64 = 0.005;
/// Two measurements nearer together than this tell no day's growth, d.
const LEAST_TAPE_SPAN_D: f64 = 0.6;
/// A taped height further from the ranger's than this is a slip of the tape or another datum, m. Judgement.
pub const TAPE_SLIP_M: f64 = 0.3;
/// A tape is misread by no more than this, m, before it is a slip. Judgement: a bent tip, a hand's breadth.
const MISREAD_M: f64 = 0.1;
/// Hours may be so many times as fast as the fastest day. Judgement.
const FASTER_THAN_A_DAY: f64 = 1.5;
/// Tape measurements kept for a bloom: four a day for half a year.
const MOST_TAPED: usize = 720;

/// A rate with its standard deviation, m/h.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rate {
    /// The rate, m/h.
    pub m_h: f64,
    /// Its standard deviation, m/h.
    pub sd_m_h: f64,
}

impl From<Line> for Rate {
    fn from(line: Line) -> Self {
        Self { m_h: line.rate_m_h, sd_m_h: line.rate_sd_m_h }
    }
}

/// Growth over the last hour, from the minute samples of that hour.
///
/// `None` unless they reach over at least 40 of the 60 minutes: a rate is not made up from a corner of the hour.
pub fn hourly(rings: &Rings, now: Time) -> Option<Rate> {
    let points: Vec<(f64, f64)> = rings
        .minutes_from(now.plus_hours(-1.0))
        .map(|sample| (sample.time.hours_since(now), sample.position_m))
        .collect();
    let reach = points.last()?.0 - points.first()?.0;
    if reach < 40.0 / 60.0 {
        return None;
    }
    line::fit(&points, RANGER_FLOOR_M).map(Rate::from)
}

/// Growth over a day: how much higher the last hours are than the same hours of the day before.
///
/// Layers of warm air and whatever else comes back at the same hour every day cancel, which a line through one day would take
/// for growth. Where there is no day before yet, a line through at least 16 of the last 24 hours, and so much less sure.
pub fn daily(rings: &Rings, now: Time) -> Option<Rate> {
    by_the_same_hours(rings, now, 1.0).or_else(|| {
        let points: Vec<(f64, f64)> = rings
            .quarters_between(now.plus_hours(-24.0), now)
            .map(|sample| (sample.time.hours_since(now), sample.position_m))
            .collect();
        let reach = points.last()?.0 - points.first()?.0;
        if reach < 16.0 {
            return None;
        }
        let line = line::fit(&points, RANGER_FLOOR_M)?;
        Some(Rate { m_h: line.rate_m_h, sd_m_h: line.rate_sd_m_h.hypot(DAILY_SWING_M / 24.0) })
    })
}

/// Growth over two days, by the same hours two days before: what one odd afternoon or a knock does to a day is halved.
pub fn two_daily(rings: &Rings, now: Time) -> Option<Rate> {
    by_the_same_hours(rings, now, 2.0)
}

fn by_the_same_hours(rings: &Rings, now: Time, days: f64) -> Option<Rate> {
    let span_h = 24.0 * days;
    let before: Vec<(Time, f64)> = rings
        .quarters_between(
            now.plus_hours(-span_h - SAME_HOURS_H - HALF_QUARTER_H),
            now.plus_hours(-span_h + HALF_QUARTER_H),
        )
        .map(|quarter| (quarter.time.plus_hours(span_h), quarter.position_m))
        .collect();
    let mut risen: Vec<f64> = rings
        .quarters_between(now.plus_hours(-SAME_HOURS_H), now)
        .filter_map(|quarter| {
            let after = before.partition_point(|(time, _)| *time < quarter.time.plus_hours(-HALF_QUARTER_H));
            let (time, before_m) = before.get(after)?;
            (time.hours_since(quarter.time) <= HALF_QUARTER_H).then_some(quarter.position_m - before_m)
        })
        .collect();
    if risen.len() < LEAST_PAIRS {
        return None;
    }
    let median = middle_of(&mut risen);
    let mut off: Vec<f64> = risen.iter().map(|rise| (rise - median).abs()).collect();
    let spread = 1.4826 * middle_of(&mut off);
    // neighbouring quarters of an hour err together: an hour counts as one
    let sd_m = (spread / (risen.len() as f64 / 4.0).sqrt()).hypot(DAY_TO_DAY_M);
    Some(Rate { m_h: median / span_h, sd_m_h: sd_m / span_h })
}

fn middle_of(values: &mut [f64]) -> f64 {
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// A height taped by hand.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Taped {
    time: Time,
    height_m: f64,
    /// What it reads over the overhead ranger of that moment, m, where that told something.
    over_ranger_m: Option<f64>,
}

/// Heights taped by hand, in order of time, each instant once.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct TapedHeights {
    heights: Vec<Taped>,
}

/// Whether a bud that grows at most `most_cm_day` over a day can have been so high at both times, read to within a hand's breadth.
pub fn could_grow(from: (Time, f64), to: (Time, f64), most_cm_day: f64) -> bool {
    let (first, later) = if from.0 <= to.0 { (from, to) } else { (to, from) };
    let most_m = FASTER_THAN_A_DAY * most_cm_day / 100.0 * later.0.days_since(first.0);
    (-MISREAD_M..=most_m + MISREAD_M).contains(&(later.1 - first.1))
}

impl TapedHeights {
    /// Adds a measurement, possibly booked late, with what it reads over the ranger; `false` if that instant has one already.
    pub fn add(&mut self, time: Time, height_m: f64, over_ranger_m: Option<f64>) -> bool {
        match self.heights.binary_search_by_key(&time, |taped| taped.time) {
            Ok(_) => false,
            Err(place) => {
                self.heights.insert(place, Taped { time, height_m, over_ranger_m });
                if self.heights.len() > MOST_TAPED {
                    self.heights.remove(0);
                }
                true
            }
        }
    }

    /// Takes a measurement back, as if it had not been; `false` if there is none of that instant.
    pub fn withdraw(&mut self, time: Time) -> bool {
        let place = self.heights.binary_search_by_key(&time, |taped| taped.time);
        place.map(|place| self.heights.remove(place)).is_ok()
    }

    /// The ranger was hung anew: what the tape read over it no longer counts.
    pub fn ranger_was_moved(&mut self) {
        self.heights.iter_mut().for_each(|taped| taped.over_ranger_m = None);
    }

    /// What the measurements read over the ranger, in order of time, without those that are slips.
    pub fn over_ranger_m(&self) -> impl Iterator<Item = f64> {
        self.heights
            .iter()
            .filter_map(|taped| taped.over_ranger_m)
            .filter(|over_m| over_m.abs() <= TAPE_SLIP_M)
    }

    /// The measurements up to `now` that can be of one bud: no slip of the tape is among them.
    ///
    /// One far from the ranger is a slip, unless another one is as far from it: that is another datum. One that no bud can have
    /// grown to since the one before is a slip until the next one bears it out; then what was before is left out.
    fn sound(&self, now: Time, most_cm_day: f64) -> Vec<(Time, f64)> {
        let overs: Vec<f64> = self.heights.iter().filter_map(|taped| taped.over_ranger_m).collect();
        let slipped = |over_m: f64| {
            over_m.abs() > TAPE_SLIP_M
                && overs.iter().filter(|other| (*other - over_m).abs() <= MISREAD_M).count() < 2
        };
        let mut sound: Vec<(Time, f64)> = Vec::new();
        let mut doubtful: Option<(Time, f64)> = None;
        let known = self.heights.iter().filter(|taped| taped.time <= now);
        for taped in known.filter(|taped| !taped.over_ranger_m.is_some_and(slipped)) {
            let next = (taped.time, taped.height_m);
            if sound.last().is_none_or(|last| could_grow(*last, next, most_cm_day)) {
                sound.push(next);
                doubtful = None;
            } else if let Some(before) = doubtful.filter(|before| could_grow(*before, next, most_cm_day)) {
                sound = vec![before, next];
                doubtful = None;
            } else {
                doubtful = Some(next);
            }
        }
        sound
    }

    /// The newest measurement up to `now` that is no slip.
    pub fn newest(&self, now: Time, most_cm_day: f64) -> Option<(Time, f64)> {
        self.sound(now, most_cm_day).last().copied()
    }

    /// Growth between one measurement and the next up to `now`; those too near together to tell a rate are passed over.
    pub fn grown(&self, now: Time, most_cm_day: f64) -> Vec<Grown> {
        let mut spans = Vec::new();
        let mut known = self.sound(now, most_cm_day).into_iter();
        let Some(mut last) = known.next() else { return spans };
        for next in known {
            let days = next.0.days_since(last.0);
            if days >= LEAST_TAPE_SPAN_D {
                spans.push(Grown {
                    from: last.0,
                    until: next.0,
                    rate_cm_day: (next.1 - last.1) * 100.0 / days,
                    sd_cm_day: TAPE_SD_M * 100.0 * std::f64::consts::SQRT_2 / days,
                });
                last = next;
            }
        }
        spans
    }

    /// Growth by the tape: a line through the measurements of the last `days`, or the last two if they are nearer together.
    pub fn rate(&self, now: Time, days: f64, most_cm_day: f64) -> Option<Rate> {
        let known: Vec<(f64, f64)> = self
            .sound(now, most_cm_day)
            .into_iter()
            .filter(|(at, _)| now.days_since(*at) <= days + 4.0)
            .map(|(at, height)| (at.hours_since(now), height))
            .collect();
        let recent: Vec<(f64, f64)> =
            known.iter().copied().filter(|(hours, _)| *hours >= -24.0 * days).collect();
        let used = if recent.len() >= 2 { recent } else { known[known.len().saturating_sub(2)..].to_vec() };
        let (first, last) = (used.first()?, used.last()?);
        let span_h = last.0 - first.0;
        if span_h < 3.0 {
            return None;
        }
        if used.len() >= 3
            && let Some(line) = line::fit(&used, TAPE_SD_M)
        {
            return Some(line.into());
        }
        Some(Rate { m_h: (last.1 - first.1) / span_h, sd_m_h: TAPE_SD_M * std::f64::consts::SQRT_2 / span_h })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::ring::Sample;

    fn day(hours: f64) -> Time {
        Time::from_unix_ms(1_800_000_000_000).plus_hours(hours)
    }

    #[test]
    fn a_corner_of_the_hour_is_no_hourly_rate() {
        let mut rings = Rings::default();
        for minute in 0..30 {
            rings.push(Sample { time: day(f64::from(minute) / 60.0), position_m: 1.0 });
        }
        assert_eq!(hourly(&rings, day(0.5)), None);
    }

    /// Daily heights of the 2013 bloom at Ohio State University, 8 to 10 May (bioscigreenhouse.osu.edu/woody-2nd-bloom-2013).
    #[test]
    fn the_tape_alone_gives_a_daily_rate() {
        let mut taped = TapedHeights::default();
        assert!(taped.add(day(24.0), 1.562, None));
        assert!(taped.add(day(0.0), 1.429, None), "booked late, still taken");
        assert!(!taped.add(day(24.0), 1.6, None), "the first of an instant holds");
        let rate = taped.rate(day(30.0), 2.0, 20.0).unwrap();
        assert!((rate.m_h * 24.0 - 0.133).abs() < 1e-9);
        assert!((rate.sd_m_h * 24.0 - 0.00707).abs() < 1e-4);
    }
    fn heights(taped: &TapedHeights) -> Vec<f64> {
        taped.sound(day(1000.0), 20.0).into_iter().map(|(_, height)| height).collect()
    }

    #[test]
    fn a_slip_of_the_tape_tells_no_growth() {
        let mut taped = TapedHeights::default();
        for (number, height) in [1.40, 1.50, 4.90, 1.70].into_iter().enumerate() {
            taped.add(day(24.0 * number as f64), height, None);
            assert!(!heights(&taped).contains(&4.90));
        }
        assert_eq!(heights(&taped), [1.40, 1.50, 1.70]);
        assert!((taped.rate(day(72.0), 2.0, 20.0).unwrap().m_h * 24.0 - 0.1).abs() < 1e-9);

        // one figure of one digit too few at the very beginning: the next two bear each other out
        let mut taped = TapedHeights::default();
        for (number, height) in [0.50, 1.50, 1.60].into_iter().enumerate() {
            taped.add(day(24.0 * number as f64), height, None);
        }
        assert_eq!(heights(&taped), [1.50, 1.60]);
    }

    #[test]
    fn far_from_the_ranger_is_a_slip_alone_and_a_datum_twice() {
        let mut taped = TapedHeights::default();
        taped.add(day(0.0), 1.40, Some(0.01));
        taped.add(day(24.0), 1.85, Some(0.35));
        assert_eq!(heights(&taped), [1.40]);
        assert_eq!(taped.over_ranger_m().collect::<Vec<_>>(), [0.01]);
        taped.add(day(48.0), 1.95, Some(0.36));
        assert_eq!(heights(&taped).last(), Some(&1.95), "measured from the soil since");
    }

    #[test]
    fn what_was_taken_back_never_was() {
        let mut taped = TapedHeights::default();
        taped.add(day(0.0), 1.40, Some(0.0));
        let before = taped.clone();
        taped.add(day(24.0), 1.60, Some(0.1));
        assert!(taped.withdraw(day(24.0)));
        assert_eq!(taped, before);
        assert!(!taped.withdraw(day(24.0)), "it can be taken back once");
    }
}
