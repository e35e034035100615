//! The forecast of every morning in bud held against the truth, beside plain rules.

use serde::Serialize;

use super::mornings::{Morning, RULES, Stands, mean};
use super::never::NeverTable;

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
    /// How tall it was said to stand, in words.
    pub height: String,
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
                    height: Stands::summary(those.iter().filter_map(|(_, morning)| morning.height.as_ref())),
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
        writeln!(f, "  height at opening")?;
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
            writeln!(f, "  {}", row.height)?;
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
