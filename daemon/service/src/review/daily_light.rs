//! The light of each local day: the sum of the photon flux density over it, known as the daily light integral.
//!
//! As elsewhere a reading counts until the next one, if that comes before the quantity counts as silent: time without readings
//! brings no light, so a day with gaps is summed too low, and the hours measured are told beside it.

use bloom_model::time::Time;
use chrono::{NaiveDate, TimeDelta};
use chrono_tz::Tz;

use super::calendar::midnight_before;

/// Micromoles in a mole.
const UMOL_PER_MOL: f64 = 1e6;

/// A local day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayOfLight {
    /// Its date.
    pub date: NaiveDate,
    /// From its midnight, or the beginning of the span,
    pub from: Time,
    /// to the next midnight, or the end of the span.
    pub until: Time,
    /// The photons of a square metre, mol.
    pub mol_m2: f64,
    /// Hours measured.
    pub measured_h: f64,
}

/// Sums light in the order of time.
#[derive(Debug)]
pub(super) struct LightGatherer {
    span: (Time, Time),
    zone: Tz,
    longest: TimeDelta,
    newest: Option<(Time, f64)>,
    days: Vec<DayOfLight>,
}

impl LightGatherer {
    /// `longest` is how long a reading counts at most.
    pub(super) fn new(span: (Time, Time), zone: Tz, longest: TimeDelta) -> Self {
        Self { span, zone, longest, newest: None, days: Vec::new() }
    }

    /// Takes a reading, µmol/m²/s, later than all before.
    pub(super) fn take(&mut self, time: Time, umol_m2_s: f64) {
        if let Some((since, held)) = self.newest.replace((time, umol_m2_s))
            && time - since <= self.longest
        {
            self.hold(since, time, held);
        }
    }

    /// Takes an hour in brief, µmol/m²/s on its mean.
    pub(super) fn take_hour(&mut self, begins: Time, mean: f64) {
        let ends = begins.plus_hours(1.0);
        self.take(begins, mean);
        self.hold(begins, ends, mean);
        self.newest = Some((ends, mean));
    }

    fn hold(&mut self, since: Time, until: Time, umol_m2_s: f64) {
        let (mut at, end) = (since.max(self.span.0), until.min(self.span.1));
        while at < end {
            let day = self.day_of(at);
            let hours = end.min(day.until).hours_since(at);
            day.mol_m2 += umol_m2_s * hours * 3600.0 / UMOL_PER_MOL;
            day.measured_h += hours;
            at = day.until;
        }
    }

    /// The day that an instant lies in, which is the last one or a later one.
    fn day_of(&mut self, at: Time) -> &mut DayOfLight {
        let (from, until) = self.span;
        if self.days.last().is_none_or(|day| day.until <= at) {
            let begins = self.days.last().map_or(from, |day| day.until);
            // after a gap of days: the day's own midnight
            let begins = begins.max(midnight_before(at, self.zone));
            let ends = at.next_local_hour(0, self.zone).min(until);
            self.days.push(DayOfLight {
                date: at.local_date(self.zone),
                from: begins,
                until: ends,
                mol_m2: 0.0,
                measured_h: 0.0,
            });
        }
        let last = self.days.len() - 1;
        &mut self.days[last]
    }

    pub(super) fn finish(self) -> Vec<DayOfLight> {
        self.days
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HALIFAX: Tz = chrono_tz::America::Halifax;
    const DAY_H: f64 = 24.0;

    /// 2027-06-02T03:00:00Z, midnight in Halifax.
    fn hour(hours: f64) -> Time {
        Time::from_unix_ms(1_811_905_200_000).plus_hours(hours)
    }

    /// The light of each day, a reading every ten minutes.
    fn days(span_h: (f64, f64), light: impl Fn(f64) -> Option<f64>) -> Vec<DayOfLight> {
        let span = (hour(span_h.0), hour(span_h.1));
        let mut gatherer = LightGatherer::new(span, HALIFAX, TimeDelta::minutes(15));
        for place in 0..=(6 * 72) {
            let hours = f64::from(place) / 6.0;
            if let Some(umol_m2_s) = light(hours % DAY_H).filter(|_| (hours as i64) < 72) {
                gatherer.take(hour(hours), umol_m2_s);
            }
        }
        gatherer.finish()
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-9
    }

    /// 200 µmol/m²/s for 12 h are 200 × 12 × 3600 / 10⁶ = 8.64 mol/m².
    #[test]
    fn two_hundred_micromoles_for_twelve_hours_are_8_64_moles() {
        let days = days((0.0, 72.0), |hour| Some(if (6.0..18.0).contains(&hour) { 200.0 } else { 0.0 }));
        let dates: Vec<String> = days.iter().map(|day| day.date.to_string()).collect();
        assert_eq!(dates, ["2027-06-02", "2027-06-03", "2027-06-04"]);
        assert!(days.iter().all(|day| near(day.mol_m2, 8.64)), "{days:?}");
        assert!(near(days[0].measured_h, 24.0) && near(days[2].measured_h, 24.0 - 1.0 / 6.0), "{days:?}");
    }

    #[test]
    fn light_over_midnight_is_each_day_s_own_and_a_gap_brings_none() {
        // lamps at 100 from 22:00 to 02:00: two hours before midnight and two after it
        let lamps = days((0.0, 48.0), |hour| Some(if (2.0..22.0).contains(&hour) { 0.0 } else { 100.0 }));
        assert!(lamps.iter().all(|day| near(day.mol_m2, 100.0 * 4.0 * 3600.0 / 1e6)), "{lamps:?}");
        let gap = days((0.0, 24.0), |hour| Some(100.0).filter(|_| !(10.0..12.0).contains(&hour)));
        // the last reading before the gap, at 9:50, does not count, for the next is over two hours later
        assert!(near(gap[0].measured_h, 24.0 - 2.0 - 1.0 / 6.0), "{gap:?}");
        assert!(near(gap[0].mol_m2, gap[0].measured_h * 100.0 * 3600.0 / 1e6), "{gap:?}");
    }

    #[test]
    fn a_span_that_cuts_a_day_holds_the_light_within() {
        let cut = days((6.0, 30.0), |_| Some(100.0));
        assert_eq!((cut[0].from, cut[0].until, cut[1].until), (hour(6.0), hour(24.0), hour(30.0)));
        assert!(near(cut[0].measured_h, 18.0) && near(cut[1].measured_h, 6.0), "{cut:?}");
    }

    /// On 14 March 2027 clocks in Halifax go from 01:59 to 03:00 (IANA time zones): the day has 23 hours.
    #[test]
    fn a_day_is_as_long_as_its_clocks_make_it() {
        let midnight = Time::from_unix_ms(1_804_996_800_000);
        let mut gatherer =
            LightGatherer::new((midnight, midnight.plus_hours(23.0)), HALIFAX, TimeDelta::hours(1));
        (0..=23).for_each(|hours| gatherer.take(midnight.plus_hours(f64::from(hours)), 100.0));
        let days = gatherer.finish();
        assert_eq!(days.len(), 1, "{days:?}");
        assert_eq!(days[0].date.to_string(), "2027-03-14");
        assert!(near(days[0].mol_m2, 100.0 * 23.0 * 3600.0 / 1e6), "{days:?}");
    }
}
