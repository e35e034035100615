//! When an opening alarm stands, when it is doubted aloud, and when it ends: a side ranger minute by minute.

use std::sync::Arc;

use crate::event::{Details, Doubt, Event, EventKind};
use crate::quantity::Quantity;
use crate::reading::{BenchNumber, Observed, Reading};
use crate::sign::{PlainSign, Sign};
use crate::site::Site;
use crate::spec::{BenchSpec, example};
use crate::time::Time;

const MOUNT_M: f64 = 0.95;
/// 2 June 2027, midnight in Halifax.
const MIDNIGHT: Time = Time::from_unix_ms(1_811_905_200_000);
/// The crack of these nights: 14:00 on the second day.
const CRACK_H: f64 = 38.0;

/// A bench with a side ranger, and with an overhead one if a height is told.
struct Night {
    site: Site,
    minute: i64,
    events: Vec<Event>,
}

impl Night {
    /// Watched, closed, up to the crack.
    fn at_crack() -> Self {
        let mut night = Self::hung();
        night.minutes(CRACK_H * 60.0, |_| Some(0.0));
        assert_eq!(night.told(), [""; 0]);
        night
    }

    fn hung() -> Self {
        let bench =
            BenchSpec { plant: Some(Arc::from("AT-0412")), ..example::bench("east-3", MOUNT_M, None) };
        Self { site: Site::new(example::saltmarsh(), vec![bench]), minute: 0, events: Vec::new() }
    }

    fn now(&self) -> Time {
        MIDNIGHT.plus_hours(self.minute as f64 / 60.0)
    }

    fn says(&mut self, quantity: Quantity, value: f64) {
        let observed = Observed::Value(quantity, value);
        self.site.take(&Reading { bench: BenchNumber(0), time: self.now(), observed }, &mut self.events);
    }

    /// So many minutes; the edge stands out that far after so many hours of them, or is not heard: then the ranger says its most.
    fn minutes(&mut self, count: f64, edge_m: impl Fn(f64) -> Option<f64>) {
        for minute in 1..=count.round() as i64 {
            self.minute += 1;
            let noise_m = ((self.minute * 7919 % 1009) as f64 / 1009.0 - 0.5) * 0.002;
            // a thermometer that repeats itself is taken for none
            self.says(Quantity::Temperature, 26.0 + 100.0 * noise_m);
            self.says(Quantity::Humidity, 75.0 + 100.0 * noise_m);
            let range_m = edge_m(minute as f64 / 60.0).map_or(5.0, |edge_m| MOUNT_M - edge_m + noise_m);
            self.says(Quantity::RimRange, range_m);
        }
    }

    fn hours(&mut self, hours: f64, edge_m: impl Fn(f64) -> Option<f64>) {
        self.minutes(hours * 60.0, edge_m);
    }

    fn signs(&mut self, sign: PlainSign) {
        let observed = Observed::Sign(Sign::Plain(sign));
        self.site.take(&Reading { bench: BenchNumber(0), time: self.now(), observed }, &mut self.events);
    }

    /// The events of the opening in their order.
    fn told(&self) -> Vec<&'static str> {
        const OF_IT: [EventKind; 8] = [
            EventKind::OpeningTonight,
            EventKind::Look,
            EventKind::StoodDown,
            EventKind::FullOpen,
            EventKind::ReceptiveEnding,
            EventKind::PollenShed,
            EventKind::Closed,
            EventKind::Spent,
        ];
        let told = self.events.iter().map(|event| event.kind);
        told.filter(|kind| OF_IT.contains(kind)).map(EventKind::name).collect()
    }

    /// Hours from the crack to the newest event of a kind.
    fn after_crack_h(&self, kind: EventKind) -> f64 {
        let newest = self.events.iter().rev().find(|event| event.kind == kind);
        newest.map_or(f64::NAN, |event| event.time.hours_since(MIDNIGHT.plus_hours(CRACK_H)))
    }
}

/// Half a cosine to 40 cm in 8 h.
fn opens(hours: f64) -> f64 {
    0.2 * (1.0 - (std::f64::consts::PI * hours.min(8.0) / 8.0).cos())
}

/// Of each five minutes, whether this is one of the first so many.
fn of_five(hours: f64, heard: i64) -> bool {
    (hours * 60.0).round() as i64 % 5 < heard
}

#[test]
fn it_is_said_once_that_the_edge_goes_back_and_the_alarm_stands_until_it_has_been_closed_for_two_hours() {
    let mut night = Night::at_crack();
    night.hours(3.0, |hours| Some(0.025 * hours));
    night.hours(1.0, |_| Some(0.075));
    // from 4 to 7 h after the crack
    night.hours(3.0, |hours| Some(0.075 - 0.025 * hours));
    assert_eq!(night.told(), ["opening-tonight", "look"]);
    // within a centimetre from 6.6 h on
    night.hours(1.2, |_| Some(0.0));
    assert_eq!(night.told(), ["opening-tonight", "look"]);
    night.hours(1.4, |_| Some(0.0));
    assert_eq!(night.told(), ["opening-tonight", "look", "stood-down"]);
    assert!((8.2..9.2).contains(&night.after_crack_h(EventKind::StoodDown)));
}

#[test]
fn an_edge_heard_where_it_was_closed_with_fewer_echoes_ends_no_alarm() {
    let mut night = Night::at_crack();
    night.hours(3.5, |hours| Some(opens(hours)));
    // the limb tilts out of the beam, and the body behind it is heard three times in five
    night.hours(20.0, |hours| of_five(hours, 3).then_some(0.0));
    assert_eq!(night.told(), ["opening-tonight", "look", "receptive-ending", "full-open", "pollen-shed"]);
    // the alarm of a gap that is heard as before ends
    let mut heard = Night::at_crack();
    heard.hours(3.5, |hours| Some(opens(hours)));
    heard.hours(5.0, |_| Some(0.0));
    assert_eq!(heard.told(), ["opening-tonight", "look", "stood-down"]);
    assert!((5.5..6.5).contains(&heard.after_crack_h(EventKind::StoodDown)));
}

/// A limb that opened in a span without readings tilts away, and now and then the body of the bud is heard, where the edge stood closed.
#[test]
fn one_that_was_found_open_and_goes_back_is_not_stood_down_at_once() {
    let mut night = Night::at_crack();
    night.minute += 140;
    night.hours(0.7, |hours| Some(opens(hours + 1.5)));
    assert_eq!(night.told(), ["opening-tonight"]);
    let found = |event: &&Event| matches!(&event.details, Details::Opening(opening) if opening.found_open);
    assert_eq!(night.events.iter().filter(found).count(), 1);
    night.hours(4.0, |hours| (hours < 1.0 || of_five(hours, 2)).then_some(0.0));
    assert_eq!(night.told(), ["opening-tonight", "look"]);
}

#[test]
fn an_edge_heard_a_little_behind_or_before_where_it_was_closed_ends_no_alarm() {
    for edge_m in [-0.02, 0.02] {
        let mut night = Night::at_crack();
        night.hours(3.5, |hours| Some(opens(hours)));
        night.hours(16.0, |_| Some(edge_m));
        assert!(!night.told().contains(&"stood-down"), "{edge_m}: {:?}", night.told());
    }
}

#[test]
fn an_edge_that_is_no_longer_heard_is_told_once_and_its_alarm_stands() {
    let mut night = Night::at_crack();
    night.hours(3.5, |hours| Some(opens(hours)));
    night.hours(22.0, |_| None);
    assert_eq!(night.told(), ["opening-tonight", "look", "receptive-ending", "full-open", "pollen-shed"]);
    let look = night.events.iter().find(|event| event.kind == EventKind::Look).unwrap();
    assert_eq!(look.details, Details::Look { doubt: Doubt::EdgeLost });
    assert!((4.0..6.5).contains(&night.after_crack_h(EventKind::Look)));
    // a person who saw it open needs no word
    let mut seen = Night::at_crack();
    seen.hours(3.5, |hours| Some(opens(hours)));
    seen.signs(PlainSign::Opened);
    seen.hours(6.0, |_| None);
    assert_eq!(seen.told(), ["opening-tonight"]);
}

#[test]
fn the_alarm_of_a_bract_ends_two_hours_after_it_fell() {
    let mut night = Night::at_crack();
    // 9 cm in 6 h
    night.hours(6.0, |hours| Some(0.045 * (1.0 - (std::f64::consts::PI * hours / 6.0).cos())));
    night.hours(3.0, |_| Some(0.0));
    assert_eq!(night.told(), ["opening-tonight", "look", "stood-down"]);
    let after_fall_h = night.after_crack_h(EventKind::StoodDown) - 6.0;
    assert!((1.9..2.6).contains(&after_fall_h), "{after_fall_h}");
    // and the opening of the next day is told
    night.hours(15.0, |_| Some(0.0));
    night.hours(3.0, |hours| Some(opens(hours)));
    assert_eq!(night.told(), ["opening-tonight", "look", "stood-down", "opening-tonight"]);
}

#[test]
fn an_alarm_that_comes_no_further_stands_and_the_watch_goes_on_behind_it() {
    let mut night = Night::at_crack();
    night.hours(2.0, |hours| Some(0.04 * hours));
    night.hours(30.0, |_| Some(0.08));
    assert_eq!(night.told(), ["opening-tonight", "receptive-ending", "look", "pollen-shed"]);
    night.hours(3.0, |hours| Some(0.08 + opens(hours)));
    let alarms: Vec<&Event> =
        night.events.iter().filter(|event| event.kind == EventKind::OpeningTonight).collect();
    assert_eq!(alarms.len(), 2, "{:?}", night.told());
    assert!(alarms[1].ends.contains(&alarms[0].id));
    let second_h = alarms[1].time.hours_since(MIDNIGHT.plus_hours(CRACK_H));
    assert!((32.0..35.0).contains(&second_h), "{second_h}");
}

#[test]
fn one_that_comes_no_further_is_given_up_after_the_longest_that_any_has_stayed_open() {
    let mut night = Night::at_crack();
    night.hours(2.0, |hours| Some(0.04 * hours));
    night.hours(68.0, |_| Some(0.08));
    assert!(!night.told().contains(&"stood-down"), "{:?}", night.told());
    night.hours(3.0, |_| Some(0.08));
    assert_eq!(night.told().last(), Some(&"stood-down"));
}

#[test]
fn growth_that_is_known_for_less_than_three_days_ends_no_alarm() {
    // hung two days before; after the crack the spadix grows 0.8 cm a day still
    let mut night = Night::hung();
    let mut height_m = 1.2;
    let mut grown = |night: &mut Night, hours: f64, cm_day: f64, edge_m: &dyn Fn(f64) -> f64| {
        for minute in 1..=(hours * 60.0).round() as i64 {
            height_m += cm_day / 144_000.0;
            if minute % 5 == 0 {
                night.says(Quantity::TipRange, 3.1 - height_m + 0.0005 * ((minute / 5 % 3) as f64 - 1.0));
            }
            night.minutes(1.0, |_| Some(edge_m(minute as f64 / 60.0)));
        }
    };
    grown(&mut night, CRACK_H, 1.6, &|_| 0.0);
    grown(&mut night, 50.0, 0.8, &opens);
    let told = night.told();
    assert!(told.contains(&"opening-tonight") && !told.contains(&"stood-down"), "{told:?}");
    assert!(!told.contains(&"look"), "{told:?}");
    // growth that no open flower makes is said, and the alarm stands through the hours of a bloom
    let mut bud = Night::hung();
    grown(&mut bud, CRACK_H, 8.0, &|_| 0.0);
    grown(&mut bud, 58.0, 8.0, &opens);
    let told = bud.told();
    assert!(told.contains(&"look") && !told.contains(&"stood-down"), "{told:?}");
    grown(&mut bud, 4.0, 8.0, &|_| 0.4);
    assert_eq!(bud.told().last(), Some(&"stood-down"), "no such bloom stays open so long");
}

#[test]
fn found_open_after_its_hours_nobody_is_called_to_what_is_past() {
    let mut night = Night::at_crack();
    // twenty hours without a reading
    night.minute += 20 * 60;
    night.hours(1.0, |_| Some(0.4));
    let alarm = night.events.iter().find(|event| event.kind == EventKind::OpeningTonight).unwrap();
    let Details::Opening(details) = &alarm.details else { panic!("{alarm:?}") };
    let hours = details.moment.hours;
    assert!(details.found_open && hours.receptive.until < alarm.time && alarm.time < hours.collect.from);
    assert_eq!(hours.best, None);
    night.hours(12.0, |_| Some(0.4));
    for event in night.events.iter().filter(|event| event.kind == EventKind::ReceptiveEnding) {
        let Details::ReceptiveEnding { receptive } = &event.details else { panic!("{event:?}") };
        assert!(receptive.until > event.time, "{event:?}");
    }
}

#[test]
fn the_alarm_that_stands_has_the_figures_of_the_moment() {
    let mut night = Night::at_crack();
    night.hours(3.0, |hours| Some(opens(hours)));
    let raised = night.events.iter().find(|event| event.kind == EventKind::OpeningTonight).unwrap().clone();
    let says = |night: &Night| {
        let bench = night.site.benches().next().unwrap();
        bench.opening_alarm(night.now()).unwrap()
    };
    let three_h = says(&night);
    assert_eq!((&three_h.id, three_h.time, three_h.kind), (&raised.id, raised.time, raised.kind));
    let shown = |event: &Event| {
        let Details::Opening(details) = &event.details else { panic!("{event:?}") };
        details.clone()
    };
    let advance_cm = |event: &Event| shown(event).advance_cm.unwrap_or(f64::NAN);
    // 12.3 cm at three hours, and more than it was raised with
    assert!((advance_cm(&three_h) - 100.0 * opens(3.0)).abs() < 1.5, "{three_h:?}");
    assert!(advance_cm(&three_h) > advance_cm(&raised) + 4.0, "{three_h:?} after {raised:?}");
    night.hours(7.0, |hours| Some(opens(3.0 + hours)));
    let full = says(&night);
    let since = night.events.iter().find(|event| event.kind == EventKind::FullOpen).unwrap().time;
    assert_eq!((shown(&full).full_since, shown(&full).moment.full_open), (Some(since), None));
    assert!((advance_cm(&full) - 40.0).abs() < 1.5, "{full:?}");
    // the next morning its hours are over, and are not offered
    night.hours(9.0, |_| Some(0.4));
    let hours = shown(&says(&night)).moment.hours;
    assert!(hours.receptive.until < night.now() && hours.best.is_none(), "{hours:?}");
    // not heard, nothing is said of where it is
    night.hours(1.5, |_| None);
    assert!(!shown(&says(&night)).moment.seen);
}

/// A side ranger that is turned to a wall shows a closed edge all night.
#[test]
fn a_spadix_that_makes_heat_is_an_opening_and_no_ranger_ends_its_alarm() {
    let mut night = Night::at_crack();
    night.signs(PlainSign::LastBractDropped);
    for minute in 0..12 * 60 {
        night.says(Quantity::SpadixTemperature, 26.0 + (f64::from(minute) / 60.0).min(8.0));
        night.minutes(1.0, |_| Some(0.0));
    }
    assert_eq!(night.told()[0], "opening-tonight");
    assert!(!night.told().contains(&"stood-down"), "{:?}", night.told());
    // 3 K over the air three hours after, and half an hour of it
    let first = night.events.iter().find(|event| event.kind == EventKind::OpeningTonight).unwrap();
    let after_h = first.time.hours_since(MIDNIGHT.plus_hours(CRACK_H));
    assert!((3.3..4.0).contains(&after_h), "{after_h}");
    let Details::Opening(opening) = &first.details else { panic!("{first:?}") };
    assert_eq!(opening.told_by.name(), "spadix-temperature");
    assert!(opening.spadix_above_air_k.is_some_and(|kelvin| (3.0..4.0).contains(&kelvin)), "{opening:?}");
}

/// So many minutes of a warm spadix, with the edge where it is.
fn warm(night: &mut Night, minutes: u32, edge_m: f64) {
    for _ in 0..minutes {
        night.minutes(1.0, |_| Some(edge_m));
        night.says(Quantity::SpadixTemperature, 33.0);
    }
}

#[test]
fn a_spadix_that_was_warm_before_the_bud_was_known_to_be_ripe_is_told_once_it_is() {
    let mut night = Night::hung();
    night.signs(PlainSign::SpadixVisible);
    warm(&mut night, 120, 0.0);
    assert_eq!(night.told(), [""; 0], "a young bud");
    night.signs(PlainSign::EdgeLoose);
    warm(&mut night, 60, 0.0);
    assert_eq!(night.told(), ["opening-tonight"]);
}

#[test]
fn who_says_that_it_does_not_open_is_not_contradicted_by_warmth_that_began_before() {
    let mut night = Night::at_crack();
    night.signs(PlainSign::EdgeLoose);
    night.hours(3.0, |hours| Some(opens(hours)));
    warm(&mut night, 40, opens(3.0));
    night.signs(PlainSign::NotOpening);
    warm(&mut night, 60, opens(3.0));
    assert_eq!(night.told(), ["opening-tonight", "full-open", "stood-down"]);
}
