//! A small drawing of the stage of a bloom, beside the word that says it.

use maud::{Markup, html};

/// Spathe and spadix of a stage, in a field of 40 by 56.
pub(super) fn of(stage: &str) -> Markup {
    let (spathe, spadix) = match stage {
        "bud" | "aborted" => ("M20 52C9 44 12 24 20 8c8 16 11 36 0 44z", ""),
        "slowing" => ("M20 52C7 44 9 26 18 14c1-2 3-2 4 0 9 12 11 30-2 38z", "M20 14V5"),
        "opening" => ("M20 52C8 46 8 30 7 18c4 3 7 4 9 3h8c2 1 5 0 9-3-1 12-1 28-13 34z", "M20 21V4"),
        "full-open" => {
            ("M20 52C12 46 10 36 2 24c7 3 10 2 13 4h10c3-2 6-1 13-4-8 12-10 22-18 28z", "M20 28V2")
        }
        "pollen-shed" => (
            "M20 52C12 46 11 38 5 28c6 3 8 2 11 4h8c3-2 5-1 11-4-6 10-7 18-15 24z",
            "M20 32V4M31 12v1M34 18v1M9 14v1M6 20v1M28 6v1",
        ),
        "closed" => ("M20 52C11 46 12 34 15 26c2 3 8 3 10 0 3 8 4 20-5 26z", "M20 28c0-8 2-12 8-15"),
        "fruiting" => (
            "M14 52V22c0-8 12-8 12 0v30z",
            "M17 26v1M23 26v1M20 31v1M17 36v1M23 36v1M20 41v1M17 46v1M23 46v1",
        ),
        // at rest: the tuber under the soil
        _ => ("M8 44c0-9 24-9 24 0s-24 9-24 0z", "M3 36h34"),
    };
    html! {
        svg.glyph viewBox="0 0 40 56" width="40" height="56" aria-hidden="true" focusable="false" {
            path.spathe d=(spathe) {}
            @if !spadix.is_empty() { path.spadix d=(spadix) {} }
        }
    }
}
