//! A bench's own page: what it is like, what a person can record by a button, pictures of the last days, events, the book.

use std::sync::Arc;

use axum::extract::{Path, RawQuery, State};
use axum::http::HeaderMap;
use bloom_model::bloom::life::BookedSign;
use bloom_model::book::bloom::BloomRecord;
use bloom_model::event::Window;
use bloom_model::time::Time;
use bloom_text::{percent, when};
use maud::{Markup, html};

use super::frame::{figure, instant, page};
use super::overview::{climate_figure, receipt_of};
use super::past::Past;
use super::trouble::Trouble;
use super::verdict::{Glance, sensors_out};
use super::words::{self, Mark};
use super::{House, acting, alarms, forecast, glyph, pictures, signs};
use crate::book;
use crate::facts::BenchFacts;

/// `GET /bench/{bench}`. The header `X-Part: live` leaves the pictures out, which change slowly.
pub(super) async fn show(
    State(house): State<Arc<House>>,
    Path(bench): Path<String>,
    RawQuery(query): RawQuery,
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
        section #alarms data-live aria-label="Alarms of this bench" {
            @for alarm in facts.alarms_of(&known.bench) { (alarms::card(&house, alarm, now, &from)) }
        }
        p.care { a href="/tonight#care" { "Take care: sap, ladder, heat, wet mains" } }
        div.two {
            section #booking data-live { (booking(&house, known, past.bloom.as_ref(), now)) }
            section #present data-live { (present(&house, &glance, known, past.bloom.as_ref())) }
        }
        div.two {
            section #events data-live { (events(&house, &past, now)) }
            section #entries data-live { (entries(&house, &past)) }
        }
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

fn booking(house: &House, bench: &BenchFacts, bloom: Option<&BloomRecord>, now: Time) -> Markup {
    let action = format!("/bench/{}/sign", bench.bench);
    html! {
        h2 { "Tap to record" }
        form.presses method="post" action=(action) {
            @for sign in signs::fitting(bench.stage()) {
                button.press id={ "book-" (sign.name()) } name="sign" value=(sign.name()) { (signs::words(*sign)) }
            }
        }
        @if let Some(bloom) = bloom.filter(|bloom| !bloom.signs.is_empty()) {
            h3 { "Recorded in this bloom" }
            ul.booked { @for sign in bloom.signs.iter().rev() { li { (booked(house, &action, sign, now)) } } }
        }
    }
}

fn booked(house: &House, action: &str, booked: &BookedSign, now: Time) -> Markup {
    let zone = house.config.site.timezone;
    let ms = booked.time.unix_ms();
    html! {
        form method="post" action=(action) {
            input type="hidden" name="sign" value=(booked.sign);
            input type="hidden" name="booked_ms" value=(ms);
            span {
                (signs::words(booked.what)) ", " (instant(booked.time, &when::clock_seen_from(booked.time, now, zone)))
                @if let Some(by) = &booked.by { ", by " (by) }
                @if let Some(note) = &booked.note { " (" (note) ")" }
            }
            button.press.quiet id={ "withdraw-" (booked.sign) "-" (ms) }
                aria-label={ "Withdraw: " (signs::words(booked.what)) } { "Withdraw" }
        }
    }
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
        h2 { "Now" }
        dl.figures {
            (plain("Height", words::height(state, units), None))
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

fn events(house: &House, past: &Past, now: Time) -> Markup {
    let zone = house.config.site.timezone;
    html! {
        h2 { "Events, newest first" }
        @if past.unreadable.is_some() { p.note { "Not known." } } @else if past.events.is_empty() { p.note { "None in the last weeks." } }
        ol.told {
            @for told in &past.events {
                li class=(told.severity.name()) {
                    (instant(told.time, &when::clock_seen_from(told.time, now, zone)))
                    " " b { @if told.severity.name() != "notice" { (told.severity.name()) ": " } (told.kind.replace('-', " ")) }
                    " " span { (told.message) }
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
