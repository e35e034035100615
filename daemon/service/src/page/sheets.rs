//! Tonight's sheet, the season after, and the calendar: the book's own structs, shown.

use std::sync::Arc;

use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;
use maud::{Markup, html};

use super::House;
use super::frame::page;
use super::past::read_book;
use super::trouble::Trouble;
use super::words::Mark;
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
    let zone = house.config.site.timezone;
    let content = html! {
        h1 { "Tonight" }
        div #sheets data-live {
            @if let Some(trouble) = &trouble {
                p.remark { (Mark::Beyond.sign()) "There is no sheet. " (trouble.said()) }
            } @else if sheets.is_empty() {
                p { "No bench is open or in bud." }
            }
            @for sheet in &sheets {
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

/// `GET /season`
pub(super) async fn season(State(house): State<Arc<House>>) -> Result<Markup, Trouble> {
    let looks = looks_of(&house).await?;
    let zone = house.config.site.timezone;
    let content = html! {
        h1 { "The season" }
        p.note { "Each bloom beside earlier ones, newest first: what came when, what was recorded, and what to do next time." }
        div #looks data-live {
            @if looks.is_empty() { p { "No bloom is in the record." } }
            @for look in &looks {
                section.sheet {
                    h2 { (look.bloom.id) ": " (look.bloom.plant.as_deref().unwrap_or("plant not named")) }
                    ul { @for line in telling::look(look, zone) { li { (line) } } }
                }
            }
        }
    };
    Ok(page(&house, "The season", &content))
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
