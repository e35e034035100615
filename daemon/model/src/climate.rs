//! The climate of the bench against its limits.

use serde::{Deserialize, Serialize};

use crate::air;
use crate::spec::{Band, Limits};
use crate::time::Time;

/// Outside a limit for this long before it is said, h: a door, a hose, a passing cloud are over sooner. Judgement.
const ON_DELAY_H: f64 = 10.0 / 60.0;
/// Inside again for this long before it is over, h. Judgement.
const OFF_DELAY_H: f64 = 10.0 / 60.0;
/// How far inside a limit the value must be to count as inside again, as a share of the band: it keeps a value at the limit quiet.
/// Judgement.
const DEADBAND: f64 = 0.02;

/// What is watched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClimateOf {
    /// Air temperature.
    Temperature,
    /// Relative humidity.
    Humidity,
    /// Vapour-pressure deficit.
    VapourPressureDeficit,
}

impl ClimateOf {
    /// The word in events.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Temperature => "temperature",
            Self::Humidity => "humidity",
            Self::VapourPressureDeficit => "vapour-pressure-deficit",
        }
    }

    /// The unit in events.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Temperature => "Cel",
            Self::Humidity => "%RH",
            Self::VapourPressureDeficit => "kPa",
        }
    }
}

/// A change that is to be told.
#[derive(Debug, Clone, PartialEq)]
pub struct ClimateChange {
    /// Of what.
    pub of: ClimateOf,
    /// Beyond the `alarm_…` limits.
    pub alarm: bool,
    /// Outside now; `false` when it is over.
    pub outside: bool,
    /// The value now.
    pub value: f64,
    /// The limit that was crossed.
    pub limit: f64,
    /// Since when it has been (or had been) outside.
    pub since: Time,
    /// Which watch it was, for [`ClimateWatch::standing`].
    pub watch: usize,
}

/// One pair of limits.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
struct LimitWatch {
    outside_since: Option<Time>,
    inside_since: Option<Time>,
    /// The id of the event that told it, while it stands.
    told: Option<String>,
    limit: f64,
}

/// The six watches of a bench: three quantities, a warning and an alarm each.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ClimateWatch {
    watches: [LimitWatch; 6],
}

impl ClimateWatch {
    /// Looks at the newest air; gives what is to be told.
    pub fn look(
        &mut self,
        temperature_c: f64,
        humidity_pct: Option<f64>,
        now: Time,
        limits: &Limits,
        changes: &mut Vec<ClimateChange>,
    ) {
        let deficit = humidity_pct.map(|humidity| air::vapour_pressure_deficit_kpa(temperature_c, humidity));
        let looks = [
            (ClimateOf::Temperature, Some(temperature_c), limits.temperature_c, limits.alarm_temperature_c),
            (ClimateOf::Humidity, humidity_pct, limits.humidity_pct, limits.alarm_humidity_pct),
            (ClimateOf::VapourPressureDeficit, deficit, limits.vpd_kpa, limits.alarm_vpd_kpa),
        ];
        for (index, (of, value, warning, alarm)) in looks.into_iter().enumerate() {
            let Some(value) = value else { continue };
            for (second, band) in [(false, warning), (true, alarm)] {
                let Some(band) = band else { continue };
                let place = 2 * index + usize::from(second);
                if let Some((outside, limit, since)) = self.watches[place].look(value, band, now) {
                    changes.push(ClimateChange {
                        of,
                        alarm: second,
                        outside,
                        value,
                        limit,
                        since,
                        watch: place,
                    });
                }
            }
        }
    }

    /// The place where the id of the event that stands for a watch is kept.
    pub fn standing(&mut self, watch: usize) -> Option<&mut Option<String>> {
        self.watches.get_mut(watch).map(|watch| &mut watch.told)
    }
}

impl LimitWatch {
    /// `(outside, limit, since)` when that is to be told.
    fn look(&mut self, value: f64, band: Band, now: Time) -> Option<(bool, f64, Time)> {
        if self.told.is_none() {
            if band.holds(value) {
                self.outside_since = None;
                return None;
            }
            let since = *self.outside_since.get_or_insert(now);
            self.limit = if value < band.from { band.from } else { band.to };
            self.inside_since = None;
            return (now.hours_since(since) >= ON_DELAY_H).then_some((true, self.limit, since));
        }
        let margin = DEADBAND * (band.to - band.from);
        let inside = Band { from: band.from + margin, to: band.to - margin }.holds(value);
        if !inside {
            self.inside_since = None;
            return None;
        }
        let since = *self.inside_since.get_or_insert(now);
        if now.hours_since(since) < OFF_DELAY_H {
            return None;
        }
        let began = self.outside_since.take().unwrap_or(since);
        self.inside_since = None;
        Some((false, self.limit, began))
    }
}
