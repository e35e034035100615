//! What a bloom took, from stage to stage, and how it compares with others: for the grower, and for the forecast of the next.

use schemars::JsonSchema;
use serde::Serialize;

use crate::bloom::life::Stages;
use crate::time::Time;

/// Spans between the stages of a bloom. One whose ends are not both known is left out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, JsonSchema)]
pub struct Durations {
    /// Days from emergence to opening.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub emergence_to_opening_d: Option<f64>,
    /// Days from the bud being seen by a sensor or the tape to opening.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seen_to_opening_d: Option<f64>,
    /// Days from the spadix tip showing to opening.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spadix_to_opening_d: Option<f64>,
    /// Days from growth slowing to opening.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slowing_to_opening_d: Option<f64>,
    /// Days from the last bract falling to opening.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_bract_to_opening_d: Option<f64>,
    /// Hours from first crack to full opening.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub crack_to_full_h: Option<f64>,
    /// Hours from first crack to the pollen being collected.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub crack_to_pollen_h: Option<f64>,
    /// Hours from first crack to closing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open_for_h: Option<f64>,
}

impl Durations {
    /// The spans of a bloom from its stages, and the time at which its pollen was collected as booked: the call for it comes by
    /// the clock and measures nothing. A span that would be negative is none: one of its ends is wrong.
    pub fn of(stages: &Stages, collected: Option<Time>) -> Self {
        let opened = stages.opened;
        let before = |stage: Option<Time>| Some(opened?.days_since(stage?)).filter(|days| *days >= 0.0);
        let after = |stage: Option<Time>| Some(stage?.hours_since(opened?)).filter(|hours| *hours >= 0.0);
        Self {
            emergence_to_opening_d: before(stages.emerged),
            seen_to_opening_d: before(stages.bud_seen),
            spadix_to_opening_d: before(stages.spadix_visible),
            slowing_to_opening_d: before(stages.slowing),
            last_bract_to_opening_d: before(stages.last_bract),
            crack_to_full_h: after(stages.full_open),
            crack_to_pollen_h: after(collected),
            open_for_h: after(stages.closed),
        }
    }

    /// Each span with its name and its unit.
    pub const fn named(&self) -> [(&'static str, &'static str, Option<f64>); 8] {
        [
            ("emergence to opening", "days", self.emergence_to_opening_d),
            ("bud seen to opening", "days", self.seen_to_opening_d),
            ("spadix tip to opening", "days", self.spadix_to_opening_d),
            ("slowing to opening", "days", self.slowing_to_opening_d),
            ("last bract to opening", "days", self.last_bract_to_opening_d),
            ("first crack to full opening", "h", self.crack_to_full_h),
            ("first crack to pollen collected", "h", self.crack_to_pollen_h),
            ("open for", "h", self.open_for_h),
        ]
    }
}

/// The spread of one span over several blooms.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Spread {
    /// Blooms that have it.
    pub blooms: usize,
    /// The least.
    pub least: f64,
    /// The median.
    pub median: f64,
    /// The most.
    pub most: f64,
}

/// The spread of a span; `None` where no bloom has it.
pub fn spread(spans: impl IntoIterator<Item = f64>) -> Option<Spread> {
    let mut spans: Vec<f64> = spans.into_iter().collect();
    spans.sort_by(f64::total_cmp);
    let (least, most) = (*spans.first()?, *spans.last()?);
    let median = (spans[(spans.len() - 1) / 2] + spans[spans.len() / 2]) / 2.0;
    Some(Spread { blooms: spans.len(), least, median, most })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_between_stages_that_are_known_and_in_order() {
        let day = |number: f64| Some(Time::from_unix_ms(0).plus_hours(24.0 * number));
        let stages = Stages {
            emerged: day(0.0),
            spadix_visible: day(34.0),
            last_bract: day(48.0),
            opened: day(47.0),
            full_open: day(47.25),
            ..Stages::default()
        };
        let spans = Durations::of(&stages, None);
        assert_eq!((spans.emergence_to_opening_d, spans.spadix_to_opening_d), (Some(47.0), Some(13.0)));
        assert_eq!(
            spans.last_bract_to_opening_d, None,
            "a bract does not fall before its bloom by minus a day"
        );
        assert_eq!((spans.crack_to_full_h, spans.open_for_h), (Some(6.0), None));
        assert_eq!(Durations::of(&stages, day(48.0)).crack_to_pollen_h, Some(24.0));
        let spread = spread([47.0, 31.0, 63.0, 35.0]).unwrap();
        assert_eq!((spread.blooms, spread.least, spread.median, spread.most), (4, 31.0, 41.0, 63.0));
    }
}
