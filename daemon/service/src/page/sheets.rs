//! Tonight's sheet as a timeline, and the calendar: the book's own structs, shown.

use std::sync::Arc;

use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;
use maud::{Markup, html};

use super::frame::page;
use super::past::read_book;
use super::trouble::Trouble;
use super::words::Mark;
use super::{House, timeline};
use crate::book::calendar::{self, jobs};
use crate::book::telling::{self, SheetWords};
use crate::book::{CAUTIONS, KIT, LookBack, Sheet, bank, fruit, look_back, sheets};
use crate::store::Reader;

/// Blooms that are looked back on at most.
const MOST_BLOOMS: usize = 40;

/// The sheets of the benches that are open or in bud.
pub(super) async fn sheets_of(house: &Arc<House>) -> Result<Vec<Sheet>, Trouble> {
    let now = house.clock.now();
    house
        .reading(move |house| {
            sheets(&read_book(house, now)?, None, now).map_err(|refusal| Trouble::of(refusal.said))
        })
        .await
}

/// The newest blooms beside earlier ones.
pub(super) async fn looks_of(house: &Arc<House>) -> Result<Vec<LookBack>, Trouble> {
    let now = house.clock.now();
    house
        .reading(move |house| {
            let book = read_book(house, now)?;
            let newest = book.blooms.iter().rev().take(MOST_BLOOMS);
            Ok(newest.map(|bloom| look_back(&book, bloom, now)).collect())
        })
        .await
}

/// `GET /tonight`
pub(super) async fn tonight(State(house): State<Arc<House>>) -> Result<Markup, Trouble> {
    // what can hurt is shown whether the record can be read or not
    let (sheets, trouble) = match sheets_of(&house).await {
        Ok(sheets) => (sheets, None),
        Err(trouble) => (Vec::new(), Some(trouble)),
    };
    let (now, zone) = (house.clock.now(), house.config.site.timezone);
    let (tonights, later): (Vec<&Sheet>, Vec<&Sheet>) =
        sheets.iter().partition(|sheet| timeline::is_tonights(sheet, zone));
    let content = html! {
        h1 { "Tonight" }
        div #sheets data-live {
            @if let Some(trouble) = &trouble {
                p.remark { (Mark::Beyond.sign()) "There is no sheet. " (trouble.said()) }
            } @else if sheets.is_empty() {
                p { "No bench is open or in bud." }
            }
            @if !sheets.is_empty() && tonights.is_empty() { p { "No bench is open, and none is likely to open tonight." } }
            (timeline::drawn(&tonights, now, zone))
            @if !later.is_empty() {
                h2 { "Not tonight" }
                ul { @for sheet in &later { li { (timeline::later(sheet)) } } }
            }
            @for sheet in &tonights {
                section.sheet id=(sheet.bench) { (shown(&sheet.bench, &telling::sheet(sheet, zone))) }
            }
        }
        // whatever stage the plants are at: fruit has its sap, too, and a ladder is one in every month
        div.two {
            section #care { h2 { "Take care" } ul { @for caution in CAUTIONS { li { (caution) } } } }
            @if !sheets.is_empty() { section { h2 { "Bring" } ul { @for thing in KIT { li { (thing) } } } } }
        }
    };
    Ok(page(&house, "Tonight", &content))
}

fn shown(bench: &str, words: &SheetWords) -> Markup {
    html! {
        h2 { a id={ "to-" (bench) } href={ "/bench/" (bench) } { (words.heading) } }
        @for line in words.windows.iter().chain(&words.done) { p { (line) } }
        @if words.pollen.is_empty() { p { "Pollen: none in the bank." } } @else {
            h3 { "Pollen, best first" }
            ol.pollen {
                @for choice in &words.pollen {
                    li {
                        @if choice.recommended { "✓ " } @else { span.remark { "✕ not recommended: " } }
                        (choice.lot) br; small { (choice.kin) }
                    }
                }
            }
        }
        p { (words.thaw) }
        @if let Some(own_pollen) = &words.own_pollen { p { (own_pollen) } }
    }
}

/// `GET /calendar.ics`
pub(super) async fn calendar(State(house): State<Arc<House>>) -> Result<impl IntoResponse, Trouble> {
    let now = house.clock.now();
    let text = house
        .reading(move |house| {
            let book = read_book(house, now)?;
            let reader = Reader::open(&house.config.store_path)?;
            let fruit = fruit(&book, Some(&reader), None, now)?;
            let jobs =
                jobs(&book, &fruit, &bank(&book, now), now).map_err(|refusal| Trouble::of(refusal.said))?;
            Ok(calendar::file(&house.config.site.name, &jobs, now))
        })
        .await?;
    Ok(([(header::CONTENT_TYPE, "text/calendar; charset=utf-8")], text))
}
