//! What is known beside the rim, and how far it moves the bar.

use crate::profile::Profile;

/// Great heat begins to count so far below the temperature at which a spathe may hang slack, K.
const HEAT_MARGIN_K: f64 = 3.0;

/// What is known beside the rim itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circumstances {
    /// Local hour of the day.
    pub local_hour: f64,
    /// Growth over the last day as a share of its peak, where known.
    pub growth_share: Option<f64>,
    /// Days since the bud was seen, where it was.
    pub bud_age_d: Option<f64>,
    /// A sign of ripeness was booked in the last days: last bract fallen, edge loose, scent.
    pub ripe_by_sign: bool,
    /// The air between ranger and rim is known.
    pub air_known: bool,
    /// Air temperature, °C, where known.
    pub temperature_c: Option<f64>,
    /// Spadix above air, K, where measured.
    pub spadix_above_air_k: Option<f64>,
}

impl Circumstances {
    /// The factor on the bar: above one asks for more evidence, below one for less. All factors, and the 2 K that count as a warm
    /// spadix (reports: 1 to 2 K an hour after the crack at Ohio State 2011), are judgement.
    pub(super) fn bar(&self, profile: &Profile) -> f64 {
        let mut bar = 1.0;
        bar *= if hour_within(self.local_hour, profile.crack_from_hour - 1.0, profile.crack_until_hour + 2.0)
        {
            0.95
        } else {
            1.1
        };
        if !self.may_be_ripe(profile) {
            bar *= 1.35;
        }
        if self.ripe_by_sign {
            bar *= 0.9;
        }
        // a thermometer that fails hides both what the air does to the range and the heat that slackens a spathe
        if !self.air_known {
            bar *= 1.5;
        }
        // a thermometer may read low, and the rim may be in warmer air than it
        let heat =
            self.temperature_c.map_or(0.0, |celsius| (celsius - profile.slack_above_c) / HEAT_MARGIN_K + 1.0);
        bar *= 1.0 + 0.6 * heat.clamp(0.0, 1.0);
        if self.spadix_above_air_k.is_some_and(|kelvin| kelvin >= 2.0) {
            bar *= 0.8;
        }
        bar
    }

    /// Whether growth and age allow an opening: no report tells of a bud that opened at full growth or in its
    /// first half. The half is judgement.
    pub fn may_be_ripe(&self, profile: &Profile) -> bool {
        !self.grows_fully(profile)
            && self.bud_age_d.is_none_or(|days| days >= 0.5 * profile.emergence_to_opening_earliest_d)
    }

    /// Whether it is known to grow as it does at its peak.
    pub(super) fn grows_fully(&self, profile: &Profile) -> bool {
        self.growth_share.is_some_and(|share| share > profile.unripe_growth_share)
    }
}

fn hour_within(hour: f64, from: f64, until: f64) -> bool {
    (hour - from).rem_euclid(24.0) <= (until - from).rem_euclid(24.0)
}
