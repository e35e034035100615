//! A small drawing of the stage of a bloom, beside the word that says it.

use maud::{Markup, html};

use crate::drawing::Drawing;

/// Spathe and spadix of a stage, in the colours of the page.
pub(super) fn of(stage: &str) -> Markup {
    let (spathe, spadix) = Drawing::of_stage(stage).paths();
    html! {
        svg.glyph viewBox=(Drawing::VIEW_BOX) width="40" height="56" aria-hidden="true" focusable="false" {
            path.spathe d=(spathe) {}
            @if !spadix.is_empty() { path.spadix d=(spadix) {} }
        }
    }
}
