//! SenML against RFC 8428: the examples of its section 5.1 with their resolved form, and cases made from the text of its
//! sections 4.1 to 4.6, one by one with the section they come from; units against the registries of RFC 8428, section 12.1,
//! and RFC 8798.

use anthesisd::intake::decoder::{ArrivalTime, Decoder, Reason};
use anthesisd::intake::lines::Line;
use anthesisd::intake::senml::{Pack, PackFault, Record, RecordFault, Value, packs};
use bloom_model::quantity::Quantity;
use bloom_model::time::Time;
use serde_json::Value as Json;

const CASES: &str = include_str!("../reference/senml_cases.jsonl");
const UNITS: &str = include_str!("../reference/senml_units.csv");
/// Doubles near 1.3e9 s are 2.4e-7 s apart.
const TIME_TOLERANCE_S: f64 = 1e-6;
const VALUE_TOLERANCE: f64 = 1e-9;

#[test]
fn packs_resolve_as_rfc_8428_says() {
    let cases: Vec<Json> = CASES.lines().skip(1).map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(cases.len(), 38);
    for case in &cases {
        let name = case["name"].as_str().unwrap();
        let line = case["input"].to_string();
        let found: Vec<_> = packs(line.as_bytes(), case["now"].as_f64()).collect();
        let [found] = &found[..] else { panic!("{name}: {found:?}") };
        match case["expect"].as_str().unwrap() {
            "ok" => {
                let pack = found.as_ref().unwrap_or_else(|fault| panic!("{name}: {fault}"));
                assert_eq!(pack.refused, [], "{name}");
                let expected = case["resolved"].as_array().unwrap();
                assert_eq!(pack.records.len(), expected.len(), "{name}");
                for (record, expected) in pack.records.iter().zip(expected) {
                    same(name, record, expected);
                }
            }
            class => assert_eq!(fault_class(found), class, "{name}"),
        }
    }
}

fn same(case: &str, record: &Record<'_>, expected: &Json) {
    assert_eq!(record.name.to_string(), expected["n"], "{case}");
    assert_eq!(record.unit.as_deref(), expected["u"].as_str(), "{case}");
    close(case, Some(record.time_s), &expected["t"], TIME_TOLERANCE_S);
    let (mut number, mut text, mut flag, mut data) = (None, None, None, None);
    match &record.value {
        Some(Value::Number(value)) => number = Some(*value),
        Some(Value::Text(value)) => text = Some(&**value),
        Some(Value::Flag(value)) => flag = Some(*value),
        Some(Value::Data(value)) => data = Some(&**value),
        None => {}
    }
    close(case, number, &expected["v"], VALUE_TOLERANCE);
    assert_eq!(text, expected["vs"].as_str(), "{case}");
    assert_eq!(flag, expected["vb"].as_bool(), "{case}");
    assert_eq!(data, expected["vd"].as_str(), "{case}");
    close(case, record.sum, &expected["s"], VALUE_TOLERANCE);
    close(case, record.update_time_s, &expected["ut"], VALUE_TOLERANCE);
    assert_eq!(record.version, expected["bver"].as_u64(), "{case}");
}

fn close(case: &str, found: Option<f64>, expected: &Json, tolerance: f64) {
    let expected = expected.as_f64();
    let same = match (found, expected) {
        (Some(found), Some(expected)) => (found - expected).abs() <= tolerance,
        (found, expected) => found == expected,
    };
    assert!(same, "{case}: {found:?}, expected {expected:?}");
}

fn fault_class(found: &Result<Pack<'_>, PackFault>) -> &'static str {
    match found {
        Err(PackFault::VersionTooNew(_)) => "bver_too_new",
        Err(PackFault::VersionsDiffer) => "bver_differs",
        Err(_) => "another fault of the pack",
        Ok(pack) => match &pack.refused[..] {
            [(_, RecordFault::MustUnderstand(_))] => "must_understand",
            [(_, RecordFault::TwoValues)] => "two_values",
            [(_, RecordFault::NoValue)] => "no_value",
            [(_, RecordFault::NoName)] => "no_name",
            [(_, RecordFault::WrongName(_))] => "bad_name",
            _ => "another fault of the record, or none",
        },
    }
}

#[test]
fn each_quantity_has_a_registered_unit_and_takes_no_other() {
    let mut table = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(UNITS.as_bytes());
    let units: Vec<(String, bool)> =
        table.records().map(|row| row.unwrap()).map(|row| (row[0].to_owned(), &row[2] == "SenML")).collect();
    assert!(units.len() > 30);
    let mut decoder = Decoder::new(["east-3"]);
    for quantity in Quantity::ALL {
        let unit = quantity.unit();
        match quantity {
            // a secondary unit: ppm of the ratio 1 (RFC 8798)
            Quantity::Co2 => assert!(units.contains(&(unit.to_owned(), false))),
            // photon flux density has no unit in the registry: this spelling is our own, and the manual says so
            Quantity::Light => assert!(units.iter().all(|(known, _)| known != unit)),
            _ => {
                assert!(units.contains(&(unit.to_owned(), true)), "{unit} is no primary unit of the registry")
            }
        }
        for (unit, _) in &units {
            let pack = format!(r#"[{{"n":"east-3/{}","u":"{unit}","v":1}}]"#, quantity.name());
            let arrival = ArrivalTime::Stamped(Time::from_unix_ms(1_780_300_800_000));
            let (mut readings, mut refused) = (Vec::new(), Vec::new());
            decoder.line(&Line::Whole(pack.as_bytes()), arrival, &mut readings, &mut refused);
            if unit == quantity.unit() {
                assert_eq!((readings.len(), refused.len()), (1, 0), "{pack}");
            } else {
                assert_eq!(readings.len(), 0, "{pack}");
                assert!(matches!(refused[0].reason, Reason::WrongUnit { .. }), "{pack}");
            }
        }
    }
}
