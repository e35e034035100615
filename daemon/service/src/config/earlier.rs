//! `[[earlier_bloom]]`: what a bloom of earlier years took, from the grower's diary.

use std::sync::Arc;

use bloom_model::forecast::{EarlierBloom, Spans};

use super::bench::BenchConfig;
use super::section::Section;
use super::value::{between, text};

/// The longest span that a diary may give, days.
const LONGEST_D: f64 = 500.0;

/// An earlier bloom as configured.
#[derive(Debug, Clone)]
pub(super) struct Earlier {
    profile: String,
    plant: Option<Arc<str>>,
    spans: Spans,
}

/// Reads one `[[earlier_bloom]]`.
pub(super) fn earlier(section: &mut Section<'_>) -> Option<Earlier> {
    let profile = section.required("profile", "\"titan-arum\"", text);
    let plant = section.optional("plant", text).map(Arc::from);
    let days = between(0.1, LONGEST_D, "days");
    let spans = Spans {
        emergence_to_opening_d: section.optional("emergence_to_opening_d", &days),
        spadix_to_opening_d: section.optional("spadix_to_opening_d", &days),
        slowing_to_opening_d: section.optional("slowing_to_opening_d", &days),
    };
    if spans == Spans::default() {
        section
            .fault("profile", "stands alone: give what the bloom took, such as emergence_to_opening_d = 46");
    }
    Some(Earlier { profile: profile?, plant, spans })
}

/// Gives each bench the earlier blooms of its kind of plant.
pub(super) fn hand_out(earlier: &[Earlier], benches: &mut [BenchConfig]) {
    for bench in benches {
        let own = bench.spec.plant.clone();
        let of_kind = earlier.iter().filter(|bloom| bloom.profile == bench.spec.profile.name);
        bench.spec.earlier = of_kind
            .map(|bloom| EarlierBloom {
                of_this_plant: own.is_some() && bloom.plant == own,
                spans: bloom.spans,
            })
            .collect();
    }
}
