//! Speed of sound, and ranges corrected by it.
//!
//! Sources: Cramer 1993, J. Acoust. Soc. Am. 93(5), 2510–2516, with 400 ppm of carbon dioxide; ASHRAE RP-1485 moist air and
//! a Helmholtz-energy mixture of nitrogen, oxygen, argon, carbon dioxide and water, both by CoolProp 8.0.0.

use bloom_model::air::speed_of_sound_m_s;
use bloom_model::ranging::true_distance_m;
use bloom_model::spec::Mount;
use end_to_end::tables::{Row, rows};

/// Nine digits are stored of the same polynomial.
const STORED: f64 = 1e-8;
/// How far the polynomial and the real-gas models are apart up to 45 °C: -115 to +108 ppm.
const NEAR: f64 = 120e-6;
/// The uncertainty that the paper states, for 0 to 30 °C. Hotter air is reckoned by extrapolation.
const STATED: f64 = 300e-6;
/// The greatest mole fraction of vapour for which the paper gives the polynomial.
const MOST_VAPOUR: f64 = 0.06;

#[test]
fn polynomial_and_real_gas_agree_over_the_grid() {
    let mut within = 0;
    for row in rows("sound_speed_grid.csv", 600) {
        let speed = speed_of_sound_m_s(row.number("t_c"), row.number("rh_pct"), row.number("p_pa") / 1000.0);
        row.agrees_relatively("c_cramer", speed, STORED);
        row.agrees_relatively("c_coolprop_humidair", speed, NEAR);
        // The mixture departs from the moist-air model itself by more than this where there is more vapour than the paper
        // covers (57 of the rows, up to 391 ppm).
        if row.number("xw_molfrac") <= MOST_VAPOUR {
            row.agrees_relatively("c_heos_mix", speed, NEAR);
            within += 1;
        }
    }
    assert_eq!(within, 543);
}

#[test]
fn polynomial_and_real_gas_agree_at_sea_level() {
    for row in rows("sound_speed_sealevel.csv", 153) {
        let speed = speed_of_sound_m_s(row.number("t_c"), row.number("rh_pct"), 101.325);
        row.agrees_relatively("c_cramer", speed, STORED);
        // saturated air of 47 to 50 °C is off by up to 296 ppm
        let far = row.number("t_c") > 45.0;
        row.agrees_relatively("c_coolprop_humidair", speed, if far { STATED } else { NEAR });
    }
}

/// The error, mm, that is left of a range whose error the table gives, once it is corrected for air of this temperature and
/// humidity.
fn left_over_mm(row: &Row, reported: &str, assumed_speed_m_s: f64, warmer_c: f64, moister_pct: f64) -> f64 {
    let true_m = row.number("true_range_m");
    let reported_m = true_m + row.number(reported) / 1000.0;
    let mount = Mount { distance_m: 3.1, assumed_speed_m_s: Some(assumed_speed_m_s) };
    let speed = speed_of_sound_m_s(row.number("t_c") + warmer_c, row.number("rh_pct") + moister_pct, 101.325);
    (true_distance_m(reported_m, &mount, speed) - true_m) * 1000.0
}

/// A ranger of any fixed speed, or one that knows temperature only, is put right to what Cramer's speed leaves over real air:
/// within 0.12 mm in a metre. Whatever speed was assumed must not matter. A wrong thermometer or hygrometer shifts the result
/// by what the table says; it has its effects by the real-gas speed, so ours is compared as the shift from the right sensor.
/// 0.02 mm allows for the stored digits and the two models' difference over one kelvin at three metres.
#[test]
fn ranges_of_a_day_are_put_right() {
    const ALLOWED_MM: f64 = 0.02;
    let mut speed_at_first_m_s = f64::NAN;
    for row in rows("range_error_day.csv", 39) {
        let t = row.number("t_c");
        if (t - 20.0).abs() < 1e-9 {
            speed_at_first_m_s = row.number("c_true");
        }
        let by_temperature = [331.3 * (1.0 + t / 273.15).sqrt(), 343.2 * ((t + 273.15) / 293.15).sqrt()];
        for (reported, assumed) in [
            ("err_fixed_343_mm", 343.0),
            ("err_fixed_at_20C_mm", speed_at_first_m_s),
            ("err_temp_only_simple_mm", by_temperature[0]),
            ("err_temp_only_iso_mm", by_temperature[1]),
        ] {
            let left = left_over_mm(&row, reported, assumed, 0.0, 0.0);
            row.agrees("err_temp_rh_cramer_mm", left, ALLOWED_MM);
            assert!(left.abs() <= 0.12 * row.number("true_range_m"), "{reported}: {left} mm left in {row}");
        }
        for (shifted, warmer_c, moister_pct) in
            [("err_tsensor_plus_1C_mm", 1.0, 0.0), ("err_rh_minus_10_mm", 0.0, -10.0)]
        {
            let wrong = left_over_mm(&row, "err_fixed_343_mm", 343.0, warmer_c, moister_pct);
            row.agrees(shifted, wrong - left_over_mm(&row, "err_fixed_343_mm", 343.0, 0.0, 0.0), ALLOWED_MM);
        }
        // the echo time is the same range, said in microseconds
        let by_echo_m = row.number("tof_us") / 2e6 * 343.0;
        row.agrees("err_fixed_343_mm", (by_echo_m - row.number("true_range_m")) * 1000.0, ALLOWED_MM);
    }
}
