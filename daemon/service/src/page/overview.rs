//! The first page: whether anything needs a person, the alarms that stand, every bench.

use std::sync::Arc;

use axum::extract::State;
use bloom_model::time::Time;
use chrono::NaiveDate;
use maud::{Markup, html};

use super::alarms;
use super::frame::{instant, page};
use super::trouble::Trouble;
use super::words::{self, Mark};
use super::{House, glyph};
use crate::facts::{AirFacts, BenchFacts, HouseFacts};

/// `GET /`
pub(super) async fn show(State(house): State<Arc<House>>) -> Result<Markup, Trouble> {
    let facts = house.present()?;
    let now = house.clock.now();
    let content = html! {
        (verdict(&house, &facts, now))
        section #alarms data-live aria-label="Alarms" {
            @for alarm in &facts.alarms { (alarms::card(&house, alarm, now, "/")) }
        }
        section #benches data-live aria-label="Benches" {
            ol.benches {
                @for bench in by_need(&facts) { li { (card(&house, bench, now)) } }
            }
        }
    };
    Ok(page(&house, &alarms::title(&facts, &facts.site), &content))
}

/// The one glance.
fn verdict(house: &House, facts: &HouseFacts, now: Time) -> Markup {
    let zone = house.config.site.timezone;
    html! {
        header #verdict data-live {
            @if facts.rehearsal { p.rehearsal { "REHEARSAL: nothing here is real." } }
            h1 { (alarms::verdict(facts)) }
            @for remark in away(house, facts).into_iter().chain(remarks(facts)) { p.remark { (Mark::Beyond.sign()) (remark) } }
            @for stuck in house.stuck() { p.remark { (Mark::FarBeyond.sign()) "The daemon's " (stuck) " has not moved on in time: what is shown may be old." } }
            p.as-of {
                (benches_watched(facts.benches.len())) " As of "
                (instant(facts.time, &facts.time.utc().with_timezone(&zone).format("%H:%M:%S").to_string()))
                @if (now - facts.time).num_seconds() > 60 { " (" (words::ago(facts.time, now)) ")" }
                "."
            }
        }
    }
}

fn benches_watched(number: usize) -> String {
    if number == 1 { "One bench is watched.".to_owned() } else { format!("{number} benches are watched.") }
}

/// A broker that is away for so long is worth a word: one that is restarted is back before.
const AWAY_FOR_S: i64 = 15;

/// That the broker is away, and what waits for it.
fn away(house: &House, facts: &HouseFacts) -> Option<String> {
    let broker = facts.working.broker.as_ref()?;
    let since = broker.away_since.filter(|since| (facts.time - *since).num_seconds() >= AWAY_FOR_S)?;
    let since = words::clock(since, facts.time, house.config.site.timezone);
    let waiting = match broker.messages_waiting {
        1 => "one message waits".to_owned(),
        many => format!("{many} messages wait"),
    };
    let why = broker.why.as_ref().map(|why| format!(" ({why})")).unwrap_or_default();
    Some(format!("Phones hear nothing: no broker since {since}, {waiting} for it{why}."))
}

/// What wants to be looked at without being an alarm.
fn remarks(facts: &HouseFacts) -> Vec<String> {
    let listed = |holds: fn(&BenchFacts) -> bool| {
        facts.benches.iter().filter(|bench| holds(bench)).map(|bench| &*bench.bench).collect::<Vec<_>>()
    };
    let silent = listed(|bench| bench.silent);
    let beyond = listed(|bench| {
        let outside = |air: &AirFacts| {
            matches!(
                words::air_limits(air, bloom_model::spec::Units::Metric).0,
                Mark::Beyond | Mark::FarBeyond
            )
        };
        !bench.silent && bench.air.iter().any(outside)
    });
    let mut remarks = Vec::new();
    for (benches, what) in [(silent, "No readings from"), (beyond, "Air outside its limits at")] {
        match benches.len() {
            0 => {}
            1..=5 => remarks.push(format!("{what} {}.", benches.join(", "))),
            many => remarks.push(format!("{what} {many} benches.")),
        }
    }
    remarks
}

/// Benches with an alarm that nobody took note of, then those that are open, then buds by when they open, then the rest.
fn by_need(facts: &HouseFacts) -> Vec<&BenchFacts> {
    let mut benches: Vec<_> = facts.benches.iter().collect();
    benches.sort_by_key(|bench| need(facts, bench));
    benches
}

fn need(facts: &HouseFacts, bench: &BenchFacts) -> (u8, Option<NaiveDate>) {
    let of_it = |alarm: &&crate::facts::AlarmFacts| alarm.bench.as_ref() == Some(&bench.bench);
    let opens = bench.state.as_ref().and_then(|state| state.opens).map(|opens| opens.likely);
    let place = match bench.stage() {
        _ if facts.alarms.iter().filter(of_it).any(|alarm| alarm.acknowledged.is_none()) => 0,
        "opening" | "full-open" | "pollen-shed" => 1,
        "bud" | "slowing" => 2,
        "closed" | "fruiting" => 3,
        _ => 4,
    };
    (place, opens)
}

fn card(house: &House, bench: &BenchFacts, now: Time) -> Markup {
    let units = house.config.site.units;
    let state = bench.state.as_ref();
    let (fresh, newest) = words::newest(bench, now);
    html! {
        article.bench.(bench.stage()) {
            a.to id={ "to-" (bench.bench) } href={ "/bench/" (bench.bench) } {
                (glyph::of(bench.stage()))
                span.name { (bench.bench) }
                span.plant { (bench.plant.as_deref().unwrap_or("plant not named")) }
                span.stage { (words::stage(bench.stage())) }
            }
            dl.figures {
                @if let Some(height) = words::height(state, units) { (figure("Height", Mark::Plain, &height, None)) }
                @if let Some(growth) = words::growth_of_hour(state, units) { (figure("Last hour", Mark::Plain, &growth, None)) }
                @if let Some(opens) = state.and_then(|state| state.opens.as_ref()) {
                    (figure("Opens", Mark::Plain, &words::opens(opens), Some("four times in five")))
                }
                @if let Some(tonight) = bench.tonight {
                    (figure("Tonight", Mark::Plain, &words::chance(tonight.probability), Some("by the morning bulletin")))
                }
                @if let Some(since) = state.and_then(|state| state.full_open_since) {
                    (figure("Fully open", Mark::Plain, &words::clock(since, now, house.config.site.timezone), Some("since")))
                }
                @if let Some(full_open) = state.and_then(|state| state.full_open) {
                    (figure("Fully open", Mark::Plain, &words::clock(full_open.likely, now, house.config.site.timezone), Some("likely")))
                }
                @for air in &bench.air { (air_figure(house, air)) }
                (figure("Newest reading", fresh, &newest, None))
            }
        }
    }
}

/// A quantity of the air with its limits; nothing where it has no value and no limits.
pub(super) fn air_figure(house: &House, air: &AirFacts) -> Markup {
    let units = house.config.site.units;
    let (mark, limits) = words::air_limits(air, units);
    match words::air_value(air, units) {
        Some(value) => figure(words::air_name(air.quantity), mark, &value, Some(&limits)),
        None if air.limits.is_some() => {
            figure(words::air_name(air.quantity), Mark::Plain, "not known", Some(&limits))
        }
        None => html! {},
    }
}

/// A name, a figure with the sign of how it fares, and a note.
pub(super) fn figure(name: &str, mark: Mark, value: &str, note: Option<&str>) -> Markup {
    html! {
        div class=(mark.class()) {
            dt { (name) }
            dd { (mark.sign()) b { (value) } @if let Some(note) = note { " " small { (note) } } }
        }
    }
}
