//! The chance that a bud never opens, held against what became of it.

use std::fmt;

use serde::Serialize;

use super::mornings::{Morning, mean};

/// Mornings before an opening that are looked at by themselves: those on which a wrong "most likely stopped" would cost the bloom.
const LAST_MORNINGS_D: i64 = 3;
/// Above this people are told that it has most likely stopped.
const MOST_LIKELY: f64 = 0.5;
/// Bounds of the rows.
const BOUNDS: [f64; 9] = [0.0, 0.1, 0.15, 0.2, 0.3, 0.5, 0.7, 0.9, 1.0];

/// A row of the table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NeverRow {
    /// The chances, from and to.
    pub from_to: (f64, f64),
    /// Mornings.
    pub mornings: usize,
    /// Mean chance given.
    pub said: f64,
    /// Share of them whose bud never opened.
    pub came: f64,
}

/// The table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NeverTable {
    /// By the chance given, all buds.
    pub rows: Vec<NeverRow>,
    /// The last mornings of buds that open.
    pub last: usize,
    /// Those of them on which "most likely stopped" was said.
    pub last_wrong: usize,
    /// The highest chance given on any of them.
    pub last_highest: f64,
    /// Mornings on which a bud had stopped for good.
    pub stopped: usize,
    /// Those of them on which that was said.
    pub stopped_said: usize,
    /// Mean squared error of the chance, and of the constant share of mornings of buds that never open.
    pub brier: (f64, f64),
}

impl NeverTable {
    /// Counts the mornings.
    pub fn of(mornings: &[Morning]) -> Self {
        let came = |morning: &Morning| f64::from(u8::from(morning.days_left.is_none()));
        let rows = BOUNDS.windows(2).filter_map(|bounds| {
            let (from, to) = (bounds[0], bounds[1]);
            let within = |morning: &&Morning| from <= morning.never && (morning.never < to || to >= 1.0);
            let those: Vec<&Morning> = mornings.iter().filter(within).collect();
            (!those.is_empty()).then(|| NeverRow {
                from_to: (from, to),
                mornings: those.len(),
                said: mean(those.iter().map(|morning| morning.never)),
                came: mean(those.iter().map(|morning| came(morning))),
            })
        });
        let is_last = |morning: &&Morning| morning.days_left.is_some_and(|left| left < LAST_MORNINGS_D);
        let last: Vec<f64> = mornings.iter().filter(is_last).map(|morning| morning.never).collect();
        let stopped: Vec<f64> =
            mornings.iter().filter(|morning| morning.stopped).map(|morning| morning.never).collect();
        let said = |those: &[f64]| those.iter().filter(|never| **never > MOST_LIKELY).count();
        let share = mean(mornings.iter().map(came));
        Self {
            rows: rows.collect(),
            last: last.len(),
            last_wrong: said(&last),
            last_highest: last.iter().copied().fold(0.0, f64::max),
            stopped: stopped.len(),
            stopped_said: said(&stopped),
            brier: (
                mean(mornings.iter().map(|morning| (morning.never - came(morning)).powi(2))),
                share * (1.0 - share),
            ),
        }
    }
}

impl fmt::Display for NeverTable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "chance never   mornings  said   came")?;
        for NeverRow { from_to: (from, to), mornings, said, came } in &self.rows {
            writeln!(f, "{from:>8.2}-{to:.2}{mornings:>12}{said:>7.3}{came:>7.3}")?;
        }
        write!(
            f,
            "\"most likely stopped\" on {} of the {} last mornings of buds that open (highest chance {:.2}), on {} of {} mornings \
             of buds that had stopped; Brier score {:.4}, of the constant share {:.4}",
            self.last_wrong,
            self.last,
            self.last_highest,
            self.stopped_said,
            self.stopped,
            self.brier.0,
            self.brier.1
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn morning(days_left: Option<i64>, never: f64) -> Morning {
        let stopped = days_left.is_none();
        Morning {
            plant: 1,
            days_left,
            window: None,
            tonight: 0.0,
            never,
            stopped,
            height: None,
            rules: [None; 3],
        }
    }

    #[test]
    fn what_was_said_is_counted_against_what_came() {
        let mornings =
            [morning(Some(0), 0.86), morning(Some(3), 0.9), morning(None, 0.95), morning(None, 0.12)];
        let table = NeverTable::of(&mornings);
        assert_eq!((table.last, table.last_wrong, table.last_highest), (1, 1, 0.86));
        assert_eq!((table.stopped, table.stopped_said), (2, 1));
        let rows: Vec<(usize, f64)> = table.rows.iter().map(|row| (row.mornings, row.came)).collect();
        assert_eq!(rows, [(1, 1.0), (1, 0.0), (2, 0.5)], "0.9 belongs to the row above it");
    }
}
