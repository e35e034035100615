//! A bud before its side ranger, played by the minute in still air.

use crate::event::{Details, Event, EventKind, Severity};
use crate::quantity::Quantity;
use crate::reading::{BenchNumber, Observed, Reading};
use crate::sign::{PlainSign, Sign};
use crate::site::Site;
use crate::spec::example;
use crate::time::Time;

/// 2027-06-02T00:00 in Halifax.
pub(super) const START: Time = Time::from_unix_ms(1_811_905_200_000);
pub(super) const RIM_M: f64 = 0.95;

/// A bench of rangers that compensate by themselves.
pub(super) struct Play {
    pub(super) site: Site,
    pub(super) events: Vec<Event>,
    pub(super) minute: i64,
    pub(super) every_min: i64,
    pub(super) noise_m: f64,
    pub(super) dice: u64,
    /// What the side ranger says whatever it meets, m.
    pub(super) hung_m: Option<f64>,
    /// Degrees by which the air is warmer than 25 °C.
    pub(super) warmer_k: f64,
}

impl Play {
    pub(super) fn new(every_min: i64, noise_m: f64, assumed_speed_m_s: Option<f64>) -> Self {
        let bench = example::bench("east-3", RIM_M, assumed_speed_m_s);
        let site = Site::new(example::saltmarsh(), vec![bench]);
        let (events, dice) = (Vec::new(), 0x9e37_79b9_7f4a_7c15);
        Self { site, events, minute: 0, every_min, noise_m, dice, hung_m: None, warmer_k: 0.0 }
    }

    /// Approximately normal: twelve uniform numbers less six.
    pub(super) fn noise(&mut self) -> f64 {
        let mut sum = -6.0;
        for _ in 0..12 {
            // xorshift64 (Marsaglia 2003)
            self.dice ^= self.dice << 13;
            self.dice ^= self.dice >> 7;
            self.dice ^= self.dice << 17;
            sum += (self.dice >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum * self.noise_m
    }

    pub(super) fn now(&self) -> Time {
        START.plus_hours(self.minute as f64 / 60.0)
    }

    pub(super) fn say(&mut self, observed: Observed) {
        let reading = Reading { bench: BenchNumber(0), time: self.now(), observed };
        self.site.take(&reading, &mut self.events);
    }

    /// A bud that may open any day now, by the signs that people booked.
    pub(super) fn is_ripe(&mut self) {
        let seen = [
            (PlainSign::Emerged, 42.0),
            (PlainSign::SpadixVisible, 13.0),
            (PlainSign::LastBractDropped, 1.0),
            (PlainSign::EdgeLoose, 0.5),
        ];
        for (sign, days_ago) in seen {
            let time = self.now().plus_hours(-24.0 * days_ago);
            let reading =
                Reading { bench: BenchNumber(0), time, observed: Observed::Sign(Sign::Plain(sign)) };
            self.site.take(&reading, &mut self.events);
        }
    }

    /// Such a bud, watched for two days.
    pub(super) fn ripe(every_min: i64, noise_m: f64) -> Self {
        let mut play = Self::new(every_min, noise_m, None);
        play.go(1.0, Some, Some);
        play.is_ripe();
        play.go(47.0, Some, Some);
        play
    }

    /// So many hours; what each ranger meets in the place of its target's true distance.
    pub(super) fn go(
        &mut self,
        hours: f64,
        tip: impl Fn(f64) -> Option<f64>,
        rim: impl Fn(f64) -> Option<f64>,
    ) -> usize {
        let before = self.events.len();
        let until = self.minute + (hours * 60.0) as i64;
        while self.minute < until {
            self.minute += self.every_min;
            let days = self.minute as f64 / 1440.0;
            let flicker = 0.01 * (self.minute % 7) as f64;
            self.say(Observed::Value(Quantity::Temperature, 25.0 + self.warmer_k + flicker));
            self.say(Observed::Value(Quantity::Humidity, 80.0 + flicker));
            // the tip grows 3 cm a day, the edge comes 2 mm a day nearer
            let met = [
                (Quantity::TipRange, tip(2.1 - 0.03 * days)),
                (Quantity::RimRange, rim(RIM_M - 0.002 * days)),
            ];
            for (quantity, met_m) in met {
                let noise_m = self.noise();
                if let Some(met_m) = met_m {
                    // whole millimetres
                    let said_m = ((met_m + noise_m) * 1000.0).round() / 1000.0;
                    let hung_m = self.hung_m.filter(|_| quantity == Quantity::RimRange);
                    let said_m = hung_m.unwrap_or(said_m);
                    self.say(Observed::Value(quantity, said_m));
                }
            }
        }
        before
    }

    pub(super) fn told(&self, from: usize, kind: EventKind) -> Vec<&Event> {
        self.events[from..].iter().filter(|event| event.kind == kind).collect()
    }

    /// Hours from the beginning of a stretch to its only event of a kind, an alarm.
    pub(super) fn alarm_after_h(&self, from: usize, kind: EventKind, since: Time) -> f64 {
        let told = self.told(from, kind);
        assert_eq!(told.len(), 1, "{kind:?}: {:?}", &self.events[from..]);
        assert_eq!(told[0].severity, Severity::Alarm, "{:?}", told[0]);
        told[0].time.hours_since(since)
    }
}

pub(super) fn why(event: &Event) -> &'static str {
    match &event.details {
        Details::Edge(details) => details.why,
        _ => "",
    }
}
