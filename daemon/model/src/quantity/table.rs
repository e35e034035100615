//! The table of quantities.
//!
//! The record names quantities by their names, the states of benches number them in the order of these rows: a new row comes last.

use serde::{Deserialize, Serialize};

use super::case::ClimateCase::{
    SoilTooCold, SoilTooHot, TooBright, TooCold, TooDamp, TooDry, TooHot, TooLittleCo2, TooMuchCo2,
};
use super::measure::Measure;
use super::{LimitRow, Range, Role, Row, range};

/// Makes an enumeration of rows, so that there is none without its row.
macro_rules! table {
    ($(#[$of:meta])* $Name:ident { $($(#[$doc:meta])* $Variant:ident: $row:expr,)* }) => {
        $(#[$of])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "kebab-case")]
        #[repr(u8)]
        pub enum $Name { $($(#[$doc])* $Variant,)* }

        impl $Name {
            /// Every one, in the order of its number.
            pub const ALL: [Self; [$($Name::$Variant),*].len()] = [$($Name::$Variant),*];

            pub(super) const fn row(self) -> &'static Row {
                match self { $(Self::$Variant => { const ROW: Row = $row; &ROW })* }
            }
        }
    };
}

table! {
    /// A measured quantity of a bench.
    Quantity {
        /// Air temperature at the bench, °C.
        Temperature: Row {
            name: "temperature",
            unit: "Cel",
            field: "temperature_c",
            words: "air temperature",
            short: "temperature",
            sensor: "thermometer",
            role: Role::Air,
            range: range(-20.0, 60.0),
            measure: Measure::Temperature,
            limits: Some(LimitRow {
                warning_key: "temperature_c",
                alarm_key: "alarm_temperature_c",
                example: "[18, 35]",
                below: Some(TooCold),
                above: TooHot,
            }),
            picture: Some(""),
        },
        /// Relative humidity of the same air, %.
        Humidity: Row {
            name: "humidity",
            unit: "%RH",
            field: "humidity_pct",
            words: "relative humidity",
            short: "humidity",
            sensor: "hygrometer",
            role: Role::Air,
            range: Range { lowest: 0.0, highest: 100.0, folded_up_to: 105.0 },
            measure: Measure::Humidity,
            limits: Some(LimitRow {
                warning_key: "humidity_pct",
                alarm_key: "alarm_humidity_pct",
                example: "[60, 95]",
                below: Some(TooDry),
                above: TooDamp,
            }),
            picture: Some(""),
        },
        /// Distance that the overhead ranger reports to the spadix tip, m.
        TipRange: Row {
            name: "tip-range",
            unit: "m",
            field: "tip_range_m",
            words: "distance to the spadix tip",
            short: "distance to the tip",
            sensor: "overhead ranger",
            role: Role::Range,
            range: range(0.02, 8.0),
            measure: Measure::Length,
            limits: None,
            picture: None,
        },
        /// Distance that the side ranger reports to the spathe rim, m.
        RimRange: Row {
            name: "rim-range",
            unit: "m",
            field: "rim_range_m",
            words: "distance to the spathe edge",
            short: "distance to the edge",
            sensor: "side ranger",
            role: Role::Range,
            range: range(0.02, 8.0),
            measure: Measure::Length,
            limits: None,
            picture: None,
        },
        /// Height taped by hand from the bench's datum, m.
        Height: Row {
            name: "height",
            unit: "m",
            field: "height_m",
            words: "taped height",
            short: "height",
            sensor: "tape",
            role: Role::ByHand,
            range: range(0.0, 5.0),
            measure: Measure::Length,
            limits: None,
            picture: None,
        },
        /// Girth taped by hand, m.
        Girth: Row {
            name: "girth",
            unit: "m",
            field: "girth_m",
            words: "taped girth",
            short: "girth",
            sensor: "tape",
            role: Role::ByHand,
            range: range(0.0, 3.0),
            measure: Measure::Length,
            limits: None,
            picture: None,
        },
        /// Temperature of the spadix, contact or infrared, °C.
        SpadixTemperature: Row {
            name: "spadix-temperature",
            unit: "Cel",
            field: "spadix_temperature_c",
            words: "spadix temperature",
            short: "spadix temperature",
            sensor: "spadix thermometer",
            role: Role::Spadix,
            range: range(-20.0, 60.0),
            measure: Measure::Temperature,
            limits: None,
            picture: None,
        },
        /// Distance that a second side ranger reports to the spathe rim, m. The watch makes no use of it yet.
        #[serde(rename = "rim-range-2")]
        RimRange2: Row {
            name: "rim-range-2",
            unit: "m",
            field: "rim_range_2_m",
            words: "distance of the second side ranger",
            short: "second side ranger",
            sensor: "second side ranger",
            role: Role::Range,
            range: range(0.02, 8.0),
            measure: Measure::Length,
            limits: None,
            picture: Some("The distance that it reports, uncorrected."),
        },
        /// Share of the overhead ranger's pings that gave an echo, 0 to 1, where the sensor says it. The watch makes no use of it yet.
        TipHeard: Row {
            name: "tip-heard",
            unit: "/",
            field: "tip_heard_ratio",
            words: "share of echoes that the overhead ranger heard",
            short: "echoes heard by the overhead ranger",
            sensor: "overhead ranger",
            role: Role::Heard,
            range: range(0.0, 1.0),
            measure: Measure::Share,
            limits: None,
            picture: Some("Of the pings of each burst, the share that gave an echo."),
        },
        /// Share of the side ranger's pings that gave an echo, 0 to 1, where the sensor says it. The watch makes no use of it yet.
        RimHeard: Row {
            name: "rim-heard",
            unit: "/",
            field: "rim_heard_ratio",
            words: "share of echoes that the side ranger heard",
            short: "echoes heard by the side ranger",
            sensor: "side ranger",
            role: Role::Heard,
            range: range(0.0, 1.0),
            measure: Measure::Share,
            limits: None,
            picture: Some("Of the pings of each burst, the share that gave an echo."),
        },
        /// Share of the second side ranger's pings that gave an echo, 0 to 1, where the sensor says it. The watch makes no use of it yet.
        #[serde(rename = "rim-2-heard")]
        Rim2Heard: Row {
            name: "rim-2-heard",
            unit: "/",
            field: "rim_2_heard_ratio",
            words: "share of echoes that the second side ranger heard",
            short: "echoes heard by the second side ranger",
            sensor: "second side ranger",
            role: Role::Heard,
            range: range(0.0, 1.0),
            measure: Measure::Share,
            limits: None,
            picture: Some("Of the pings of each burst, the share that gave an echo."),
        },
        /// Carbon dioxide in the air at the bench, ppm by volume.
        Co2: Row {
            name: "co2",
            unit: "ppm",
            field: "co2_ppm",
            words: "carbon dioxide",
            short: "CO2",
            sensor: "CO2 sensor",
            role: Role::Gas,
            range: range(0.0, 10_000.0),
            measure: Measure::CarbonDioxide,
            limits: Some(LimitRow {
                warning_key: "co2_ppm",
                alarm_key: "alarm_co2_ppm",
                example: "[350, 1500]",
                below: Some(TooLittleCo2),
                above: TooMuchCo2,
            }),
            picture: Some("Carbon dioxide in the air. Where it is dosed: dosing off, and air, before anybody works there at night; local codes first."),
        },
        /// Photosynthetic photon flux density (400 to 700 nm) at the plant, µmol/m²/s. The SenML registry has no unit for it: this spelling
        /// is our own.
        Light: Row {
            name: "light",
            unit: "umol/m2/s",
            field: "light_umol_m2_s",
            words: "photon flux density (light, 400 to 700 nm)",
            short: "light",
            sensor: "light sensor",
            role: Role::Light,
            range: range(0.0, 3000.0),
            measure: Measure::PhotonFlux,
            limits: Some(LimitRow {
                warning_key: "light_umol_m2_s",
                alarm_key: "alarm_light_umol_m2_s",
                example: "[0, 600]",
                // it is dark every night; whether a day was too dark is told by its sum, in the review
                below: None,
                above: TooBright,
            }),
            picture: Some("Light that a leaf can use, 400 to 700 nm."),
        },
        /// Temperature of the soil in the pot, °C.
        SoilTemperature: Row {
            name: "soil-temperature",
            unit: "Cel",
            field: "soil_temperature_c",
            words: "soil temperature",
            short: "soil temperature",
            sensor: "soil thermometer",
            role: Role::Soil,
            range: range(-10.0, 60.0),
            measure: Measure::Temperature,
            limits: Some(LimitRow {
                warning_key: "soil_temperature_c",
                alarm_key: "alarm_soil_temperature_c",
                example: "[20, 28]",
                below: Some(SoilTooCold),
                above: SoilTooHot,
            }),
            picture: Some(""),
        },
    }
}

table! {
    /// A quantity derived from measured ones. No sensor reports it and the record does not hold it.
    Derived {
        /// Vapour-pressure deficit of the air, kPa.
        VapourPressureDeficit: Row {
            name: "vapour-pressure-deficit",
            unit: "kPa",
            field: "vpd_kpa",
            words: "vapour-pressure deficit of the air",
            short: "vapour-pressure deficit",
            sensor: "thermometer and hygrometer",
            role: Role::Air,
            // saturated air of 60 °C, the warmest that is read, lacks no more than this when dry (FAO-56, equation 11)
            range: range(0.0, 20.0),
            measure: Measure::Deficit,
            limits: Some(LimitRow {
                warning_key: "vpd_kpa",
                alarm_key: "alarm_vpd_kpa",
                example: "[0, 1.6]",
                below: Some(TooDamp),
                above: TooDry,
            }),
            picture: Some("What the air could still take up: low is stuffy, high dries the plant out."),
        },
        /// Air temperature less dew point, K.
        DewPointSpread: Row {
            name: "dew-point-spread",
            unit: "K",
            field: "dew_point_spread_k",
            words: "air temperature less dew point",
            short: "dew-point spread",
            sensor: "thermometer and hygrometer",
            role: Role::Air,
            range: range(0.0, 100.0),
            measure: Measure::Difference,
            limits: None,
            picture: Some("Air temperature less dew point."),
        },
    }
}
