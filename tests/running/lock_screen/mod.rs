//! Every message as a locked phone shows it: its first 60 characters, in both systems of units, written down in
//! `tests/reference/lock-screen.txt`. Whoever changes a sentence sees there what a person at night sees of it:
//!
//!     ANTHESISD_WRITE=1 cargo test --workspace --test running lock_screen
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

mod said;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::sync::Arc;

use bloom_model::event::{Event, EventKind};
use bloom_model::heat::HeatLimits;
use bloom_model::spec::{SiteSpec, Units};
use bloom_text::{Payload, render, unanswered};
use chrono::TimeDelta;
use end_to_end::house::assert_alike;

use super::documents::keeps_the_rules;
use said::{alarms, notices, warnings};

/// What a locked phone shows of a message.
const SHOWN: usize = 60;
const KEPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/lock-screen.txt");

fn site(units: Units) -> SiteSpec {
    SiteSpec {
        name: Arc::from("saltmarsh"),
        timezone: chrono_tz::America::Halifax,
        units,
        pressure_kpa: 101.325,
        morning_hour: 7,
        silent_after: TimeDelta::minutes(15),
        heat: HeatLimits::default(),
        test_alarms: false,
    }
}

fn cut(message: &str) -> String {
    message.chars().take(SHOWN).collect()
}

/// What is said in both systems of units; the second only where it reads otherwise.
fn shown(event: &Event) -> String {
    let [metric, us] = [Units::Metric, Units::Us].map(|units| cut(&render(event, &site(units))));
    let mut rows = format!("{:<20} |{metric}\n", event.kind.name());
    if us != metric {
        let _ = writeln!(rows, "{:<20} |{us}", "");
    }
    rows
}

#[test]
fn every_message_on_a_lock_screen_is_written_down() {
    let unanswered: String = alarms()
        .iter()
        .map(|event| {
            format!(
                "{:<20} |{}\n",
                event.kind.name(),
                cut(&(unanswered(40) + &render(event, &site(Units::Metric))))
            )
        })
        .collect();
    let of = |events: Vec<Event>| events.iter().map(shown).collect::<String>();
    let all = format!(
        "Alarms\n\n{}\nAlarms that nobody has answered for 40 minutes\n\n{unanswered}\nWarnings\n\n{}\nNotices\n\n{}",
        of(alarms()),
        of(warnings()),
        of(notices())
    );
    if std::env::var_os("ANTHESISD_WRITE").is_some() {
        fs::write(KEPT, all).expect("it can be written");
        return;
    }
    let kept = fs::read_to_string(KEPT).expect("it was written down");
    assert_alike(&all.lines().collect::<Vec<_>>(), &kept.lines().collect::<Vec<_>>());
}

#[test]
fn no_kind_of_message_is_left_out() {
    let all: BTreeSet<EventKind> =
        [alarms(), warnings(), notices()].into_iter().flatten().map(|event| event.kind).collect();
    assert_eq!(all, EventKind::ALL.iter().copied().collect());
}

#[test]
fn an_alarm_says_what_to_do_and_where_before_a_locked_phone_cuts_it_off() {
    for units in [Units::Metric, Units::Us] {
        let site = site(units);
        for event in alarms() {
            let payload = serde_json::to_value(Payload::of(&event, &site)).expect("JSON");
            keeps_the_rules(&payload);
        }
        for event in warnings().into_iter().chain(notices()) {
            keeps_the_rules(&serde_json::to_value(Payload::of(&event, &site)).expect("JSON"));
            let first = cut(&render(&event, &site));
            let is_placed = event.bench.as_deref().is_none_or(|bench| first.contains(bench));
            assert!(is_placed, "no place in {first:?}");
        }
    }
}

/// The word that nobody has answered stands before everything; what is opening, and where, is still seen behind it.
#[test]
fn an_alarm_that_nobody_answered_still_says_where() {
    for event in alarms() {
        let first = cut(&(unanswered(40) + &render(&event, &site(Units::Metric))));
        let place = event.bench.as_deref().unwrap_or("");
        let is_placed = if place.is_empty() {
            ["the house", "saltmarsh", "east-"].iter().any(|place| first.contains(place))
        } else {
            first.contains(place)
        };
        assert!(is_placed, "no place in {first:?}");
    }
}
