//! What the columns of a table are.

use bloom_model::quantity::Quantity;
use bloom_model::quantity::measure::Unit;

use super::{BENCH, BY, NOTE, SIGN, TIME};

/// A column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Column {
    Time,
    Bench,
    Value(Quantity, Unit),
    Sign,
    Note,
    By,
}

/// The units that a quantity may come in: its own, and others that people write. The first is written.
fn units(quantity: Quantity) -> impl Iterator<Item = Unit> {
    std::iter::once(Unit::own(quantity.unit())).chain(quantity.measure().other_units().iter().copied())
}

/// The header of a quantity's column: `height (m)`.
pub(super) fn name_of(quantity: Quantity) -> String {
    format!("{} ({})", quantity.name(), quantity.unit())
}

/// The columns that a header names.
///
/// # Errors
/// With the first cell that is no column, and what would be right.
pub(super) fn columns<'a>(cells: impl Iterator<Item = &'a str>) -> Result<Vec<Column>, String> {
    let mut columns = Vec::new();
    for cell in cells {
        let column = column(cell.trim())?;
        let same = |other: &Column| match (other, &column) {
            (Column::Value(one, _), Column::Value(another, _)) => one == another,
            (one, another) => one == another,
        };
        if columns.iter().any(same) {
            return Err(format!("the column {cell:?} is there twice"));
        }
        columns.push(column);
    }
    if !columns.contains(&Column::Time) {
        return Err(format!("no column {TIME:?}; the first line names the columns, with commas between"));
    }
    Ok(columns)
}

fn column(cell: &str) -> Result<Column, String> {
    match cell {
        TIME => return Ok(Column::Time),
        BENCH => return Ok(Column::Bench),
        SIGN => return Ok(Column::Sign),
        NOTE => return Ok(Column::Note),
        BY => return Ok(Column::By),
        _ => {}
    }
    let (name, unit) = match cell.split_once('(') {
        Some((name, unit)) => (name.trim(), Some(unit.trim_end_matches(')').trim())),
        None => (cell, None),
    };
    let Some(quantity) = Quantity::from_name(name) else {
        let known: Vec<String> = Quantity::ALL.into_iter().map(name_of).collect();
        return Err(format!(
            "no column {cell:?}; there are: {TIME}, {BENCH}, {}, {SIGN}, {NOTE}, {BY}",
            known.join(", ")
        ));
    };
    let right = || {
        let names: Vec<String> = units(quantity).map(|unit| format!("{name} ({})", unit.name())).collect();
        names.join(", ")
    };
    let Some(unit) = unit else {
        return Err(format!("the column {cell:?} names no unit; write one of: {}", right()));
    };
    match units(quantity).find(|known| known.name() == unit) {
        Some(unit) => Ok(Column::Value(quantity, unit)),
        None => Err(format!("the column {cell:?} has no unit that fits; write one of: {}", right())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(header: &str) -> String {
        columns(header.split(',')).unwrap_err()
    }

    #[test]
    fn what_is_written_is_read_as_the_same_column() {
        for quantity in Quantity::ALL {
            match column(&name_of(quantity)) {
                Ok(Column::Value(read, unit)) => {
                    assert_eq!((read, unit.name()), (quantity, quantity.unit()));
                    assert!((unit.convert(1.25) - 1.25).abs() < 1e-15);
                }
                other => panic!("{other:?}"),
            }
        }
    }

    /// NIST Special Publication 811 (2008), appendix B: an inch is 25.4 mm, a foot 304.8 mm, 77 °F are 25 °C.
    #[test]
    fn units_are_converted_as_published() {
        for (cell, value, metres) in [
            ("height (in)", 70.0, 1.778),
            ("height (ft)", 5.0, 1.524),
            ("girth (cm)", 132.0, 1.32),
            ("temperature (°F)", 77.0, 25.0),
        ] {
            match column(cell) {
                Ok(Column::Value(_, unit)) => assert!((unit.convert(value) - metres).abs() < 1e-12, "{cell}"),
                other => panic!("{other:?}"),
            }
        }
    }

    #[test]
    fn a_wrong_header_is_told_what_would_be_right() {
        assert!(refused("time,height").contains("height (m), height (cm)"));
        assert!(refused("time,height (kPa)").contains("height (in)"));
        assert!(refused("time,hight (m)").contains("there are: time, bench, temperature (Cel)"));
        assert!(refused("bench,height (m)").contains("no column \"time\""));
        assert!(refused("time,height (m),height (cm)").contains("twice"));
    }
}
