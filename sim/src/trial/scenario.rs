//! A scenario: the physics of some seasons, the limits that the alarm must keep over them, and the seed, in one file.

use std::fmt;
use std::path::Path;

use bloom_model::event::Event;
use bloom_model::profile::Profile;
use bloom_text::render;
use serde::Deserialize;

use super::{FullOpenRow, Many, Summary, run, site_for};
use crate::options::{PlantWishes, SeasonOptions};
use crate::rim::OpeningShape;
use crate::side_loss::SideLoss;
use crate::trouble::{EdgeTrouble, Troubles};
use crate::truth::{Outcome, Truth};

/// Bench-years by which false alarms are counted.
const PER_BENCH_YEARS: f64 = 50.0;

/// One scenario, as its file says it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// What it shows, in a sentence.
    pub says: String,
    /// The first seed; the others follow it.
    pub seed: u64,
    /// How many seasons.
    pub seasons: u64,
    /// What is drawn, and what is wished for.
    pub physics: Physics,
    /// What must hold.
    pub limits: Limits,
}

/// What the seasons of a scenario have in common; what is absent is drawn from the published spreads.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Physics {
    /// `all`, `none`, or names with commas between, as `trials --troubles` takes them.
    #[serde(deserialize_with = "troubles")]
    pub troubles: Troubles,
    /// Seconds between readings.
    #[serde(default = "a_minute")]
    pub interval_s: u32,
    /// No side ranger.
    #[serde(default)]
    pub overhead_only: bool,
    /// The spadix has a thermometer of its own.
    #[serde(default)]
    pub spadix_thermometer: bool,
    /// How the side ranger stops seeing the plant some time before the opening, if it does.
    pub side_loss: Option<SideLoss>,
    /// How long after a false opening alarm the grower has looked and books that the bud is closed, h; never if absent.
    pub answers_after_h: Option<f64>,
    /// Echoes of which the side ranger reports the median; one if absent.
    pub side_burst: Option<u32>,
    /// What becomes of every bud.
    pub outcome: Option<Outcome>,
    /// Local hour of the first crack.
    pub crack_hour: Option<f64>,
    /// Hours from first crack to full opening.
    pub hours_to_full: Option<f64>,
    /// The course of the opening.
    pub opening_shape: Option<OpeningShape>,
    /// Whether a gap opens and closes again the day before.
    pub gap_that_closes: Option<bool>,
    /// Whether hot afternoons slacken the spathe.
    pub slack: Option<bool>,
    /// Whether growth stands nearly still for days before opening.
    pub plateau: Option<bool>,
    /// What comes between the side ranger and the edge.
    pub edge: Option<EdgeTrouble>,
    /// The rangers are hung between so many days before the opening.
    pub hung_d_before: Option<[f64; 2]>,
}

const fn a_minute() -> u32 {
    60
}

fn troubles<'de, D: serde::Deserializer<'de>>(from: D) -> Result<Troubles, D::Error> {
    String::deserialize(from)?.parse().map_err(serde::de::Error::custom)
}

/// The limits of a scenario; what is absent is not held against it.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Openings of which nobody was told: missed, no alarm had said that the side ranger does not see them, and none had been raised on
    /// something else shortly before.
    pub untold_at_most: Option<usize>,
    /// `edge-not-seen` of a side ranger that sees the edge, in a bench-year.
    pub edge_not_seen_falsely_a_bench_year_at_most: Option<f64>,
    /// Openings missed.
    pub missed_at_most: Option<usize>,
    /// False opening alarms in 50 bench-years.
    pub false_alarms_per_50_bench_years_at_most: Option<f64>,
    /// Openings whose alarm was stood down while they went on.
    pub wrongly_stood_down_at_most: Option<u32>,
    /// Median hours from the edge of a gap turning to the stand-down.
    pub gap_stood_down_h_at_most: Option<f64>,
    /// Median hours from the edge of a gap turning until a phone heard of it.
    pub gap_told_h_at_most: Option<f64>,
    /// Median and most hours for which the alarm of a bract stands after it has fallen.
    pub bract_stood_h_at_most: Option<[f64; 2]>,
    /// Median hours from alarm to full opening.
    pub lead_median_h_at_least: Option<f64>,
    /// The same that one in twenty has less than.
    pub lead_5_percent_h_at_least: Option<f64>,
    /// Median absolute error of `full_open.likely`, hours.
    pub likely_error_median_h_at_most: Option<f64>,
    /// Between these shares of openings lie in the 80 % interval of full opening, percent.
    pub interval_covers_pct: Option<[f64; 2]>,
}

/// Why a scenario cannot be played.
#[derive(Debug, thiserror::Error)]
pub enum ScenarioError {
    /// The file cannot be read.
    #[error("{path}: {source}; name a file such as sim/scenarios/house.toml")]
    Unreadable {
        /// The file.
        path: String,
        /// Why.
        source: std::io::Error,
    },
    /// It is no scenario.
    #[error("{path}: {source}")]
    NotAScenario {
        /// The file.
        path: String,
        /// What is wrong, and where.
        source: Box<toml::de::Error>,
    },
}

/// A limit beside what was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// What was measured.
    pub figure: &'static str,
    /// The value; `None` where there was nothing to measure, which holds no limit.
    pub measured: Option<f64>,
    /// The least and the greatest that are allowed.
    pub limits: [f64; 2],
}

impl Held {
    /// Whether the limit is held.
    pub fn holds(&self) -> bool {
        self.measured.is_some_and(|value| value >= self.limits[0] && value <= self.limits[1])
    }
}

impl fmt::Display for Held {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let measured = self.measured.map_or("nothing to measure".to_owned(), |value| format!("{value:.2}"));
        let limit = match self.limits {
            [least, most] if most.is_infinite() => format!("at least {least}"),
            [least, most] if least.is_infinite() => format!("at most {most}"),
            [least, most] => format!("{least} to {most}"),
        };
        let word = if self.holds() { "held" } else { "NOT HELD" };
        write!(f, "{word:<10}{:<40}{measured:>10}   {limit}", self.figure)
    }
}

impl Scenario {
    /// Reads a scenario file.
    ///
    /// # Errors
    /// If the file cannot be read or is no scenario.
    pub fn read(path: &Path) -> Result<Self, ScenarioError> {
        let named = || path.display().to_string();
        let text = std::fs::read_to_string(path)
            .map_err(|source| ScenarioError::Unreadable { path: named(), source })?;
        toml::from_str(&text)
            .map_err(|source| ScenarioError::NotAScenario { path: named(), source: Box::new(source) })
    }

    /// Plays its seasons; gives the table's row, and the seeds of those that went wrong with what it was.
    pub fn play(
        &self,
        name: &str,
        profile: &Profile,
    ) -> (Summary, Vec<FullOpenRow>, Vec<(u64, &'static str)>) {
        let verdicts = self.many().each(|season| run(season, profile, |_| {}));
        let mut wrong: Vec<_> =
            verdicts.iter().filter_map(|verdict| Some((verdict.seed, verdict.wrong()?))).collect();
        wrong.sort_unstable();
        (Summary::of(name, &verdicts), FullOpenRow::of(&verdicts), wrong)
    }

    /// One of its seasons: each event of the bloom, with its sentence.
    pub fn tell(&self, seed: u64, profile: &Profile, mut told: impl FnMut(&Event, &str)) -> Truth {
        let season = self.many().season(seed.saturating_sub(self.seed));
        let site = site_for(season.options(), profile);
        run(&season, profile, |event| told(event, &render(event, site.spec())));
        season.truth().clone()
    }

    fn many(&self) -> Many {
        Many { seasons: self.seasons, seed: self.seed, options: self.physics.options() }
    }
}

impl Physics {
    fn options(&self) -> SeasonOptions {
        let mut options = SeasonOptions {
            troubles: self.troubles,
            interval_s: self.interval_s,
            edge: self.edge,
            spadix_temperature: self.spadix_thermometer,
            hung_d_before: self.hung_d_before,
            plant: PlantWishes {
                outcome: self.outcome,
                crack_hour: self.crack_hour,
                hours_to_full: self.hours_to_full,
                opening_shape: self.opening_shape,
                gap_that_closes: self.gap_that_closes,
                slack: self.slack,
                plateau: self.plateau,
                ..PlantWishes::default()
            },
            ..SeasonOptions::default()
        };
        options.side_loss = self.side_loss;
        options.answers_after_h = self.answers_after_h;
        if let (Some(rim), Some(burst)) = (&mut options.rim, self.side_burst) {
            rim.burst = burst;
        }
        if self.overhead_only {
            options.rim = None;
        }
        options
    }
}

impl Limits {
    /// Each limit beside what was measured.
    pub fn held_against(&self, summary: &Summary) -> Vec<Held> {
        let per_50_years = summary.false_alarms as f64 * PER_BENCH_YEARS / summary.bench_years;
        let at_most = |limit: Option<f64>| limit.map(|limit| [f64::NEG_INFINITY, limit]);
        let at_least = |limit: Option<f64>| limit.map(|limit| [limit, f64::INFINITY]);
        let figures = [
            (
                "openings that nobody was told of",
                Some(summary.untold() as f64),
                at_most(self.untold_at_most.map(|count| count as f64)),
            ),
            (
                "edge-not-seen falsely, in a bench-year",
                Some(summary.edge_not_seen_falsely as f64 / summary.bench_years),
                at_most(self.edge_not_seen_falsely_a_bench_year_at_most),
            ),
            (
                "openings missed",
                Some(summary.missed as f64),
                at_most(self.missed_at_most.map(|count| count as f64)),
            ),
            (
                "false alarms in 50 bench-years",
                Some(per_50_years),
                at_most(self.false_alarms_per_50_bench_years_at_most),
            ),
            (
                "wrongly stood down",
                Some(f64::from(summary.wrongly_stood_down)),
                at_most(self.wrongly_stood_down_at_most.map(f64::from)),
            ),
            ("a gap stood down after, h", summary.gap_stood_down_h, at_most(self.gap_stood_down_h_at_most)),
            ("a gap's turning told after, h", summary.gap_told_h, at_most(self.gap_told_h_at_most)),
            (
                "a fallen bract's alarm stands, median, h",
                summary.bract_stood_h.map(|[median, _]| median),
                at_most(self.bract_stood_h_at_most.map(|[median, _]| median)),
            ),
            (
                "and the longest, h",
                summary.bract_stood_h.map(|[_, most]| most),
                at_most(self.bract_stood_h_at_most.map(|[_, most]| most)),
            ),
            ("lead, median, h", summary.lead_median_h, at_least(self.lead_median_h_at_least)),
            ("lead, 5 %, h", summary.lead_5_percent_h, at_least(self.lead_5_percent_h_at_least)),
            (
                "full_open.likely, error, h",
                summary.likely_error_median_h,
                at_most(self.likely_error_median_h_at_most),
            ),
            ("its interval covers, %", summary.interval_covers_pct, self.interval_covers_pct),
        ];
        figures
            .into_iter()
            .filter_map(|(figure, measured, limits)| Some(Held { figure, measured, limits: limits? }))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_without_a_figure_is_not_held() {
        let nothing = Summary::of("none", &[]);
        let limits = Limits { lead_median_h_at_least: Some(5.3), ..Limits::default() };
        assert!(limits.held_against(&nothing).iter().all(|held| !held.holds()));
    }

    #[test]
    fn a_word_that_no_scenario_has_is_refused_with_its_line() {
        let text = "says = \"\"\nseed = 1\nseasons = 1\n[physics]\ntroubles = \"ghosts\"\n[limits]\n";
        let error = toml::from_str::<Scenario>(text).unwrap_err().to_string();
        assert!(error.contains("line 5") && error.contains("ghosts"), "{error}");
    }
}
