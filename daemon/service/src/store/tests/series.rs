//! One quantity over a span.

use super::*;

/// What [`Reader::series`] tells between two seconds of the night.
fn told(reader: &Reader, quantity: Quantity, from: i64, until: i64) -> Vec<(Time, f64)> {
    let mut all = Vec::new();
    reader.series("east-3", quantity, at(from), at(until), |time, value| all.push((time, value))).unwrap();
    all
}

#[test]
fn a_series_tells_what_the_readings_tell() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let mut rows = Vec::new();
    for n in [40, 10, 30, 20] {
        rows.push(measured("east-3", n, Quantity::TipRange, 0.1 * n as f64, Some(n as u64)));
        rows.push(measured("east-3", n, Quantity::Temperature, 27.0, None));
        rows.push(measured("west-1", n, Quantity::TipRange, 3.0, None));
    }
    rows.push(measured("east-3", 25, Quantity::Height, 1.32, Some(50)));
    rows.push(signed("east-3", 25, "scent", Some(51)));
    store.commit(&of_readings(rows)).unwrap();
    let reader = Reader::open(&path).unwrap();
    for quantity in [Quantity::TipRange, Quantity::Temperature, Quantity::Height, Quantity::Humidity] {
        let expected: Vec<_> = recorded(&reader, "east-3", Which::Quantity(quantity))
            .into_iter()
            .map(|row| match row.observed {
                Observed::Value(of, value) if of == quantity => (row.time, value),
                other => panic!("{other:?} is no {quantity:?}"),
            })
            .collect();
        assert_eq!(told(&reader, quantity, -1_000, 1_000), expected);
    }
    assert_eq!(told(&reader, Quantity::TipRange, 10, 30).len(), 3, "both ends are included");
    assert_eq!(told(&reader, Quantity::Height, 0, 100), [(at(25), 1.32)]);
    assert_eq!(told(&reader, Quantity::Humidity, 0, 100), []);
}
