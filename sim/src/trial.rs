//! One season run through the model and held against its truth.

use bloom_model::event::{Details, Event, EventKind};
use bloom_model::profile::Profile;
use bloom_model::reading::{BenchNumber, Reading};
use bloom_model::site::Site;
use bloom_model::spec::{BenchSpec, Limits, Mount, SiteSpec, Units};
use bloom_model::time::Time;
use chrono::TimeDelta;

use crate::options::{RangerOptions, SeasonOptions};
use crate::season::Season;
use crate::truth::{Outcome, Passing};

/// What became of one season.
#[derive(Debug, Clone, Default)]
pub struct Verdict {
    /// Readings told to the model.
    pub readings: u64,
    /// Days watched.
    pub days: f64,
    /// The plant opened.
    pub opens: bool,
    /// The alarm of the opening, if one stood before full opening.
    pub alarm: Option<AlarmVerdict>,
    /// Opening alarms with no opening behind them.
    pub false_alarms: Vec<Time>,
    /// Opening alarms on a gap that closed again.
    pub gap_alarms: u32,
    /// Of those, how long after the edge had turned they were stood down, hours.
    pub gap_stood_down_h: Vec<f64>,
    /// The season had a gap that closes again.
    pub had_gap: bool,
    /// Opening alarms that were stood down although the plant was opening.
    pub wrongly_stood_down: u32,
    /// Full opening was told.
    pub full_open_told: bool,
    /// Days from emergence until the bud was seen.
    pub seen_after_d: Option<f64>,
}

/// How good the alarm was.
#[derive(Debug, Clone, Copy)]
pub struct AlarmVerdict {
    /// Hours from the alarm to full opening.
    pub lead_h: f64,
    /// Hours from the first crack to the alarm.
    pub after_crack_h: f64,
    /// `full_open.likely` less full opening, hours.
    pub likely_error_h: f64,
    /// Full opening lay within the 80 % interval.
    pub covered: bool,
    /// `began` less the first crack, hours.
    pub began_error_h: f64,
    /// It was marked as found open.
    pub found_open: bool,
}

/// The model of a site with this one bench.
pub fn site_for(options: &SeasonOptions, profile: &Profile) -> Site {
    let mount = |ranger: RangerOptions| Mount {
        distance_m: ranger.mount_m,
        assumed_speed_m_s: ranger.assumed_speed_m_s,
    };
    let site = SiteSpec {
        name: "saltmarsh".into(),
        timezone: chrono_tz::America::Halifax,
        units: Units::Metric,
        pressure_kpa: options.pressure_kpa,
        morning_hour: 7,
        silent_after: TimeDelta::minutes(15),
    };
    let bench = BenchSpec {
        id: options.bench.as_str().into(),
        plant: Some("AT-0412".into()),
        profile: profile.clone(),
        tip: options.tip.map(mount),
        rim: options.rim.map(mount),
        limits: Limits::default(),
    };
    Site::new(site, vec![bench])
}

/// Runs a season through the model; `told` sees every event.
pub fn run(season: &Season, profile: &Profile, mut told: impl FnMut(&Event)) -> Verdict {
    let truth = season.truth();
    let mut site = site_for(season.options(), profile);
    let mut verdict = Verdict {
        days: truth.end.days_since(truth.start),
        opens: truth.outcome == Outcome::Opens,
        had_gap: truth.gap_that_closes.is_some(),
        ..Verdict::default()
    };
    let mut events = Vec::new();
    for observation in season.observations() {
        verdict.readings += 1;
        let reading =
            Reading { bench: BenchNumber(0), time: observation.time, observed: observation.observed };
        site.take(&reading, &mut events);
        for event in events.drain(..) {
            told(&event);
            judge(&mut verdict, season, &event);
        }
    }
    verdict
}

fn judge(verdict: &mut Verdict, season: &Season, event: &Event) {
    let truth = season.truth();
    let opening = truth.crack.zip(truth.full_open);
    match (&event.kind, &event.details) {
        (EventKind::BudSeen, _) => {
            verdict.seen_after_d.get_or_insert(event.time.days_since(truth.emerged));
        }
        (EventKind::OpeningTonight, Details::Opening(details)) => {
            let in_gap = truth.gap_that_closes.filter(|gap| {
                event.time >= gap.window.from && event.time <= gap.window.until.plus_hours(1.0)
            });
            match opening {
                _ if in_gap.is_some() => verdict.gap_alarms += 1,
                Some((crack, full)) if event.time >= crack && event.time < full => {
                    verdict.alarm.get_or_insert(AlarmVerdict {
                        lead_h: full.hours_since(event.time),
                        after_crack_h: event.time.hours_since(crack),
                        likely_error_h: details.full_open.likely.hours_since(full),
                        covered: details.full_open.earliest <= full && full <= details.full_open.latest,
                        began_error_h: details.began.hours_since(crack),
                        found_open: details.found_open,
                    });
                }
                // late is a miss, not a false alarm
                Some((_, full))
                    if event.time >= full && event.time <= truth.closed.unwrap_or(full.plus_hours(72.0)) => {}
                _ => verdict.false_alarms.push(event.time),
            }
        }
        (EventKind::StoodDown, _) => match (truth.gap_that_closes, opening) {
            (Some(gap), _)
                if event.time >= gap.window.from && event.time <= gap.window.until.plus_hours(6.0) =>
            {
                verdict.gap_stood_down_h.push(event.time.hours_since(turn(season, &gap)));
            }
            (_, Some((crack, full))) if event.time >= crack && event.time < full.plus_hours(4.0) => {
                verdict.wrongly_stood_down += 1;
            }
            _ => {}
        },
        (EventKind::FullOpen, _) => verdict.full_open_told = true,
        _ => {}
    }
}

/// The last instant at which the edge of a passing gap stood furthest out, to the minute.
fn turn(season: &Season, gap: &Passing) -> Time {
    let minutes = (gap.window.until.hours_since(gap.window.from) * 60.0) as u32;
    let advance = |minute: u32| season.rim_advance_m(gap.window.from.plus_hours(f64::from(minute) / 60.0));
    let furthest = (0..=minutes).max_by(|a, b| advance(*a).total_cmp(&advance(*b))).unwrap_or(0);
    gap.window.from.plus_hours(f64::from(furthest) / 60.0)
}
