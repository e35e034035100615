//! Whole seasons with every trouble of a house, held against their truth. The long form is a figure of sim/FIGURES.md; the short
//! one is its first seasons.

use std::path::Path;

use anthesisd::config::profile;
use bench_sim::options::SeasonOptions;
use bench_sim::season::Season;
use bench_sim::trial::{self, Summary};
use bench_sim::trouble::Troubles;
use bench_sim::truth::Outcome;

#[test]
fn no_opening_is_missed_and_no_alarm_is_false() {
    let profile = profile("titan-arum", Path::new("/nonexistent")).unwrap();
    let seasons = if std::env::var_os("ANTHESISD_LONG").is_some() { 100 } else { 12 };
    let verdicts: Vec<_> = (0..seasons)
        .map(|number| {
            let mut options = SeasonOptions { troubles: Troubles::all(), ..SeasonOptions::default() };
            options.plant.outcome = Some(match number % 8 {
                3 => Outcome::Stops,
                7 => Outcome::Leaf,
                _ => Outcome::Opens,
            });
            trial::run(&Season::draw(1 + number, &options), &profile, |_| {})
        })
        .collect();
    let summary = Summary::of("all", &verdicts);
    assert!(summary.openings >= 9, "{summary:?}");
    assert_eq!((summary.missed, summary.false_alarms), (0, 0), "{summary:?}");
    assert!(summary.lead_median_h.unwrap() >= 4.7, "{summary:?}");
}
