//! What can be measured: one definition per quantity, used by configuration, SenML intake, import and messages alike.

use serde::{Deserialize, Serialize};

/// A measured quantity of a bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[repr(u8)]
pub enum Quantity {
    /// Air temperature at the bench, °C.
    Temperature,
    /// Relative humidity of the same air, %.
    Humidity,
    /// Distance that the overhead ranger reports to the spadix tip, m.
    TipRange,
    /// Distance that the side ranger reports to the spathe rim, m.
    RimRange,
    /// Height taped by hand from the bench's datum, m.
    Height,
    /// Girth taped by hand, m.
    Girth,
    /// Temperature of the spadix, contact or infrared, °C.
    SpadixTemperature,
}

/// The bounds and words of a quantity.
struct Definition {
    name: &'static str,
    unit: &'static str,
    words: &'static str,
    lowest: f64,
    highest: f64,
    /// Values above `highest` up to here are read as `highest`: a humidity sensor in fog reports a little over 100 %.
    folded_up_to: f64,
}

const DEFINITIONS: [Definition; 7] = [
    define("temperature", "Cel", "air temperature", -20.0, 60.0, 60.0),
    define("humidity", "%RH", "relative humidity", 0.0, 100.0, 105.0),
    define("tip-range", "m", "distance to the spadix tip", 0.02, 8.0, 8.0),
    define("rim-range", "m", "distance to the spathe rim", 0.02, 8.0, 8.0),
    define("height", "m", "taped height", 0.0, 5.0, 5.0),
    define("girth", "m", "taped girth", 0.0, 3.0, 3.0),
    define("spadix-temperature", "Cel", "spadix temperature", -20.0, 60.0, 60.0),
];

const fn define(
    name: &'static str,
    unit: &'static str,
    words: &'static str,
    lowest: f64,
    highest: f64,
    folded_up_to: f64,
) -> Definition {
    Definition { name, unit, words, lowest, highest, folded_up_to }
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
    /// Every quantity, in the order of its number.
    pub const ALL: [Self; 7] = [
        Self::Temperature,
        Self::Humidity,
        Self::TipRange,
        Self::RimRange,
        Self::Height,
        Self::Girth,
        Self::SpadixTemperature,
    ];

    const fn definition(self) -> &'static Definition {
        &DEFINITIONS[self as usize]
    }

    /// The name in recordings, configuration and topics, such as `rim-range`.
    pub const fn name(self) -> &'static str {
        self.definition().name
    }

    /// The unit by the SenML registry (RFC 8428): `Cel`, `%RH` or `m`.
    pub const fn unit(self) -> &'static str {
        self.definition().unit
    }

    /// What it is, in words for a message.
    pub const fn words(self) -> &'static str {
        self.definition().words
    }

    /// The quantity of that name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|quantity| quantity.name() == name)
    }

    /// Of a ranger, which watches the bud.
    pub const fn is_range(self) -> bool {
        matches!(self, Self::TipRange | Self::RimRange)
    }

    /// Measured by hand, a few times a week, possibly booked late; everything else comes from a sensor.
    pub const fn by_hand(self) -> bool {
        matches!(self, Self::Height | Self::Girth)
    }

    /// The value if it is possible, with humidity of 100 to 105 % read as 100.
    ///
    /// # Errors
    /// When the value is not a number or outside the quantity's range.
    pub fn possible(self, value: f64) -> Result<f64, Impossible> {
        let definition = self.definition();
        if value >= definition.lowest && value <= definition.folded_up_to {
            Ok(value.min(definition.highest))
        } else {
            Err(Impossible {
                name: definition.name,
                unit: definition.unit,
                value,
                lowest: definition.lowest,
                highest: definition.highest,
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_leads_back_to_its_quantity() {
        for (number, quantity) in Quantity::ALL.into_iter().enumerate() {
            assert_eq!(quantity as usize, number);
            assert_eq!(Quantity::from_name(quantity.name()), Some(quantity));
        }
        assert_eq!(Quantity::from_name("pressure"), None);
    }

    #[test]
    fn impossible_values_are_refused_and_fog_is_saturation() {
        assert_eq!(Quantity::Humidity.possible(103.2), Ok(100.0));
        assert!(Quantity::Humidity.possible(105.1).is_err());
        assert!(Quantity::TipRange.possible(0.0).is_err());
        assert!(Quantity::Temperature.possible(f64::NAN).is_err());
        let said = Quantity::RimRange.possible(9.0).unwrap_err().to_string();
        assert_eq!(said, "rim-range of 9 m is impossible: it lies between 0.02 and 8 m");
    }
}
