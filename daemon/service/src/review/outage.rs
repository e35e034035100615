//! Spans in which a sensor said nothing.

use bloom_model::quantity::Quantity;
use bloom_model::time::Time;
use chrono::TimeDelta;

/// Outages that are listed one by one; further ones are counted.
pub const MOST_LISTED: usize = 500;

/// A quantity without readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outage {
    /// Which.
    pub quantity: Quantity,
    /// Its last reading before, or the beginning of the span.
    pub from: Time,
    /// Its next reading, or the end of the span.
    pub until: Time,
}

/// The outages of a span.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Outages {
    /// In the order in which they ended.
    pub listed: Vec<Outage>,
    /// How many more there were.
    pub further: usize,
    /// The first reading of any sensor within the span; `None` where there is none.
    pub first: Option<Time>,
    /// Sensors that were expected and were heard of for the first time within the span, each with that time.
    pub begun: Vec<(Quantity, Time)>,
}

/// Finds outages in readings in the order of time.
#[derive(Debug)]
pub(super) struct OutageFinder {
    from: Time,
    until: Time,
    longest: TimeDelta,
    newest: [Option<Time>; Quantity::ALL.len()],
    began: [Option<Time>; Quantity::ALL.len()],
    found: Outages,
}

impl OutageFinder {
    /// Readings further apart than `longest` leave an outage.
    pub(super) fn new(from: Time, until: Time, longest: TimeDelta) -> Self {
        let never = [None; Quantity::ALL.len()];
        Self { from, until, longest, newest: never, began: never, found: Outages::default() }
    }

    /// Takes a reading; those outside the span tell when an outage began or ended.
    pub(super) fn take(&mut self, quantity: Quantity, time: Time) {
        let before = self.newest[quantity as usize].replace(time);
        self.began[quantity as usize].get_or_insert(time);
        if time >= self.from && time < self.until {
            self.found.first.get_or_insert(time);
        }
        // a quantity that was never heard of before may be a sensor that was hung only now
        if let Some(before) = before {
            self.look(quantity, before, time);
        }
    }

    /// Takes a stretch of readings that are nowhere further apart than is borne.
    pub(super) fn take_all(&mut self, quantity: Quantity, from: Time, until: Time) {
        self.take(quantity, from);
        self.newest[quantity as usize] = Some(until);
    }

    fn look(&mut self, quantity: Quantity, before: Time, next: Time) {
        let outage = Outage { quantity, from: before.max(self.from), until: next.min(self.until) };
        if next - before <= self.longest || outage.from >= outage.until {
            return;
        }
        if self.found.listed.len() < MOST_LISTED {
            self.found.listed.push(outage);
        } else {
            self.found.further += 1;
        }
    }

    /// The outages, those at the end of the span with them; a quantity that is `expected` and was not heard of before the end was
    /// out throughout.
    pub(super) fn finish(mut self, until: Time, expected: impl Fn(Quantity) -> bool) -> Outages {
        self.until = until;
        for quantity in Quantity::ALL.into_iter().filter(|quantity| quantity.is_missed()) {
            let (began, newest) = (self.began[quantity as usize], self.newest[quantity as usize]);
            match began.zip(newest) {
                Some((began, newest)) if began < until => {
                    if newest < until {
                        self.look(quantity, newest, until);
                    }
                    if expected(quantity) && began - self.from > self.longest {
                        self.found.begun.push((quantity, began));
                    }
                }
                _ if expected(quantity) => self.look(quantity, self.from, until),
                _ => {}
            }
        }
        self.found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outage_lies_between_two_readings_too_far_apart() {
        let hour = |hours: f64| Time::from_unix_ms(1_800_000_000_000).plus_hours(hours);
        let mut finder = OutageFinder::new(hour(0.0), hour(10.0), TimeDelta::minutes(15));
        for hours in [-2.0, 1.0, 1.25, 1.3, 4.0, 9.9] {
            finder.take(Quantity::Humidity, hour(hours));
        }
        finder.take(Quantity::RimRange, hour(9.95));
        let found = finder.finish(hour(10.0), |quantity| quantity == Quantity::TipRange);
        let spans: Vec<_> =
            found.listed.iter().map(|o| (o.quantity, o.from.hours_since(hour(0.0)), o.until)).collect();
        assert_eq!(
            spans,
            [
                (Quantity::Humidity, 0.0, hour(1.0)),
                (Quantity::Humidity, 1.3, hour(4.0)),
                (Quantity::Humidity, 4.0, hour(9.9)),
                (Quantity::TipRange, 0.0, hour(10.0)),
            ]
        );
        assert_eq!(found.first, Some(hour(1.0)));
    }

    #[test]
    fn a_span_without_a_reading_is_no_span_in_which_all_reported() {
        let hour = |hours: f64| Time::from_unix_ms(1_800_000_000_000).plus_hours(hours);
        let of = |heard: &[f64]| {
            let mut finder = OutageFinder::new(hour(0.0), hour(10.0), TimeDelta::minutes(15));
            heard.iter().for_each(|hours| finder.take(Quantity::RimRange, hour(*hours)));
            finder.finish(hour(10.0), |quantity| quantity == Quantity::RimRange)
        };
        let whole = |found: &Outages| {
            found.listed.iter().map(|outage| (outage.from, outage.until)).collect::<Vec<_>>()
                == [(hour(0.0), hour(10.0))]
        };
        assert!(of(&[]).first.is_none() && whole(&of(&[])));
        let later = of(&[10.1]);
        assert!(later.first.is_none() && whole(&later), "heard of only after its end: {later:?}");
        let begun = of(&[4.0, 4.2, 4.4, 4.6, 4.8, 5.0]);
        assert_eq!((begun.first, begun.begun), (Some(hour(4.0)), vec![(Quantity::RimRange, hour(4.0))]));
    }
}
