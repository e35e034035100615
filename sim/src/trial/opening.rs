//! The opening alarm held against the truth of a season, and the table of many.

use std::fmt;

use bloom_model::event::{Details, Event, EventKind};
use bloom_model::time::Time;
use serde::Serialize;

use super::blind::Blindness;
use super::bracts::BractAlarms;
use super::full_open::FullOpenErrors;
use super::quantile;
use crate::season::Season;
use crate::truth::Passing;

/// What became of one season.
#[derive(Debug, Clone, Default)]
pub struct Verdict {
    /// The season's seed.
    pub seed: u64,
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
    /// Opening alarms on a bract that peeled and fell.
    pub bract_alarms: BractAlarms,
    /// Hours from the edge of a gap turning until a phone heard of it: the stand-down, or the word that it has turned.
    pub gap_told_h: Vec<f64>,
    /// Times at which somebody was asked to look while an opening alarm stood.
    pub looks: u32,
    /// When the newest opening alarm was raised.
    pub told_at: Option<Time>,
    /// Full opening was told.
    pub full_open_told: bool,
    /// What was said of full opening at the alarm and in the hours after it.
    pub full_open: FullOpenErrors,
    /// What was told of a side ranger that does not see the plant.
    pub blind: Blindness,
    /// Days from emergence until the bud was seen.
    pub seen_after_d: Option<f64>,
}

impl Verdict {
    /// What went wrong in this season, if anything.
    pub fn wrong(&self) -> Option<&'static str> {
        if self.wrongly_stood_down > 0 {
            Some("stood down while it went on")
        } else if self.opens && self.alarm.is_none() {
            Some(match self.blind {
                Blindness { told_in_time: true, .. } => "missed, and told as not seen",
                Blindness { called_before: true, .. } => "missed, an opening alarm stood already",
                _ => "missed, and nobody was told",
            })
        } else if !self.false_alarms.is_empty() {
            Some("a false alarm")
        } else if !self.blind.false_alarms.is_empty() {
            Some("told as not seen, and it was seen")
        } else {
            None
        }
    }
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

/// A row of the table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// The troubles of these seasons.
    pub troubles: String,
    /// Years of benches watched.
    pub bench_years: f64,
    /// Plants that opened.
    pub openings: usize,
    /// Of them, those without an alarm before full opening.
    pub missed: usize,
    /// Of those missed, those where an alarm stood in time that the side ranger does not see the plant.
    pub missed_blind: usize,
    /// Of those missed, those where nothing of the kind stood, but an opening alarm did that was raised less than three hours too early.
    pub missed_called: usize,
    /// `edge-not-seen`, as warning or as alarm, of a side ranger that sees the edge.
    pub edge_not_seen_falsely: usize,
    /// Of them, alarms.
    pub edge_not_seen_falsely_as_alarm: usize,
    /// Opening alarms with no opening or gap behind them.
    pub false_alarms: usize,
    /// Upper bound of their rate, 95 %, per 50 bench-years (Poisson: 3.0 for none, and so on).
    pub false_alarms_bound_50_years: f64,
    /// Opening alarms on a gap that closed again.
    pub gap_alarms: u32,
    /// Of those, median hours from the edge turning to the stand-down.
    pub gap_stood_down_h: Option<f64>,
    /// Of those, median hours from the edge turning until a phone heard of it, as a stand-down or as a call to look.
    pub gap_told_h: Option<f64>,
    /// Opening alarms on a bract that peeled and fell.
    pub bract_alarms: usize,
    /// Of those, hours from the fall to the end of the alarm: median and most.
    pub bract_stood_h: Option<[f64; 2]>,
    /// Calls to look while an opening alarm stood.
    pub looks: u32,
    /// Openings whose alarm was stood down while they went on.
    pub wrongly_stood_down: u32,
    /// Hours from alarm to full opening, median.
    pub lead_median_h: Option<f64>,
    /// Hours from alarm to full opening: one in twenty has less.
    pub lead_5_percent_h: Option<f64>,
    /// Hours from first crack to alarm, median.
    pub after_crack_median_h: Option<f64>,
    /// Absolute error of the first crack as told with the alarm, median, hours.
    pub crack_error_median_h: Option<f64>,
    /// Absolute error of `full_open.likely`, median, hours.
    pub likely_error_median_h: Option<f64>,
    /// Share of openings whose full opening lay in the 80 % interval, percent.
    pub interval_covers_pct: Option<f64>,
}

impl Summary {
    /// The head of the table.
    pub const HEAD: &'static str = "troubles            bench-years  openings  missed (told blind)  false  (95 % bound / 50 y)  on gaps  down after h  told after h  bracts  down after h: median  most  looks  wrongly down  lead h: median  5 %  after crack h  crack error h  likely error h  covered %";

    /// Openings of which nobody was told.
    pub const fn untold(&self) -> usize {
        self.missed - self.missed_blind - self.missed_called
    }

    /// Counts a row.
    pub fn of(troubles: &str, verdicts: &[Verdict]) -> Self {
        let bench_years = verdicts.iter().map(|verdict| verdict.days).sum::<f64>() / 365.25;
        let alarms: Vec<AlarmVerdict> = verdicts.iter().filter_map(|verdict| verdict.alarm).collect();
        let figures = |figure: fn(&AlarmVerdict) -> f64| alarms.iter().map(figure).collect::<Vec<_>>();
        let bracts: Vec<f64> =
            verdicts.iter().flat_map(|verdict| verdict.bract_alarms.stood_h.iter().copied()).collect();
        let false_alarms = verdicts.iter().map(|verdict| verdict.false_alarms.len()).sum();
        let missed = verdicts.iter().filter(|verdict| verdict.opens && verdict.alarm.is_none());
        let covered = alarms.iter().filter(|alarm| alarm.covered).count();
        Self {
            troubles: troubles.to_owned(),
            bench_years,
            openings: verdicts.iter().filter(|verdict| verdict.opens).count(),
            missed: missed.clone().count(),
            missed_blind: missed.clone().filter(|verdict| verdict.blind.told_in_time).count(),
            missed_called: missed
                .filter(|verdict| !verdict.blind.told_in_time && verdict.blind.called_before)
                .count(),
            edge_not_seen_falsely: verdicts.iter().map(|verdict| verdict.blind.false_alarms.len()).sum(),
            edge_not_seen_falsely_as_alarm: verdicts
                .iter()
                .map(|verdict| verdict.blind.false_alarms.iter().filter(|(_, alarm)| *alarm).count())
                .sum(),
            false_alarms,
            false_alarms_bound_50_years: poisson_bound(false_alarms) / bench_years * 50.0,
            gap_alarms: verdicts.iter().map(|verdict| verdict.gap_alarms).sum(),
            gap_stood_down_h: quantile(
                verdicts.iter().flat_map(|verdict| verdict.gap_stood_down_h.iter().copied()).collect(),
                0.5,
            ),
            gap_told_h: quantile(
                verdicts.iter().flat_map(|verdict| verdict.gap_told_h.iter().copied()).collect(),
                0.5,
            ),
            bract_alarms: bracts.len(),
            bract_stood_h: quantile(bracts.clone(), 0.5)
                .zip(quantile(bracts, 1.0))
                .map(|(median, most)| [median, most]),
            looks: verdicts.iter().map(|verdict| verdict.looks).sum(),
            wrongly_stood_down: verdicts.iter().map(|verdict| verdict.wrongly_stood_down).sum(),
            lead_median_h: quantile(figures(|alarm| alarm.lead_h), 0.5),
            lead_5_percent_h: quantile(figures(|alarm| alarm.lead_h), 0.05),
            after_crack_median_h: quantile(figures(|alarm| alarm.after_crack_h), 0.5),
            crack_error_median_h: quantile(figures(|alarm| alarm.began_error_h.abs()), 0.5),
            likely_error_median_h: quantile(figures(|alarm| alarm.likely_error_h.abs()), 0.5),
            interval_covers_pct: (!alarms.is_empty()).then(|| 100.0 * covered as f64 / alarms.len() as f64),
        }
    }
}

impl fmt::Display for Summary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let figure = |value: Option<f64>| value.map_or("-".to_owned(), |value| format!("{value:.2}"));
        write!(
            f,
            "{:<20}{:>11.1}{:>10}{:>8}{:>13}{:>7}{:>21.1}{:>9}{:>14}{:>14}{:>8}{:>22}{:>6}{:>7}{:>14}{:>16}{:>5}{:>15}{:>15}{:>16}{:>11}",
            self.troubles,
            self.bench_years,
            self.openings,
            self.missed,
            format!("({})", self.missed_blind),
            self.false_alarms,
            self.false_alarms_bound_50_years,
            self.gap_alarms,
            figure(self.gap_stood_down_h),
            figure(self.gap_told_h),
            self.bract_alarms,
            figure(self.bract_stood_h.map(|[median, _]| median)),
            figure(self.bract_stood_h.map(|[_, most]| most)),
            self.looks,
            self.wrongly_stood_down,
            figure(self.lead_median_h),
            figure(self.lead_5_percent_h),
            figure(self.after_crack_median_h),
            figure(self.crack_error_median_h),
            figure(self.likely_error_median_h),
            self.interval_covers_pct.map_or("-".to_owned(), |value| format!("{value:.0}")),
        )
    }
}

/// Upper 95 % bound of a Poisson mean of which `count` events were seen: the mean at which so few are seen once in twenty times.
fn poisson_bound(count: usize) -> f64 {
    let tail = |mean: f64| {
        let mut term = (-mean).exp();
        let mut sum = term;
        for number in 1..=count {
            term *= mean / number as f64;
            sum += term;
        }
        sum
    };
    let (mut low, mut high) = (0.0, 10.0 + 3.0 * count as f64);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if tail(middle) > 0.05 { low = middle } else { high = middle }
    }
    high
}

pub(super) fn judge(verdict: &mut Verdict, season: &Season, event: &Event) {
    let truth = season.truth();
    let opening = truth.crack.zip(truth.full_open);
    verdict.bract_alarms.hear(event);
    let in_gap = truth
        .gap_that_closes
        .filter(|gap| event.time >= gap.window.from && event.time <= gap.window.until.plus_hours(1.0));
    match (&event.kind, &event.details) {
        (EventKind::BudSeen, _) => {
            verdict.seen_after_d.get_or_insert(event.time.days_since(truth.emerged));
        }
        (EventKind::OpeningTonight, Details::Opening(details)) => {
            if opening.is_some_and(|(crack, _)| verdict.told_at.is_some_and(|told| told >= crack))
                && !event.ends.is_empty()
            {
                verdict.wrongly_stood_down += 1;
            }
            verdict.told_at = Some(event.time);
            match opening {
                _ if in_gap.is_some() => verdict.gap_alarms += 1,
                _ if verdict.bract_alarms.raised(event, truth) => {}
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
                note_turn(verdict, season, &gap, event.time);
            }
            (_, Some((crack, full)))
                if event.time >= crack
                    && event.time < truth.closing_begins.unwrap_or(full.plus_hours(4.0)) =>
            {
                verdict.wrongly_stood_down += 1;
            }
            _ => {}
        },
        (EventKind::Look, _) => {
            verdict.looks += 1;
            let of_gap = truth.gap_that_closes.filter(|gap| {
                event.time >= gap.window.from && event.time <= gap.window.until.plus_hours(6.0)
            });
            if let Some(gap) = of_gap {
                note_turn(verdict, season, &gap, event.time);
            }
        }
        (EventKind::FullOpen, _) => verdict.full_open_told = true,
        _ => {}
    }
}

/// A phone heard that the edge of a gap has turned.
fn note_turn(verdict: &mut Verdict, season: &Season, gap: &Passing, at: Time) {
    if verdict.gap_told_h.is_empty() {
        verdict.gap_told_h.push(at.hours_since(turn(season, gap)));
    }
}

/// The last instant at which the edge of a passing gap stood furthest out, to the minute.
fn turn(season: &Season, gap: &Passing) -> Time {
    let minutes = (gap.window.until.hours_since(gap.window.from) * 60.0) as u32;
    let advance = |minute: u32| season.rim_advance_m(gap.window.from.plus_hours(f64::from(minute) / 60.0));
    let furthest = (0..=minutes).max_by(|a, b| advance(*a).total_cmp(&advance(*b))).unwrap_or(0);
    gap.window.from.plus_hours(f64::from(furthest) / 60.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Upper bounds of a Poisson mean, one-sided 95 %: 3.00, 4.74, 6.30, 9.15 for 0, 1, 2 and 4 events (Garwood 1936, as in
    /// every table of the chi-square distribution; from memory).
    #[test]
    fn bounds_are_those_of_the_tables() {
        for (count, bound) in [(0, 2.996), (1, 4.744), (2, 6.296), (4, 9.154)] {
            assert!((poisson_bound(count) - bound).abs() < 2e-3, "{count}");
        }
    }
}
