//! What is measured at a bench, and what is derived from it: one table, used by configuration, intake, import and export, the climate's
//! limits, the state, the page, the metrics, the copy to a database and the review.
//!
//! A new quantity is a row of [`table`]; one with limits adds what is wrong beyond them to [`case`]; one with a new unit adds it to
//! [`measure`], where the compiler names what must be said of it.

pub mod by;
pub mod case;
pub mod measure;
mod table;

use serde::{Deserialize, Serialize};

use crate::air;
use case::ClimateCase;
use measure::Measure;
pub use table::{Derived, Quantity};

/// What a quantity is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Temperature and moisture of the air at the bench: it corrects the rangers, and its limits are told together.
    Air,
    /// Of a ranger, which watches the bud.
    Range,
    /// What a ranger says beside its distances: it comes and goes with them.
    Heard,
    /// Temperature of the spadix.
    Spadix,
    /// Of the air, for the plant.
    Gas,
    /// Light on the plant.
    Light,
    /// Of the soil in the pot.
    Soil,
    /// Taped by hand, a few times a week, possibly booked late; everything else comes from a sensor.
    ByHand,
}

/// Values that a sensor in order may report.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Range {
    lowest: f64,
    highest: f64,
    /// Values above `highest` up to here are read as `highest`: a humidity sensor in fog reports a little over 100 %.
    folded_up_to: f64,
}

const fn range(lowest: f64, highest: f64) -> Range {
    Range { lowest, highest, folded_up_to: highest }
}

/// A row of the table.
#[derive(Debug)]
struct Row {
    /// The name in recordings, configuration, topics and events.
    name: &'static str,
    /// The unit in recordings, by the SenML registry (RFC 8428) where it has one.
    unit: &'static str,
    /// The name with its unit, for programs: fields of the state, of the page's API and of the database.
    field: &'static str,
    /// What a sensor measures, in words for a message.
    words: &'static str,
    /// The same where it is plain what it is of: headings, tables.
    short: &'static str,
    /// What brings it, as people call it.
    sensor: &'static str,
    role: Role,
    range: Range,
    /// How people read it.
    measure: Measure,
    /// The limits that a bench may set; `None` where it may not.
    limits: Option<LimitRow>,
    /// That a review draws it as lowest, mean and highest of each step, and what a reader of the picture must know; `None` where it is not
    /// drawn, or in a way of its own.
    picture: Option<&'static str>,
}

/// The limits of a bench for a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LimitRow {
    /// The key of the limits beyond which it is a warning.
    pub warning_key: &'static str,
    /// The key of the limits beyond which it is an alarm.
    pub alarm_key: &'static str,
    /// How limits are written.
    pub example: &'static str,
    /// What is wrong below them; `None` where their lower end must be the quantity's own.
    pub below: Option<ClimateCase>,
    /// What is wrong above them.
    pub above: ClimateCase,
}

/// A value that no sensor in order can have reported.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{name} of {value} {unit} is impossible: it lies between {lowest} and {highest} {unit}")]
pub struct Impossible {
    name: &'static str,
    unit: &'static str,
    value: f64,
    lowest: f64,
    highest: f64,
}

impl Quantity {
    /// The name in recordings, configuration and topics, such as `rim-range`.
    pub const fn name(self) -> &'static str {
        self.row().name
    }

    /// The unit in recordings, by the SenML registry (RFC 8428) where it has one, such as `Cel`.
    pub const fn unit(self) -> &'static str {
        self.row().unit
    }

    /// What its sensor measures, in words for a message.
    pub const fn words(self) -> &'static str {
        self.row().words
    }

    /// What brings it, as people call it, such as `side ranger`.
    pub const fn sensor(self) -> &'static str {
        self.row().sensor
    }

    /// The name with its unit, for programs, such as `tip_range_m`.
    pub const fn field(self) -> &'static str {
        self.row().field
    }

    /// How people read it.
    pub const fn measure(self) -> Measure {
        self.row().measure
    }

    /// What it is for.
    pub const fn role(self) -> Role {
        self.row().role
    }

    /// The lowest and the highest value that a sensor in order may report.
    pub const fn range(self) -> (f64, f64) {
        (self.row().range.lowest, self.row().range.highest)
    }

    /// The quantity of that name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|quantity| quantity.name() == name)
    }

    /// Of a ranger, which watches the bud.
    pub const fn is_range(self) -> bool {
        matches!(self.role(), Role::Range)
    }

    /// Measured by hand, a few times a week, possibly booked late; everything else comes from a sensor.
    pub const fn by_hand(self) -> bool {
        matches!(self.role(), Role::ByHand)
    }

    /// Whether its sensor is missed when it says nothing.
    pub const fn is_missed(self) -> bool {
        !matches!(self.role(), Role::ByHand | Role::Heard)
    }

    /// The value if it is possible, with humidity of 100 to 105 % read as 100.
    ///
    /// # Errors
    /// When the value is not a number or outside the quantity's range.
    pub fn possible(self, value: f64) -> Result<f64, Impossible> {
        self.row().possible(value)
    }
}

impl Row {
    fn possible(&self, value: f64) -> Result<f64, Impossible> {
        let Range { lowest, highest, folded_up_to } = self.range;
        if value >= lowest && value <= folded_up_to {
            Ok(value.min(highest))
        } else {
            Err(Impossible { name: self.name, unit: self.unit, value, lowest, highest })
        }
    }
}

impl Derived {
    /// What it is derived from.
    pub const fn parts(self) -> [Quantity; 2] {
        match self {
            Self::VapourPressureDeficit | Self::DewPointSpread => [Quantity::Temperature, Quantity::Humidity],
        }
    }

    /// Its value in air of that temperature, °C, and relative humidity, %; `None` where there is none, as no dew point in dry air.
    pub fn of_air(self, temperature_c: f64, humidity_pct: f64) -> Option<f64> {
        match self {
            Self::VapourPressureDeficit => {
                Some(air::vapour_pressure_deficit_kpa(temperature_c, humidity_pct))
            }
            Self::DewPointSpread => {
                air::dew_point_c(temperature_c, humidity_pct).map(|dew_point_c| temperature_c - dew_point_c)
            }
        }
    }
}

/// A quantity that is measured, or one that is derived.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Variable {
    /// Measured.
    Measured(Quantity),
    /// Derived from what is measured.
    Derived(Derived),
}

impl From<Quantity> for Variable {
    fn from(quantity: Quantity) -> Self {
        Self::Measured(quantity)
    }
}

impl From<Derived> for Variable {
    fn from(derived: Derived) -> Self {
        Self::Derived(derived)
    }
}

impl Variable {
    /// Air temperature.
    pub const TEMPERATURE: Self = Self::Measured(Quantity::Temperature);
    /// Relative humidity.
    pub const HUMIDITY: Self = Self::Measured(Quantity::Humidity);
    /// Vapour-pressure deficit.
    pub const DEFICIT: Self = Self::Derived(Derived::VapourPressureDeficit);
    /// Air temperature less dew point.
    pub const SPREAD: Self = Self::Derived(Derived::DewPointSpread);

    /// How many there are.
    pub const COUNT: usize = Quantity::ALL.len() + Derived::ALL.len();

    /// All of them in the order in which they are shown: the air, then the rest.
    pub const ALL: [Self; Self::COUNT] = in_order();

    /// Its place among all, which never changes within a run.
    const fn place(self) -> usize {
        match self {
            Self::Measured(quantity) => quantity as usize,
            Self::Derived(derived) => Quantity::ALL.len() + derived as usize,
        }
    }

    const fn row(self) -> &'static Row {
        match self {
            Self::Measured(quantity) => quantity.row(),
            Self::Derived(derived) => derived.row(),
        }
    }

    /// The name in events and metrics, such as `vapour-pressure-deficit`.
    pub const fn name(self) -> &'static str {
        self.row().name
    }

    /// The unit in events, such as `kPa`.
    pub const fn unit(self) -> &'static str {
        self.row().unit
    }

    /// The name with its unit, for programs, such as `vpd_kpa`.
    pub const fn field(self) -> &'static str {
        self.row().field
    }

    /// What it is, in words for a message, such as `air temperature`.
    pub const fn words(self) -> &'static str {
        self.row().words
    }

    /// The same where it is plain what it is of, such as `temperature`.
    pub const fn short(self) -> &'static str {
        self.row().short
    }

    /// What it is for.
    pub const fn role(self) -> Role {
        self.row().role
    }

    /// How people read it.
    pub const fn measure(self) -> Measure {
        self.row().measure
    }

    /// The limits that a bench may set.
    pub const fn limits(self) -> Option<&'static LimitRow> {
        self.row().limits.as_ref()
    }

    /// What a reader of its picture must know; `None` where it has none, or one of a kind of its own.
    pub const fn picture(self) -> Option<&'static str> {
        self.row().picture
    }

    /// The lowest possible value.
    pub const fn lowest(self) -> f64 {
        self.row().range.lowest
    }

    /// Those for which a bench may set limits.
    pub fn limited() -> impl Iterator<Item = (Self, &'static LimitRow)> {
        Self::ALL.into_iter().filter_map(|variable| Some((variable, variable.limits()?)))
    }

    /// Those that a review gathers and draws step by step.
    pub fn pictured() -> impl Iterator<Item = Self> {
        Self::ALL.into_iter().filter(|variable| variable.picture().is_some())
    }

    /// Whose limits are told together with these, and govern them: temperature for all of the air.
    pub const fn governed_by(self) -> Self {
        match self.role() {
            Role::Air => Self::TEMPERATURE,
            _ => self,
        }
    }

    /// The value if it is possible.
    ///
    /// # Errors
    /// When the value is not a number or outside the range.
    pub fn possible(self, value: f64) -> Result<f64, Impossible> {
        self.row().possible(value)
    }
}

/// Measured and derived ones of the air, then the others, each in the order of their rows.
const fn in_order() -> [Variable; Variable::COUNT] {
    let mut all = [Variable::TEMPERATURE; Variable::COUNT];
    let mut place = 0;
    let mut pass = 0;
    while pass < 2 {
        let mut number = 0;
        while number < Variable::COUNT {
            let variable = if number < Quantity::ALL.len() {
                Variable::Measured(Quantity::ALL[number])
            } else {
                Variable::Derived(Derived::ALL[number - Quantity::ALL.len()])
            };
            if matches!(variable.role(), Role::Air) == (pass == 0) {
                all[place] = variable;
                place += 1;
            }
            number += 1;
        }
        pass += 1;
    }
    all
}

#[cfg(test)]
mod tests;
