//! The forecast of a bud as figures, the same on its card and on its own page: what was told last, and of which hour it is.

use bloom_model::forecast::Tidings;
use bloom_model::time::Time;
use bloom_text::{dates, percent, when};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::frame::figure;
use super::words::Mark;
use crate::facts::BenchFacts;

/// When it opens, the chance of tonight, and the chance that it never opens; nothing for what is no bud.
pub(super) fn figures(bench: &BenchFacts, now: Time, zone: Tz) -> Markup {
    let Some(told) = bench.state.as_ref().and_then(|state| state.outlook) else { return html! {} };
    let of = when::clock_seen_from(told.forecast_at, now, zone);
    match told.outlook.tidings() {
        Tidings::Stopped(never) => html! {
            (figure("Most likely stopped", Mark::Beyond, &percent(never), Some(&format!("look at it; forecast of {of}"))))
        },
        Tidings::Opens { dates: opens, never, .. } => html! {
            (figure("Opens", Mark::Plain, &dates(&opens), Some(&format!("if it opens, four times in five; forecast of {of}"))))
            @if let Some(tonight) = bench.tonight {
                (figure("Tonight", Mark::Plain, &percent(tonight.probability), Some("if it opens")))
            }
            @if let Some(never) = never { (figure("Never opens", Mark::Plain, &percent(never), None)) }
        },
    }
}
