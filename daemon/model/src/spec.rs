//! What the configuration tells the model of a site and its benches.

use std::sync::Arc;

use chrono::TimeDelta;
use chrono_tz::Tz;

use crate::forecast::EarlierBloom;
use crate::heat::HeatLimits;
use crate::profile::Profile;
use crate::quantity::Quantity;

/// Units that people read. Inside, everything is metric.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Units {
    /// Metres, centimetres, degrees Celsius.
    Metric,
    /// Inches and degrees Fahrenheit.
    Us,
}

impl Units {
    /// A temperature of so many °C, in °C or °F.
    pub fn degrees(self, celsius: f64) -> f64 {
        match self {
            Self::Metric => celsius,
            Self::Us => celsius * 1.8 + 32.0,
        }
    }

    /// A difference of so many kelvins, or a total of so many °C·d, in °C or °F.
    pub fn difference(self, kelvins: f64) -> f64 {
        match self {
            Self::Metric => kelvins,
            Self::Us => kelvins * 1.8,
        }
    }

    /// A height of so many metres, in m or inches.
    pub fn height(self, metres: f64) -> f64 {
        match self {
            Self::Metric => metres,
            Self::Us => metres / METRES_PER_INCH,
        }
    }

    /// A growth or an advance of so many metres, in cm or inches.
    pub fn growth(self, metres: f64) -> f64 {
        match self {
            Self::Metric => metres * 100.0,
            Self::Us => metres / METRES_PER_INCH,
        }
    }
}

/// One inch, exactly (ISO 31-1; the international inch of 1959).
pub const METRES_PER_INCH: f64 = 0.0254;

/// One glass-house.
#[derive(Debug, Clone)]
pub struct SiteSpec {
    /// Its name, part of every topic.
    pub name: Arc<str>,
    /// Nights and mornings are local to this zone.
    pub timezone: Tz,
    /// Units in messages.
    pub units: Units,
    /// Air pressure at the site's altitude, kPa; 101.325 unless known.
    pub pressure_kpa: f64,
    /// Local hour of the morning bulletin, 0 to 23.
    pub morning_hour: u32,
    /// How long a quantity may stay away before its sensor counts as silent.
    pub silent_after: TimeDelta,
    /// When people are cautioned.
    pub heat: HeatLimits,
    /// Whether test alarms are raised, to prove that a person is reached.
    pub test_alarms: bool,
}

/// One watched place, normally one plant.
#[derive(Debug, Clone)]
pub struct BenchSpec {
    /// Its id, `a-z 0-9 -`.
    pub id: Arc<str>,
    /// Accession or label of the plant.
    pub plant: Option<Arc<str>>,
    /// The kind of plant, with the bench's overrides applied.
    pub profile: Profile,
    /// The overhead ranger, if there is one.
    pub tip: Option<Mount>,
    /// The side ranger, if there is one.
    pub rim: Option<Mount>,
    /// Climate limits.
    pub limits: Limits,
    /// Earlier blooms of this plant and of its kind in this house.
    pub earlier: Vec<EarlierBloom>,
}

/// Where a ranger hangs and what it assumes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mount {
    /// True distance from the ranger to the datum (overhead) or to the closed rim (side), m.
    pub distance_m: f64,
    /// The speed of sound with which the ranger turns echo time into distance, m/s; `None` if it compensates by itself.
    pub assumed_speed_m_s: Option<f64>,
}

/// From and to, both inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// The least value inside.
    pub from: f64,
    /// The greatest value inside.
    pub to: f64,
}

impl Band {
    /// Whether a value lies inside.
    pub fn holds(&self, value: f64) -> bool {
        value >= self.from && value <= self.to
    }
}

/// Climate limits of a bench; `None` is not watched.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Limits {
    /// Air temperature, °C: outside it is a warning.
    pub temperature_c: Option<Band>,
    /// Relative humidity, %: outside it is a warning.
    pub humidity_pct: Option<Band>,
    /// Vapour-pressure deficit, kPa: outside it is a warning.
    pub vpd_kpa: Option<Band>,
    /// Air temperature, °C: outside it is an alarm, for heating or shading has failed.
    pub alarm_temperature_c: Option<Band>,
    /// Relative humidity, %: outside it is an alarm.
    pub alarm_humidity_pct: Option<Band>,
    /// Vapour-pressure deficit, kPa: outside it is an alarm.
    pub alarm_vpd_kpa: Option<Band>,
}

impl Limits {
    /// Whether a limit cannot be watched without this quantity.
    pub fn need(&self, quantity: Quantity) -> bool {
        let deficit = self.vpd_kpa.or(self.alarm_vpd_kpa).is_some();
        match quantity {
            Quantity::Temperature => deficit || self.temperature_c.or(self.alarm_temperature_c).is_some(),
            Quantity::Humidity => deficit || self.humidity_pct.or(self.alarm_humidity_pct).is_some(),
            _ => false,
        }
    }
}
