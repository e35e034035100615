//! What a figure measures: its unit and decimals for the people of a site. Inside, everything is metric; `bloom-text` writes it.

/// Units that people read. Inside, everything is metric.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Units {
    /// Metres, centimetres, degrees Celsius.
    Metric,
    /// Inches and degrees Fahrenheit.
    Us,
}

/// One inch, exactly (ISO 31-1; the international inch of 1959).
pub const METRES_PER_INCH: f64 = 0.0254;

impl Units {
    /// A temperature of so many °C, in °C or °F.
    pub fn degrees(self, celsius: f64) -> f64 {
        match self {
            Self::Metric => celsius,
            Self::Us => celsius * 1.8 + 32.0,
        }
    }

    /// A difference of so many kelvins, or a total of so many °C·d, in °C or °F.
    pub fn difference(self, kelvins: f64) -> f64 {
        match self {
            Self::Metric => kelvins,
            Self::Us => kelvins * 1.8,
        }
    }

    /// A height of so many metres, in m or inches.
    pub fn height(self, metres: f64) -> f64 {
        match self {
            Self::Metric => metres,
            Self::Us => metres / METRES_PER_INCH,
        }
    }

    /// A growth or an advance of so many metres, in cm or inches.
    pub fn growth(self, metres: f64) -> f64 {
        match self {
            Self::Metric => metres * 100.0,
            Self::Us => metres / METRES_PER_INCH,
        }
    }
}

/// A unit that people write a quantity in: the quantity's own is `(value - zero) * of / per`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    name: &'static str,
    zero: f64,
    of: f64,
    per: f64,
}

impl Unit {
    /// The quantity's own.
    pub const fn own(name: &'static str) -> Self {
        Self { name, zero: 0.0, of: 1.0, per: 1.0 }
    }

    const fn of(self, of: f64) -> Self {
        Self { of, ..self }
    }

    const fn per(self, per: f64) -> Self {
        Self { per, ..self }
    }

    /// As it is written.
    pub const fn name(self) -> &'static str {
        self.name
    }

    /// A value in the quantity's own unit.
    pub fn convert(self, value: f64) -> f64 {
        (value - self.zero) * self.of / self.per
    }
}

/// Temperatures as people write them.
const DEGREES: [Unit; 2] = [Unit::own("°C"), Unit { name: "°F", zero: 32.0, of: 1.0, per: 1.8 }];
/// Lengths as people write them. Divided where it can be: 132 cm are exactly the 1.32 m that a person types.
const LENGTHS: [Unit; 4] = [
    Unit::own("cm").per(100.0),
    Unit::own("mm").per(1000.0),
    Unit::own("in").of(METRES_PER_INCH),
    Unit::own("ft").of(12.0 * METRES_PER_INCH),
];

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
    /// m; inches: a height, a distance.
    Length,
    /// m; shown in cm or inches.
    Advance,
    /// m/h; shown in cm or inches an hour.
    PerHour,
    /// m/h; shown in cm or inches a day.
    PerDay,
    /// °C·d; °F·d.
    DegreeDays,
    /// Share, 0 to 1; shown in %.
    Share,
    /// ppm.
    CarbonDioxide,
    /// µmol/m²/s.
    PhotonFlux,
    /// mol/m² of a day.
    DailyLight,
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
            (Self::Length, Units::Metric) => "m",
            (Self::Length | Self::Advance, Units::Us) => "in",
            (Self::Advance, Units::Metric) => "cm",
            (Self::PerHour, Units::Metric) => "cm/h",
            (Self::PerHour, Units::Us) => "in/h",
            (Self::PerDay, Units::Metric) => "cm/d",
            (Self::PerDay, Units::Us) => "in/d",
            (Self::DegreeDays, Units::Metric) => "°C·d",
            (Self::DegreeDays, Units::Us) => "°F·d",
            (Self::Share, _) => "%",
            (Self::CarbonDioxide, _) => "ppm",
            (Self::PhotonFlux, _) => "µmol/m²/s",
            (Self::DailyLight, _) => "mol/m²/d",
            (Self::Hours, _) => "h",
            (Self::Days, _) => "d",
        }
    }

    /// A value in that unit.
    pub fn shown(self, units: Units, value: f64) -> f64 {
        match self {
            Self::Temperature => units.degrees(value),
            Self::Difference | Self::DegreeDays => units.difference(value),
            Self::Length => units.height(value),
            Self::Advance | Self::PerHour => units.growth(value),
            Self::PerDay => units.growth(24.0 * value),
            Self::Share => 100.0 * value,
            Self::Humidity
            | Self::Deficit
            | Self::CarbonDioxide
            | Self::PhotonFlux
            | Self::DailyLight
            | Self::Hours
            | Self::Days => value,
        }
    }

    /// The unit for programs that watch services, spelt as OpenMetrics 1.0 spells units, and how many of it a value of one is: a base unit of
    /// that standard, or where it has none what growers speak of.
    pub const fn base_unit(self) -> (&'static str, f64) {
        match self {
            Self::Temperature | Self::Difference => ("celsius", 1.0),
            Self::Humidity => ("ratios", 0.01),
            Self::Deficit => ("pascals", 1e3),
            Self::Length | Self::Advance => ("meters", 1.0),
            Self::PerHour => ("centimeters_per_hour", 100.0),
            Self::PerDay => ("centimeters_per_day", 2400.0),
            Self::DegreeDays => ("celsius_days", 1.0),
            Self::Share => ("ratios", 1.0),
            Self::CarbonDioxide => ("parts_per_million", 1.0),
            Self::PhotonFlux => ("micromoles_per_square_meter_per_second", 1.0),
            Self::DailyLight => ("moles_per_square_meter_per_day", 1.0),
            Self::Hours => ("seconds", 3600.0),
            Self::Days => ("seconds", 86_400.0),
        }
    }

    /// The units in which people write it in tables, beside the quantity's own.
    pub const fn other_units(self) -> &'static [Unit] {
        match self {
            Self::Temperature => &DEGREES,
            Self::Humidity => &const { [Unit::own("%")] },
            Self::Length => &LENGTHS,
            Self::PhotonFlux => &const { [Unit::own("µmol/m²/s")] },
            Self::Share => &const { [Unit::own("%").per(100.0)] },
            Self::Difference
            | Self::Deficit
            | Self::Advance
            | Self::PerHour
            | Self::PerDay
            | Self::DegreeDays
            | Self::CarbonDioxide
            | Self::DailyLight
            | Self::Hours
            | Self::Days => &[],
        }
    }

    /// Decimals that people need.
    pub const fn decimals(self, units: Units) -> usize {
        match (self, units) {
            (Self::Length, Units::Metric) | (Self::Deficit | Self::PerHour, _) => 2,
            (Self::Share | Self::CarbonDioxide | Self::PhotonFlux, _) => 0,
            _ => 1,
        }
    }
}
