//! Hours that are past are not offered, and hours of another day have their day. The sentences themselves stand below this file.

mod air;
mod answers;
mod life;
mod payload;
mod sensing;
mod site;

use std::sync::Arc;

use bloom_model::event::{FullOpenTimes, OpenHours, Window};
use bloom_model::forecast::{OpeningDates, Outlook};
use bloom_model::heat::HeatLimits;
use bloom_model::spec::{SiteSpec, Units};
use bloom_model::time::Time;
use chrono::{NaiveDate, TimeDelta};
use chrono_tz::Tz;

use super::*;

const HALIFAX: Tz = chrono_tz::America::Halifax;

pub(super) fn site() -> SiteSpec {
    SiteSpec {
        name: Arc::from("saltmarsh"),
        timezone: HALIFAX,
        units: Units::Metric,
        pressure_kpa: 101.325,
        morning_hour: 7,
        silent_after: TimeDelta::minutes(15),
        heat: HeatLimits::default(),
        test_alarms: false,
    }
}

/// What every message keeps to; an alarm also says within 60 characters what to do, and where.
pub(super) fn keeps_the_rules(message: &str) {
    for word in [" booked", " rim", "-0.0", " 0 %", "keeper", "daemon", "second way out", "stage"] {
        assert!(!message.contains(word), "{word:?} in {message:?}");
    }
    let first: String = message.chars().take(60).collect();
    assert!(!first.contains('/'), "a path in {first:?}");
}

/// Likewise of an alarm of east-3.
pub(super) fn keeps_the_rules_of_an_alarm(message: &str, order: &str) {
    keeps_the_rules(message);
    let first: String = message.chars().take(60).collect();
    assert!(first.contains("east-3") && first.contains(order), "{order:?} in {first:?}");
    assert!(message.to_lowercase().contains("not alone"), "{message:?}");
}

/// Local hours after the midnight before Wednesday 2 June 2027.
pub(super) fn at(hours: f64) -> Time {
    Time::from_unix_ms(1_811_905_200_000).plus_hours(hours)
}

fn window(from: f64, until: f64) -> Window {
    Window { from: at(from), until: at(until) }
}

/// The hours of a titan arum that cracked on Wednesday at 14:00, as the model gives them at an hour.
pub(super) fn hours(hour: f64) -> OpenHours {
    let best = (hour < 26.0).then(|| window(hour.max(18.0), 26.0));
    OpenHours { receptive: window(17.0, 32.0), best, collect: window(36.0, 74.0) }
}

/// What is said at such an hour.
fn said(hour: f64) -> String {
    Words::new(&site(), "east-3", None).pollination(at(hour), &hours(hour))
}

#[test]
fn no_hour_that_is_past_is_offered() {
    assert_eq!(
        said(15.5),
        "pollinate from Wed 17:00 until about Thu 08:00, best Wed 18:00 to Thu 02:00",
        "before them"
    );
    assert_eq!(said(20.5), "pollinate now, until about Thu 08:00, best until Thu 02:00");
    assert_eq!(said(17.5), "pollinate now, until about Thu 08:00, best Wed 18:00 to Thu 02:00");
    assert_eq!(said(24.0 + 1.0), "pollinate now, until about Thu 08:00, best until Thu 02:00");
    assert_eq!(said(24.0 + 2.5), "pollinate now, until about Thu 08:00", "the best hours are over");
    let over = "pollination hours are over by the books (Thu 08:00), try only if stigmas are moist";
    assert_eq!(said(24.0 + 9.8), format!("{over}; collect pollen from Thu 12:00"));
    assert_eq!(said(24.0 + 13.0), format!("{over}; collect pollen now, until Sat 02:00"));
    assert_eq!(said(100.0), over);
}

#[test]
fn full_opening_has_its_days_and_is_no_hour_that_is_past() {
    let site = site();
    let words = Words::new(&site, "east-3", None);
    let times = |earliest, likely, latest| FullOpenTimes {
        earliest: at(earliest),
        likely: at(likely),
        latest: at(latest),
    };
    assert_eq!(words.full_open(&times(19.0, 22.0, 30.0), at(16.0)), "about Wed 22:00 (19:00 to Thu 06:00)");
    assert_eq!(
        words.full_open(&times(33.0, 33.0, 36.0), at(33.0)),
        "by now, most likely (at the latest Thu 12:00)"
    );
}

fn date(month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, month, day).unwrap()
}

fn of(tonight: f64, never: f64) -> Outlook {
    let opens = OpeningDates { earliest: date(5, 28), likely: date(5, 29), latest: date(5, 30) };
    Outlook { opens, probability_tonight: tonight, probability_never: never, height_at_opening_m: None }
}

#[test]
fn windows_are_said_without_needless_words() {
    let of = |earliest, likely, latest| dates(&OpeningDates { earliest, likely, latest });
    assert_eq!(of(date(6, 3), date(6, 4), date(6, 6)), "likely 4 Jun (3 to 6 Jun)");
    assert_eq!(of(date(5, 30), date(6, 1), date(6, 3)), "likely 1 Jun (30 May to 3 Jun)");
    assert_eq!(of(date(6, 3), date(6, 3), date(6, 3)), "3 Jun");
}

#[test]
fn no_chance_is_said_to_be_certain() {
    assert_eq!(percent(0.0), "under 1 %");
    assert_eq!(percent(0.004), "under 1 %");
    assert_eq!(percent(0.352), "35 %");
    assert_eq!(percent(0.999), "over 99 %");
}

#[test]
fn dates_and_chance_stand_on_one_footing_and_the_footing_is_said() {
    assert_eq!(outlook(&of(0.163, 0.08), true), "tonight 16 %, opens likely 29 May (28 to 30 May)");
    assert_eq!(
        outlook(&of(0.7, 0.24), true),
        "tonight 70 %, opens likely 29 May (28 to 30 May), if it opens at all (chance that it never does 24 %)"
    );
    assert_eq!(outlook(&of(0.7, 0.08), false), "opens likely 29 May (28 to 30 May)");
    assert_eq!(outlook(&of(0.7, 0.95), true), "most likely stopped (95 %), look at it");
}

#[test]
fn nothing_is_never_negative() {
    let site = site();
    let words = Words::new(&site, "east-3", None);
    assert_eq!(words.centimetres(-0.0004), "0.0 cm");
    assert_eq!(words.centimetres(-0.0006), "-0.1 cm");
    assert_eq!((words.height(-0.004), words.temperature(-0.04)), ("0.00 m".to_owned(), "0.0 °C".to_owned()));
}
