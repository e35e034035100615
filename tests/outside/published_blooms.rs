//! The forecast on blooms that others measured and published (tests/reference/series, the source of each in its head), each one's own share
//! in the profile's numbers taken out.

#![expect(clippy::unwrap_used, reason = "what cannot be read fails the check")]

use std::path::Path;

use anthesisd::config::profile;
use bench_sim::trial::mornings::Stands;
use bench_sim::trial::published::PublishedTable;

fn tables() -> [PublishedTable; 2] {
    let profile = profile("titan-arum", Path::new("/nonexistent")).unwrap();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/series");
    [false, true].map(|signs| PublishedTable::of(&folder, &profile, signs).unwrap())
}

#[test]
fn the_window_says_more_than_the_best_constant_one_does_with_hindsight() {
    for table in tables() {
        let (_, constant) = table.best_constant();
        assert!(table.score() < 0.9 * constant, "{table}");
    }
}

#[test]
fn how_tall_they_stood_was_foretold() {
    for table in tables() {
        let said: Vec<Stands> =
            table.blooms.iter().flat_map(|(_, mornings)| mornings).filter_map(|one| one.height).collect();
        assert!(said.len() >= 45, "{}", said.len());
        let held = said.iter().filter(|one| one.held()).count() as f64 / said.len() as f64;
        assert!((0.7..=0.9).contains(&held), "{held}");
        let off_m = said.iter().map(Stands::off_m).sum::<f64>() / said.len() as f64;
        assert!(off_m < 0.2, "{off_m}");
    }
}
