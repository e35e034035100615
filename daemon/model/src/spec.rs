//! What the configuration tells the model of a site and its benches.

use std::sync::Arc;

use chrono::TimeDelta;
use chrono_tz::Tz;

use crate::forecast::EarlierBloom;
use crate::heat::HeatLimits;
use crate::profile::Profile;
use crate::quantity::by::ByVariable;
pub use crate::quantity::measure::{METRES_PER_INCH, Units};
use crate::quantity::{Quantity, Variable};

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
    /// When people are warned of heat.
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

impl BenchSpec {
    /// Whether a limit cannot be watched without this quantity.
    pub fn limits_need(&self, quantity: Quantity) -> bool {
        let watched = Variable::limited().filter(|(variable, _)| !self.limits[*variable].is_empty());
        watched.into_iter().any(|(variable, _)| match variable {
            Variable::Measured(measured) => measured == quantity,
            Variable::Derived(derived) => derived.parts().contains(&quantity),
        })
    }
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

/// Limits of a bench for one quantity; `None` is not watched.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bands {
    /// Outside it is a warning.
    pub warning: Option<Band>,
    /// Outside it is an alarm, for heating or shading has failed.
    pub alarm: Option<Band>,
}

impl Bands {
    /// Whether nothing is watched.
    pub const fn is_empty(&self) -> bool {
        self.warning.is_none() && self.alarm.is_none()
    }
}

/// Climate limits of a bench.
pub type Limits = ByVariable<Bands>;

/// A house and its benches for the tests of the model.
#[cfg(test)]
pub(crate) mod example {
    use super::*;
    use crate::opening::titan_arum;

    /// The site `saltmarsh`.
    pub(crate) fn saltmarsh() -> SiteSpec {
        SiteSpec {
            name: Arc::from("saltmarsh"),
            timezone: chrono_tz::America::Halifax,
            units: Units::Metric,
            pressure_kpa: 101.325,
            morning_hour: 7,
            silent_after: TimeDelta::minutes(15),
            heat: HeatLimits::default(),
            test_alarms: false,
        }
    }

    /// A bench with both rangers, the side one so far from the closed edge, m.
    pub(crate) fn bench(id: &str, edge_m: f64, assumed_speed_m_s: Option<f64>) -> BenchSpec {
        let mount = |distance_m| Some(Mount { distance_m, assumed_speed_m_s });
        BenchSpec {
            id: Arc::from(id),
            plant: None,
            profile: titan_arum(),
            tip: mount(3.1),
            rim: mount(edge_m),
            limits: Limits::default(),
            earlier: Vec::new(),
        }
    }
}
