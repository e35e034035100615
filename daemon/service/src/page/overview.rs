//! The first page: whether anything needs a person, the alarms that stand, the benches that need somebody, then every other by how near it
//! is to its opening.

use std::sync::Arc;

use axum::extract::{RawQuery, State};
use bloom_model::heat::HeatLevel;
use bloom_model::quantity::measure::Measure;
use bloom_text::{Words, capital, dates, when};
use chrono::NaiveDate;
use maud::{Markup, html};

use super::alarms;
use super::frame::{figure, instant, page};
use super::mornings::{self, Morning};
use super::trouble::Trouble;
use super::verdict::{Glance, Verdict};
use super::words::{self, Mark};
use super::{House, acting, forecast, glyph, strip};
use crate::facts::{BenchFacts, ClimateFacts, HouseFacts, Lies};
use crate::store::{Reader, Whose};

/// So many benches at most are shown with every figure.
const MOST_IN_FULL: usize = 8;
/// A chance of tonight from which on somebody should look this evening. Judgement.
const WORTH_A_LOOK: f64 = 0.1;

/// `GET /`
pub(super) async fn show(
    State(house): State<Arc<House>>,
    RawQuery(query): RawQuery,
) -> Result<Markup, Trouble> {
    let facts = house.present()?;
    let (now, stuck) = (house.clock.now(), house.stuck());
    let since = now.plus_hours(-24.0 * (strip::GROWTH_D + 1) as f64);
    // what is drawn of the past is left out where the record cannot be read; the verdict says that it cannot
    let mornings = house
        .reading(move |house| {
            let reader = Reader::open(&house.config.store_path)?;
            Ok(mornings::read(&reader, Whose::Everything, since)?)
        })
        .await
        .unwrap_or_default();
    let glance = house.glance(&facts, &stuck);
    let verdict = glance.verdict();
    let (needy, others): (Vec<_>, Vec<_>) =
        by_need(&facts).into_iter().partition(|bench| needs_somebody(&glance, bench));
    // a small house shows every figure of every bench; in a large one those that need nobody are lines
    let brief = facts.benches.len() > MOST_IN_FULL;
    let of = |bench: &BenchFacts| mornings.get(&bench.bench).map_or(&[][..], Vec::as_slice);
    let content = html! {
        (header(&house, &glance, &verdict))
        (acting::told(&house, receipt_of(query.as_deref()), None))
        section #alarms data-live aria-label="Alarms" {
            @for alarm in &facts.alarms { (alarms::card(&house, alarm, now, "/")) }
        }
        section #benches data-live aria-label="Benches" {
            @if facts.benches.iter().any(|bench| bench.opens().is_some()) { p.note { (strip::WORDS) } }
            @if !needy.is_empty() {
                ol.benches { @for bench in &needy { li { (card(&house, &glance, bench, of(bench), false)) } } }
            }
            ol.benches .brief[brief] {
                @for bench in &others { li { (card(&house, &glance, bench, of(bench), brief)) } }
            }
        }
    };
    Ok(page(&house, &alarms::title(&facts, &verdict, &facts.site), &content))
}

/// The token of a press in a query; whatever else stands there says nothing.
pub(super) fn receipt_of(query: Option<&str>) -> Option<&str> {
    query?.split('&').find_map(|pair| pair.strip_prefix("receipt="))
}

/// The one glance.
fn header(house: &House, glance: &Glance<'_>, verdict: &Verdict) -> Markup {
    let (facts, now, zone) = (glance.facts, glance.now, house.config.site.timezone);
    html! {
        header #verdict data-live {
            @if facts.rehearsal { p.rehearsal { "REHEARSAL: nothing here is real." } }
            h1 { (verdict.headline) }
            @if let Some(heat) = heat(house, facts) { p.remark { (Mark::Beyond.sign()) (heat) } }
            @for sentence in &verdict.beside { p.remark { (Mark::Beyond.sign()) (sentence) } }
            @if let Some(beyond) = climate_beyond(glance) { p.remark { (Mark::Beyond.sign()) (beyond) } }
            p.as-of {
                (benches_read(glance.read(), facts.benches.len())) " As of "
                (instant(facts.time, &when::clock_to_the_second(facts.time, zone)))
                @if (now - facts.time).num_seconds() > 60 { " (" (when::ago(facts.time, now)) ")" }
                "."
            }
            p.as-of { (ways(facts)) }
        }
    }
}

/// The ways in and out, in one line: what is amiss with them is said above.
fn ways(facts: &HouseFacts) -> String {
    let (intakes, broker) = (&facts.working.intakes, &facts.working.broker);
    let out = intakes.iter().filter(|intake| intake.out_since.is_some()).count();
    let ways = match (intakes.len(), out) {
        (0, _) => "No intake is configured".to_owned(),
        (1, 0) => "The intake works".to_owned(),
        (1, _) => "The intake is out".to_owned(),
        (all, 0) => format!("All {all} intakes work"),
        (all, out) => format!("{out} of {all} intakes {} out", if out == 1 { "is" } else { "are" }),
    };
    let broker = match broker {
        None => "no broker is configured",
        Some(broker) if broker.away_since.is_some() => "the broker is away",
        Some(_) => "the broker is connected",
    };
    format!("{ways}; {broker}.")
}

/// Heat for the people in the house, while it lasts.
fn heat(house: &House, facts: &HouseFacts) -> Option<String> {
    let hottest = facts.hottest.as_ref()?;
    let what_to_do = match hottest.level {
        HeatLevel::Bearable => return None,
        HeatLevel::Danger => "Heat in the house: short spells, water, a second person.",
        HeatLevel::ExtremeDanger => {
            "Extreme heat: stay out of the house; if somebody must go in, minutes and never alone."
        }
    };
    let index = Words::new(&house.config.site, &facts.site, None).temperature(hottest.heat_index_c);
    let over = if hottest.above_scale { "more than " } else { "" };
    Some(format!("{what_to_do} It feels like {over}{index} in the shade at {}.", hottest.bench))
}

fn benches_read(read: usize, all: usize) -> String {
    match (read, all) {
        (1, 1) => "One bench is read.".to_owned(),
        (read, all) if read == all => format!("{all} benches are read."),
        (read, all) => format!("{read} of {all} benches {} read.", if read == 1 { "is" } else { "are" }),
    }
}

/// The benches that are read and whose climate lies outside its limits.
fn climate_beyond(glance: &Glance<'_>) -> Option<String> {
    let outside = |facts: &ClimateFacts| facts.lies.is_some_and(|lies| lies != Lies::Within);
    let beyond = |bench: &&BenchFacts| !glance.is_silent(bench) && bench.climate.iter().any(outside);
    let benches: Vec<&str> = glance.facts.benches.iter().filter(beyond).map(|bench| &*bench.bench).collect();
    match benches.len() {
        0 => None,
        1..=5 => Some(format!("Climate outside its limits at {}.", benches.join(", "))),
        many => Some(format!("Climate outside its limits at {many} benches.")),
    }
}

/// Benches with an alarm that nobody took note of, then those that are open, then buds by when they open, then the rest.
fn by_need(facts: &HouseFacts) -> Vec<&BenchFacts> {
    let mut benches: Vec<_> = facts.benches.iter().collect();
    benches.sort_by_key(|bench| need(facts, bench));
    benches
}

/// Whether somebody is to look at a bench: an alarm that nobody took note of, a plant that is open, nothing read, a sensor out, climate beyond
/// its limits, or an opening that may be tonight's.
fn needs_somebody(glance: &Glance<'_>, bench: &BenchFacts) -> bool {
    let beyond = |facts: &ClimateFacts| facts.lies.is_some_and(|lies| lies != Lies::Within);
    let tonight = bench.tonight.is_some_and(|tonight| tonight.probability >= WORTH_A_LOOK);
    need(glance.facts, bench).0 <= 1
        || glance.is_silent(bench)
        || !bench.sensors_out.is_empty()
        || bench.climate.iter().any(beyond)
        || tonight
}

fn need(facts: &HouseFacts, bench: &BenchFacts) -> (u8, Option<NaiveDate>) {
    let of_it = |alarm: &&crate::facts::AlarmFacts| alarm.bench.as_ref() == Some(&bench.bench);
    let opens = bench.opens().map(|opens| opens.likely);
    let place = match bench.stage() {
        _ if facts.alarms.iter().filter(of_it).any(|alarm| alarm.acknowledged.is_none()) => 0,
        "opening" | "full-open" | "pollen-shed" => 1,
        "bud" | "slowing" => 2,
        "closed" | "fruiting" => 3,
        _ => 4,
    };
    (place, opens)
}

/// A bench: its stage, its strip, and its figures; in `brief` only the two that matter most.
fn card(house: &House, glance: &Glance<'_>, bench: &BenchFacts, mornings: &[Morning], brief: bool) -> Markup {
    let (units, zone) = (house.config.site.units, house.config.site.timezone);
    let state = bench.state.as_ref();
    let now = glance.now;
    let (fresh, newest) = words::newest(bench, glance.is_silent(bench), now);
    html! {
        article.bench.(bench.stage()) {
            a.to id={ "to-" (bench.bench) } href={ "/bench/" (bench.bench) } {
                (glyph::of(bench.stage()))
                span.name { (bench.bench) }
                span.plant { (bench.plant.as_deref().unwrap_or("plant not named")) }
                span.stage { (words::stage(bench.stage())) }
            }
            @if let Some(opens) = bench.opens() { (strip::drawn(mornings, opens, now, units, zone)) }
            dl.figures {
                @if let Some(edge) = &bench.edge { (figure("Edge out", Mark::Plain, &bloom_text::figure(Measure::Advance, units, edge.out_m), None)) }
                @if bench.edge.is_none() && let Some(growth) = words::growth_of_day(state, units) { (figure("Growth", Mark::Plain, &growth, None)) }
                @if !brief && let Some(height) = words::height(state, units) { (figure("Height", Mark::Plain, &height, None)) }
                @if !brief { (forecast::figures(bench, now, zone)) } @else if let Some(opens) = bench.opens() { (figure("Opens", Mark::Plain, &dates(&opens), None)) }
                @if let Some(since) = state.and_then(|state| state.full_open_since) {
                    (figure("Fully open", Mark::Plain, &when::clock_seen_from(since, now, zone), Some("since")))
                }
                @if let Some(full_open) = state.and_then(|state| state.full_open) {
                    (figure("Full bloom", Mark::Plain, &words::full_bloom(full_open.likely, now, zone), None))
                }
                @if !brief {
                    @for facts in &bench.climate { (climate_figure(house, facts, glance.is_silent(bench))) }
                    (figure("Newest reading", fresh, &newest, None))
                }
            }
        }
    }
}

/// A quantity with its limits; nothing where it has no value and no limits. Of a bench that is not read it is not judged.
pub(super) fn climate_figure(house: &House, facts: &ClimateFacts, silent: bool) -> Markup {
    let units = house.config.site.units;
    let name = capital(facts.of.short());
    let (mark, limits) = words::climate_limits(facts, units);
    match words::climate_value(facts, units) {
        Some(value) if silent => figure(&name, Mark::Plain, &value, Some("old")),
        Some(value) => figure(&name, mark, &value, Some(&limits)),
        None if facts.limits.is_some() => figure(&name, Mark::Plain, "not known", Some(&limits)),
        None => html! {},
    }
}
