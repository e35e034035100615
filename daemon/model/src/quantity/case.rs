//! What is wrong where a quantity lies beyond its limits. `bloom-text` has the words.

use serde::{Deserialize, Serialize};

/// What is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClimateCase {
    /// Below the temperature limits.
    TooCold,
    /// Above them.
    TooHot,
    /// Too little humidity, or too great a deficit.
    TooDry,
    /// Too much humidity, or too small a deficit.
    TooDamp,
    /// Too little carbon dioxide.
    TooLittleCo2,
    /// Too much carbon dioxide. The alarm is for people, who do not smell it.
    TooMuchCo2,
    /// Too much light.
    TooBright,
    /// Below the limits of the soil's temperature.
    SoilTooCold,
    /// Above them.
    SoilTooHot,
}

/// What brings it about. Each cause is told once a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Too little: cold.
    Low = 0,
    /// Too much. Of the air the sun, or shade and mist that fail: heat and dryness have one noon.
    High = 1,
    /// Damp air, beside which it may be cold or hot, too.
    Damp = 2,
}

impl Cause {
    /// All of them, in the order in which they are told.
    pub const ALL: [Self; 3] = [Self::Low, Self::High, Self::Damp];
}

impl ClimateCase {
    /// What brings it about.
    pub const fn cause(self) -> Cause {
        match self {
            Self::TooCold | Self::TooLittleCo2 | Self::SoilTooCold => Cause::Low,
            Self::TooHot | Self::TooDry | Self::TooMuchCo2 | Self::TooBright | Self::SoilTooHot => {
                Cause::High
            }
            Self::TooDamp => Cause::Damp,
        }
    }
}
