use std::collections::BTreeSet;

use super::by::ByVariable;
use super::*;

#[test]
fn every_name_leads_back_to_its_quantity() {
    for (number, quantity) in Quantity::ALL.into_iter().enumerate() {
        assert_eq!(quantity as usize, number);
        assert_eq!(Quantity::from_name(quantity.name()), Some(quantity));
        assert_eq!(
            serde_json::to_value(quantity).unwrap(),
            quantity.name(),
            "the same wherever it is written"
        );
    }
    assert_eq!(Quantity::from_name("pressure"), None);
    let derived = Quantity::from_name("vapour-pressure-deficit");
    assert_eq!(derived, None, "no sensor reports what is derived");
}

/// States number quantities in the order of their rows: those of an earlier version are read by these numbers.
#[test]
fn numbers_never_change() {
    let first = Quantity::ALL.map(Quantity::name);
    let of_old =
        ["temperature", "humidity", "tip-range", "rim-range", "height", "girth", "spadix-temperature"];
    assert_eq!(first[..of_old.len()], of_old);
}

#[test]
fn names_fields_and_keys_are_each_of_one_row() {
    let rows = || Variable::ALL.into_iter();
    for of in [Variable::name, Variable::field, Variable::words, Variable::short] {
        let all: BTreeSet<&str> = rows().map(of).collect();
        assert_eq!(all.len(), Variable::COUNT);
    }
    for (variable, limits) in Variable::limited() {
        assert_eq!(limits.warning_key, variable.field(), "a limit has the unit of what it limits");
        assert_eq!(limits.alarm_key, format!("alarm_{}", variable.field()));
    }
}

#[test]
fn a_field_is_the_name_with_its_unit() {
    for quantity in Quantity::ALL {
        let unit = match quantity.unit() {
            "Cel" => "c".to_owned(),
            "%RH" => "pct".to_owned(),
            "/" => "ratio".to_owned(),
            unit => unit.replace('/', "_"),
        };
        assert_eq!(quantity.field(), format!("{}_{unit}", quantity.name().replace('-', "_")));
    }
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

#[test]
fn the_air_is_shown_first() {
    let names: Vec<&str> = Variable::ALL.into_iter().take(4).map(Variable::name).collect();
    assert_eq!(names, ["temperature", "humidity", "vapour-pressure-deficit", "dew-point-spread"]);
}

#[test]
fn what_was_written_before_a_quantity_was_known_is_read_as_it_was() {
    let written = r#"[[{"Measured":"humidity"},70],[{"Derived":"vapour-pressure-deficit"},3]]"#;
    let read: ByVariable<u32> = serde_json::from_str(written).unwrap();
    assert_eq!((read[Quantity::Humidity], read[Variable::DEFICIT], read[Quantity::Girth]), (70, 3, 0));
    assert_eq!(serde_json::to_string(&read).unwrap(), written, "what is nothing is not written");
}
