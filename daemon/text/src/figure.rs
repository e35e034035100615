//! Figures with their units, in those of a site. Inside, everything is metric.

use bloom_model::quantity::measure::Measure;
use bloom_model::spec::Units;

/// Number and unit, `21.4 °C`.
pub fn figure(measure: Measure, units: Units, value: f64) -> String {
    format!("{} {}", number(measure, units, value, 0), measure.unit(units))
}

/// The number alone, with so many decimals more than people need; a true minus sign is left to the typesetter, and `-0.0` is written `0.0`.
pub fn number(measure: Measure, units: Units, value: f64, further: usize) -> String {
    let decimals = measure.decimals(units) + further;
    without_idle_sign(format!("{:.decimals$}", measure.shown(units, value)))
}

/// As it is said in a sentence: `21.4 °C`, but `71 %`.
pub(crate) fn said(measure: Measure, units: Units, value: f64) -> String {
    match measure {
        // no air is as dry as `0 %`
        Measure::Humidity if value < 0.5 => "under 1 %".to_owned(),
        Measure::Humidity => format!("{value:.0} %"),
        _ => figure(measure, units, value),
    }
}

/// A figure without the sign of what was rounded to nothing: `0.0` for `-0.0`.
fn without_idle_sign(figure: String) -> String {
    match figure.strip_prefix('-') {
        Some(nothing) if !nothing.contains(|digit: char| matches!(digit, '1'..='9')) => nothing.to_owned(),
        _ => figure,
    }
}

/// With its first letter as a capital.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_has_no_sign() {
        let said = |figure: f64| without_idle_sign(format!("{figure:.1}"));
        assert_eq!((said(-0.04), said(0.04), said(-0.06)), ("0.0".into(), "0.0".into(), "-0.1".into()));
        assert_eq!(said(-10.0), "-10.0");
    }

    /// NIST Special Publication 811 (2008), appendix B: one inch is 25.4 mm, a difference of 1 °C one of 1.8 °F; 25 °C is 77 °F.
    #[test]
    fn figures_are_converted_as_published() {
        let us = |measure, value| figure(measure, Units::Us, value);
        assert_eq!(us(Measure::Temperature, 25.0), "77.0 °F");
        assert_eq!(said(Measure::Temperature, Units::Metric, -0.04), "0.0 °C");
        assert_eq!(said(Measure::Humidity, Units::Metric, 0.2), "under 1 %");
        assert_eq!(us(Measure::Difference, 2.0), "3.6 °F");
        assert_eq!(us(Measure::Length, 1.778), "70.0 in");
        assert_eq!(us(Measure::PerDay, 0.0254 / 24.0), "1.0 in/d");
        assert_eq!(us(Measure::DegreeDays, 100.0), "180.0 °F·d");
        assert_eq!(figure(Measure::PerHour, Units::Metric, 0.004), "0.40 cm/h");
        assert_eq!(figure(Measure::PerHour, Units::Metric, -1e-9), "0.00 cm/h");
    }
}
