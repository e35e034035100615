//! The table of quantities.
//!
//! The record names quantities by their names, the states of benches number them in the order of these rows: a new row comes last.

use serde::{Deserialize, Serialize};

use super::case::ClimateCase::{TooCold, TooDamp, TooDry, TooHot};
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
            words: "distance to the spathe rim",
            short: "distance to the rim",
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
            role: Role::Spadix,
            range: range(-20.0, 60.0),
            measure: Measure::Temperature,
            limits: None,
            picture: None,
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
            role: Role::Air,
            range: range(0.0, 100.0),
            measure: Measure::Difference,
            limits: None,
            picture: Some("Air temperature less dew point."),
        },
    }
}
