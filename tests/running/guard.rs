//! The events of a fixed set of seasons, written down in `tests/reference/events`: a change that mends no fault leaves them as they are.
//!
//! Where a fault was mended, make the files anew with `ANTHESISD_WRITE=1` and read every difference before it is kept:
//!
//!     ANTHESISD_WRITE=1 cargo test --workspace --test running guard
//!
//! Sentences are left out, for they are held where they are made.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs;

use bench_sim::options::{PlantWishes, SeasonOptions};
use bench_sim::recording::write_recording;
use bench_sim::season::Season;
use bench_sim::side_loss::SideLoss;
use bench_sim::trouble::{EdgeTrouble, Troubles};
use bench_sim::truth::Outcome;
use end_to_end::house::{House, assert_alike};

/// What `replay` tells of a season, a line for each event, without its sentence.
fn told(seed: u64, options: SeasonOptions) -> Vec<String> {
    let mut recording = Vec::new();
    write_recording(&[Season::draw(seed, &options)], &mut recording).expect("memory can be written to");
    let recording = String::from_utf8(recording).expect("a text");
    let events = House::new().with_bench(&options.bench).replay(&recording);
    events
        .into_iter()
        .map(|mut event| {
            event.as_object_mut().expect("an event is an object").remove("message");
            event.to_string()
        })
        .collect()
}

fn held(name: &str, seed: u64, options: SeasonOptions) {
    let path = format!("{}/reference/events/{name}.jsonl", env!("CARGO_MANIFEST_DIR"));
    let told = told(seed, options);
    if std::env::var_os("ANTHESISD_WRITE").is_some() {
        fs::write(path, told.join("\n") + "\n").expect("it can be written");
        return;
    }
    let kept = fs::read_to_string(path).expect("it was written down");
    assert_alike(&told, &kept.lines().map(str::to_owned).collect::<Vec<_>>());
}

fn troubled(outcome: Outcome) -> SeasonOptions {
    SeasonOptions {
        troubles: Troubles::all(),
        plant: PlantWishes { outcome: Some(outcome), ..PlantWishes::default() },
        ..SeasonOptions::default()
    }
}

#[test]
fn a_season_of_all_troubles() {
    held("all-troubles", 412, troubled(Outcome::Opens));
}

#[test]
fn a_bud_that_stops() {
    held("stops", 413, troubled(Outcome::Stops));
}

#[test]
fn a_gap_that_closes_and_a_person_who_books_signs_and_tapes() {
    let plant =
        PlantWishes { outcome: Some(Outcome::Opens), gap_that_closes: Some(true), ..PlantWishes::default() };
    let options = SeasonOptions { tape: true, signs: true, plant, ..SeasonOptions::default() };
    held("gap-with-signs-and-tape", 414, options);
}

#[test]
fn a_side_ranger_that_is_turned_away() {
    let options = SeasonOptions { side_loss: Some(SideLoss::Wall), ..troubled(Outcome::Opens) };
    held("side-ranger-turned-away", 415, options);
}

#[test]
fn a_bract_that_peels_and_readings_ten_minutes_apart() {
    let options = SeasonOptions {
        edge: Some(EdgeTrouble::BractPeels),
        interval_s: 600,
        spadix_temperature: true,
        ..troubled(Outcome::Opens)
    };
    held("bract-every-ten-minutes", 416, options);
}
