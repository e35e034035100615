//! Alarms that stand, and taking note of them.

use bloom_model::time::Time;
use maud::{Markup, html};

use super::House;
use super::frame::instant;
use super::words;
use crate::facts::{AlarmFacts, HouseFacts};

/// How many nobody took note of.
fn waiting(facts: &HouseFacts) -> usize {
    facts.alarms.iter().filter(|alarm| alarm.acknowledged.is_none()).count()
}

/// Whether anything needs a person, in a sentence.
pub(super) fn verdict(facts: &HouseFacts) -> String {
    match (waiting(facts), facts.alarms.len()) {
        (0, 0) => "Nothing needs you.".to_owned(),
        (0, 1) => "One alarm stands, and somebody took note of it.".to_owned(),
        (0, all) => format!("{all} alarms stand, and somebody took note of them."),
        (1, _) => "One alarm needs somebody.".to_owned(),
        (waiting, _) => format!("{waiting} alarms need somebody."),
    }
}

/// What stands in the browser's tab.
pub(super) fn title(facts: &HouseFacts, of: &str) -> String {
    match waiting(facts) {
        0 => of.to_owned(),
        waiting => format!("({waiting}) ALARM · {of}"),
    }
}

/// An alarm with its press. `from` is the page to come back to.
pub(super) fn card(house: &House, alarm: &AlarmFacts, now: Time, from: &str) -> Markup {
    let zone = house.config.site.timezone;
    html! {
        article.alarm .noted[alarm.acknowledged.is_some()] {
            h2 {
                span.sign aria-hidden="true" { "▲" } " "
                @if alarm.event == "test" { "Test alarm" } @else { "Alarm: " (alarm.event.replace('-', " ")) }
                @if let Some(bench) = &alarm.bench { " · " a id={ "of-" (alarm.id) } href={ "/bench/" (bench) } { (bench) } }
            }
            p.message { (alarm.message) }
            p.when {
                "Raised " (instant(alarm.raised, &words::clock(alarm.raised, now, zone)))
                " (" (words::ago(alarm.raised, now)) ")"
                @match alarm.repeats { 0 => {}, 1 => { ", repeated once" }, 2 => { ", repeated twice" }, repeats => { ", repeated " (repeats) " times" } }
                "."
            }
            @match alarm.acknowledged {
                Some(time) => p.when {
                    "✓ Noted " (instant(time, &words::clock(time, now, zone)))
                    @if let Some(by) = &alarm.acknowledged_by { " by " (by) }
                    "."
                },
                None => form method="post" action="/acknowledge" {
                    input type="hidden" name="id" value=(alarm.id);
                    input type="hidden" name="from" value=(from);
                    button.press .urgent id={ "note-" (alarm.id) } { "Acknowledge" }
                },
            }
        }
    }
}
