//! Small drawings of a bloom's stages, made for this program: the page shows one beside the word for a stage, a chart above each event
//! that begins one. Each is two strokes of a pen in a field of 40 by 56, so that it can be told apart at the height of a line of text, in
//! one colour, on paper and at night.

use bloom_model::event::{EventKind, LifeStep};
use maud::{Markup, html};

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drawing {
    /// A closed bud.
    Bud,
    /// A bud from which the tip of the spadix comes out.
    Slowing,
    /// A spathe that stands off from its spadix.
    Opening,
    /// A spathe spread wide.
    FullOpen,
    /// The same, with pollen about the spadix.
    Pollen,
    /// A closed spathe with a bent spadix.
    Closed,
    /// A column of berries.
    Fruit,
    /// A bud that is struck out.
    GivenUp,
    /// A tuber below the soil.
    Resting,
}

impl Drawing {
    /// The field that each fills, as an SVG view box.
    pub const VIEW_BOX: &'static str = "0 0 40 56";
    /// Its width.
    pub const WIDTH: f64 = 40.0;
    /// Its height.
    pub const HEIGHT: f64 = 56.0;

    /// Of the stage of that name; the tuber where there is no bloom.
    pub fn of_stage(stage: &str) -> Self {
        match stage {
            "bud" => Self::Bud,
            "slowing" => Self::Slowing,
            "opening" => Self::Opening,
            "full-open" => Self::FullOpen,
            "pollen-shed" => Self::Pollen,
            "closed" => Self::Closed,
            "fruiting" => Self::Fruit,
            "aborted" => Self::GivenUp,
            _ => Self::Resting,
        }
    }

    /// Of the events that tell where a bloom is in its life: what it looks like from then on.
    pub const fn of_event(kind: EventKind) -> Option<Self> {
        let Some(step) = kind.step() else { return None };
        Some(match step {
            LifeStep::BudSeen | LifeStep::GrowsOn | LifeStep::StandsDown => Self::Bud,
            LifeStep::Slows => Self::Slowing,
            LifeStep::Opens => Self::Opening,
            LifeStep::OpensFully | LifeStep::EndsReceptive => Self::FullOpen,
            LifeStep::ShedsPollen => Self::Pollen,
            LifeStep::Closes => Self::Closed,
            LifeStep::Ripens => Self::Fruit,
            LifeStep::IsGivenUp => Self::GivenUp,
            LifeStep::Ends => Self::Resting,
        })
    }

    /// What it shows, for those who do not see it.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Bud => "bud",
            Self::Slowing => "bud that slows",
            Self::Opening => "opening",
            Self::FullOpen => "fully open",
            Self::Pollen => "shedding pollen",
            Self::Closed => "closed",
            Self::Fruit => "fruit",
            Self::GivenUp => "bud given up",
            Self::Resting => "at rest",
        }
    }

    /// SVG paths: an outline (of the spathe, the column of fruit, the tuber), and what is drawn over it (spadix, pollen, berries, soil);
    /// the second may be empty.
    pub const fn paths(self) -> (&'static str, &'static str) {
        const BUD: &str = "M20 52C9 44 12 24 20 8c8 16 11 36 0 44z";
        match self {
            Self::Bud => (BUD, ""),
            Self::Slowing => ("M20 52C7 44 9 26 18 14c1-2 3-2 4 0 9 12 11 30-2 38z", "M20 14V5"),
            Self::Opening => ("M20 52C8 46 8 30 7 18c4 3 7 4 9 3h8c2 1 5 0 9-3-1 12-1 28-13 34z", "M20 21V4"),
            Self::FullOpen => {
                ("M20 52C12 46 10 36 2 24c7 3 10 2 13 4h10c3-2 6-1 13-4-8 12-10 22-18 28z", "M20 28V3")
            }
            Self::Pollen => (
                "M20 52C12 46 11 38 5 28c6 3 8 2 11 4h8c3-2 5-1 11-4-6 10-7 18-15 24z",
                "M20 32V4M30 6h.1M33 14h.1M36 22h.1M10 6h.1M7 14h.1M4 22h.1",
            ),
            Self::Closed => {
                ("M20 52C11 46 12 34 15 26c2 3 8 3 10 0 3 8 4 20-5 26z", "M20 28C19 16 26 9 31 19")
            }
            Self::Fruit => (
                "M11 53V18c0-13 18-13 18 0v35z",
                "M16.5 19h.1M23.5 19h.1M16.5 28h.1M23.5 28h.1M16.5 37h.1M23.5 37h.1M16.5 46h.1M23.5 46h.1",
            ),
            Self::GivenUp => (BUD, "M7 47 33 13"),
            Self::Resting => ("M8 44c0-9 24-9 24 0s-24 9-24 0z", "M3 36h34"),
        }
    }

    /// Drawn in one colour, for a picture or a line of text.
    pub fn in_ink(self, ink: &str) -> Markup {
        let (outline, over) = self.paths();
        html! {
            g fill="none" stroke=(ink) stroke-linecap="round" stroke-linejoin="round" {
                path d=(outline) stroke-width="3" fill=(ink) fill-opacity=".2" {}
                @if !over.is_empty() { path d=(over) stroke-width="4.5" {} }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use bloom_model::stage::Stage;

    use super::*;

    const ALL: [Drawing; 9] = [
        Drawing::Bud,
        Drawing::Slowing,
        Drawing::Opening,
        Drawing::FullOpen,
        Drawing::Pollen,
        Drawing::Closed,
        Drawing::Fruit,
        Drawing::GivenUp,
        Drawing::Resting,
    ];

    #[test]
    fn each_stage_has_a_drawing_of_its_own_that_is_told_in_words_too() {
        for (place, drawing) in ALL.into_iter().enumerate() {
            for other in &ALL[place + 1..] {
                assert_ne!(drawing.paths(), other.paths(), "{drawing:?} and {other:?}");
                assert_ne!(drawing.words(), other.words(), "{drawing:?} and {other:?}");
            }
        }
        for stage in Stage::ALL {
            let at_rest = Drawing::of_stage(stage.name()) == Drawing::Resting;
            assert_eq!(at_rest, stage == Stage::Spent, "{stage:?}");
        }
        assert_eq!(Drawing::of_stage("resting"), Drawing::Resting);
        assert_eq!(Drawing::of_event(EventKind::Morning), None);
    }
}
