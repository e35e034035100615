//! The life of a bloom that is folded from what was told and booked is the one that its bench is in.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail them as tests do")]

use std::collections::BTreeMap;
use std::sync::Arc;

use bench_sim::options::{PlantWishes, SeasonOptions};
use bench_sim::season::Season;
use bench_sim::trial::house_of;
use bench_sim::trouble::Troubles;
use bench_sim::truth::Outcome;
use bloom_model::bloom::life::{BookedSign, Happening, Life};
use bloom_model::event::{Event, EventKind, EventPlace};
use bloom_model::reading::{BenchNumber, Observed, Reading};
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::spec::Limits;
use bloom_model::time::Time;
use bloom_text::Payload;

/// An event speaks of what its row says, is as grave or graver, and ends no other alarms than its row names.
fn holds_to_its_row(event: &Event) {
    let row = event.kind.row();
    match row.place {
        EventPlace::Bench => assert!(event.bench.is_some(), "{event:?}"),
        EventPlace::House | EventPlace::Machine => assert!(event.bench.is_none(), "{event:?}"),
        EventPlace::BenchOrSite => {}
    }
    assert!(event.severity >= row.severity, "{event:?}");
    for id in &event.ends {
        let kind = id.split('/').nth(1).and_then(EventKind::of);
        assert!(kind.is_some_and(|kind| row.ends.contains(&kind)), "{event:?}");
    }
}

/// Plays a season, and holds each bloom's folded stage against its bench's after each reading that told anything.
fn play(season: &Season, booked: &[(Time, PlainSign)], seen: &mut BTreeMap<&'static str, u32>) {
    let profile =
        anthesisd::config::profile("titan-arum", std::path::Path::new(env!("CARGO_MANIFEST_DIR"))).unwrap();
    let mut site = house_of(std::slice::from_ref(season), &profile, Limits::default());
    let bench = BenchNumber(0);
    let mut readings: Vec<Reading> = season
        .observations()
        .map(|said| Reading { bench, time: said.time, observed: said.observed })
        .collect();
    readings.extend(booked.iter().map(|(time, sign)| Reading {
        bench,
        time: *time,
        observed: Observed::Sign(Sign::Plain(*sign)),
    }));
    readings.sort_by_key(|reading| reading.time);
    let mut lives: BTreeMap<Arc<str>, Life> = BTreeMap::new();
    let mut events: Vec<Event> = Vec::new();
    for reading in &readings {
        site.take(reading, &mut events);
        let view = site.benches().next().unwrap().view().unwrap();
        if let (Observed::Sign(Sign::Plain(what)), Some(bloom)) = (reading.observed, &view.bloom) {
            let sign = BookedSign {
                bench: view.bench.clone(),
                time: reading.time,
                sign: what.name(),
                what,
                by: None,
                note: None,
            };
            lives.entry(Arc::clone(bloom)).or_default().apply(Happening::Booked(&sign));
        }
        if events.is_empty() {
            continue;
        }
        for event in events.drain(..) {
            holds_to_its_row(&event);
            let Some(bloom) = event.bloom.clone() else { continue };
            let event = {
                let payload = Payload::of(&event, site.spec());
                serde_json::from_value(serde_json::to_value(payload).unwrap()).unwrap()
            };
            lives.entry(bloom).or_default().apply(Happening::Told(&event));
        }
        if let Some(bloom) = &view.bloom {
            assert_eq!(lives[bloom].stage.name(), view.stage, "{bloom} at {}", reading.time);
        }
        *seen.entry(view.stage).or_default() += 1;
    }
}

#[test]
fn a_bench_is_in_the_stage_that_is_folded_from_what_it_told() {
    let mut seen = BTreeMap::new();
    for seed in 1..=8 {
        let outcome = Some(if seed % 4 == 0 { Outcome::Stops } else { Outcome::Opens });
        let plant = PlantWishes { outcome, ..PlantWishes::default() };
        let options = SeasonOptions {
            interval_s: 120,
            troubles: Troubles::all(),
            signs: seed % 2 == 0,
            plant,
            ..SeasonOptions::default()
        };
        let season = Season::draw(seed, &options);
        let last = season.observations().last().unwrap().time;
        let back = |days: f64| last.plus_hours(-24.0 * days);
        // what a person books in vain and takes back in another word
        let booked = match seed {
            1 => vec![(back(30.0), PlainSign::Opened), (back(29.0), PlainSign::NotOpening)],
            2 => vec![(back(30.0), PlainSign::Collapsed), (back(28.0), PlainSign::SpadixVisible)],
            3 => vec![(back(1.0), PlainSign::FruitSet)],
            5 => vec![
                (back(30.0), PlainSign::FullOpen),
                (back(29.9), PlainSign::Closed),
                (back(29.8), PlainSign::FullOpen),
            ],
            6 => vec![(back(30.0), PlainSign::FullOpen), (back(29.0), PlainSign::FruitRipe)],
            _ => Vec::new(),
        };
        play(&season, &booked, &mut seen);
    }
    for stage in
        ["bud", "slowing", "opening", "full-open", "pollen-shed", "closed", "aborted", "fruiting", "resting"]
    {
        assert!(seen.contains_key(stage), "{stage} was never seen: {seen:?}");
    }
}
