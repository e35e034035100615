//! Degree-days.
//!
//! Sources: Zalom, Goodell, Wilson, Barnett & Bentley 1983, Univ. California Leaflet 21373, table 7; McMaster & Wilhelm 1997,
//! Agric. For. Meteorol. 87, 291–300, table 1; averaging examples of three university extensions (named in the table); and
//! brute-force integration in small steps, without any closed form. Degrees Fahrenheit go in as they are: the arithmetic is
//! the same.

use bloom_model::degree_days::{Cutoff, DailyMethod, DayExtremes, RecordDegreeDays, Rule, Thresholds};
use bloom_model::time::Time;
use end_to_end::tables::{Row, rows};

/// The brute force is good to 2e-10, and nine digits are stored.
const SMOOTH: f64 = 1e-7;
/// Where the rate jumps, a step of the brute force counts as a whole or not at all: 4.5e-5 at most.
const JUMP: f64 = 6e-5;

const CUTOFFS: [(&str, Cutoff, f64); 4] = [
    ("none", Cutoff::None, SMOOTH),
    ("horizontal", Cutoff::Horizontal, SMOOTH),
    ("intermediate", Cutoff::Intermediate, SMOOTH),
    ("vertical", Cutoff::Vertical, JUMP),
];

fn rule(row: &Row, unit: &str, cutoff: Cutoff) -> Rule {
    let thresholds =
        Thresholds { lower_c: row.number(&format!("tl_{unit}")), upper_c: row.number(&format!("tu_{unit}")) };
    Rule { thresholds, cutoff }
}

fn day(row: &Row, unit: &str) -> DayExtremes {
    let min_c = row.number(&format!("tmin_{unit}"));
    DayExtremes { min_c, max_c: row.number(&format!("tmax_{unit}")), next_min_c: min_c }
}

#[test]
fn verification_table_of_1983() {
    let rule = Rule { thresholds: Thresholds { lower_c: 55.0, upper_c: 90.0 }, cutoff: Cutoff::Horizontal };
    for row in rows("dd_zalom1983_table7.csv", 12) {
        let day = DayExtremes { next_min_c: row.number("nextmin_f"), ..day(&row, "f") };
        for (column, method) in [
            ("sng_tri", DailyMethod::SingleTriangle),
            ("dbl_tri", DailyMethod::DoubleTriangle),
            ("sng_sine", DailyMethod::SingleSine),
            ("dbl_sine", DailyMethod::DoubleSine),
        ] {
            let ours = method.degree_days(&rule, &day);
            row.agrees(&format!("{column}_brute"), ours, SMOOTH);
            if row.text("row") == "9" && column == "dbl_tri" {
                // A misprint: 24.88 in print where the triangle holds 27.125, as a ruler shows: half of 23.75 (60 to 100 °F,
                // printed in the same row) and half of 30.5 (100 to 75 °F).
                assert!((ours - (23.75 + 30.5) / 2.0).abs() < 1e-9, "{ours}");
            } else {
                // printed with two decimals
                row.agrees(&format!("{column}_published"), ours, 0.0051);
            }
        }
    }
}

#[test]
fn two_readings_of_one_equation_of_1997() {
    let rule = Rule { thresholds: Thresholds { lower_c: 0.0, upper_c: f64::INFINITY }, cutoff: Cutoff::None };
    for row in rows("dd_mcmaster1997_table1.csv", 10) {
        let day = day(&row, "c");
        row.agrees("method1_published", DailyMethod::AverageThenLimits.degree_days(&rule, &day), 1e-9);
        row.agrees("method2_published", DailyMethod::LimitsThenAverage.degree_days(&rule, &day), 1e-9);
        row.agrees("single_sine_brute", DailyMethod::SingleSine.degree_days(&rule, &day), SMOOTH);
    }
}

#[test]
fn averaging_within_86_and_50() {
    for row in rows("dd_extension_86_50.csv", 5) {
        let (rule, day) = (rule(&row, "f", Cutoff::Horizontal), day(&row, "f"));
        row.agrees("published", DailyMethod::LimitsThenAverage.degree_days(&rule, &day), 1e-9);
        row.agrees("method2", DailyMethod::LimitsThenAverage.degree_days(&rule, &day), 1e-9);
        row.agrees("method1", DailyMethod::AverageThenLimits.degree_days(&rule, &day), 1e-9);
    }
}

#[test]
fn one_day_by_brute_force() {
    for row in rows("dd_single_grid.csv", 228) {
        let day = day(&row, "c");
        let count = |method: DailyMethod, cutoff| method.degree_days(&rule(&row, "c", cutoff), &day);
        row.agrees("simple_avg", count(DailyMethod::Average, Cutoff::None), SMOOTH);
        row.agrees("avg_m1", count(DailyMethod::AverageThenLimits, Cutoff::None), SMOOTH);
        row.agrees("avg_m2", count(DailyMethod::LimitsThenAverage, Cutoff::None), SMOOTH);
        row.agrees("avg_m1_u", count(DailyMethod::AverageThenLimits, Cutoff::Horizontal), SMOOTH);
        row.agrees("avg_m2_u", count(DailyMethod::LimitsThenAverage, Cutoff::Horizontal), SMOOTH);
        let floored = ("intermediate_clamped", Cutoff::IntermediateFloored, SMOOTH);
        for (name, cutoff, within) in CUTOFFS.into_iter().chain([floored]) {
            row.agrees(&format!("sine_{name}"), count(DailyMethod::SingleSine, cutoff), within);
            row.agrees(&format!("triangle_{name}"), count(DailyMethod::SingleTriangle, cutoff), within);
        }
    }
}

#[test]
fn one_day_and_the_next_morning_by_brute_force() {
    for row in rows("dd_double_grid.csv", 28) {
        let day = DayExtremes { next_min_c: row.number("next_tmin_c"), ..day(&row, "c") };
        for (name, cutoff, within) in CUTOFFS {
            let rule = rule(&row, "c", cutoff);
            for (shape, method) in [
                ("single_sine", DailyMethod::SingleSine),
                ("double_sine", DailyMethod::DoubleSine),
                ("single_triangle", DailyMethod::SingleTriangle),
                ("double_triangle", DailyMethod::DoubleTriangle),
            ] {
                row.agrees(&format!("{shape}_{name}"), method.degree_days(&rule, &day), within);
            }
        }
    }
}

/// Records with even and uneven steps, a gap, and flat stretches just at a threshold. The exact integral agrees with steps of
/// half a second to 2e-6; nine digits of it are stored.
#[test]
fn records_sample_by_sample() {
    let samples = rows("dd_record_samples.csv", 617);
    for row in rows("dd_record_results.csv", 132) {
        let (_, cutoff, _) = *CUTOFFS.iter().find(|(name, ..)| *name == row.text("cutoff")).unwrap();
        let rule = rule(&row, "c", cutoff);
        let mut record = RecordDegreeDays::new(rule, row.number("max_gap_s") / 3600.0);
        let mut bridging = RecordDegreeDays::new(rule, f64::INFINITY);
        for sample in samples.iter().filter(|sample| sample.text("record") == row.text("record")) {
            let time = Time::from_unix_s(1.8e9 + sample.number("t_s")).unwrap();
            record.take(time, sample.number("temp_c"));
            bridging.take(time, sample.number("temp_c"));
        }
        row.agrees("exact_linear_dd", record.degree_days(), SMOOTH);
        row.agrees("covered_days", record.covered_days(), SMOOTH);
        row.agrees("exact_linear_bridging_all_gaps_dd", bridging.degree_days(), SMOOTH);
        row.agrees("span_days", bridging.covered_days(), SMOOTH);
    }
}
