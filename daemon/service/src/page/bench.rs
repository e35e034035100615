//! A bench's own page: what it is like, what a person can book at a press, pictures of the last days, events, the book.

use std::sync::Arc;

use axum::extract::{Path, Query, State};
use axum::http::HeaderMap;
use bloom_model::book::bloom::{BloomRecord, BookedSign};
use bloom_model::event::Window;
use bloom_model::sign::PlainSign;
use bloom_model::time::Time;
use maud::{Markup, html};
use serde::Deserialize;

use super::frame::{instant, page};
use super::overview::{air_figure, figure};
use super::past::Past;
use super::trouble::Trouble;
use super::words::{self, Mark};
use super::{House, alarms, glyph, pictures, signs};
use crate::book;
use crate::facts::BenchFacts;

/// What a press did, as the page says it after it.
#[derive(Debug, Default, Deserialize)]
pub(super) struct Done {
    booked: Option<String>,
    withdrawn: Option<String>,
}

/// `GET /bench/{bench}`. The header `X-Part: live` leaves the pictures out, which change slowly.
pub(super) async fn show(
    State(house): State<Arc<House>>,
    Path(bench): Path<String>,
    Query(done): Query<Done>,
    headers: HeaderMap,
) -> Result<Markup, Trouble> {
    let facts = house.present()?;
    let known = facts.bench(&bench).ok_or_else(|| Trouble::no_bench(&bench))?;
    let now = house.clock.now();
    let id = Arc::clone(&known.bench);
    let past = house.reading(move |house| Past::read(house, &id, now)).await?;
    let drawn =
        if headers.contains_key("x-part") { None } else { pictures::of(&house, &known.bench, now).await? };
    let from = format!("/bench/{}", known.bench);
    let content = html! {
        header #verdict data-live {
            @if facts.rehearsal { p.rehearsal { "REHEARSAL: nothing here is real." } }
            div.head.(known.stage()) {
                (glyph::of(known.stage()))
                h1 { (known.bench) ": " (words::stage(known.stage())) }
            }
            p.as-of { (known.plant.as_deref().unwrap_or("plant not named")) ", " i { (known.taxon) } }
        }
        (said(&done))
        section #alarms data-live aria-label="Alarms of this bench" {
            @for alarm in facts.alarms_of(&known.bench) { (alarms::card(&house, alarm, now, &from)) }
        }
        div.two {
            section #booking data-live { (booking(&house, known, past.bloom.as_ref(), now)) }
            section #present data-live { (present(&house, known, past.bloom.as_ref(), now)) }
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
    Ok(page(&house, &alarms::title(&facts, &known.bench), &content))
}

/// What the press before did.
fn said(done: &Done) -> Markup {
    let sign = |name: &Option<String>| name.as_deref().and_then(|name| name.parse::<PlainSign>().ok());
    html! {
        @if let Some(sign) = sign(&done.booked) { p.done role="status" { "✓ Booked: " (signs::words(sign)) "." } }
        @if let Some(sign) = sign(&done.withdrawn) { p.done role="status" { "✓ Withdrawn: " (signs::words(sign)) "." } }
    }
}

fn booking(house: &House, bench: &BenchFacts, bloom: Option<&BloomRecord>, now: Time) -> Markup {
    let action = format!("/bench/{}/sign", bench.bench);
    html! {
        h2 { "Book at a press" }
        form.presses method="post" action=(action) {
            @for sign in signs::fitting(bench.stage()) {
                button.press id={ "book-" (sign.name()) } name="sign" value=(sign.name()) { (signs::words(*sign)) }
            }
        }
        @if let Some(bloom) = bloom.filter(|bloom| !bloom.signs.is_empty()) {
            h3 { "Booked in this bloom" }
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
                (signs::words(booked.what)) ", " (instant(booked.time, &words::clock(booked.time, now, zone)))
                @if let Some(by) = &booked.by { ", by " (by) }
                @if let Some(note) = &booked.note { " (" (note) ")" }
            }
            button.press.quiet id={ "withdraw-" (booked.sign) "-" (ms) }
                aria-label={ "Withdraw: " (signs::words(booked.what)) } { "Withdraw" }
        }
    }
}

fn present(house: &House, bench: &BenchFacts, bloom: Option<&BloomRecord>, now: Time) -> Markup {
    let (units, zone) = (house.config.site.units, house.config.site.timezone);
    let state = bench.state.as_ref();
    let (fresh, newest) = words::newest(bench, now);
    let plain = |name: &str, value: Option<String>, note: Option<&str>| {
        html! { @if let Some(value) = value { (figure(name, Mark::Plain, &value, note)) } }
    };
    // hours that are past are not offered
    let ahead = |window: &Window| window.until > now;
    let window = |window| book::words::window(&window, zone);
    html! {
        h2 { "Now" }
        dl.figures {
            (plain("Height", words::height(state, units), None))
            (plain("Last hour", words::growth_of_hour(state, units), None))
            (plain("Last day", words::growth_of_day(state, units), None))
            (plain("Opens", state.and_then(|state| state.opens.as_ref()).map(words::opens), Some("four times in five")))
            (plain("Tonight", bench.tonight.map(|tonight| words::chance(tonight.probability)), Some("by the morning bulletin")))
            @if let Some(since) = state.and_then(|state| state.full_open_since) {
                (plain("Fully open", Some(words::clock(since, now, zone)), Some("since")))
            } @else {
                (plain("Fully open", state.and_then(|state| state.full_open).map(|full| words::clock(full.likely, now, zone)), Some("likely")))
            }
            (plain("Pollinate", state.and_then(|state| state.receptive).filter(ahead).map(window), None))
            (plain("Own pollen", bloom.filter(|_| state.is_some_and(|state| state.receptive.is_some())).and_then(|bloom| bloom.collect).filter(ahead).map(window), None))
            @if let Some(heat) = state.and_then(|state| state.heat.as_ref()) {
                (figure("Degree-days", Mark::Plain, &words::degree_days(heat.degree_days, units),
                    Some(&format!("over {:.1} days of record, {}", heat.degree_days_covered, heat.degree_days_by))))
            }
            @for air in &bench.air { (air_figure(house, air)) }
            (figure("Newest reading", fresh, &newest, None))
        }
    }
}

fn events(house: &House, past: &Past, now: Time) -> Markup {
    let zone = house.config.site.timezone;
    html! {
        h2 { "Events, newest first" }
        @if past.events.is_empty() { p.note { "None in the last weeks." } }
        ol.told {
            @for told in &past.events {
                li class=(told.severity.name()) {
                    (instant(told.time, &words::clock(told.time, now, zone)))
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
        @if past.entries.is_empty() { p.note { "Nothing of this plant is in the book yet: " code { "anthesisd plant" } ", " code { "pollen" } " and " code { "cross" } " book it." } }
        ol.told { @for entry in &past.entries { li { (book::words::entry(entry, house.config.site.timezone)) } } }
    }
}
