//! The sentences of the air, and of heat for people.

use bloom_model::climate::Beyond;
use bloom_model::heat::{HeatLevel, HottestAir};
use bloom_model::quantity::{Quantity, Variable};

use super::*;

fn beyond(of: Variable, below: bool, value: f64, limit: f64) -> Beyond {
    Beyond { of, below, value, limit, since: at(12.0 + 13.0 / 60.0) }
}

fn temperature(below: bool, value: f64, limit: f64) -> Beyond {
    beyond(Variable::Measured(Quantity::Temperature), below, value, limit)
}

#[test]
fn each_side_of_the_limits_has_its_own_order() {
    let site = site();
    let words = Words::new(&site, "east-3", Some("AT-0412"));
    let said = |beyond: &Beyond, alarm| words.beyond(beyond, alarm, at(13.0));
    let cold = said(&temperature(true, 12.0, 15.0), true);
    assert_eq!(
        cold,
        "TOO COLD east-3: 12.0 °C. Go, not alone: heating may have failed. No open flame, no wet mains. Alarm at 15.0 °C, since Wed 12:13. \
         Electricians only open what carries mains; local codes hold."
    );
    keeps_the_rules_of_an_alarm(&cold, "Go, not alone");
    let hot = said(&temperature(false, 43.0, 42.0), true);
    assert_eq!(
        hot,
        "TOO HOT east-3: 43.0 °C. Vents and shade from outside, do not stay in. Alarm at 42.0 °C, since Wed 12:13. Not alone. Nobody onto \
         the roof or the glass."
    );
    keeps_the_rules_of_an_alarm(&hot, "Vents and shade from outside");
    let humidity = Variable::Measured(Quantity::Humidity);
    keeps_the_rules_of_an_alarm(
        &said(&beyond(humidity, true, 30.0, 40.0), true),
        "Mist and shade, from outside",
    );
    keeps_the_rules_of_an_alarm(
        &said(&beyond(humidity, false, 99.0, 98.0), true),
        "Open vents, stop the mist",
    );
    let co2 = Variable::Measured(Quantity::Co2);
    keeps_the_rules_of_an_alarm(&said(&beyond(co2, false, 6000.0, 5000.0), true), "Stay out. Dosing off");
    assert_eq!(
        said(&beyond(humidity, false, 97.0, 95.0), false),
        "Damp at east-3: 97 %, limit 95 %. Open vents. Since 12:13."
    );
}

#[test]
fn what_is_within_again_and_what_is_yet_a_warning() {
    let site = site();
    let words = Words::new(&site, "east-3", None);
    let cold = temperature(true, 26.0, 15.0);
    assert_eq!(
        words.within(&cold, None),
        "Back inside its limits at east-3: temperature 26.0 °C. Today it is told again only as an alarm."
    );
    assert_eq!(
        words.within(&cold, Some(&temperature(true, 16.0, 18.0))),
        "No longer an alarm at east-3: temperature is 16.0 °C, still below 18.0 °C."
    );
    let us = SiteSpec { units: Units::Us, ..site.clone() };
    let words = Words::new(&us, "east-3", None);
    assert!(
        words.beyond(&temperature(true, 12.0, 15.0), true, at(13.0)).starts_with("TOO COLD east-3: 53.6 °F.")
    );
}

#[test]
fn heat_is_of_the_house_and_keeps_people_out() {
    let site = site();
    let words = Words::new(&site, "saltmarsh", None);
    let air = |level, heat_index_c| HottestAir {
        level,
        heat_index_c,
        above_scale: false,
        bench: Arc::from("east-1"),
        temperature_c: 31.3,
        humidity_pct: 74.0,
    };
    let feels = "It feels like 39.8 °C in the shade at east-1 (31.3 °C and 74 %).";
    assert_eq!(
        words.heat(&air(HeatLevel::Danger, 39.8)),
        format!(
            "HEAT in the house: short spells, water, a second person. {feels} Local rules for work in heat come first."
        )
    );
    assert_eq!(
        words.extreme_heat(&air(HeatLevel::ExtremeDanger, 39.8)),
        format!(
            "STAY OUT of the house: extreme heat. If somebody must go in: minutes only, not alone. {feels} Local rules for work in heat \
             come first."
        )
    );
    assert_eq!(
        words.extreme_heat_over(&air(HeatLevel::Bearable, 39.8)),
        format!("Extreme heat in the house is over. {feels}")
    );
    assert_eq!(
        words.extreme_heat_over(&air(HeatLevel::Danger, 39.8)),
        format!("Extreme heat in the house is over. Still short spells, water, a second person. {feels}")
    );
}
