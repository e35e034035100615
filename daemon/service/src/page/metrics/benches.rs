//! Figures of the benches. Where the standard has no base unit for what growers speak of, theirs stands in the name.

use bloom_model::quantity::Variable;
use bloom_model::time::Time;
use bloom_text::capital;
use prometheus_client::registry::Unit;

use super::sheet::{Labels, Sheet, age_s, said};
use crate::facts::{BenchFacts, ClimateFacts, Lies};

/// Centimetres and a day, which the standard has no base unit for.
const CM_A_DAY: &str = "centimeters_per_day";
const CM_AN_HOUR: &str = "centimeters_per_hour";

impl Sheet {
    pub(super) fn benches(&mut self, benches: &[BenchFacts], now: Time) {
        let mut of =
            |name: &str, help: &str, unit: Option<Unit>, figure: &dyn Fn(&BenchFacts) -> Option<f64>| {
                let figures = benches.iter().filter_map(|bench| Some((bench_labels(bench), figure(bench)?)));
                self.gauges(name, help, unit, figures);
            };
        let other = |name: &str| Some(Unit::Other(name.to_owned()));
        of("newest_reading_age", "How old a bench's newest reading is", Some(Unit::Seconds), &|bench| {
            bench.newest_reading.map(|newest| age_s(newest, now))
        });
        of("bench_silent", "Whether a bench has said nothing for too long", None, &|bench| {
            Some(said(bench.silent))
        });
        for (variable, _) in Variable::limited() {
            let (unit, per_unit) = variable.measure().base_unit();
            let name = format!("bench_{}", variable.name().replace('-', "_"));
            of(&name, &capital(variable.words()), other(unit), &|bench| {
                Some(bench.state.as_ref()?.climate.value(variable)? * per_unit)
            });
        }
        of("bench_height", "Height of the plant", Some(Unit::Meters), &|bench| {
            bench.state.as_ref()?.growth.height_m
        });
        of("bench_growth_of_day", "Growth over the last day", other(CM_A_DAY), &|bench| {
            bench.state.as_ref()?.growth.growth_cm_day
        });
        of("bench_growth_of_hour", "Growth over the last hour", other(CM_AN_HOUR), &|bench| {
            bench.state.as_ref()?.growth.growth_cm_hour
        });
        of("bench_heat", "Degree-days since the bud was seen", other("celsius_days"), &|bench| {
            Some(bench.state.as_ref()?.heat.as_ref()?.degree_days)
        });
        of(
            "bench_opens_tonight",
            "The chance that it opens before the next morning, given that it opens, by the forecast that was told last",
            Some(Unit::Ratios),
            &|bench| bench.tonight.map(|tonight| tonight.probability),
        );
        let stages = benches.iter().map(|bench| {
            let mut labels = bench_labels(bench);
            labels.push(("stage", bench.stage().to_owned()));
            (labels, 1.0)
        });
        self.gauges("bench_stage", "The stage that a bench is in", None, stages);
        let outside =
            benches.iter().flat_map(|bench| bench.climate.iter().filter_map(|of| outside(bench, of)));
        self.gauges(
            "bench_climate_outside",
            "How far a quantity is outside its limits: 0 within, 1 to be looked at, 2 to be acted on",
            None,
            outside,
        );
    }
}

fn bench_labels(bench: &BenchFacts) -> Labels {
    let plant = bench.plant.as_ref().map(|plant| ("plant", plant.to_string()));
    [("bench", bench.bench.to_string())].into_iter().chain(plant).collect()
}

fn outside(bench: &BenchFacts, climate: &ClimateFacts) -> Option<(Labels, f64)> {
    let how_far = match climate.lies? {
        Lies::Within => 0.0,
        Lies::Below | Lies::Above => 1.0,
        Lies::FarBelow | Lies::FarAbove => 2.0,
    };
    let mut labels = bench_labels(bench);
    labels.push(("quantity", climate.of.name().to_owned()));
    Some((labels, how_far))
}
