//! The air of a bench against its limits, and heat for people, in sentences.

use bloom_model::climate::Beyond;
use bloom_model::heat::{HeatLevel, HottestAir};
use bloom_model::quantity::Variable;
use bloom_model::quantity::case::ClimateCase;
use bloom_model::time::Time;

use crate::figure::said;
use crate::words::Words;

/// What stands behind every warning of heat: it takes the place of no rule.
const RULES_FIRST: &str = "Local rules for work in heat come first.";

/// The words of a case. What to do stands within the first 60 characters, for a locked phone. No order to go in where it is hot.
#[derive(Debug, Clone, Copy)]
struct CaseWords {
    /// What is wrong, at the head of an alarm: `TOO COLD`.
    alarm: &'static str,
    /// What to do at an alarm: whole sentences.
    do_at_alarm: &'static str,
    /// What follows at the end of an alarm: whole sentences with a space before them.
    after_alarm: &'static str,
    /// What is wrong, at the head of a warning: `Cold`.
    warning: &'static str,
    /// What to do at a warning: whole sentences.
    do_at_warning: &'static str,
}

/// What people are told of a case.
const fn of_case(case: ClimateCase) -> CaseWords {
    match case {
        ClimateCase::TooCold => CaseWords {
            alarm: "TOO COLD",
            do_at_alarm: "Go, not alone: heating may have failed. No open flame, no wet mains.",
            after_alarm: " Electricians only open what carries mains; local codes hold.",
            warning: "Cold",
            do_at_warning: "Check the heating: no open flame, no wet mains.",
        },
        ClimateCase::TooHot => CaseWords {
            alarm: "TOO HOT",
            do_at_alarm: "Vents and shade from outside, do not stay in.",
            after_alarm: " Not alone. Nobody onto the roof or the glass.",
            warning: "Hot",
            do_at_warning: "Vents and shade, from outside.",
        },
        ClimateCase::TooDry => CaseWords {
            alarm: "TOO DRY",
            do_at_alarm: "Mist and shade, from outside; no wet mains.",
            after_alarm: " Not alone.",
            warning: "Dry",
            do_at_warning: "Mist or shade.",
        },
        ClimateCase::TooDamp => CaseWords {
            alarm: "TOO DAMP",
            do_at_alarm: "Open vents, stop the mist; no wet mains.",
            after_alarm: " Not alone.",
            warning: "Damp",
            do_at_warning: "Open vents.",
        },
        ClimateCase::TooLittleCo2 => CaseWords {
            alarm: "TOO LITTLE CO2",
            do_at_alarm: "Check dosing and sensor.",
            after_alarm: " Not alone. Dosing off, and air, before anybody works there; local codes first.",
            warning: "Little CO2",
            do_at_warning: "Check dosing and sensor: dosing off, and air, before anybody works there; local codes first.",
        },
        ClimateCase::TooMuchCo2 => CaseWords {
            alarm: "TOO MUCH CO2",
            do_at_alarm: "Stay out. Dosing off, vents open, from outside.",
            after_alarm: " Not alone. Nobody smells it: air before anybody works there; local codes first. This is no safety system.",
            warning: "Much CO2",
            do_at_warning: "Dosing off, and air, before anybody works there; local codes first.",
        },
        ClimateCase::TooBright => CaseWords {
            alarm: "TOO BRIGHT",
            do_at_alarm: "Draw shade, from outside.",
            after_alarm: " Not alone. Nobody onto the roof or the glass.",
            warning: "Bright",
            do_at_warning: "Draw shade.",
        },
        ClimateCase::SoilTooCold => CaseWords {
            alarm: "SOIL TOO COLD",
            do_at_alarm: "Check the bottom heat: no wet mains.",
            after_alarm: " Not alone. Electricians only open what carries mains; local codes hold.",
            warning: "Soil cold",
            do_at_warning: "Check the bottom heat: no wet mains.",
        },
        ClimateCase::SoilTooHot => CaseWords {
            alarm: "SOIL TOO HOT",
            do_at_alarm: "Bottom heat off: no wet mains.",
            after_alarm: " Not alone. Electricians only open what carries mains; local codes hold.",
            warning: "Soil hot",
            do_at_warning: "Bottom heat off, or lower: no wet mains.",
        },
    }
}

impl Words<'_> {
    fn figure(&self, of: Variable, value: f64) -> String {
        said(of.measure(), self.site.units, value)
    }

    /// Something lies beyond its limits.
    pub(crate) fn beyond(&self, beyond: &Beyond, alarm: bool, now: Time) -> String {
        let bench = self.bench;
        let (value, limit) = (self.figure(beyond.of, beyond.value), self.figure(beyond.of, beyond.limit));
        // dry air is told by its humidity or by its deficit
        let value = if beyond.of == Variable::DEFICIT { format!("deficit {value}") } else { value };
        // an alarm is repeated, and may be read on another day
        let since = if alarm { self.day_clock(beyond.since) } else { self.clock_on(beyond.since, now) };
        let Some(said) = beyond.case().map(of_case) else {
            return format!("{bench}: {} {value}, limit {limit}. Since {since}.", beyond.of.short());
        };
        if alarm {
            let (wrong, what_to_do, after) = (said.alarm, said.do_at_alarm, said.after_alarm);
            format!("{wrong} {bench}: {value}. {what_to_do} Alarm at {limit}, since {since}.{after}")
        } else {
            let (wrong, what_to_do) = (said.warning, said.do_at_warning);
            format!("{wrong} at {bench}: {value}, limit {limit}. {what_to_do} Since {since}.")
        }
    }

    /// It is back inside them, or no longer an alarm.
    pub(crate) fn within(&self, beyond: &Beyond, still: Option<&Beyond>) -> String {
        let bench = self.bench;
        let value = self.figure(beyond.of, beyond.value);
        match still {
            Some(still) => {
                let side = if still.below { "below" } else { "above" };
                format!(
                    "No longer an alarm at {bench}: {} is {}, still {side} {}.",
                    still.of.short(),
                    self.figure(still.of, still.value),
                    self.figure(still.of, still.limit)
                )
            }
            None => format!(
                "Back inside its limits at {bench}: {} {value}. Today it is told again only as an alarm.",
                beyond.of.short()
            ),
        }
    }

    /// Heat in the house, for people.
    pub(crate) fn heat(&self, air: &HottestAir) -> String {
        format!("HEAT in the house: short spells, water, a second person. {} {RULES_FIRST}", self.feels(air))
    }

    /// Extreme heat in the house.
    pub(crate) fn extreme_heat(&self, air: &HottestAir) -> String {
        format!(
            "STAY OUT of the house: extreme heat. If somebody must go in: minutes only, not alone. {} {RULES_FIRST}",
            self.feels(air)
        )
    }

    /// Extreme heat in the house is over; it may be heat yet.
    pub(crate) fn extreme_heat_over(&self, air: &HottestAir) -> String {
        let still_hot = air.level != HeatLevel::Bearable;
        let still = if still_hot { " Still short spells, water, a second person." } else { "" };
        format!("Extreme heat in the house is over.{still} {}", self.feels(air))
    }

    fn feels(&self, air: &HottestAir) -> String {
        let index = self.temperature(air.heat_index_c);
        let feels = if air.above_scale {
            format!("hotter than {index}, above the scale,")
        } else {
            format!("like {index}")
        };
        format!(
            "It feels {feels} in the shade at {} ({} and {:.0} %).",
            air.bench,
            self.temperature(air.temperature_c),
            air.humidity_pct
        )
    }
}
