//! What a bench remembers, to be written down and put back.

use serde::{Deserialize, Serialize};

use super::Bench;
use super::air::LentAir;
use crate::bloom::Bloom;
use crate::climate::ClimateWatch;
use crate::degree_days::{Cutoff, RecordDegreeDays, Rule, Thresholds};
use crate::forecast::EarlierBloom;
use crate::growth::figures::TapedHeights;
use crate::heat::{HeatWatch, HouseHeat};
use crate::opening::OpeningWatch;
use crate::profile::Profile;
use crate::ranging::{AirNow, Held};
use crate::seeing::{EdgeWatch, FigureWatch};
use crate::sensors::SensorWatch;
use crate::sign::PlainSign;
use crate::spadix::SpadixWatch;
use crate::spec::{BenchSpec, Mount};
use crate::time::Time;
use crate::track::Track;

/// Readings of temperature further apart than this leave a gap in the degree-days, h.
const DEGREE_DAY_GAP_H: f64 = 3.0;

/// Version of [`BenchState`]: a state written under another number is not read but reckoned anew from the record.
pub const STATE_VERSION: u32 = 18;

/// All that a bench remembers, as a value that can be written, read and compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BenchState {
    pub(super) air: AirNow,
    pub(super) lent_air: LentAir,
    pub(super) spadix_c: Option<Held>,
    pub(super) spadix: SpadixWatch,
    pub(super) sensors: SensorWatch,
    pub(super) climate: ClimateWatch,
    pub(super) heat_stress: HeatWatch,
    /// The same in every bench of the house.
    pub(super) house_heat: HouseHeat,
    pub(super) heat: RecordDegreeDays,
    pub(super) tip: Track,
    pub(super) rim: Track,
    /// Whether the side ranger sees the edge, and whether its figures change.
    pub(super) edge: EdgeWatch,
    pub(super) figures: FigureWatch,
    /// Distances as configured when the state was written.
    pub(super) configured_tip_m: Option<f64>,
    pub(super) configured_rim_m: Option<f64>,
    /// Distances after a ranger was hung anew; they hold instead of the configured ones, until those are changed.
    pub(super) moved_tip_m: Option<f64>,
    pub(super) moved_rim_m: Option<f64>,
    pub(super) taped: TapedHeights,
    /// What the tape reads over the overhead ranger, m: its beam may hit a leaf beside the tip, and the tip sways.
    pub(super) tape_over_ranger_m: Option<f64>,
    pub(super) signs: Vec<(Time, PlainSign)>,
    pub(super) opening_watch: OpeningWatch,
    pub(super) tip_spike_since: Option<Time>,
    pub(super) bloom: Option<Bloom>,
    /// Year and number of the newest bloom, for the letter of the next.
    pub(super) blooms: (i32, u8),
    /// What this bench's earlier blooms took, oldest first.
    pub(super) earlier: Vec<EarlierBloom>,
    /// After a bloom no new bud is seen before this, unless a person says so.
    pub(super) resting_until: Option<Time>,
    pub(super) next_hour: Option<Time>,
    pub(super) next_morning: Option<Time>,
    /// When a test alarm is due that was put off to the morning.
    pub(super) test_due: Option<Time>,
    pub(super) last_id: String,
    pub(super) newest: Option<Time>,
}

impl BenchState {
    /// Of a bench that has seen nothing yet.
    pub(super) fn new(spec: &BenchSpec) -> Self {
        Self {
            air: AirNow::default(),
            lent_air: LentAir::default(),
            spadix_c: None,
            spadix: SpadixWatch::default(),
            sensors: SensorWatch::default(),
            climate: ClimateWatch::default(),
            heat_stress: HeatWatch::default(),
            house_heat: HouseHeat::default(),
            heat: degree_day_counter(&spec.profile),
            tip: Track::default(),
            rim: Track::default(),
            edge: EdgeWatch::default(),
            figures: FigureWatch::default(),
            configured_tip_m: distance_m(spec.tip),
            configured_rim_m: distance_m(spec.rim),
            moved_tip_m: None,
            moved_rim_m: None,
            taped: TapedHeights::default(),
            tape_over_ranger_m: None,
            signs: Vec::new(),
            opening_watch: OpeningWatch::default(),
            tip_spike_since: None,
            bloom: None,
            blooms: (0, 0),
            earlier: Vec::new(),
            resting_until: None,
            next_hour: None,
            next_morning: None,
            test_due: None,
            last_id: String::new(),
            newest: None,
        }
    }
}

impl Bench {
    /// The state, to be written down.
    pub fn state(&self) -> &BenchState {
        &self.state
    }

    /// Puts back a state that was written down. If the thresholds of degree-days were changed since, they count anew from here; a
    /// ranger whose configured distance was changed since was hung anew.
    pub fn restore(&mut self, state: BenchState) {
        let rule = *self.state.heat.rule();
        self.state = state;
        let state = &mut self.state;
        let rim_before_m = state.configured_rim_m;
        for (mount, configured_m, moved_m, track) in [
            (self.spec.tip, &mut state.configured_tip_m, &mut state.moved_tip_m, &mut state.tip),
            (self.spec.rim, &mut state.configured_rim_m, &mut state.moved_rim_m, &mut state.rim),
        ] {
            let before_m = std::mem::replace(configured_m, distance_m(mount));
            if *configured_m != before_m {
                *moved_m = None;
                track.hang_anew();
            }
        }
        if rim_before_m != state.configured_rim_m {
            state.edge.hang_anew();
        }
        if *self.state.heat.rule() != rule {
            self.state.heat = RecordDegreeDays::new(rule, DEGREE_DAY_GAP_H);
            if let Some(bloom) = &mut self.state.bloom {
                bloom.heat_before = (0.0, 0.0);
            }
        }
    }
}

fn distance_m(mount: Option<Mount>) -> Option<f64> {
    mount.map(|mount| mount.distance_m)
}

/// A counter of degree-days for a kind of plant, nothing counted yet: the integral of the record between the profile's two
/// temperatures, with a horizontal cutoff.
pub const fn degree_day_counter(profile: &Profile) -> RecordDegreeDays {
    let thresholds = Thresholds { lower_c: profile.base_temperature_c, upper_c: profile.upper_temperature_c };
    RecordDegreeDays::new(Rule { thresholds, cutoff: Cutoff::Horizontal }, DEGREE_DAY_GAP_H)
}
