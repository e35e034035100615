//! The forecast of every morning in bud held against the truth, beside plain rules.

use bloom_model::event::{Details, Event, EventKind, OpeningDates};
use bloom_model::profile::Profile;
use bloom_model::reading::Observed;
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;
use chrono::NaiveDate;
use serde::Serialize;

use super::never::NeverTable;
use crate::season::Season;

/// What one morning said, and what came.
#[derive(Debug, Clone, PartialEq)]
pub struct Morning {
    /// Which plant.
    pub plant: u64,
    /// Whole days from this morning's date to the date of opening; `None` if it never opens.
    pub days_left: Option<i64>,
    /// The window, as days from this date, where there was one.
    pub window: Option<Ahead>,
    /// The chance given to this day, given that it opens.
    pub tonight: f64,
    /// The chance given that it never opens.
    pub never: f64,
    /// It has stopped growing for good, unopened.
    pub stopped: bool,
    /// What the plain rules said, as days from this date.
    pub rules: [Option<i64>; RULES.len()],
}

impl Morning {
    /// The chance that it opens on this day, whatever becomes of the bud.
    pub fn whatever(&self) -> f64 {
        self.tonight * (1.0 - self.never)
    }
}

/// A window as days ahead.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ahead {
    /// Its first day.
    pub earliest: i64,
    /// The middle.
    pub likely: i64,
    /// Its last day.
    pub latest: i64,
}

impl Ahead {
    /// The window of a bulletin, counted from the date of its morning.
    pub fn of(opens: &OpeningDates, today: NaiveDate) -> Self {
        let days = |date: NaiveDate| (date - today).num_days();
        Self { earliest: days(opens.earliest), likely: days(opens.likely), latest: days(opens.latest) }
    }

    /// Whether a day lies in it.
    pub const fn holds(&self, day: i64) -> bool {
        self.earliest <= day && day <= self.latest
    }

    /// Width plus ten times the miss, days (interval score at 80 %; Gneiting & Raftery 2007, Journal of the American Statistical
    /// Association 102:359-378, equation 43).
    pub fn score(&self, day: i64) -> f64 {
        let miss = (self.earliest - day).max(day - self.latest).max(0);
        (self.latest - self.earliest + 10 * miss) as f64
    }
}

/// The plain rules beside which the forecast is put: growers' sayings, and the middle of the published days from emergence.
pub const RULES: [&str; 3] = ["13 d from spadix", "7 d from slowing", "49 d from emergence"];

/// Gathers the mornings of a season while it runs.
#[derive(Debug)]
pub struct Diary<'a> {
    season: &'a Season,
    emergence_d: f64,
    spadix: Option<Time>,
    slowed: Option<Time>,
    /// The mornings so far.
    pub mornings: Vec<Morning>,
}

impl<'a> Diary<'a> {
    /// An empty one.
    pub fn new(season: &'a Season, profile: &Profile) -> Self {
        let spadix = season.bookings().iter().find_map(|booked| {
            (booked.observed == Observed::Sign(Sign::Plain(PlainSign::SpadixVisible))).then_some(booked.time)
        });
        let emergence_d = profile.emergence_to_opening_likely_d;
        Self { season, emergence_d, spadix, slowed: None, mornings: Vec::new() }
    }

    /// Takes note of an event.
    pub fn note(&mut self, event: &Event) {
        let truth = self.season.truth();
        match &event.details {
            Details::Slowing(_) => self.slowed = Some(event.time),
            Details::Morning(morning) if event.kind == EventKind::Morning => {
                if truth.crack.is_some_and(|crack| event.time >= crack) {
                    return;
                }
                let zone = self.season.zone();
                let today = event.time.local_date(zone);
                let days_left = truth.crack.map(|crack| (crack.local_date(zone) - today).num_days());
                let rule = |since: Option<Time>, days: f64| {
                    since
                        .filter(|since| *since <= event.time)
                        .map(|since| (days - event.time.days_since(since)).round().max(0.0) as i64)
                };
                self.mornings.push(Morning {
                    plant: truth.seed,
                    days_left,
                    window: morning.outlook.map(|outlook| Ahead::of(&outlook.opens, today)),
                    tonight: morning.outlook.map_or(0.0, |outlook| outlook.probability_tonight),
                    never: morning.outlook.map_or(0.0, |outlook| outlook.probability_never),
                    stopped: truth.growth_ended.is_some_and(|ended| ended <= event.time),
                    rules: [
                        rule(self.spadix, 13.0),
                        rule(self.slowed, 7.0),
                        rule(Some(truth.emerged), self.emergence_d),
                    ],
                });
            }
            _ => {}
        }
    }
}

/// A row of the table by days ahead.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeadRow {
    /// Days ahead, from and to.
    pub days_left: (i64, i64),
    /// Mornings.
    pub mornings: usize,
    /// Share of them whose window held the opening, percent.
    pub covered_pct: f64,
    /// Mean width of the window, days.
    pub width_d: f64,
    /// Mean absolute error of `likely`, days.
    pub likely_error_d: f64,
    /// Mean absolute error of each plain rule on the mornings on which it says something, and of `likely` on the same.
    pub rules_error_d: [Option<(f64, f64)>; RULES.len()],
}

/// A row of the table of chances.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChanceRow {
    /// The tenth, from.
    pub from: f64,
    /// Mornings.
    pub mornings: usize,
    /// Mean chance given.
    pub said: f64,
    /// Share of them on which it opened.
    pub came: f64,
}

/// How good the forecasts were.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ForecastSummary {
    /// Mornings before an opening, and of buds that never opened.
    pub mornings: (usize, usize),
    /// Mornings without a window.
    pub without_window: usize,
    /// Share of mornings before an opening whose window held it, percent.
    pub covered_pct: f64,
    /// By days ahead.
    pub by_lead: Vec<LeadRow>,
    /// By the chance given to the coming day whatever becomes of the bud, all buds.
    pub by_chance: Vec<ChanceRow>,
    /// The chance that it never opens, against what became of the bud.
    pub never: NeverTable,
    /// Mean squared error of the chance whatever becomes of the bud, and of the constant share of days with an opening.
    pub brier: (f64, f64),
}

/// Bounds of the rows by days ahead.
const LEADS: [(i64, i64); 11] =
    [(0, 0), (1, 1), (2, 2), (3, 3), (4, 5), (6, 8), (9, 12), (13, 18), (19, 26), (27, 36), (37, 90)];

pub(super) fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0_u32), |(sum, count), value| (sum + value, count + 1));
    if count == 0 { f64::NAN } else { sum / f64::from(count) }
}

impl ForecastSummary {
    /// Counts the mornings.
    pub fn of(mornings: &[Morning]) -> Self {
        let opening: Vec<(i64, &Morning)> =
            mornings.iter().filter_map(|morning| Some((morning.days_left?, morning))).collect();
        let covered = |those: &[(i64, &Morning)]| {
            100.0
                * mean(those.iter().map(|(left, morning)| {
                    f64::from(u8::from(morning.window.is_some_and(|window| window.holds(*left))))
                }))
        };
        let by_lead = LEADS
            .into_iter()
            .filter_map(|(from, to)| {
                let those: Vec<(i64, &Morning)> =
                    opening.iter().copied().filter(|(left, _)| (from..=to).contains(left)).collect();
                let windows = || those.iter().filter_map(|(left, morning)| Some((*left, morning.window?)));
                let error = |left: i64, said: i64| (said - left).abs() as f64;
                (!those.is_empty()).then(|| LeadRow {
                    days_left: (from, to),
                    mornings: those.len(),
                    covered_pct: covered(&those),
                    width_d: mean(windows().map(|(_, window)| (window.latest - window.earliest) as f64)),
                    likely_error_d: mean(windows().map(|(left, window)| error(left, window.likely))),
                    rules_error_d: std::array::from_fn(|rule| {
                        let both: Vec<(f64, f64)> = those
                            .iter()
                            .filter_map(|(left, morning)| {
                                let said = morning.rules[rule]?;
                                Some((error(*left, said), error(*left, morning.window?.likely)))
                            })
                            .collect();
                        (!both.is_empty()).then(|| {
                            (mean(both.iter().map(|pair| pair.0)), mean(both.iter().map(|pair| pair.1)))
                        })
                    }),
                })
            })
            .collect();
        let came = |morning: &Morning| f64::from(u8::from(morning.days_left == Some(0)));
        let share = mean(mornings.iter().map(came));
        let by_chance = (0..10)
            .filter_map(|tenth| {
                let from = f64::from(tenth) / 10.0;
                let those: Vec<&Morning> = mornings
                    .iter()
                    .filter(|morning| (morning.whatever() * 10.0).floor().min(9.0) as i32 == tenth)
                    .collect();
                (!those.is_empty()).then(|| ChanceRow {
                    from,
                    mornings: those.len(),
                    said: mean(those.iter().map(|morning| morning.whatever())),
                    came: mean(those.iter().map(|morning| came(morning))),
                })
            })
            .collect();
        Self {
            mornings: (opening.len(), mornings.len() - opening.len()),
            without_window: mornings.iter().filter(|morning| morning.window.is_none()).count(),
            covered_pct: covered(&opening),
            by_lead,
            by_chance,
            never: NeverTable::of(mornings),
            brier: (
                mean(mornings.iter().map(|morning| (morning.whatever() - came(morning)).powi(2))),
                share * (1.0 - share),
            ),
        }
    }
}

impl std::fmt::Display for ForecastSummary {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(
            f,
            "{} mornings before an opening, {} of buds that never open; {} without a window; the window held the opening on {:.1} %",
            self.mornings.0, self.mornings.1, self.without_window, self.covered_pct
        )?;
        writeln!(f, "Error in brackets: that of `likely` on the mornings on which the rule says something.")?;
        write!(f, "days ahead  mornings  held %  width d  likely: error d")?;
        for rule in RULES {
            write!(f, "{rule:>22}")?;
        }
        writeln!(f)?;
        for row in &self.by_lead {
            let days = if row.days_left.0 == row.days_left.1 {
                row.days_left.0.to_string()
            } else {
                format!("{}-{}", row.days_left.0, row.days_left.1)
            };
            write!(
                f,
                "{days:>10}{:>10}{:>8.0}{:>9.1}{:>17.2}",
                row.mornings, row.covered_pct, row.width_d, row.likely_error_d
            )?;
            for error in row.rules_error_d {
                let said = error.map_or("-".to_owned(), |(rule, likely)| format!("{rule:.2} ({likely:.2})"));
                write!(f, "{said:>22}")?;
            }
            writeln!(f)?;
        }
        writeln!(f, "chance tonight  mornings  said   came")?;
        for row in &self.by_chance {
            writeln!(
                f,
                "{:>8.1}-{:.1}{:>13}{:>7.3}{:>7.3}",
                row.from,
                row.from + 0.1,
                row.mornings,
                row.said,
                row.came
            )?;
        }
        write!(
            f,
            "Brier score {:.4}; of the constant share of days with an opening {:.4}\n{}",
            self.brier.0, self.brier.1, self.never
        )
    }
}
