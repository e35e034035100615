//! What a figure measures: its unit and decimals for the people of a site. Inside, everything is metric.

use bloom_model::spec::Units;

/// A kind of figure. The value inside is in the unit named first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// °C; °F.
    Temperature,
    /// K; shown as a difference in °C or °F.
    Difference,
    /// %.
    Humidity,
    /// kPa.
    Deficit,
    /// m; inches.
    Height,
    /// m; shown in cm or inches.
    Advance,
    /// m/h; shown in cm or inches an hour.
    PerHour,
    /// m/h; shown in cm or inches a day.
    PerDay,
    /// °C·d; °F·d.
    DegreeDays,
    /// h.
    Hours,
    /// d.
    Days,
}

impl Measure {
    /// The unit.
    pub const fn unit(self, units: Units) -> &'static str {
        match (self, units) {
            (Self::Temperature | Self::Difference, Units::Metric) => "°C",
            (Self::Temperature | Self::Difference, Units::Us) => "°F",
            (Self::Humidity, _) => "%RH",
            (Self::Deficit, _) => "kPa",
            (Self::Height, Units::Metric) => "m",
            (Self::Height | Self::Advance, Units::Us) => "in",
            (Self::Advance, Units::Metric) => "cm",
            (Self::PerHour, Units::Metric) => "cm/h",
            (Self::PerHour, Units::Us) => "in/h",
            (Self::PerDay, Units::Metric) => "cm/d",
            (Self::PerDay, Units::Us) => "in/d",
            (Self::DegreeDays, Units::Metric) => "°C·d",
            (Self::DegreeDays, Units::Us) => "°F·d",
            (Self::Hours, _) => "h",
            (Self::Days, _) => "d",
        }
    }

    /// A value in that unit.
    pub fn shown(self, units: Units, value: f64) -> f64 {
        match self {
            Self::Temperature => units.degrees(value),
            Self::Difference | Self::DegreeDays => units.difference(value),
            Self::Height => units.height(value),
            Self::Advance | Self::PerHour => units.growth(value),
            Self::PerDay => units.growth(24.0 * value),
            Self::Humidity | Self::Deficit | Self::Hours | Self::Days => value,
        }
    }

    /// Decimals that people need.
    pub const fn decimals(self, units: Units) -> usize {
        match (self, units) {
            (Self::Height, Units::Metric) | (Self::Deficit | Self::PerHour, _) => 2,
            _ => 1,
        }
    }

    /// The number alone, with a true minus sign left to the typesetter: `-0.0` is written `0.0`.
    pub fn number(self, units: Units, value: f64, further: usize) -> String {
        let decimals = self.decimals(units) + further;
        let text = format!("{:.decimals$}", self.shown(units, value));
        match text.strip_prefix('-') {
            Some(size) if size.bytes().all(|byte| byte == b'0' || byte == b'.') => size.to_owned(),
            _ => text,
        }
    }

    /// Number and unit, `21.4 °C`.
    pub fn text(self, units: Units, value: f64) -> String {
        format!("{} {}", self.number(units, value, 0), self.unit(units))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST Special Publication 811 (2008), appendix B: one inch is 25.4 mm, a difference of 1 °C one of 1.8 °F; 25 °C is 77 °F.
    #[test]
    fn figures_are_converted_as_published() {
        let us = |measure: Measure, value| measure.text(Units::Us, value);
        assert_eq!(us(Measure::Temperature, 25.0), "77.0 °F");
        assert_eq!(us(Measure::Difference, 2.0), "3.6 °F");
        assert_eq!(us(Measure::Height, 1.778), "70.0 in");
        assert_eq!(us(Measure::PerDay, 0.0254 / 24.0), "1.0 in/d");
        assert_eq!(us(Measure::DegreeDays, 100.0), "180.0 °F·d");
        assert_eq!(Measure::PerHour.text(Units::Metric, 0.004), "0.40 cm/h");
        assert_eq!(Measure::PerHour.text(Units::Metric, -1e-9), "0.00 cm/h");
    }
}
