//! A long span by the hours of its days and by its readings: the same review.

use std::fs;

use bloom_model::quantity::{Role, Variable};
use bloom_model::reading::Observed;
use rusqlite::Connection;
use tempfile::TempDir;

use super::*;
use crate::config;
use crate::store::{Importer, Recorded};

/// 2027-01-15T00:00:00Z; clocks in Halifax are put forward on 14 March (IANA time zones).
const BEGINS_MS: i64 = 1_799_971_200_000;
const DAYS: i64 = 140;
const MINUTE_MS: i64 = 60_000;

/// A record of `east-3` without a bloom: a reading every two minutes, an afternoon without humidity, a cold moment, somebody below the
/// ranger now and then.
fn record(directory: &TempDir) -> config::Config {
    let store = directory.path().join("anthesisd.db");
    let file = directory.path().join("anthesisd.toml");
    let text = format!(
        "[site]\nname = \"saltmarsh\"\ntimezone = \"America/Halifax\"\n[store]\npath = {:?}\n[[bench]]\nid = \"east-3\"\n\
         plant = \"AT-0412\"\nprofile = \"titan-arum\"\ntip = {{ mount_height_m = 3.1 }}\n\
         limits = {{ temperature_c = [22, 26], vpd_kpa = [0.4, 0.9] }}\n",
        store.display().to_string()
    );
    fs::write(&file, text).unwrap();
    let mut importer = Importer::open(&store).unwrap();
    let mut rows = Vec::new();
    let mut put = |ms: i64, quantity: Quantity, value: f64| {
        let (time, observed) = (Time::from_unix_ms(ms), Observed::Value(quantity, value));
        rows.push(Recorded { bench: "east-3".into(), time, observed, note: None, by: None, fed: None });
    };
    for round in 0..DAYS * 720 {
        let ms = BEGINS_MS + round * 2 * MINUTE_MS + round % 13 * 1_000;
        let course = (round as f64 / 720.0 * std::f64::consts::TAU).sin();
        let drift = (round as f64 / 9_000.0).sin();
        let noise = ((round * 2_654_435_761) % 11 - 5) as f64;
        let cold = if round == 31_111 { 1_500.0 } else { 0.0 };
        let person = if round % 1_999 == 1_000 { 900.0 } else { 0.0 };
        put(
            ms,
            Quantity::Temperature,
            ((2_400.0 + 250.0 * course + 90.0 * drift).round() + noise - cold) / 100.0,
        );
        if !(50_000..50_090).contains(&round) {
            put(ms, Quantity::Humidity, ((760.0 - 80.0 * course).round() + noise) / 10.0);
        }
        put(ms, Quantity::Light, (300.0 * course.max(0.0)).round());
        put(ms, Quantity::TipRange, (2_000.0 - (round / 800) as f64 + noise - person) / 1_000.0);
    }
    importer.import(rows).unwrap();
    importer.finish().unwrap();
    config::read(&file).unwrap()
}

fn review(config: &config::Config) -> Review {
    review_by(&Reader::open(&config.store_path).unwrap(), config)
}

fn review_by(reader: &Reader, config: &config::Config) -> Review {
    let site = Arc::new(config.site.clone());
    let until = Time::from_unix_ms(BEGINS_MS + DAYS * 1_440 * MINUTE_MS);
    let source =
        Source { reader, site: &site, spec: &config.benches[0].spec, height_datum: "the soil", now: until };
    let from = Time::from_unix_ms(BEGINS_MS + 4 * 60 * MINUTE_MS);
    let scope = Scope { bench: "east-3".into(), from, until, story: None };
    Review::read(&source, scope, |_| {}).unwrap()
}

#[track_caller]
fn near(one: f64, other: f64, within: f64) {
    assert!((one - other).abs() <= within, "{one} {other}");
}

#[test]
fn a_long_span_by_its_hours_is_the_one_by_its_readings() {
    let directory = tempfile::tempdir().unwrap();
    let config = record(&directory);
    let brief = review(&config);
    let conn = Connection::open(&config.store_path).unwrap();
    conn.execute("DELETE FROM hours", []).unwrap();
    let whole = review(&config);
    assert_eq!((brief.pace, brief.steps.len()), (Pace::DaysAndNights, whole.steps.len()));
    assert!(brief.steps.len() > 270);

    for (brief, whole) in brief.climate.iter().zip(&whole.climate) {
        for of in Variable::pictured() {
            let (brief, whole) = (&brief[of], &whole[of]);
            let rounded = if matches!(of, Variable::Derived(_)) { 0.005_01 } else { 0.0 };
            for (brief, whole) in [(brief.lowest, whole.lowest), (brief.highest, whole.highest)] {
                assert_eq!(brief.is_some(), whole.is_some());
                let (Some(brief), Some(whole)) = (brief, whole) else { continue };
                near(brief.value, whole.value, rounded);
            }
            near(brief.measured_h, whole.measured_h, 0.01);
            assert_eq!(brief.mean().is_some(), whole.mean().is_some());
            if let (Some(brief), Some(whole)) = (brief.mean(), whole.mean()) {
                near(brief, whole, 0.002 * whole.abs().max(1.0));
            }
            for (brief, whole) in brief.beyond.iter().zip(&whole.beyond) {
                // two hours or three of a night cross a limit
                near(brief.below_h, whole.below_h, 0.5);
                near(brief.above_h, whole.above_h, 0.5);
            }
        }
    }
    for ((_, brief), (_, whole)) in brief.parts().iter().zip(&whole.parts()) {
        for of in
            Variable::pictured().filter(|of| matches!(of, Variable::Measured(_)) && of.role() != Role::Light)
        {
            // to the reading and its instant
            assert_eq!((brief[of].lowest, brief[of].highest), (whole[of].lowest, whole[of].highest));
        }
        for of in Variable::pictured() {
            let hours = whole[of].measured_h;
            near(brief[of].beyond[0].below_h, whole[of].beyond[0].below_h, 0.002 * hours);
            near(brief[of].beyond[0].above_h, whole[of].beyond[0].above_h, 0.002 * hours);
        }
    }
    assert_eq!(brief.outages, whole.outages);
    assert_eq!(brief.outages.listed.len(), 1);
    assert_eq!(brief.light.len(), whole.light.len());
    for (brief, whole) in brief.light.iter().zip(&whole.light) {
        assert_eq!(brief.date, whole.date);
        near(brief.mol_m2, whole.mol_m2, 0.01 * whole.mol_m2 + 0.001);
    }

    let heights = |review: &Review| review.plant.iter().map(|plant| plant.height_m).collect::<Vec<_>>();
    let (by_hours, by_readings) = (heights(&brief), heights(&whole));
    assert!(by_hours.iter().flatten().count() > 260);
    let both = by_hours.iter().zip(&by_readings).filter_map(|(brief, whole)| Some((*brief)? - (*whole)?));
    // where somebody stood below the ranger just then, readings tell another height
    let apart: Vec<f64> = both.filter(|apart| apart.abs() > 0.005).collect();
    assert!(apart.len() < 6, "{apart:?}");
    let days = |review: &Review| {
        review.plant.iter().filter_map(|plant| plant.day).map(|rate| rate.m_h * 24.0).collect::<Vec<_>>()
    };
    let mean = |rates: &[f64]| rates.iter().sum::<f64>() / rates.len() as f64;
    let (by_hours, by_readings) = (days(&brief), days(&whole));
    assert!(by_hours.len() > 255, "{}", by_hours.len());
    near(mean(&by_hours), mean(&by_readings), 0.000_2);
    let heat = |review: &Review| review.plant.last().and_then(|plant| plant.degree_days).unwrap();
    near(heat(&brief), heat(&whole), 0.002 * heat(&whole));
}

#[test]
fn a_long_review_leaves_the_sheets_unread() {
    let directory = tempfile::tempdir().unwrap();
    let config = record(&directory);
    let reader = Reader::open(&config.store_path).unwrap();
    let brief = review_by(&reader, &config);
    // four quantities each of the days that the hours do not tell, and the instants of the extremes
    let opened = reader.sheets_opened();
    assert!((10..=180).contains(&opened), "{opened} of {}", 4 * DAYS);
    Connection::open(&config.store_path).unwrap().execute("DELETE FROM hours", []).unwrap();
    let whole = review_by(&reader, &config);
    assert_eq!(brief.steps.len(), whole.steps.len());
    assert!(reader.sheets_opened() - opened >= 4 * DAYS as u64, "without summaries each is read");
}

#[test]
fn most_days_of_a_long_span_come_in_brief_and_none_of_a_bloom() {
    let directory = tempfile::tempdir().unwrap();
    let config = record(&directory);
    let reader = Reader::open(&config.store_path).unwrap();
    let site = Arc::new(config.site.clone());
    let spec = &config.benches[0].spec;
    let midnight = |day: i64| Time::from_unix_ms(BEGINS_MS + day * 1_440 * MINUTE_MS);
    let source = Source { reader: &reader, site: &site, spec, height_datum: "the soil", now: midnight(DAYS) };
    let in_brief = |stories: &[story::Story]| {
        let span = (midnight(0), midnight(DAYS));
        let mut briefs = Briefs::new(&source, "east-3", limits_of(&spec.limits), span, stories);
        (0..DAYS).filter(|day| briefs.of(midnight(*day)).unwrap().is_some()).collect::<Vec<i64>>()
    };
    let without = in_brief(&[]);
    assert!(without.len() > 100, "{without:?}");
    // the first and the last, those about the outage, and that of the cold moment
    assert!([0, DAYS - 1, 68, 69, 70, 43].iter().all(|day| !without.contains(day)), "{without:?}");
    let story = story::Story {
        id: "east-3-2027a".to_owned(),
        bench: "east-3".into(),
        plant: None,
        seen: midnight(20),
        newest: midnight(40),
        bud_seen: None,
        opening: None,
        over: None,
    };
    assert!(in_brief(&[story]).iter().all(|day| *day < 17));
}
