//! A bench's own page, by its age: of a bud its growth and how its window narrowed, on the night the edge, the clock and what to do next,
//! after it what is due. Then what a person can record by a button, every figure, events by day, the book, pictures of the last days.

use std::sync::Arc;

use axum::extract::{Extension, Path, RawQuery, State};
use axum::http::HeaderMap;
use bloom_model::book::bloom::BloomRecord;
use bloom_model::event::Window;
use bloom_model::time::Time;
use bloom_text::{dates, percent, when};
use chrono::NaiveDate;
use maud::{Markup, html};

use super::frame::{figure, page};
use super::guard::Visitor;
use super::overview::{climate_figure, receipt_of};
use super::past::Past;
use super::trouble::Trouble;
use super::verdict::{Glance, sensors_out};
use super::words::{self, Mark};
use super::{House, acting, alarms, booking, course, dial, edge, forecast, glyph, pictures, told};
use crate::book;
use crate::book::calendar::Span;
use crate::book::telling;
use crate::facts::BenchFacts;

/// `GET /bench/{bench}`. The header `X-Part: live` leaves the pictures out, which change slowly.
pub(super) async fn show(
    State(house): State<Arc<House>>,
    Path(bench): Path<String>,
    RawQuery(query): RawQuery,
    Extension(Visitor(by)): Extension<Visitor>,
    headers: HeaderMap,
) -> Result<Markup, Trouble> {
    let facts = house.present()?;
    let known = facts.bench(&bench).ok_or_else(|| Trouble::no_bench(&bench))?;
    let (now, stuck) = (house.clock.now(), house.stuck());
    let glance = house.glance(&facts, &stuck);
    let verdict = glance.verdict();
    let id = Arc::clone(&known.bench);
    // the plant is watched whether the record can be read or not, and whoever stands before it must see so
    let past = house.reading(move |house| Past::read(house, &id, now)).await;
    let past = past.unwrap_or_else(|trouble| Past::unreadable(&trouble));
    let drawn = if headers.contains_key("x-part") || past.unreadable.is_some() {
        None
    } else {
        pictures::of(&house, &known.bench, now).await?
    };
    let from = format!("/bench/{}", known.bench);
    let age = Age::of(known.stage());
    let content = html! {
        header #verdict data-live {
            @if facts.rehearsal { p.rehearsal { "REHEARSAL: nothing here is real." } }
            div.head.(known.stage()) {
                (glyph::of(known.stage()))
                h1 { (known.bench) ": " (words::stage(known.stage())) }
            }
            p.as-of { (known.plant.as_deref().unwrap_or("plant not named")) ", " i { (known.taxon) } }
            @for sentence in in_the_way(&glance, known) { p.remark { (Mark::Beyond.sign()) (sentence) } }
            @if let Some(why) = &past.unreadable {
                p.remark { (Mark::Beyond.sign()) "What was recorded and what happened cannot be shown. " (why) }
            }
        }
        (acting::told(&house, receipt_of(query.as_deref()), Some(&known.bench)))
        @let alarms = html! {
            section #alarms data-live aria-label="Alarms of this bench" {
                @for alarm in facts.alarms_of(&known.bench) { (alarms::card(&house, alarm, now, &from)) }
            }
        };
        @let booking = html! { section #booking data-live { (booking::shown(&house, known, &past, by.as_deref(), now)) } };
        @let care = html! { p.care { a href="/tonight#care" { "Take care: sap, ladder, heat, wet mains" @if age == Age::Night { "; not alone. Local codes hold" } } } };
        @match age {
            Age::Night => {
                section #edge data-live { (edge::shown(&house, known, now)) }
                (alarms)
                (care)
                div.two {
                    section #night data-live { (night(&house, known, &past, now)) }
                    (booking)
                }
            },
            Age::Bud => {
                (alarms)
                (care)
                div.two {
                    section #bud data-live { (bud(&house, known, &past)) }
                    (booking)
                }
            },
            Age::After => {
                (alarms)
                (care)
                div.two {
                    section #due data-live { (due(&house, &past)) }
                    (booking)
                }
            },
        }
        div.two {
            section #present data-live { (present(&house, &glance, known, past.bloom.as_ref())) }
            section #events data-live { (events(&house, &past)) }
        }
        section #entries data-live { (entries(&house, &past)) }
        @if let Some(drawn) = &drawn {
            section #pictures data-live {
                h2 { "The last " (pictures::DAYS) " days" }
                (drawn.markup)
            }
        }
        @if past.bloom.is_some() {
            p { a.press.quiet href={ (from) "/review" } { "Save the whole bloom as one file" } }
        }
    };
    Ok(page(&house, &alarms::title(&facts, &verdict, &known.bench), &content))
}

/// What the page is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Age {
    /// It is to open.
    Bud,
    /// It opens, or is open.
    Night,
    /// Everything else: what was recorded, and what is due.
    After,
}

impl Age {
    fn of(stage: &str) -> Self {
        match stage {
            "bud" | "slowing" => Self::Bud,
            "opening" | "full-open" | "pollen-shed" => Self::Night,
            _ => Self::After,
        }
    }
}

/// Because of what this page may not show the plant as it is.
fn in_the_way(glance: &Glance<'_>, bench: &BenchFacts) -> Vec<String> {
    let mut said = Vec::new();
    if !glance.stuck.is_empty() {
        said.push(format!(
            "Part of the watch hangs ({}): this page may be old. Look at the plant.",
            glance.stuck.join(", ")
        ));
    }
    if glance.is_silent(bench) {
        said.push(format!("{} is not read: what this page shows is old. Look at the plant.", bench.bench));
    } else if !bench.sensors_out.is_empty() {
        said.push(format!("{}.", sensors_out(bench)));
    }
    said
}

fn present(house: &House, glance: &Glance<'_>, bench: &BenchFacts, bloom: Option<&BloomRecord>) -> Markup {
    let now = glance.now;
    let (fresh, newest) = words::newest(bench, glance.is_silent(bench), now);
    let (units, zone) = (house.config.site.units, house.config.site.timezone);
    let state = bench.state.as_ref();
    let plain = |name: &str, value: Option<String>, note: Option<&str>| {
        html! { @if let Some(value) = value { (figure(name, Mark::Plain, &value, note)) } }
    };
    // hours that are past are not offered
    let ahead = |window: &Window| window.until > now;
    let window = |window| when::window(&window, zone);
    html! {
        h2 { "Now, in figures" }
        dl.figures {
            (plain("Height", words::height(state, units), None))
            (plain("Stands at opening", words::stands_at_opening(state, units), Some("if it opens, four times in five; as far as growth tells")))
            (plain("Tip, last hour", words::growth_of_hour(state, units), None))
            (plain("Tip, last day", words::growth_of_day(state, units), None))
            (forecast::figures(bench, now, zone))
            @if let Some(since) = state.and_then(|state| state.full_open_since) {
                (plain("Fully open", Some(when::clock_seen_from(since, now, zone)), Some("since")))
            } @else {
                (plain("Opening", state.and_then(|state| state.probability_opening).map(percent), None))
                (plain("Full bloom", state.and_then(|state| state.full_open).map(|full| words::full_bloom(full.likely, now, zone)), None))
            }
            (plain("Pollinate", state.and_then(|state| state.receptive).filter(ahead).map(window), None))
            (plain("Own pollen", bloom.filter(|_| state.is_some_and(|state| state.receptive.is_some())).and_then(|bloom| bloom.life.collect).filter(ahead).map(window), None))
            @if let Some(heat) = state.and_then(|state| state.heat.as_ref()) {
                (figure("Degree-days", Mark::Plain, &words::degree_days(heat.degree_days, units), None))
            }
            @for facts in &bench.climate { (climate_figure(house, facts, glance.is_silent(bench))) }
            (figure("Newest reading", fresh, &newest, None))
        }
        @if let Some(heat) = state.and_then(|state| state.heat.as_ref()) {
            details #degree-days {
                summary { "How degree-days are counted" }
                p.note { "Over " (format!("{:.1}", heat.degree_days_covered)) " days of record: " (heat.degree_days_by) "." }
            }
        }
    }
}

fn events(house: &House, past: &Past) -> Markup {
    html! {
        h2 { "Events, by day" }
        @if past.unreadable.is_some() { p.note { "Not known." } } @else { (told::by_day(&past.events, house.config.site.timezone)) }
    }
}

/// What a bud is like: its growth first, its height, when it opens, and how that became plain morning by morning.
fn bud(house: &House, bench: &BenchFacts, past: &Past) -> Markup {
    let (units, zone) = (house.config.site.units, house.config.site.timezone);
    let state = bench.state.as_ref();
    let opens = bench.opens();
    html! {
        h2 { "Growth and opening" }
        dl.large {
            @if let Some(growth) = words::growth_of_day(state, units) { div { dt { "Growth" } dd { (growth) } } }
            @if let Some(height) = words::height(state, units) { div { dt { "Height" } dd { (height) } } }
            @if let Some(opens) = opens { div { dt { "Opens, if it opens" } dd { (dates(&opens)) } } }
        }
        @if past.mornings.is_empty() { p.note { "The first morning in bud draws its course here." } }
        (course::drawn(&past.mornings, units, zone))
    }
}

/// On the night: the clock, what to do next, and the cautions.
fn night(house: &House, bench: &BenchFacts, past: &Past, now: Time) -> Markup {
    let zone = house.config.site.timezone;
    let receptive = bench.state.as_ref().and_then(|state| state.receptive);
    let pollen = past.sheet.as_ref().and_then(|sheet| sheet.windows).map(|windows| windows.collect);
    html! {
        h2 { "What to do next" }
        @if let Some(sheet) = &past.sheet {
            @let words = telling::sheet(sheet, zone);
            ul.next {
                @for line in words.done.iter().chain(&words.windows) { li { (line) } }
                @if !sheet.pollinated { li { (words.thaw) } }
                @if let Some(own_pollen) = &words.own_pollen { li { (own_pollen) } }
            }
        } @else { p { "Look at the plant, and record what you see." } }
        (dial::drawn(receptive, pollen, now, zone))
    }
}

/// After the opening: what was recorded stands beside the buttons; here is what is due.
fn due(house: &House, past: &Past) -> Markup {
    let zone = house.config.site.timezone;
    let day = |date: NaiveDate| when::short_date(date, true);
    html! {
        h2 { "What is due" }
        @if past.unreadable.is_some() { p.note { "Not known." } } @else if past.due.is_empty() { p.note { "Nothing is due by the book." } }
        ul.next {
            @for job in &past.due {
                li {
                    b { (job.summary) } ": "
                    @match job.span {
                        Span::Hours(window) => (when::window(&window, zone)),
                        Span::Days(from, until) if from == until => (day(from)),
                        Span::Days(from, until) => { (day(from)) " to " (day(until)) },
                    }
                    ". " span.note { (job.description) }
                }
            }
        }
    }
}

fn entries(house: &House, past: &Past) -> Markup {
    html! {
        h2 { "In the book, newest first" }
        @if past.unreadable.is_some() { p.note { "Not known." } } @else if past.entries.is_empty() { p.note { "Nothing of this plant is in the book yet: " code { "anthesisd plant" } ", " code { "pollen" } " and " code { "cross" } " book it." } }
        ol.told { @for entry in &past.entries { li { (book::words::entry(entry, house.config.site.timezone)) } } }
    }
}
