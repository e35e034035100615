//! Seasons run through the model and held against their truth.

mod blind;
mod bracts;
pub mod forecast;
mod full_open;
mod many;
pub mod mornings;
mod never;
mod opening;
pub mod published;
pub mod rate;
pub mod scenario;

use bloom_model::event::Event;
use bloom_model::heat::HeatLimits;
use bloom_model::profile::Profile;
use bloom_model::reading::{BenchNumber, Observed, Reading};
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::site::Site;
use bloom_model::spec::{BenchSpec, Limits, Mount, SiteSpec, Units};
use chrono::TimeDelta;

pub use full_open::{FullOpenErrors, FullOpenRow};
pub use many::Many;
pub use never::{NeverRow, NeverTable};
pub use opening::{AlarmVerdict, Summary, Verdict};

use crate::calendar::ZONE;
use crate::options::{RangerOptions, SeasonOptions};
use crate::season::Season;
use crate::truth::Outcome;

/// Local hour of the morning bulletin.
const MORNING_HOUR: u32 = 7;

/// The model of a site with this one bench.
pub fn site_for(options: &SeasonOptions, profile: &Profile) -> Site {
    site_in(options, profile, ZONE)
}

fn site_in(options: &SeasonOptions, profile: &Profile, timezone: chrono_tz::Tz) -> Site {
    let bench = bench_for(options, profile, "AT-0412", Limits::default());
    Site::new(site_spec(options.pressure_kpa, timezone), vec![bench])
}

/// The model of a house with a bench for each of these seasons, all of them within the same limits.
pub fn house_of(seasons: &[Season], profile: &Profile, limits: Limits) -> Site {
    let pressure_kpa = seasons.first().map_or(101.325, |season| season.options().pressure_kpa);
    let benches = seasons
        .iter()
        .zip(412..)
        .map(|(season, number)| bench_for(season.options(), profile, &format!("AT-{number:04}"), limits));
    Site::new(site_spec(pressure_kpa, ZONE), benches.collect())
}

fn site_spec(pressure_kpa: f64, timezone: chrono_tz::Tz) -> SiteSpec {
    SiteSpec {
        name: "saltmarsh".into(),
        timezone,
        units: Units::Metric,
        pressure_kpa,
        morning_hour: MORNING_HOUR,
        silent_after: TimeDelta::minutes(15),
        heat: HeatLimits::default(),
        test_alarms: true,
    }
}

fn bench_for(options: &SeasonOptions, profile: &Profile, plant: &str, limits: Limits) -> BenchSpec {
    let mount = |ranger: RangerOptions| Mount {
        distance_m: ranger.mount_m,
        assumed_speed_m_s: ranger.assumed_speed_m_s,
    };
    BenchSpec {
        id: options.bench.as_str().into(),
        plant: Some(plant.into()),
        profile: profile.clone(),
        tip: options.tip.map(mount),
        rim: options.rim.map(mount),
        limits,
        earlier: Vec::new(),
    }
}

/// Runs a season through the model; `told` sees every event.
pub fn run(season: &Season, profile: &Profile, mut told: impl FnMut(&Event)) -> Verdict {
    let truth = season.truth();
    let mut site = site_for(season.options(), profile);
    let mut verdict = Verdict {
        seed: truth.seed,
        days: truth.end.days_since(truth.start),
        opens: truth.outcome == Outcome::Opens,
        had_gap: truth.gap_that_closes.is_some(),
        ..Verdict::default()
    };
    let mut events = Vec::new();
    let mut answer_at = None;
    for observation in season.observations() {
        verdict.readings += 1;
        let take = |site: &mut Site, events: &mut Vec<Event>, observed| {
            site.take(&Reading { bench: BenchNumber(0), time: observation.time, observed }, events);
        };
        let open = truth.crack.is_some_and(|crack| observation.time >= crack);
        if answer_at.take_if(|due| *due <= observation.time).is_some() && !open {
            take(&mut site, &mut events, Observed::Sign(Sign::Plain(PlainSign::NotOpening)));
        }
        take(&mut site, &mut events, observation.observed);
        for event in events.drain(..) {
            told(&event);
            let false_before = verdict.false_alarms.len();
            opening::judge(&mut verdict, season, &event);
            verdict.blind.note(season, &event);
            if let Some(hours) = season.options().answers_after_h
                && verdict.false_alarms.len() > false_before
            {
                answer_at = Some(event.time.plus_hours(hours));
            }
        }
        verdict.full_open.look(&site, observation.time, verdict.alarm.as_ref(), truth);
    }
    verdict.bract_alarms.over(truth.end);
    verdict
}

/// The value below which a share of the values lies.
pub(crate) fn quantile(mut values: Vec<f64>, share: f64) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let last = values.len().checked_sub(1)?;
    values.get((last as f64 * share).round() as usize).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_nothing_are_nothing() {
        assert_eq!(quantile(vec![], 0.5), None);
        assert_eq!(quantile(vec![3.0, 1.0, 2.0], 0.5), Some(2.0));
    }
}
