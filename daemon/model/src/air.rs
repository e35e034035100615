//! The air of the bench: moisture, and the speed of sound in it.
//!
//! Moisture follows one formula throughout, the saturation vapour pressure over liquid water of FAO Irrigation and Drainage
//! Paper 56 (Allen, Pereira, Raes & Smith 1998, eq. 11; the Tetens form). Crop papers quote vapour-pressure deficits by it,
//! it inverts in closed form, and from 0.5 to 45 °C it stays within 0.14 % of IAPWS-95. Mixing it with another formula would
//! give saturated air a dew point other than its own temperature. The speed of sound alone takes its vapour pressure from
//! the equation that its polynomial was fitted with.
//!
//! Temperatures are in °C, relative humidity in per cent over liquid water, pressures in kPa. The functions answer for
//! every finite value that a sensor in order can report (-20 to 60 °C, 0 to 100 %); a NaN gives a NaN.

use serde::{Deserialize, Serialize};

const ZERO_CELSIUS_K: f64 = 273.15;

/// Vapour pressure of saturated air, kPa, over liquid water also below 0 °C (FAO-56 eq. 11).
pub fn saturation_vapour_pressure_kpa(temperature_c: f64) -> f64 {
    0.6108 * (17.27 * temperature_c / (temperature_c + 237.3)).exp()
}

/// Vapour pressure of air, kPa (FAO-56 eq. 10 solved for it).
pub fn vapour_pressure_kpa(temperature_c: f64, humidity_pct: f64) -> f64 {
    saturation_vapour_pressure_kpa(temperature_c) * humidity_pct / 100.0
}

/// Vapour-pressure deficit, kPa: what the air could still take up.
///
/// The deficit of a span is the mean of the deficits in it, never the deficit of the mean temperature and humidity: the
/// curve bends. [`MeanDeficit`] collects it.
pub fn vapour_pressure_deficit_kpa(temperature_c: f64, humidity_pct: f64) -> f64 {
    saturation_vapour_pressure_kpa(temperature_c) * (1.0 - humidity_pct / 100.0)
}

/// Dew point over liquid water, °C (FAO-56 eq. 11 solved for the temperature); `None` for air without moisture.
///
/// Below 0 °C frost forms at a somewhat higher temperature.
pub fn dew_point_c(temperature_c: f64, humidity_pct: f64) -> Option<f64> {
    let exponent = (vapour_pressure_kpa(temperature_c, humidity_pct) / 0.6108).ln();
    exponent.is_finite().then(|| 237.3 * exponent / (17.27 - exponent))
}

/// Absolute humidity, grams of water in a cubic metre of air: the ideal-gas law with 18.015 28 g/mol (IAPWS) and the molar
/// gas constant 8.314 462 618 J/(mol K) (CODATA 2018).
pub fn absolute_humidity_g_m3(temperature_c: f64, humidity_pct: f64) -> f64 {
    let vapour_pa = 1000.0 * vapour_pressure_kpa(temperature_c, humidity_pct);
    vapour_pa * 18.015_28 / (8.314_462_618 * (temperature_c + ZERO_CELSIUS_K))
}

/// What an aspirated wet bulb shows, °C: FAO-56 eq. 15 and 16 solved for the bulb's temperature, the bulb wet with liquid
/// water also below 0 °C.
pub fn wet_bulb_c(temperature_c: f64, humidity_pct: f64, pressure_kpa: f64) -> f64 {
    let vapour_kpa = vapour_pressure_kpa(temperature_c, humidity_pct);
    let psychrometer_kpa_k = 0.000_662 * pressure_kpa;
    let mut bulb_c = temperature_c;
    // The curve rises and bends upwards, so Newton's steps come down from the air's temperature and never pass the root.
    for _ in 0..20 {
        let saturated_kpa = saturation_vapour_pressure_kpa(bulb_c);
        let excess_kpa = saturated_kpa - psychrometer_kpa_k * (temperature_c - bulb_c) - vapour_kpa;
        // FAO-56 eq. 13 with its constant written as the derivative of eq. 11
        let slope_kpa_k = saturated_kpa * 17.27 * 237.3 / (bulb_c + 237.3).powi(2);
        let step_c = excess_kpa / (slope_kpa_k + psychrometer_kpa_k);
        bulb_c -= step_c;
        if step_c.abs() < 1e-10 {
            break;
        }
    }
    bulb_c
}

/// Speed of sound in moist air with 400 ppm of carbon dioxide, m/s.
///
/// Cramer 1993, J. Acoust. Soc. Am. 93(5), 2510–2516, eq. 15 with the coefficients of its table III; published for 0 to
/// 30 °C, 75 to 102 kPa and up to 6 % of water vapour with an uncertainty of 300 ppm. Up to 45 °C it departs from the
/// real-gas moist air of ASHRAE RP-1485 by less than 120 ppm, in saturated air of 50 °C by 300 ppm. The mole fraction of
/// vapour follows the CIPM-81/91 equation (Davis 1992, Metrologia 29, 67–70).
///
/// One kelvin at constant relative humidity is worth 1.84 mm in a metre of range at 20 °C and 60 %, and 1.95 mm at 30 °C and
/// 80 %; 1100 ppm more carbon dioxide takes off 0.10 m/s.
pub fn speed_of_sound_m_s(temperature_c: f64, humidity_pct: f64, pressure_kpa: f64) -> f64 {
    const CARBON_DIOXIDE: f64 = 400e-6;

    let t = temperature_c;
    let pascals = 1000.0 * pressure_kpa;
    let kelvins = t + ZERO_CELSIUS_K;
    let saturated_pa = ((1.237_884_7e-5 * kelvins - 1.912_131_6e-2) * kelvins + 33.937_110_47
        - 6.343_164_5e3 / kelvins)
        .exp();
    let enhancement = 1.000_62 + 3.14e-8 * pascals + 5.6e-7 * t * t;
    let vapour = humidity_pct / 100.0 * enhancement * saturated_pa / pascals;

    331.5024
        + t * (0.603_055 - 0.000_528 * t)
        + vapour * (51.471_935 + t * (0.149_587_4 - 0.000_782 * t))
        + pascals * (-1.82e-7 + t * (3.73e-8 - 2.93e-10 * t))
        + CARBON_DIOXIDE * (-85.209_31 + t * (-0.228_525 + 5.91e-5 * t))
        - 2.835_149 * vapour * vapour
        - 2.15e-13 * pascals * pascals
        + 29.179_762 * CARBON_DIOXIDE * CARBON_DIOXIDE
        + 0.000_486 * vapour * pascals * CARBON_DIOXIDE
}

/// The vapour-pressure deficit of a span: the mean over its samples, each the deficit of one instant.
///
/// Every sample weighs the same. That is the mean over time when they come at an even pace; a gap counts for nothing.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct MeanDeficit {
    sum_kpa: f64,
    samples: u32,
}

impl MeanDeficit {
    /// Adds the air of one instant; what is no number is left out.
    pub fn add(&mut self, temperature_c: f64, humidity_pct: f64) {
        let deficit_kpa = vapour_pressure_deficit_kpa(temperature_c, humidity_pct);
        if deficit_kpa.is_finite() {
            self.sum_kpa += deficit_kpa;
            self.samples = self.samples.saturating_add(1);
        }
    }

    /// The mean, kPa; `None` before the first sample.
    pub fn mean_kpa(&self) -> Option<f64> {
        (self.samples > 0).then(|| self.sum_kpa / f64::from(self.samples))
    }

    /// How many samples stand behind the mean.
    pub const fn samples(&self) -> u32 {
        self.samples
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn dew_point_and_wet_bulb_lie_in_order_below_the_air(
            t in -20.0..60.0_f64, rh in 0.5..100.0_f64, pressure in 75.0..103.0_f64,
        ) {
            let dew = dew_point_c(t, rh).unwrap();
            let bulb = wet_bulb_c(t, rh, pressure);
            prop_assert!(dew <= bulb + 1e-9 && bulb <= t + 1e-9, "{dew} {bulb} {t}");
        }

        #[test]
        fn air_is_saturated_at_its_dew_point(t in -20.0..60.0_f64, rh in 0.5..100.0_f64) {
            let dew = dew_point_c(t, rh).unwrap();
            let held = vapour_pressure_kpa(t, rh);
            prop_assert!((saturation_vapour_pressure_kpa(dew) / held - 1.0).abs() < 1e-12);
            prop_assert!((vapour_pressure_deficit_kpa(t, rh) + held
                - saturation_vapour_pressure_kpa(t)).abs() < 1e-12);
        }

        #[test]
        fn sound_is_faster_in_warmer_and_in_moister_air(
            t in -20.0..59.0_f64, rh in 0.0..99.0_f64, pressure in 75.0..103.0_f64,
        ) {
            let speed = speed_of_sound_m_s(t, rh, pressure);
            prop_assert!(speed_of_sound_m_s(t + 1.0, rh, pressure) > speed + 0.5);
            prop_assert!(speed_of_sound_m_s(t, rh + 1.0, pressure) > speed);
        }
    }

    #[test]
    fn saturated_air_has_no_deficit_and_dry_air_no_dew_point() {
        for t in [-20.0, 0.0, 25.0, 60.0] {
            assert!(vapour_pressure_deficit_kpa(t, 100.0).abs() < 1e-15);
            assert!((dew_point_c(t, 100.0).unwrap() - t).abs() < 1e-12);
            assert!((wet_bulb_c(t, 100.0, 101.325) - t).abs() < 1e-12);
            assert_eq!(dew_point_c(t, 0.0), None);
            assert!(absolute_humidity_g_m3(t, 0.0).abs() < 1e-15);
        }
        assert_eq!(dew_point_c(f64::NAN, 50.0), None);
        assert!(speed_of_sound_m_s(f64::NAN, 50.0, 101.325).is_nan());
    }

    /// Millimetres that one kelvin shifts a metre of range, as the documents have it (by Cramer's equation).
    #[test]
    fn a_degree_is_worth_nearly_two_millimetres_in_a_metre() {
        let per_kelvin = |t: f64, rh: f64| {
            let speed = |t| speed_of_sound_m_s(t, rh, 101.325);
            1000.0 * (speed(t + 0.5) - speed(t - 0.5)) / speed(t)
        };
        for (t, rh, millimetres) in [(20.0, 60.0, 1.84), (25.0, 75.0, 1.89), (30.0, 80.0, 1.95)] {
            assert!((per_kelvin(t, rh) - millimetres).abs() < 0.005, "{t} {rh}: {}", per_kelvin(t, rh));
        }
    }

    #[test]
    fn deficit_of_a_span_is_the_mean_of_its_instants() {
        let mut span = MeanDeficit::default();
        assert_eq!(span.mean_kpa(), None);
        span.add(15.0, 90.0);
        span.add(f64::NAN, 90.0);
        span.add(35.0, 40.0);
        let expected =
            (vapour_pressure_deficit_kpa(15.0, 90.0) + vapour_pressure_deficit_kpa(35.0, 40.0)) / 2.0;
        assert_eq!(span.samples(), 2);
        assert!((span.mean_kpa().unwrap() - expected).abs() < 1e-15);
        // 1.1 kPa would be said of the mean air
        assert!(expected > vapour_pressure_deficit_kpa(25.0, 65.0) + 0.5);
    }

    #[test]
    fn mean_deficit_survives_being_written_down() {
        let mut span = MeanDeficit::default();
        span.add(24.0, 70.0);
        let read = serde_json::from_str(&serde_json::to_string(&span).unwrap()).unwrap();
        assert_eq!(span, read);
    }
}
