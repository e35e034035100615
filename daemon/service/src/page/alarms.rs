//! Alarms that stand, and taking note of them.

use bloom_model::event::{EventClass, EventKind};
use bloom_model::time::Time;
use bloom_text::when;
use maud::{Markup, html};

use super::House;
use super::frame::instant;
use super::verdict::{Verdict, waiting};
use crate::facts::{AlarmFacts, HouseFacts};

/// What stands in the browser's tab.
pub(super) fn title(facts: &HouseFacts, verdict: &Verdict, of: &str) -> String {
    match waiting(facts) {
        0 if verdict.trouble => format!("▲ {of}"),
        0 => of.to_owned(),
        waiting => format!("({waiting}) ALARM · {of}"),
    }
}

/// An alarm with its button. `from` is the page to come back to.
pub(super) fn card(house: &House, alarm: &AlarmFacts, now: Time, from: &str) -> Markup {
    let zone = house.config.site.timezone;
    html! {
        article.alarm .noted[alarm.acknowledged.is_some()] {
            h2 {
                span.sign aria-hidden="true" { "▲" } " "
                @if EventKind::of(&alarm.event).is_some_and(|kind| kind.row().class == EventClass::Drill) { "Test alarm" } @else { "Alarm: " (alarm.event.replace('-', " ")) }
                @if let Some(bench) = &alarm.bench { " · " a id={ "of-" (alarm.id) } href={ "/bench/" (bench) } { (bench) } }
            }
            p.message { (alarm.message) }
            p.when {
                "Raised " (instant(alarm.raised, &when::clock_seen_from(alarm.raised, now, zone)))
                " (" (when::ago(alarm.raised, now)) ")"
                @match alarm.repeats { 0 => {}, 1 => { ", repeated once" }, 2 => { ", repeated twice" }, repeats => { ", repeated " (repeats) " times" } }
                "."
            }
            @if let Some(time) = alarm.coming {
                p.when {
                    (alarm.coming_by.as_deref().unwrap_or("Somebody")) " comes by " (instant(time, &when::clock_seen_from(time, now, zone)))
                    "; repeats wait until then."
                }
            }
            @match alarm.acknowledged {
                Some(time) => p.when {
                    "✓ Acknowledged " (instant(time, &when::clock_seen_from(time, now, zone)))
                    @if let Some(by) = &alarm.acknowledged_by { " by " (by) }
                    "."
                    @if let Some(time) = alarm.comes_back {
                        " Nobody said who: it comes back at " (instant(time, &when::clock_seen_from(time, now, zone))) " unless a sign is recorded."
                    }
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
