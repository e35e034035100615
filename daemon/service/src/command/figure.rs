//! Figures as people type them: with a decimal point or comma, with a unit or without.

use bloom_model::quantity::measure::Measure;

/// A kind of figure that a command takes.
struct Kind {
    /// What it is called where it is asked for.
    name: &'static str,
    /// The unit that a bare number is in.
    own: &'static str,
    examples: &'static str,
    /// Decimals that are kept: finer than anybody measures, so that no figure carries the dust of a conversion.
    decimals: i32,
    /// Whether it may be said in two units, the smaller one behind: `6 ft 2 in`.
    is_sum: bool,
}

const LENGTH: Kind = Kind {
    name: "length",
    own: "m",
    examples: "1.87, 1,87, 187 cm, 74 in or 6 ft 2 in",
    decimals: 4,
    is_sum: true,
};
const MASS: Kind = Kind {
    name: "weight",
    own: "kg",
    examples: "31.2, 31,2, 31.2 kg, 68 lb or 68 lb 12 oz",
    decimals: 3,
    is_sum: true,
};
const TEMPERATURE: Kind =
    Kind { name: "temperature", own: "°C", examples: "-80, -80 °C or -112 F", decimals: 2, is_sum: false };

/// Pounds and ounces are avoirdupois: one pound is 0.45359237 kg, exactly (NIST Special Publication 811, appendix B.8).
const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;
const OUNCES_PER_POUND: f64 = 16.0;
const GRAMS_PER_KILOGRAM: f64 = 1000.0;

/// A figure, and whether it came without a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Typed {
    pub(super) value: f64,
    pub(super) bare: bool,
}

/// A length, in metres: `1.87`, `1,87`, `187cm`, `74in`, `6ft 2in`.
///
/// # Errors
/// With what was typed, and what would be right.
pub(super) fn length(text: &str) -> Result<Typed, String> {
    let converted = |value: f64, unit: &str| {
        let name = match unit {
            "m" | "metre" | "metres" | "meter" | "meters" => return Some(value),
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => "cm",
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => "mm",
            "in" | "inch" | "inches" | "\"" | "″" | "”" | "''" => "in",
            "ft" | "foot" | "feet" | "'" | "′" | "’" => "ft",
            _ => return None,
        };
        by_name(Measure::Length, name, value)
    };
    LENGTH.read(text, &converted)
}

/// A mass, in kilograms: `31.2`, `68lb`, `900 g`.
///
/// # Errors
/// With what was typed, and what would be right.
pub(super) fn mass(text: &str) -> Result<Typed, String> {
    let converted = |value: f64, unit: &str| match unit {
        "kg" | "kilo" | "kilos" | "kilogram" | "kilograms" => Some(value),
        "g" | "gram" | "grams" => Some(value / GRAMS_PER_KILOGRAM),
        "lb" | "lbs" | "pound" | "pounds" => Some(value * KILOGRAMS_PER_POUND),
        "oz" | "ounce" | "ounces" => Some(value * KILOGRAMS_PER_POUND / OUNCES_PER_POUND),
        _ => None,
    };
    MASS.read(text, &converted)
}

/// A temperature, in °C: `-80`, `-112F`.
///
/// # Errors
/// With what was typed, and what would be right.
pub(super) fn temperature(text: &str) -> Result<f64, String> {
    let converted = |value: f64, unit: &str| match unit {
        "c" | "°c" | "cel" | "celsius" | "degc" => Some(value),
        "f" | "°f" | "fahrenheit" | "degf" => by_name(Measure::Temperature, "°F", value),
        _ => None,
    };
    TEMPERATURE.read(text, &converted).map(|typed| typed.value)
}

/// A mass as people read it who weigh in pounds.
pub(super) fn pounds(mass_kg: f64) -> String {
    format!("{:.1} lb", mass_kg / KILOGRAMS_PER_POUND)
}

/// For options whose figure is a length, in metres.
pub(super) fn metres(text: &str) -> Result<f64, String> {
    length(text).map(|typed| typed.value)
}

/// By the same table that imported sheets are read by.
fn by_name(measure: Measure, name: &str, value: f64) -> Option<f64> {
    measure.other_units().iter().find(|unit| unit.name() == name).map(|unit| unit.convert(value))
}

impl Kind {
    fn read(&self, text: &str, converted: &dyn Fn(f64, &str) -> Option<f64>) -> Result<Typed, String> {
        let wrong = |why: &str| {
            let Self { name, own, examples, .. } = self;
            format!("{text:?} is no {name}{why}: give {examples}; a bare number is in {own}")
        };
        let parts = parts(text).ok_or_else(|| wrong(""))?;
        let (mut sum, mut bare) = (0.0, false);
        let mut before: Option<f64> = None;
        for (place, (value, unit)) in parts.iter().enumerate() {
            let unit = unit.to_lowercase();
            let inches = place > 0 && unit.is_empty() && self.own == "m";
            let part = match unit.as_str() {
                "" if place == 0 && parts.len() == 1 => {
                    bare = true;
                    *value
                }
                "" if inches => converted(*value, "in").unwrap_or(*value),
                "" => return Err(wrong("")),
                unit => converted(*value, unit).ok_or_else(|| wrong(&format!(" ({unit} is not known)")))?,
            };
            if place > 0 && (!self.is_sum || part < 0.0 || before.is_some_and(|before| part >= before)) {
                return Err(wrong(""));
            }
            before = Some(part);
            sum += part;
        }
        let scale = 10_f64.powi(self.decimals);
        let value = if bare { sum } else { (sum * scale).round() / scale };
        if value.is_finite() { Ok(Typed { value, bare }) } else { Err(wrong("")) }
    }
}

/// Numbers, each with the unit behind it; two at most. `None` where it is anything else.
fn parts(text: &str) -> Option<Vec<(f64, String)>> {
    let text = text.trim().replace('−', "-");
    let mut rest = text.as_str();
    let mut parts = Vec::new();
    while !rest.is_empty() {
        let is_of_number = |letter: char| letter.is_ascii_digit() || matches!(letter, '.' | ',' | '-' | '+');
        let end = rest.find(|letter| !is_of_number(letter)).unwrap_or(rest.len());
        let value = number(&rest[..end])?;
        rest = rest[end..].trim_start();
        let end =
            rest.find(|letter: char| is_of_number(letter) || letter.is_whitespace()).unwrap_or(rest.len());
        parts.push((value, rest[..end].to_owned()));
        rest = rest[end..].trim_start();
    }
    (1..=2).contains(&parts.len()).then_some(parts)
}

/// A number with a decimal point or a decimal comma, and not with both: whether 1,234.5 has thousands cannot be known.
fn number(text: &str) -> Option<f64> {
    if text.matches(['.', ',']).count() > 1 || !text.contains(|letter: char| letter.is_ascii_digit()) {
        return None;
    }
    text.replace(',', ".").parse().ok().filter(|value: &f64| value.is_finite())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The international foot and pound of 1959: NIST Special Publication 811 (2008), appendix B.8.
    #[test]
    fn figures_are_read_as_people_type_them() {
        let metres = [
            ("1.87", 1.87),
            ("1,87", 1.87),
            (" 1.87 m ", 1.87),
            ("187cm", 1.87),
            ("187 cm", 1.87),
            ("1870 mm", 1.87),
            ("74in", 1.8796),
            ("6ft 2in", 1.8796),
            ("6 ft 2 in", 1.8796),
            ("6' 2\"", 1.8796),
            ("6'2", 1.8796),
            ("6 feet", 1.8288),
            ("1 m 32 cm", 1.32),
            ("73,5 inches", 1.8669),
        ];
        for (text, wanted) in metres {
            let read = length(text).map(|typed| typed.value);
            assert_eq!(read, Ok(wanted), "{text}");
        }
        assert_eq!(length("1,87"), Ok(Typed { value: 1.87, bare: true }));
        assert_eq!(length("1,87m"), Ok(Typed { value: 1.87, bare: false }));
        let kilograms =
            [("31.2", 31.2), ("1.2 kg", 1.2), ("900g", 0.9), ("68lb", 30.844), ("2 lb 8 oz", 1.134)];
        for (text, wanted) in kilograms {
            assert_eq!(mass(text).map(|typed| typed.value), Ok(wanted), "{text}");
        }
        let celsius = [
            ("-80", -80.0),
            ("−80 °C", -80.0),
            ("-112F", -80.0),
            ("-112 °F", -80.0),
            ("4", 4.0),
            ("39,2 f", 4.0),
        ];
        for (text, wanted) in celsius {
            assert_eq!(temperature(text), Ok(wanted), "{text}");
        }
    }

    #[test]
    fn what_is_no_figure_is_quoted_with_what_would_be_right() {
        for text in [
            "",
            "tall",
            "1.234,5",
            "1,2,3",
            "187 kg",
            "2 in 6 ft",
            "1 2 3",
            "--",
            "1e400",
            "nan",
            "6 ft -2 in",
        ] {
            let said = length(text).unwrap_err();
            assert!(said.contains(&format!("{text:?} is no length")) && said.contains("6 ft 2 in"), "{said}");
        }
        assert!(mass("68 in").unwrap_err().contains("68 lb"));
        assert!(temperature("4 C 3 C").unwrap_err().contains("-112 F"));
    }

    proptest! {
        #[test]
        fn nothing_that_is_typed_ends_the_program(text in "\\PC{0,24}", near in "[0-9.,' \"a-z°-]{0,16}") {
            for text in [&text, &near] {
                let read = [length(text), mass(text)].map(|read| read.map(|typed| typed.value));
                for value in read.into_iter().chain([temperature(text)]).flatten() {
                    prop_assert!(value.is_finite());
                }
            }
        }

        #[test]
        fn a_length_is_the_same_in_any_unit(hundredths in 1_u32..500) {
            let metres = f64::from(hundredths) / 100.0;
            for text in [format!("{metres}"), format!("{metres} m"), format!("{hundredths}cm"), format!("{} mm", hundredths * 10)] {
                prop_assert_eq!(length(&text).map(|typed| typed.value), Ok(metres));
                prop_assert_eq!(length(&text.replace('.', ",")).map(|typed| typed.value), Ok(metres));
            }
        }
    }
}
