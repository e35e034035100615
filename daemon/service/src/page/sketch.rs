//! What the page's own small pictures share: a field of time and value, its hours, and how lengths are written. Their colours are the style
//! sheet's, so that they follow paper and night; the review's pictures carry their own.

use bloom_model::time::Time;
use chrono_tz::Tz;

/// Where an instant and a value are in a picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Field {
    /// Left and right end, px.
    pub(super) x: (f64, f64),
    /// Lower and upper end, px.
    pub(super) y: (f64, f64),
    /// First and last instant.
    pub(super) span: (Time, Time),
    /// Lowest and highest value.
    pub(super) values: (f64, f64),
}

impl Field {
    /// Where an instant is; what lies outside is put at the end.
    pub(super) fn at(&self, time: Time) -> f64 {
        let whole = self.span.1.hours_since(self.span.0).max(1e-9);
        let share = (time.hours_since(self.span.0) / whole).clamp(0.0, 1.0);
        self.x.0 + share * (self.x.1 - self.x.0)
    }

    /// Where a value is.
    pub(super) fn of(&self, value: f64) -> f64 {
        let (low, high) = self.values;
        self.y.0 + (value - low) / (high - low).max(1e-9) * (self.y.1 - self.y.0)
    }

    /// The points of a line.
    pub(super) fn points(&self, line: &[(Time, f64)]) -> String {
        let point = |(time, value): &(Time, f64)| format!("{},{}", px(self.at(*time)), px(self.of(*value)));
        line.iter().map(point).collect::<Vec<_>>().join(" ")
    }
}

/// A length in a picture.
pub(super) fn px(length: f64) -> String {
    format!("{length:.1}")
}

/// A round step of which at most `most` reach up to a value.
pub(super) fn step(value: f64, most: f64) -> f64 {
    let least = (value / most).max(1e-6);
    let decade = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0]
        .into_iter()
        .map(|times| times * decade)
        .find(|step| *step >= least)
        .unwrap_or(10.0 * decade)
}

/// The local full hours of a span that are multiples of `every`, oldest first.
pub(super) fn full_hours((from, until): (Time, Time), every: u32, zone: Tz) -> Vec<Time> {
    let mut hours = Vec::new();
    for hour in (0..24).step_by(every as usize) {
        let mut at = from.next_local_hour(hour, zone);
        while at < until {
            hours.push(at);
            at = at.next_local_hour(hour, zone);
        }
    }
    hours.sort_unstable();
    hours
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_hours_are_local() {
        for (length, most, wanted) in [(37.0, 4.0, 10.0), (4.1, 4.0, 2.0), (0.9, 3.0, 0.5)] {
            assert!((step(length, most) - wanted).abs() < 1e-12, "{length} {most}");
        }
        let zone = chrono_tz::America::Halifax;
        let from = Time::from_unix_ms(1_811_937_600_000);
        let hours = full_hours((from, from.plus_hours(13.0)), 6, zone);
        let local: Vec<f64> = hours.iter().map(|time| time.local_hour(zone)).collect();
        assert!(local.len() >= 2 && local.iter().all(|hour| hour % 6.0 < 1e-9), "{local:?}");
    }

    #[test]
    fn what_lies_outside_is_put_at_the_end() {
        let from = Time::from_unix_ms(0);
        let field = Field {
            x: (10.0, 110.0),
            y: (90.0, 10.0),
            span: (from, from.plus_hours(10.0)),
            values: (0.0, 4.0),
        };
        assert_eq!(field.points(&[(from, 0.0), (from.plus_hours(5.0), 4.0)]), "10.0,90.0 60.0,10.0");
        assert!((field.at(from.plus_hours(99.0)) - 110.0).abs() < 1e-12);
    }
}
