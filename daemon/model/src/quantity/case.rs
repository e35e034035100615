//! What is wrong where a quantity lies beyond its limits, and what people are told to do about it.

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

/// The words of a case. What to do stands within the first 60 characters, for a locked phone. No order to go in where it is hot.
#[derive(Debug, Clone, Copy)]
pub struct CaseWords {
    /// What is wrong, at the head of an alarm: `TOO COLD`.
    pub alarm: &'static str,
    /// What to do at an alarm: whole sentences.
    pub do_at_alarm: &'static str,
    /// What follows at the end of an alarm: whole sentences with a space before them, or nothing.
    pub after_alarm: &'static str,
    /// What is wrong, at the head of a warning: `Cold`.
    pub warning: &'static str,
    /// What to do at a warning: whole sentences.
    pub do_at_warning: &'static str,
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

    /// What people are told.
    pub const fn words(self) -> CaseWords {
        match self {
            Self::TooCold => CaseWords {
                alarm: "TOO COLD",
                do_at_alarm: "Go, take a second person: heating may have failed. No open flame, no wet mains.",
                after_alarm: " Electricians only open what carries mains; local codes hold.",
                warning: "Cold",
                do_at_warning: "Check the heating: no open flame, no wet mains.",
            },
            Self::TooHot => CaseWords {
                alarm: "TOO HOT",
                do_at_alarm: "Vents and shade from outside, do not stay in.",
                after_alarm: " Nobody onto the roof or the glass.",
                warning: "Hot",
                do_at_warning: "Vents and shade, from outside.",
            },
            Self::TooDry => CaseWords {
                alarm: "TOO DRY",
                do_at_alarm: "Mist and shade, from outside; no wet mains.",
                after_alarm: "",
                warning: "Dry",
                do_at_warning: "Mist or shade.",
            },
            Self::TooDamp => CaseWords {
                alarm: "TOO DAMP",
                do_at_alarm: "Open vents, stop the mist; no wet mains.",
                after_alarm: "",
                warning: "Damp",
                do_at_warning: "Open vents.",
            },
            Self::TooLittleCo2 => CaseWords {
                alarm: "TOO LITTLE CO2",
                do_at_alarm: "Check dosing and sensor.",
                after_alarm: " Dosing off, and air, before anybody works there; local codes first.",
                warning: "Little CO2",
                do_at_warning: "Check dosing and sensor: dosing off, and air, before anybody works there; local codes first.",
            },
            Self::TooMuchCo2 => CaseWords {
                alarm: "TOO MUCH CO2",
                do_at_alarm: "Stay out. Dosing off, vents open, from outside.",
                after_alarm: " Nobody smells it: air before anybody works there; local codes first. This is no safety system.",
                warning: "Much CO2",
                do_at_warning: "Dosing off, and air, before anybody works there; local codes first.",
            },
            Self::TooBright => CaseWords {
                alarm: "TOO BRIGHT",
                do_at_alarm: "Draw shade, from outside.",
                after_alarm: " Nobody onto the roof or the glass.",
                warning: "Bright",
                do_at_warning: "Draw shade.",
            },
            Self::SoilTooCold => CaseWords {
                alarm: "SOIL TOO COLD",
                do_at_alarm: "Check the bottom heat: no wet mains.",
                after_alarm: " Electricians only open what carries mains; local codes hold.",
                warning: "Soil cold",
                do_at_warning: "Check the bottom heat: no wet mains.",
            },
            Self::SoilTooHot => CaseWords {
                alarm: "SOIL TOO HOT",
                do_at_alarm: "Bottom heat off: no wet mains.",
                after_alarm: " Electricians only open what carries mains; local codes hold.",
                warning: "Soil hot",
                do_at_warning: "Bottom heat off, or lower: no wet mains.",
            },
        }
    }
}
