//! The season: each bloom a row, beside the earlier ones of its plant and of the house.

use std::sync::Arc;

use axum::extract::State;
use bloom_model::time::Time;
use bloom_text::when;
use chrono_tz::Tz;
use maud::{Markup, html};

use super::House;
use super::frame::{instant, page};
use super::sheets::looks_of;
use super::trouble::Trouble;
use crate::book::{Compared, LookBack, telling};

/// The columns after the bloom.
const COLUMNS: [&str; 6] = ["Opened", "Fully open", "Closed", "Spans", "Pollen and crosses", "Next time"];

/// `GET /season`
pub(super) async fn show(State(house): State<Arc<House>>) -> Result<Markup, Trouble> {
    let looks = looks_of(&house).await?;
    let zone = house.config.site.timezone;
    let content = html! {
        h1 { "The season" }
        p.note { "Each bloom, newest first, its spans beside those of earlier blooms. What was missed is told when a bloom is over." }
        div #looks data-live {
            @if looks.is_empty() { p { "No bloom is in the record." } } @else {
                table.season {
                    thead { tr { th scope="col" { "Bloom" } @for column in COLUMNS { th scope="col" { (column) } } } }
                    tbody { @for look in &looks { (row(look, zone)) } }
                }
            }
        }
    };
    Ok(page(&house, "The season", &content))
}

fn row(look: &LookBack, zone: Tz) -> Markup {
    let stages = look.bloom.stages();
    let over = look.bloom.life.over();
    let missed: Vec<&str> = telling::next_time(look).collect();
    let [opened, full, closed, spans, pollen, next] = COLUMNS;
    html! {
        tr {
            th scope="row" { (look.bloom.id) br; small { (look.bloom.plant.as_deref().unwrap_or("plant not named")) } }
            td data-name=(opened) { span { (moment(stages.opened, over.is_some(), zone)) } }
            td data-name=(full) { span { (moment(stages.full_open, over.is_some(), zone)) } }
            td data-name=(closed) {
                span {
                    @if stages.closed.is_none() && let Some((time, how)) = over { (how.words()) " " (when::date(time, zone)) }
                    @else { (moment(stages.closed, false, zone)) }
                }
            }
            td data-name=(spans) { span {
                @for compared in &look.compared { (span(compared)) }
                @if look.compared.iter().all(|compared| compared.here.is_none()) { "none known" }
            } }
            td data-name=(pollen) {
                span {
                    @for cross in &look.crosses { small { "cross " (cross.name) ": with " (cross.father) } }
                    @for lot in &look.lots { small { "pollen " (lot.name) ": " (lot.portions) " portions" } }
                    @if look.crosses.is_empty() && look.lots.is_empty() { "none recorded" }
                }
            }
            td data-name=(next) { span { @if over.is_none() { "not over yet" } @else if missed.is_empty() { "nothing" } @for missed in &missed { small { (missed) } } } }
        }
    }
}

/// A span beside the earlier ones.
fn span(compared: &Compared) -> Markup {
    let unit = compared.unit;
    html! {
        @if let Some(here) = compared.here {
            small {
                (compared.span) ": " (format!("{here:.1}")) " " (unit)
                @if let Some(before) = compared.of_plant.or(compared.of_house) {
                    " (before: " (format!("{:.1}", before.median)) ")"
                }
            }
        }
    }
}

/// When it was; what is not recorded of a bloom that is over comes no more.
fn moment(time: Option<Time>, over: bool, zone: Tz) -> Markup {
    html! {
        @match time {
            Some(time) => (instant(time, &when::moment(time, zone))),
            None if over => "not recorded",
            None => "not yet",
        }
    }
}
