//! The benches of a rehearsal: a bud that opens, one that stops, and one with weeks to go.

use std::collections::BTreeMap;

use bloom_model::time::Time;
use chrono::NaiveDate;

use bench_sim::options::{PlantWishes, SeasonOptions};
use bench_sim::rim::OpeningShape;
use bench_sim::season::Season;
use bench_sim::trouble::{Trouble, Troubles};
use bench_sim::truth::{Outcome, Truth};

/// Minutes between the packs that are played in the dull weeks; from a day before the opening on it is one.
const DULL_MINUTES: i64 = 5;

/// What the house does to its sensors.
const TROUBLES: Troubles = Troubles::NONE
    .with(Trouble::Sway)
    .with(Trouble::Misting)
    .with(Trouble::CycleSlips)
    .with(Trouble::Dropouts)
    .with(Trouble::ThermometerLag);

/// Below this share of its peak growth has really fallen: the share at which slowing is told, and a tenth of the peak for the noise
/// of the ranger.
const HAS_FALLEN: f64 = 0.6;

/// The benches, and when the bud that opens does so.
#[derive(Debug)]
pub(super) struct Cast {
    /// In the order of the configuration.
    pub(super) benches: Vec<Bench>,
    /// The opening that they are played for.
    pub(super) opening: Opening,
}

/// One bench.
#[derive(Debug)]
pub(super) struct Bench {
    /// Accession of its plant.
    pub(super) plant: &'static str,
    /// What its plant does, in words.
    pub(super) role: &'static str,
    /// Its season.
    pub(super) season: Season,
}

impl Bench {
    fn draw(seed: u64, id: &str, plant: &'static str, role: &'static str, wishes: PlantWishes) -> Self {
        let options = SeasonOptions {
            bench: id.to_owned(),
            troubles: TROUBLES,
            plant: PlantWishes { gap_that_closes: Some(false), slack: Some(false), ..wishes },
            ..SeasonOptions::default()
        };
        Self { plant, role, season: Season::draw(seed, &options) }
    }

    /// From when on its growth has really fallen; `None` if it never does. Growth over two days counts, as where slowing is told.
    fn slows_from(&self) -> Option<Time> {
        let truth = self.season.truth();
        let rate_cm_day = |time: Time| {
            let before_m = self.season.height_m(time.plus_hours(-48.0));
            50.0 * (self.season.height_m(time) - before_m)
        };
        let ends = truth.crack.or(truth.growth_ended).unwrap_or(truth.end);
        let hours = 0..=(ends.hours_since(truth.fastest).max(0.0) as u32);
        hours
            .map(|hour| truth.fastest.plus_hours(f64::from(hour)))
            .find(|time| rate_cm_day(*time) < HAS_FALLEN * truth.peak_cm_day)
    }

    /// Its id.
    pub(super) fn id(&self) -> &str {
        &self.season.options().bench
    }
}

/// An opening, as it really happens.
#[derive(Debug, Clone)]
pub(super) struct Opening {
    /// The bench.
    pub(super) bench: String,
    /// First crack.
    pub(super) crack: Time,
    /// Fully open.
    pub(super) full: Time,
    /// Closed again.
    pub(super) closed: Time,
}

impl Opening {
    fn of(truth: &Truth) -> Option<Self> {
        Some(Self {
            bench: truth.bench.clone(),
            crack: truth.crack?,
            full: truth.full_open?,
            closed: truth.closed?,
        })
    }
}

impl Cast {
    /// Draws the benches, the same ones every time.
    ///
    /// # Errors
    /// When none of them opens, which would be a fault of the seasons.
    pub(super) fn draw() -> Result<Self, String> {
        let wishes = |outcome, month, day, days| PlantWishes {
            outcome: Some(outcome),
            emerges_on: NaiveDate::from_ymd_opt(2027, month, day),
            days_to_opening: Some(days),
            ..PlantWishes::default()
        };
        let opens = PlantWishes {
            crack_hour: Some(14.0),
            hours_to_full: Some(7.5),
            full_advance_m: Some(0.42),
            opening_shape: Some(OpeningShape::RaisedCosine),
            ..wishes(Outcome::Opens, 4, 20, 40)
        };
        let stops = wishes(Outcome::Stops, 4, 12, 36);
        let later = wishes(Outcome::Opens, 5, 6, 60);
        let benches = vec![
            Bench::draw(10, "east-1", "AT-0398", "a bud that stops", stops),
            Bench::draw(28, "east-3", "AT-0412", "a bud that opens", opens),
            Bench::draw(20, "west-2", "AT-0377", "a bud with weeks to go", later),
        ];
        let opening = benches
            .iter()
            .find(|bench| bench.plant == "AT-0412")
            .and_then(|bench| Opening::of(bench.season.truth()))
            .ok_or("no bud of the rehearsal opens: the seasons are not what they were")?;
        Ok(Self { benches, opening })
    }

    /// From when on a slowing of each bench is true.
    pub(super) fn slows_from(&self) -> BTreeMap<String, Option<Time>> {
        self.benches.iter().map(|bench| (bench.id().to_owned(), bench.slows_from())).collect()
    }

    /// Lines and benches, for the service's configuration.
    pub(super) fn configuration(&self) -> String {
        let mut text = String::new();
        for bench in &self.benches {
            let id = bench.id();
            text.push_str(&format!(
                "\n# {}\n[[intake]]\nkind = \"serial\"\nport = \"ports/{id}\"\n\n\
                 [[bench]]\nid = \"{id}\"\nplant = \"{}\"\nprofile = \"titan-arum\"\n",
                bench.role, bench.plant
            ));
            let options = bench.season.options();
            if let Some(tip) = options.tip {
                text.push_str(&format!("tip = {{ mount_height_m = {:?} }}\n", tip.mount_m));
            }
            if let Some(rim) = options.rim {
                text.push_str(&format!("rim = {{ mount_distance_m = {:?} }}\n", rim.mount_m));
            }
        }
        text
    }

    /// Messages that are neither of the bloom nor a morning: at most one a bench and week.
    pub(super) fn other_messages_allowed(&self) -> u64 {
        (self.benches.len() as f64 * self.end().days_since(self.start()) / 7.0) as u64
    }

    /// Whether what is said at this instant is played.
    pub(super) fn is_played(&self, time: Time) -> bool {
        let dull = time < self.opening.crack.plus_hours(-24.0);
        time <= self.end() && (!dull || time.unix_ms().rem_euclid(DULL_MINUTES * 60_000) == 0)
    }

    /// The first instant.
    pub(super) fn start(&self) -> Time {
        self.benches.iter().map(|bench| bench.season.truth().start).min().unwrap_or(self.opening.crack)
    }

    /// The last instant, a whole minute.
    pub(super) fn end(&self) -> Time {
        self.opening.closed.plus_hours(3.0).to_the_minute()
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use anthesisd::config::profile;

    use super::*;
    use bench_sim::trial;
    use bench_sim::trial::mornings::{Diary, Morning};

    #[test]
    fn the_house_is_watched_from_the_first_bud_until_the_bloom_has_closed() {
        let cast = Cast::draw().unwrap();
        let opening = &cast.opening;
        assert_eq!(opening.bench, "east-3");
        // 21 of 25 clocked first cracks of the published record lie within 12:00 to 16:00
        let hour = opening.crack.local_hour(chrono_tz::America::Halifax);
        assert!((hour - 14.0).abs() < 1e-9, "{hour}");
        assert!((7.0..8.0).contains(&opening.full.hours_since(opening.crack)));
        assert!(opening.closed > opening.full);
        for bench in &cast.benches {
            let truth = bench.season.truth();
            assert!(truth.end > cast.end(), "{} says something to the last", bench.id());
            let opens_now = truth.crack.is_some_and(|crack| crack <= cast.end());
            assert_eq!(opens_now, bench.id() == opening.bench);
        }
    }

    /// What each morning of a season said, by days to the opening or from the end of growth.
    fn mornings(season: &Season) -> Vec<Morning> {
        let profile = profile("titan-arum", Path::new("/nowhere")).unwrap();
        let mut diary = Diary::new(season, &profile);
        trial::run(season, &profile, |event| diary.note(event));
        diary.mornings
    }

    /// It was told once that this bud never opens with a chance of 0.86 on the morning of its opening: seven likely days had passed,
    /// while it grew on at 28 % of its peak.
    #[test]
    fn a_bud_that_grows_on_slowly_has_not_most_likely_stopped() {
        let cast = Cast::draw().unwrap();
        let mornings = mornings(&cast.benches[1].season);
        assert_eq!(mornings.last().unwrap().days_left, Some(0));
        for morning in mornings.iter().rev().take(7) {
            assert!(morning.never < 0.25, "{morning:?}");
        }
    }

    /// And of this one, which had stopped for a week, "Opens likely 25 May (24 May to 25 May)", with 0.95 that it never opens.
    #[test]
    fn a_bud_that_has_stood_still_for_a_week_has_most_likely_stopped() {
        let cast = Cast::draw().unwrap();
        let mornings = mornings(&cast.benches[0].season);
        let stopped = mornings.iter().filter(|morning| morning.stopped).count();
        let said = mornings.iter().filter(|morning| morning.stopped && morning.never > 0.5).count();
        assert!(stopped > 7 && said + 7 >= stopped, "{said} of {stopped}");
    }

    #[test]
    fn the_dull_weeks_are_thinned_and_the_opening_is_not() {
        let cast = Cast::draw().unwrap();
        let season = &cast.benches[1].season;
        let played: Vec<Time> =
            season.observations().map(|said| said.time).filter(|time| cast.is_played(*time)).collect();
        let minutes_apart = |from: Time, until: Time| {
            let mut times: Vec<_> = played.iter().filter(|time| (from..until).contains(time)).collect();
            times.dedup();
            until.hours_since(from) * 60.0 / times.len() as f64
        };
        let opening = &cast.opening;
        let dull = minutes_apart(cast.benches[1].season.truth().start, opening.crack.plus_hours(-24.0));
        assert!((4.9..5.1).contains(&dull), "{dull}");
        let busy = minutes_apart(opening.crack, opening.full);
        assert!((0.9..1.1).contains(&busy), "{busy}");
        assert_eq!(played.last(), Some(&cast.end()));
    }
}
